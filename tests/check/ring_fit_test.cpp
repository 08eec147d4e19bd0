// A ring's driver against things at known distances; laws of moving and of clearances; what is told to try is tried.
#include "tests/check/ring_case.h"
#include "tests/support/random_frames.h"

using namespace shapes;
using Catch::Contains;
using geom::Length;
using geom::check::RingSurroundings;
using geom::check::Verdict;
using geom::parts::RingRequest;

namespace {

constexpr double kSlack = 0.006;
const std::string kDriverGear = "driver, keep-out \"gear\"";

RingSurroundings with(geom::space::KeepOut keep_out) {
    RingSurroundings around;
    around.keep_outs.push_back(std::move(keep_out));
    return around;
}

RingSurroundings behind_limit(double z, double clearance = 0.0) {
    RingSurroundings around;
    around.limits.push_back({"sheet", {{0, 0, z}, {0, 0, -1}}, Length::mm(clearance)});
    return around;
}

/// Samples over a square of the plane z, 2 apart.
geom::scan::Surface sheet(double z, double half = 120) {
    geom::scan::Surface surface;
    for (double x = -half; x <= half; x += 2)
        for (double y = -half; y <= half; y += 2) surface.points.push_back({x, y, z});
    surface.normals.assign(surface.points.size(), {0, 0, 1});
    surface.bound_mm = surface.edge_bound_mm = 0.2;
    return surface;
}

}  // namespace

TEST_CASE("a driver's body is as far from what stands behind it as closed forms say", "[check][ringfit][oracle]") {
    const RingCase level(ring_request());
    double wanted = 0.0, margin = kSlack;
    RingSurroundings around;
    SECTION("a box behind the magnet") {
        around = with(ring_keep_out(geom::space::BoxShape{{-20, -20, -90}, {20, 20, -56}}));
        wanted = 10;
    }
    SECTION("a box beside the magnet") {
        around = with(ring_keep_out(geom::space::BoxShape{{52, -20, -90}, {90, 20, -30}}));
        wanted = 7;
    }
    SECTION("a box off the magnet's rear edge") {
        around = with(ring_keep_out(geom::space::BoxShape{{48, -20, -90}, {90, 20, -50}}));
        wanted = 5;  // 3 beside, 4 behind
    }
    SECTION("a ball beside the basket's slope") {
        // The slope falls 24.5 over 38; a ball 30 off its middle, square to it.
        const double l = std::hypot(24.5, 38);
        around = with(ring_keep_out(geom::space::SphereShape{{57.25 + 30 * 38 / l, 0, 1 - 30 * 24.5 / l}, 12}));
        wanted = 18;
    }
    SECTION("a rod across behind the magnet") {
        around = with(ring_keep_out(geom::space::CylinderShape{{-200, 10, -60}, {200, 10, -60}, 6}));
        wanted = 8;
        margin = 0.012;
    }
    SECTION("a rod that reaches into the magnet") {
        around = with(ring_keep_out(geom::space::CylinderShape{{-200, 10, -48}, {200, 10, -48}, 6}));
        wanted = -4;
        margin = 0.012;
    }
    SECTION("a ball in the magnet as a whole") {
        around = with(ring_keep_out(geom::space::SphereShape{{5, 0, -40}, 3}));
        wanted = -9;
    }
    SECTION("the magnet in a box as a whole") {
        around = with(ring_keep_out(geom::space::BoxShape{{-120, -120, -120}, {120, 120, 19}}));
        wanted = -50;  // the magnet's middle lies 51 behind the box's front
        margin = 70;
    }
    const Verdict v = level.fit(around);
    CHECK(ring_line(v, kDriverGear).value == Approx(wanted).margin(margin));
    CHECK(ring_line(v, kDriverGear).ok == (wanted > 0));
    CHECK(ring_line(v, kDriverGear).place.has_value() == (wanted < 0));
}

TEST_CASE("a tilted driver's body is met where its magnet's rim or side comes nearest", "[check][ringfit][oracle]") {
    RingRequest request = ring_request();
    tilt(request, 20);
    const RingCase tilted(request);
    const double s = std::sin(20 * kPi / 180), c = std::cos(20 * kPi / 180);
    const double rest = 20 + 100 * s / c;
    CHECK(tilted.ring.rest.point.z == Approx(rest));

    SECTION("a limit") {
        const auto v = tilted.fit(behind_limit(-60, 2));
        const auto& line = ring_line(v, "driver, limit \"sheet\"");
        CHECK(line.value == Approx(rest - 66 * c - 45 * s + 60).margin(1e-6));
        CHECK(line.limit == 2);
        CHECK(ring_line(v, "ring, limit \"sheet\"").value == Approx(60).margin(1e-4));
    }
    SECTION("a box beside its lowest rim, by places spread over the body") {
        const geom::space::BoxShape box{{-90, -20, -60}, {-72, 20, 10}};
        double wanted = 1e300;
        for (const Point3 p : tilted.body_places(0.2))
            wanted = std::min(wanted, geom::check::distance_to(geom::space::KeepOutShape(box), p));
        CHECK(ring_line(tilted.fit(with(ring_keep_out(box))), kDriverGear).value == Approx(wanted).margin(0.02));
    }
    SECTION("a rod askew, by places spread over the body") {
        const geom::space::CylinderShape rod{{-80, -120, -60}, {-50, 160, -30}, 7};
        double wanted = 1e300;
        for (const Point3 p : tilted.body_places(0.2))
            wanted = std::min(wanted, geom::check::distance_to(geom::space::KeepOutShape(rod), p));
        CHECK(ring_line(tilted.fit(with(ring_keep_out(rod))), kDriverGear).value == Approx(wanted).margin(0.02));
    }
}

TEST_CASE("a pane that is clear of the magnet at both its ends is met half way", "[check][ringfit][oracle]") {
    const RingCase level(ring_request());
    const auto still = [&](double by) {
        geom::space::KeepOut glass = pane(-44);
        auto& box = std::get<geom::space::BoxShape>(glass.shape);
        box.min.y += by, box.max.y += by;
        glass.motion = {};
        return with(glass);
    };
    CHECK(ring_line(level.fit(still(0)), "driver, keep-out \"glass\"").value ==
          Approx(std::hypot(130.5, 64)).margin(kSlack));
    CHECK(ring_line(level.fit(still(900)), "driver, keep-out \"glass\"").value ==
          Approx(std::hypot(230.5, 64)).margin(kSlack));

    Verdict v = level.fit(with(pane(-44)));
    const auto& line = ring_line(v, "driver, keep-out \"glass\"");
    CHECK_FALSE(line.ok);
    CHECK(line.value == Approx(-2 - 0.125).margin(0.13));
    CHECK_THAT(line.note, Contains("wherever it has moved") && Contains("nearest when slid by"));
    CHECK(line.place);
    CHECK(ring_line(v, "ring, keep-out \"glass\"").value == Approx(44 - 0.05).margin(0.08));
    CHECK_FALSE(v.fits());

    SECTION("and a sheet in its middle is met the same way") {
        TriMesh flat;
        flat.vertices = {{-300, -600, -44}, {300, -600, -44}, {300, -200, -44}, {-300, -200, -44}};
        flat.triangles = {{0, 1, 2}, {0, 2, 3}};
        geom::space::KeepOut glass = pane(-44);
        glass.shape = flat;
        v = level.fit(with(glass));
        CHECK(ring_line(v, "driver, keep-out \"glass\"").value == Approx(-2 - 0.125).margin(0.13));
    }
    SECTION("ten behind the magnet it passes") {
        v = level.fit(with(pane(-56)));
        CHECK(ring_line(v, "driver, keep-out \"glass\"").value == Approx(10 - 0.125).margin(0.13));
        CHECK(v.fits());
    }
}

TEST_CASE("what is told to free a driver's body does, and a little less does not", "[check][ringfit][oracle]") {
    RingRequest request = ring_request();
    RingSurroundings around;
    double higher = 0.0, depth = 0.0;
    SECTION("a limit") {
        around = behind_limit(-40, 1.5);
        higher = 7.5, depth = 58.5;  // the magnet's rear comes to -46, wanted at -38.5
    }
    SECTION("a tilted driver and a pane that moves, less its quarter at most") {
        tilt(request, 10);
        around = with(pane(-34));
    }
    const RingCase first(request);
    const auto failed = [](const Verdict& v) {
        for (const auto& l : v.lines)
            if (!l.ok && l.name.rfind("driver, ", 0) == 0) return l.note;
        return std::string();
    };
    const std::string note = failed(first.fit(around));
    INFO(note);
    double told_higher = 0.0, told_depth = 0.0;
    const auto from = note.find("try a ring");
    REQUIRE(from != std::string::npos);
    REQUIRE(std::sscanf(note.c_str() + from, "try a ring %lf mm higher, or a driver no deeper than %lf mm",
                        &told_higher, &told_depth) == 2);
    if (higher > 0.0) {
        CHECK(told_higher == Approx(higher).margin(0.11));
        CHECK(told_depth == Approx(depth).margin(0.11));
    }
    const auto raised = [&](double by) {
        RingRequest r = request;
        r.height = r.height + Length::mm(by);
        return failed(RingCase(r).fit(around));
    };
    const auto shallower = [&](double deep) {
        RingRequest r = request;
        r.driver.mounting_depth = Length::mm(deep);
        return failed(RingCase(r).fit(around));
    };
    CHECK(raised(told_higher).empty());
    CHECK_FALSE(raised(told_higher - 0.6).empty());
    CHECK(shallower(told_depth).empty());
    CHECK_FALSE(shallower(told_depth + 0.6).empty());
}

TEST_CASE("more clearance asked never frees, and turns a check where it passes what is left", "[check][ringfit][law]") {
    const RingCase level(ring_request());
    bool was_ok = true;
    for (const double clearance : {0.0, 3.0, 6.9, 7.1, 12.0}) {
        const auto v = level.fit(with(ring_keep_out(geom::space::BoxShape{{52, -20, -90}, {90, 20, -30}}, clearance)));
        const auto& line = ring_line(v, kDriverGear);
        CHECK(line.value == Approx(7).margin(kSlack));
        CHECK(line.limit == clearance);
        CHECK(line.ok == (clearance < 7));
        CHECK((was_ok || !line.ok));
        was_ok = line.ok;
    }
}

TEST_CASE("a ring moved with all that stands round it fits as before", "[check][ringfit][law]") {
    RingRequest request = ring_request();
    tilt(request, 12);
    request.seat.outside = geom::parts::ellipse_outline(Length::mm(230), Length::mm(200));
    geom::scan::Surface surface = sheet(-58, 60);
    RingSurroundings around = behind_limit(-62, 1);
    around.keep_outs = {ring_keep_out(geom::check::mesh_of(geom::space::BoxShape{{-95, -20, -60}, {-74, 20, -5}})),
                        pane(-70), ring_keep_out(geom::space::CylinderShape{{90, -150, -20}, {70, 150, -40}, 5})};
    around.keep_outs[1].shape = geom::check::mesh_of(std::get<geom::space::BoxShape>(around.keep_outs[1].shape));
    around.surface = &surface;
    around.grille_room = geom::parts::GrilleRoom{Length::mm(14), {}};
    around.limits.push_back({"trim", {{0, 0, 90}, {0, 0, 1}}, Length::mm(0)});
    const Verdict before = RingCase(request).fit(around);

    geom::Random random(7);
    const geom::Frame frame = support::random_frame(random);
    const auto plane = [&](geom::Plane p) {
        return geom::Plane{frame.to_parent(p.point), frame.dir_to_parent(p.outward)};
    };
    request.seat.plane = plane(request.seat.plane);
    request.up = frame.dir_to_parent(request.up);
    request.tilt_towards = frame.dir_to_parent(request.tilt_towards);
    for (auto& limit : around.limits) limit.plane = plane(limit.plane);
    for (auto& k : around.keep_outs) {
        if (auto* mesh = std::get_if<TriMesh>(&k.shape))
            for (Point3& p : mesh->vertices) p = frame.to_parent(p);
        if (auto* rod = std::get_if<geom::space::CylinderShape>(&k.shape))
            rod->from = frame.to_parent(rod->from), rod->to = frame.to_parent(rod->to);
        if (auto* slide = std::get_if<geom::space::Travel>(&k.motion))
            for (Point3& p : slide->path) p = frame.dir_to_parent(p);
    }
    for (Point3& p : surface.points) p = frame.to_parent(p);
    const Verdict after = RingCase(request).fit(around);
    REQUIRE(after.lines.size() == before.lines.size());
    for (std::size_t i = 0; i < after.lines.size(); ++i) {
        INFO(before.lines[i].name);
        CHECK(after.lines[i].name == before.lines[i].name);
        CHECK(after.lines[i].ok == before.lines[i].ok);
        // Meshes of the ring are cut otherwise, and slacks are used otherwise.
        CHECK(after.lines[i].value == Approx(before.lines[i].value).margin(0.1));
    }
}

TEST_CASE("samples of a scan keep the asked clearance from the body, patches of its holes do not count",
          "[check][ringfit][oracle]") {
    const RingCase level(ring_request());
    geom::scan::Surface surface = sheet(-49);
    RingSurroundings around;
    around.surface = &surface;
    around.clearance = Length::mm(2);
    Verdict v = level.fit(around);
    CHECK(ring_line(v, "driver, the scanned surface").value == Approx(3).margin(1e-9));
    CHECK(ring_line(v, "driver, the scanned surface").limit == 2);
    CHECK(v.fits());

    // One sample in the magnet.
    surface.points.push_back({0, 0, -40});
    surface.normals.push_back({0, 0, 1});
    v = level.fit(around);
    CHECK(ring_line(v, "driver, the scanned surface").value == Approx(-6).margin(1e-9));
    CHECK_THAT(ring_line(v, "driver, the scanned surface").note, Contains("(0.0, 0.0, -40.0)"));
    CHECK_FALSE(v.fits());
    surface.edge_begin = surface.edge_end = surface.points.size() - 1;
    CHECK(level.fit(around).fits());
}

TEST_CASE("a ring is kept out of what was scanned, but for its foot", "[check][ringfit]") {
    const RingCase level(ring_request());
    // The sheet it stands on with its opening, uneven by half a millimetre either way.
    geom::scan::Surface surface;
    for (double x = -130; x <= 130; x += 2)
        for (double y = -130; y <= 130; y += 2)
            if (std::hypot(x, y) > 75) surface.points.push_back({x, y, 0.5 * std::sin(x)});
    surface.normals.assign(surface.points.size(), {0, 0, 1});
    surface.bound_mm = surface.edge_bound_mm = 0.2;
    RingSurroundings around;
    around.surface = &surface;
    const std::string name = "ring, the scanned surface";
    CHECK(ring_line(level.fit(around), name).ok);
    // A swage 3 high under its edge.
    surface.points.push_back({0, 96, 3});
    surface.normals.push_back({0, 0, 1});
    const Verdict v = level.fit(around);
    CHECK_FALSE(ring_line(v, name).ok);
    CHECK(ring_line(v, name).value == Approx(-3).margin(1e-3));
    CHECK_THAT(ring_line(v, name).note, Contains("stand on the scanned face"));
}

TEST_CASE("the ring itself keeps off keep-outs, also those that lie in it as a whole", "[check][ringfit][oracle]") {
    const RingCase level(ring_request());
    const std::string name = "ring, keep-out \"gear\"";
    CHECK(
        ring_line(level.fit(with(ring_keep_out(geom::space::BoxShape{{110, -20, 0}, {140, 20, 15}}, 4))), name).value ==
        Approx(10).margin(0.06));
    const auto v = level.fit(with(ring_keep_out(geom::space::SphereShape{{85, 0, 12}, 2})));
    CHECK(ring_line(v, name).value == Approx(-8).margin(0.01));
    CHECK_FALSE(ring_line(v, name).ok);
}

TEST_CASE("what the cone needs before it is judged where the driver's file says it", "[check][ringfit][oracle]") {
    RingRequest request = ring_request();
    auto around = with(ring_keep_out(geom::space::BoxShape{{-30, -30, 30}, {30, 30, 60}}));
    Verdict v = RingCase(request).fit(around);
    CHECK(ring_line(v, "room before the cone").value == Approx(10).margin(0.03));
    CHECK(ring_line(v, "room before the cone").limit == Approx(13));
    CHECK_FALSE(ring_line(v, "room before the cone").ok);
    CHECK_THAT(ring_line(v, "room before the cone").note, Contains("try a ring 3.0 mm lower"));

    request.driver.xmax = {};
    v = RingCase(request).fit(around);
    CHECK(ring_line(v, "room before the cone").ok);
    CHECK_THAT(ring_line(v, "room before the cone").note, Contains("not judged"));
    const auto named = [](const std::vector<geom::check::Caution>& cautions, const std::string& name) {
        for (const auto& c : cautions)
            if (c.name == name) return true;
        return false;
    };
    CHECK(named(geom::check::ring_cautions(request, v), "room before the cone"));
    CHECK_FALSE(named(geom::check::ring_cautions(request, v), "room behind the ring"));
    CHECK(named(geom::check::ring_cautions(request, {}), "room behind the ring"));
    request.driver.mounting_depth = {};
    CHECK(named(geom::check::ring_cautions(request, RingCase(request).fit(around)), "room behind the ring"));

    request = ring_request();
    around.grille_room = geom::parts::GrilleRoom{Length::mm(14), {}};
    v = RingCase(request).fit(around);
    CHECK(ring_line(v, "grille room").value == Approx(-4).margin(kSlack));
    CHECK_THAT(ring_line(v, "grille room").note, Contains("try a ring 4.0 mm lower"));
    CHECK(ring_line(v, "grille room, the cone's travel").ok);
}

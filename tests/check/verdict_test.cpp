// Each check is seen to pass on a sound part and to fail, alone, on a part with just that fault.
#include "tests/check/case.h"

#include "geom/core/parallel.h"

#include <BRep_Builder.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS_Compound.hxx>

using namespace shapes;
using geom::Length;
using geom::Volume;
using geom::check::Kind;
using geom::check::Verdict;
using Names = std::vector<std::string>;

TEST_CASE("a sound part that keeps its job passes every check with the figures of plane geometry", "[check][oracle]") {
    const TestPart part;
    const Verdict v = require(part.judged());
    CHECK(failed(v) == Names{});
    CHECK(v.is_sound());
    CHECK(v.fits());
    CHECK(v.valid);
    CHECK(v.closed);
    CHECK(v.net_by_mesh.mm3() == Approx(part.air_mm3 - part.driver_mm3).epsilon(1e-4));
    CHECK(v.wall.min_mm == Approx(6.0).epsilon(1e-6));
    CHECK(v.wall.median_mm == Approx(6.0).epsilon(1e-6));
    CHECK(v.clearance.min_mm == Approx(4.0).epsilon(1e-5));
    CHECK(v.clearance.along_insertion_min_mm == Approx(4.0).epsilon(1e-5));
    CHECK(v.clearance.bound_mm == Approx(0.4));                        // 0.24 and 0.32
    CHECK(v.clearance.edge_bound_mm == Approx(0.8616).epsilon(1e-3));  // 0.8 and 0.32
    CHECK(v.clearance.raw_points_nearer == 0);
    // The cylinder of the magnet: 108 high inside, radius 40; basket leaves the baffle at depth 12.
    const double at_hole = 49 + 12.0 / 40 * (40 - 49);
    CHECK(v.driver_fit.bodies.at(0).wall_gap_mm == Approx(54 - at_hole).margin(0.11));
    CHECK(v.driver_fit.bodies.at(0).rear_gap_mm.value() == Approx(154 - 70).epsilon(1e-9));
    // Mass by hand: shell without hole, pad 4.5 deep with its blind hole 0.5 deep; the driver at the middle of its
    // magnet.
    const double pad = kPi * 225 * 4.5 - kPi * 3.3 * 3.3 * 0.5, shell = 200.0 * 160 * 120 - part.air_mm3;
    CHECK(v.mass_kg == Approx((shell + pad) * 1e-6 + 2.0).epsilon(1e-9));
    const double shell_y = (200.0 * 160 * 120 * 80 - 188.0 * 142 * 108 * 83 - kPi * 2500 * 12 * 6) + pad * 40;
    CHECK(v.centre_of_mass.y == Approx((shell_y * 1e-6 + 2.0 * 55) / v.mass_kg).epsilon(1e-4));
    CHECK(v.box.size().x == Approx(200));
    CHECK(v.box.size().z == Approx(124.5));
    CHECK(v.bspline_faces == 0);
    CHECK(v.plane_faces > 10);
}

TEST_CASE("every line says how it was measured", "[check]") {
    const Verdict v = require(TestPart().judged());
    for (const auto& l : v.lines) {
        CAPTURE(l.name);
        CHECK(l.note.size() > 20);
    }
}

TEST_CASE("a hole in the written mesh fails closedness and nothing is measured through it", "[check][sound]") {
    TestPart part;
    part.meshes[0].triangles.pop_back();
    const Verdict v = require(part.judged());
    CHECK_FALSE(line(v, "STL closed and oriented").ok);
    CHECK_FALSE(v.is_sound());
}

TEST_CASE("a facet turned over, one without area, and a crossing are each seen", "[check][sound]") {
    SECTION("turned over") {
        TestPart part;
        std::swap(part.meshes[0].triangles[7][0], part.meshes[0].triangles[7][1]);
        CHECK_FALSE(line(require(part.judged()), "STL closed and oriented").ok);
    }
    SECTION("without area") {
        TestPart part;
        const auto t = part.meshes[0].triangles[0];
        part.meshes[0].triangles.push_back({t[0], t[1], t[1]});
        CHECK(line(require(part.judged()), "STL without degenerate facets").value == 1);
    }
    SECTION("crossing: a vertex of the floor pulled through the ceiling") {
        TestPart part;
        for (Point3& p : part.meshes[0].vertices)
            if (p == Point3{6, 12, 6}) p = {6, 12, 130};
        const auto l = line(require(part.judged()), "STL without self-crossing");
        CHECK_FALSE(l.ok);
        CHECK(l.note.find("shell at (") != std::string::npos);
    }
}

TEST_CASE("an open B-rep and a shape of two solids are no sound solids", "[check][sound]") {
    SECTION("open") {
        TestPart part;
        BRep_Builder builder;
        TopoDS_Shell shell;
        builder.MakeShell(shell);
        int i = 0;
        for (TopExp_Explorer it(geom::to_occt(part.made.enclosure.products[0].solid), TopAbs_FACE); it.More();
             it.Next(), ++i)
            if (i != 3) builder.Add(shell, it.Current());
        TopoDS_Solid solid;
        builder.MakeSolid(solid);
        builder.Add(solid, shell);
        part.made.enclosure.products[0].solid = geom::to_brep(solid);
        CHECK_FALSE(line(require(part.judged()), "B-rep closed").ok);
    }
    SECTION("two solids") {
        TestPart part;
        BRep_Builder builder;
        TopoDS_Compound both;
        builder.MakeCompound(both);
        builder.Add(both, part.step[0].second);
        builder.Add(both, box({300, 0, 0}, {310, 10, 10}));
        part.made.enclosure.products[0].solid = geom::to_brep(both);
        CHECK_FALSE(line(require(part.judged()), "one solid a product").ok);
    }
}

TEST_CASE("a STEP file that holds something else is not let pass", "[check][sound]") {
    SECTION("another name") {
        TestPart part;
        part.step[0].first = "shall";
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{"STEP read back, products"});
        CHECK(line(v, "STEP read back, products").value == 2);
        CHECK(line(v, "STEP read back, products").note.find("shell missing") != std::string::npos);
    }
    SECTION("one product too many") {
        TestPart part;
        part.step.emplace_back("extra", box({300, 0, 0}, {310, 10, 10}));
        CHECK(failed(require(part.judged())) == Names{"STEP read back, products"});
    }
    SECTION("a part a hundred-thousandth larger") {
        TestPart part;
        gp_Trsf larger;
        larger.SetScale(gp_Pnt(0, 0, 0), 1 + 1e-5 / 3);
        part.step[0].second = moved(part.step[0].second, larger);
        CHECK(failed(require(part.judged())) == Names{"STEP read back, volume"});
    }
    SECTION("no STEP at all is a fault") {
        TestPart part;
        const Folder folder("judge-no-step");
        geom::check::Written written;
        written.step = folder / "missing.step";
        written.products = {{"shell", folder / "0.stl"}};
        write_stl(part.meshes[0], written.products[0].stl);
        const auto result = geom::check::judge(part.made, part.request, part.surface, written, {});
        REQUIRE_FALSE(result.has_value());
        CHECK(result.error().code == geom::FaultCode::Unreadable);
    }
}

TEST_CASE("the three volumes must agree to 0.1 % and the asked one to its tolerance", "[check][sound]") {
    SECTION("the field is 0.15 % off") {
        TestPart part;
        part.made.enclosure.net_by_field = part.made.enclosure.net_by_brep * 1.0015;
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{"net volume, three ways"});
        CHECK(line(v, "net volume, three ways").value == Approx(0.15).margin(0.01));
    }
    SECTION("something stands in the air that the ledger does not know") {
        TestPart part;
        part.made.enclosure.solids_in_air += Volume::litres(0.05);
        CHECK_FALSE(line(require(part.judged()), "net volume, three ways").ok);
    }
    SECTION("an opening is missing from the list") {
        TestPart part;
        part.made.enclosure.air_pieces[0].openings.clear();
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{"net volume, three ways"});
        CHECK(line(v, "net volume, three ways").note.find("no hollow of the mesh encloses") != std::string::npos);
    }
    SECTION("all agree on another volume than the asked one") {
        TestPart part;
        part.request.net_volume = part.request.net_volume * 1.003;
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{"net volume against the asked one"});
        CHECK(v.is_sound());
        CHECK_FALSE(v.fits());
        CHECK(line(v, "net volume against the asked one").value == Approx(0.3).margin(0.02));
    }
}

TEST_CASE("a thin place and a wall that is thin all over are told apart", "[check][fit]") {
    SECTION("a dent of 0.6 mm in the outer body") {
        TestPart part;
        part.made.enclosure.outer_body =
            geom::to_brep(cut(geom::to_occt(part.made.enclosure.outer_body), box({199.4, 70, 50}, {201, 90, 70})));
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{"wall, least"});
        CHECK(v.wall.min_mm == Approx(5.4).epsilon(1e-5));
        CHECK(v.wall.at.x == Approx(194));
    }
    SECTION("asked 6.2") {
        TestPart part;
        part.request.wall = Length::mm(6.2);
        CHECK(failed(require(part.judged())) == Names{"wall, median"});
    }
}

TEST_CASE("clearance is judged on kept points, standing and going in, feet's seats excepted", "[check][fit]") {
    SECTION("a kept point too near") {
        TestPart part;
        part.add({100, 80, 123.5});
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{"clearance, standing", "clearance, going in"});
        CHECK(v.clearance.min_mm == Approx(3.0).epsilon(1e-5));
        CHECK(v.clearance.at == Point3{100, 80, 123.5});
    }
    SECTION("within the stated bound it passes") {
        TestPart part;
        part.add({100, 80, 124.2});
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{});
        CHECK(v.clearance.min_mm == Approx(3.7).epsilon(1e-5));
    }
    SECTION("one sample that stands out a little more is held against the surface round it") {
        TestPart part;
        part.add({100, 80, 124.04});  // fails by 0.06, the surface's own bound is 0.2
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{});
        CHECK_THAT(line(v, "clearance, standing").note, Catch::Contains("1 that stand out of the surface round them"));
        CHECK(v.clearance.min_mm == Approx(4.0).epsilon(1e-5));
        // Many that agree are the surface.
        for (double x = 92; x <= 108; x += 2)
            for (double y = 72; y <= 88; y += 2) part.add({x + 1, y + 1, 124.04});
        std::erase_if(part.surface.points, [](geom::Point3 p) {
            return geom::distance(p, {100, 80, 124.5}) < 8.0 && p.z > 124.2;
        });
        part.surface.normals.resize(part.surface.points.size(), {0, 0, 1});
        part.surface.radius_mm.resize(part.surface.points.size());
        CHECK(failed(require(part.judged())) == Names{"clearance, standing", "clearance, going in"});
    }
    SECTION("a raw point too near is counted, no more") {
        TestPart part;
        part.surface.raw.push_back({100, 80, 123.5});
        part.surface.raw.push_back({100, 80, 60});  // in the middle of the air: nearer than near
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{});
        CHECK(v.clearance.raw_points_nearer == 2);
    }
    SECTION("a post in the way in, clear of the seated part") {
        TestPart part;
        // The mouth lies 30 mm before the baffle; the post stands between the two.
        part.request.baffle.travel_hi_mm = 30;
        part.add({100, -20, 122});
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{"clearance, going in"});
        CHECK(v.clearance.min_mm == Approx(4.0).epsilon(1e-5));
        CHECK(v.clearance.along_insertion_min_mm == Approx(1.5).epsilon(1e-4));
        CHECK(v.clearance.along_insertion_at == Point3{100, -20, 122});
    }
    SECTION("beyond the declared opening nothing is in the way") {
        TestPart part;
        part.add({100, -20, 122});  // travel ends at 0: the mouth is the baffle's own plane
        CHECK(failed(require(part.judged())) == Names{});
    }
    SECTION("the vehicle under a foot, but not beside it") {
        TestPart part;
        part.add({30, 70, -3});
        CHECK(failed(require(part.judged())) == Names{"clearance, standing", "clearance, going in"});
    }
}

TEST_CASE("limits and keep-outs are held against the written part", "[check][fit]") {
    TestPart part;
    part.request.room.limits = {{"lid line", {{0, 0, 121}, {0, 0, 1}}, Length::mm(0), true}};
    part.request.room.keep_outs = {
        {"buckle", geom::space::CylinderShape{{215, 80, 0}, {215, 80, 100}, 10}, Length::mm(4), true},
        {"pipe", geom::space::SphereShape{{100, 200, 60}, 30}, Length::mm(9), true},
        {"bin", geom::space::BoxShape{{-50, 0, 0}, {-5, 100, 100}}, Length::mm(4.5), true}};
    Verdict v = require(part.judged());
    CHECK(failed(v) == Names{});
    CHECK(line(v, "limit \"lid line\"").value == Approx(0.5).epsilon(1e-5));
    CHECK(line(v, "keep-out \"buckle\", standing").value == Approx(4.5).margin(0.03));
    CHECK(line(v, "keep-out \"pipe\", standing").value == Approx(9.5).margin(0.03));
    CHECK(line(v, "keep-out \"bin\", standing").value == Approx(4.5).margin(0.03));
    part.request.room.limits[0].plane.point.z = 120;
    part.request.room.keep_outs[0].clearance = Length::mm(5);
    part.request.room.keep_outs.push_back(
        {"wedge",
         require(geom::measure::tessellate(geom::to_brep(box({190, -10, 40}, {230, 30, 70})), Length::mm(0.1), {})),
         Length::mm(1), false});
    v = require(part.judged());
    CHECK(failed(v) == Names{"limit \"lid line\"", "keep-out \"buckle\", standing", "keep-out \"buckle\", going in",
                             "keep-out \"wedge\", standing", "keep-out \"wedge\", going in"});
    CHECK(line(v, "keep-out \"wedge\", standing").value == Approx(-10.0).margin(0.11));
}

TEST_CASE("a keep-out beside the way in is met there although the seated part is clear of it", "[check][fit][oracle]") {
    TestPart part;
    // The part is 200 x 160 x 120 with its baffle at y = 0 and goes in along +y: what stands before it is passed by.
    part.request.room.keep_outs = {
        {"lever", geom::space::CylinderShape{{205, -300, 60}, {260, -300, 60}, 10}, Length::mm(1), false},
        {"knob", geom::space::SphereShape{{100, -80, 131}, 10}, Length::mm(1), false},
        {"tray", geom::space::BoxShape{{-60, -200, 20}, {2, -150, 60}}, Length::mm(1), false},
        {"block",
         require(geom::measure::tessellate(geom::to_brep(box({203, -90, 40}, {230, -60, 70})), Length::mm(0.1), {})),
         Length::mm(4), false}};
    const Verdict v = require(part.judged());
    CHECK(failed(v) == Names{"keep-out \"tray\", going in", "keep-out \"block\", going in"});
    CHECK(line(v, "keep-out \"lever\", going in").value == Approx(5.0).margin(0.03));
    CHECK(line(v, "keep-out \"knob\", going in").value == Approx(1.0).margin(0.03));
    CHECK(line(v, "keep-out \"tray\", going in").value == Approx(-2.0).margin(0.03));
    CHECK(line(v, "keep-out \"block\", going in").value == Approx(3.0).margin(0.11));
    CHECK(line(v, "keep-out \"lever\", standing").value > 250.0);
    CHECK(line(v, "keep-out \"tray\", standing").value == Approx(150.0).margin(0.11));
}

TEST_CASE("a keep-out that moves is held against the part in all its poses, and where it stays on the way in",
          "[check][fit][oracle]") {
    TestPart part;
    // The part is 200 x 160 x 120 with its baffle at y = 0 and goes in along +y.
    using namespace geom::space;
    geom::TriMesh leaf;  // a sheet in the plane x = 0, hinged along z at (290, 80); shut it lies at x = 290
    leaf.vertices = {{290, 0, 20}, {290, 80, 20}, {290, 80, 100}, {290, 0, 100}};
    leaf.triangles = {{0, 1, 2}, {0, 2, 3}};
    const auto swing = [](double from, double to) {
        return Swing{{290, 80, 0}, {0, 0, 1}, geom::Angle::deg(from), geom::Angle::deg(to)};
    };
    auto& keep_outs = part.request.room.keep_outs;
    // Swung by -90 deg about z the leaf reaches to x = 210, all the way round between.
    keep_outs.push_back({"leaf", leaf, geom::Length::mm(9), false, swing(0, -120)});
    // A ball on rails along x, 30 mm over the part's top only in the middle of a bent path.
    keep_outs.push_back({"ball", SphereShape{{-100, 80, 220}, 20}, geom::Length::mm(5), false,
                         Travel{{{0, 0, 0}, {200, 0, -50}, {400, 0, 0}}}});
    // A tray before the mouth: drawn in the way, out of it at the end of its rail.
    keep_outs.push_back({"tray", BoxShape{{20, -200, 20}, {60, -150, 60}}, geom::Length::mm(2), false,
                         Travel{{{0, 0, 0}, {0, 0, 110}}}, OnWayIn::To});
    // Between the poses looked at each may be up to 0.1 mm nearer, and is told so much nearer.
    Verdict v = require(part.judged());
    CHECK(failed(v) == Names{});
    CHECK(line(v, "keep-out \"leaf\", standing").value == Approx(9.9).margin(0.02));
    CHECK_THAT(line(v, "keep-out \"leaf\", standing").note,
               Catch::Contains("swung to -9") || Catch::Contains("swung to -8"));
    CHECK(line(v, "keep-out \"leaf\", going in").value == Approx(90.0).margin(0.1));
    // Over a flat top a ball is nearest where its path is lowest.
    CHECK(line(v, "keep-out \"ball\", standing").value == Approx(29.95).margin(0.07));
    CHECK(line(v, "keep-out \"tray\", going in").value == Approx(10.0).margin(0.1));
    SECTION("where it is on the way in decides") {
        keep_outs[0].on_way_in = OnWayIn::None;
        keep_outs[2].on_way_in = OnWayIn::From;
        CHECK(failed(require(part.judged())) == Names{"keep-out \"tray\", going in"});
        keep_outs[2].on_way_in = OnWayIn::Swept;
        CHECK(failed(require(part.judged())) == Names{"keep-out \"tray\", going in"});
        keep_outs[2].on_way_in = OnWayIn::None;
        CHECK(failed(require(part.judged())) == Names{});
        keep_outs[0].on_way_in = OnWayIn::Swept;
        keep_outs[0].clearance = geom::Length::mm(0);
        CHECK(line(require(part.judged()), "keep-out \"leaf\", going in").value == Approx(10.0 - 0.25).margin(0.3));
    }
    SECTION("a sheet that cuts the part is seen although it has no inside") {
        keep_outs[0].motion = Swing{{250, 80, 0}, {0, 0, 1}, geom::Angle::deg(0), geom::Angle::deg(-120)};
        for (geom::Point3& p : std::get<geom::TriMesh>(keep_outs[0].shape).vertices) p.x -= 40;
        keep_outs[0].clearance = geom::Length::mm(0);
        CHECK(failed(require(part.judged())) == Names{"keep-out \"leaf\", standing"});
    }
}

TEST_CASE("what of the outer skin faces no scanned surface is listed with its area", "[check][unscanned][oracle]") {
    TestPart part;
    const geom::Point3 hole{100, 80, 124.5};
    std::erase_if(part.surface.points, [&](geom::Point3 p) { return geom::distance(p, hole) < 25.0; });
    part.surface.edge_begin = part.surface.edge_end = part.surface.points.size();
    for (const geom::Point3 p : part.surface.points) part.surface.box.grow(p);
    SECTION("a hole that stays open") {
        const Verdict v = require(part.judged());
        REQUIRE(v.unscanned.size() == 1);
        CHECK(v.unscanned[0].faces == "no scanned surface");
        CHECK(geom::distance(v.unscanned[0].place, {100, 80, 120}) < 1.5);
        // Samples stand 2 mm apart and are believed for one to two cells of 2.4 mm round them.
        CHECK(v.unscanned[0].area_mm2 < kPi * 22.6 * 22.6);
        CHECK(v.unscanned[0].area_mm2 > kPi * 20.2 * 20.2);
    }
    SECTION("a hole that was closed") {
        for (double x = -24; x <= 24; x += 2)
            for (double y = -24; y <= 24; y += 2)
                if (std::hypot(x, y) < 25.0) part.surface.points.push_back(hole + geom::Vec3{x, y, 0});
        const double bound = GENERATE(0.1, 1.2);
        part.surface.bound_mm = 0.3, part.surface.edge_bound_mm = 0.9;
        part.made.room.report.field_bound_mm = 0.4, part.made.enclosure.outer_quality.proud_max_mm = 0.0;
        geom::scan::Hole closed, open;
        closed.place = hole, closed.closed = true, closed.bound_mm = bound, open.bound_mm = 5.0;
        part.surface.holes = {open, closed};
        const Verdict v = require(part.judged());
        REQUIRE(v.unscanned.size() == 1);
        CHECK(v.unscanned[0].faces == "a closed hole of the scan");
        CHECK(v.unscanned[0].area_mm2 == Approx(kPi * 25 * 25).epsilon(0.1));
        // What the scan leaves open is in the hole's own bound, and counts once.
        const auto& at_hole = line(v, "clearance, standing, at closed holes");
        CHECK(at_hole.value == Approx(4.0).margin(0.11));
        CHECK(at_hole.limit == Approx(4.0 - std::hypot(std::max(bound, 0.3), 0.4)));
    }
    SECTION("behind a limit nothing need be scanned") {
        part.request.room.limits = {{"lid line", {{0, 0, 124.5}, {0, 0, 1}}, Length::mm(0), true}};
        CHECK(require(part.judged()).unscanned.empty());
    }
}

TEST_CASE("the driver's body must clear the wall and have air behind it", "[check][fit]") {
    SECTION("too deep") {
        TestPart part;
        part.request.driver->driver.mounting_depth = Length::mm(147);
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{"driver, air behind the magnet"});
        CHECK(v.driver_fit.bodies.at(0).rear_gap_mm.value() == Approx(7).epsilon(1e-9));
        CHECK(v.driver_fit.bodies.at(0).at.y == Approx(154));
    }
    SECTION("a magnet too wide") {
        TestPart part;
        part.request.driver->driver.magnet_diameter = Length::mm(106);
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{"driver, body against the wall"});
        CHECK(v.driver_fit.bodies.at(0).wall_gap_mm == Approx(1).margin(0.11));
    }
    SECTION("through the wall") {
        TestPart part;
        part.request.driver->centre.x = 20;
        const Verdict v = require(part.judged());
        CHECK(v.driver_fit.bodies.at(0).wall_gap_mm < -10);
    }
    SECTION("without a mounting depth nothing is judged, and that is said") {
        TestPart part;
        part.request.driver->driver.mounting_depth.reset();
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{});
        CHECK(line(v, "driver, body against the wall").note == "not judged: the driver file gives no mounting_depth");
    }
}

TEST_CASE("feet are held against hole table, edge distance and web", "[check][fit]") {
    TestPart part;
    part.made.enclosure.fixings[0].hole_mm = 7.0;  // coarse
    part.made.enclosure.fixings[0].edge_distance_mm = 17.9;
    part.made.enclosure.fixings[0].web_section_mm2 = 215;
    CHECK(failed(require(part.judged())) ==
          Names{"foot \"rail\", hole", "foot \"rail\", edge distance", "foot \"rail\", web section"});
}

TEST_CASE("a print bed is tried in turns before it is found too small", "[check][fit]") {
    const auto ratio = [](Vec3 bed) {
        TestPart part;
        part.request.make.bed = bed;
        return line(require(part.judged()), "print bed, shell");
    };
    CHECK(ratio({256, 256, 256}).ok);
    CHECK(ratio({135, 170, 200}).ok);  // standing on its end: 124.5 + 10 by 160 + 10, 200 high
    CHECK_FALSE(ratio({134, 169, 199}).ok);
    // 200 long does not fit 180 square, diagonally it would want 200 x 0.71 + 124 x 0.71.
    CHECK_FALSE(ratio({190, 190, 190}).ok);
}

TEST_CASE("cnc wants a separate baffle and layup a plug", "[check][fit]") {
    SECTION("cnc") {
        TestPart part;
        part.request.make.method = geom::parts::Method::Cnc;
        CHECK(failed(require(part.judged())) == Names{"method, cnc"});
        part.request.baffle.separate = true;
        CHECK(failed(require(part.judged())) == Names{});
    }
    SECTION("layup: the plug is no part of mass and assembly, but its mesh is judged") {
        TestPart part;
        part.request.make.method = geom::parts::Method::Layup;
        CHECK(failed(require(part.judged())) == Names{"method, layup"});
        const double mass = require(part.judged()).mass_kg;
        part.made.enclosure.products.push_back(
            {"plug", part.made.enclosure.outer_body, part.request.material, {0, 0, 0}, true});
        part.meshes.push_back(require(geom::measure::tessellate(part.made.enclosure.outer_body, Length::mm(0.05), {})));
        CHECK_FALSE(require(part.judged()).is_sound());  // the file has no plug yet
        part.step.emplace_back("plug", geom::to_occt(part.made.enclosure.outer_body));
        const Verdict v = require(part.judged());
        CHECK(failed(v) == Names{});
        CHECK(v.mass_kg == mass);
        part.meshes[1].triangles.pop_back();
        CHECK_FALSE(require(part.judged()).is_sound());
    }
}

TEST_CASE("shell and separate baffle are judged together", "[check][sound]") {
    TestPart part;
    // The same box cut in two at y = 12; the mouth is as wide as the cavity.
    const TopoDS_Shape whole = part.step[0].second;
    const TopoDS_Shape plate = cut(whole, box({-50, 12, -50}, {250, 200, 200})),
                       shell = cut(whole, box({-50, -10, -50}, {250, 12, 200}));
    auto& e = part.made.enclosure;
    e.products = {{"shell", geom::to_brep(shell), part.request.material, {0, 0, 0}, false},
                  {"baffle", geom::to_brep(plate), {"board", 700.0, false, 0.0}, {0, 0, 0}, false}};
    part.request.baffle.separate = true;
    part.step = {{"shell", shell}, {"baffle", plate}};
    part.meshes.clear();
    for (const auto& p : e.products)
        part.meshes.push_back(require(geom::measure::tessellate(p.solid, Length::mm(0.05), {})));
    const geom::Plane mouth{{100, 12, 60}, {0, -1, 0}}, back{{100, 12, 60}, {0, 1, 0}};
    e.air_pieces = {{"shell", {{"mouth", mouth, 150}}, {100, 80, 60}},
                    {"baffle", {{"driver", e.seat_plane, 50}, {"back of the driver's hole", back, 50}}, {100, 6, 60}}};
    const Verdict v = require(part.judged());
    CHECK(failed(v) == Names{});
    CHECK(v.net_by_mesh.mm3() == Approx(part.air_mm3 - part.driver_mm3).epsilon(1e-4));
    const double plate_mm3 = 200.0 * 120 * 12 - kPi * 2500 * 12, pad = kPi * 225 * 4.5 - kPi * 3.3 * 3.3 * 0.5;
    const double shell_mm3 = 200.0 * 148 * 120 - 188.0 * 142 * 108 + pad;
    CHECK(v.mass_kg == Approx(shell_mm3 * 1e-6 + plate_mm3 * 0.7e-6 + 2.0).epsilon(1e-9));
}

TEST_CASE("a verdict does not depend on the number of threads", "[check][property]") {
    const TestPart part;
    const Verdict many = require(part.judged());
    const geom::ThreadLimit one(1);
    const Verdict single = require(part.judged());
    REQUIRE(many.lines.size() == single.lines.size());
    for (std::size_t i = 0; i < many.lines.size(); ++i) {
        CHECK(many.lines[i].value == single.lines[i].value);
        CHECK(many.lines[i].note == single.lines[i].note);
    }
}

TEST_CASE("a cancelled judgement ends as interrupted", "[check]") {
    const TestPart part;
    const Folder folder("judge-cancel");
    geom::check::Written written{folder / "part.step", {{"shell", folder / "0.stl"}}};
    write_step(part.step, written.step);
    write_stl(part.meshes[0], written.products[0].stl);
    std::atomic<bool> cancel{true};
    geom::Context context;
    context.cancel = &cancel;
    const auto result = geom::check::judge(part.made, part.request, part.surface, written, context);
    REQUIRE_FALSE(result.has_value());
    CHECK(result.error().code == geom::FaultCode::Interrupted);
}

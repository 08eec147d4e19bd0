// Oracles: closed forms (a block rounded by a ball: Steiner's formula; its surface by distance to the inner block), a
// second method (the kernel's tessellation: closed, of the same volume), laws (rigid motion), refusals by shape.
#include "geom/skin/skin.h"
#include "geom/skin/internal/occt.h"
#include "tests/skin/self_crossing.h"
#include "tests/support/gap_fields.h"

#include <BRepCheck_Analyzer.hxx>
#include <BRepMesh_IncrementalMesh.hxx>
#include <BRep_Tool.hxx>
#include <Geom_Plane.hxx>
#include <Poly_Triangulation.hxx>
#include <TopExp_Explorer.hxx>
#include <TopLoc_Location.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Face.hxx>
#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <map>
#include <numbers>
#include <thread>

using namespace geom;

namespace {

space::Field sampled(const Frame& vehicle_from_box, Point3 lo, Point3 hi, double h,
                     const std::function<double(Point3)>& box_distance) {
    space::Field field;
    field.grid = {vehicle_from_box,
                  lo,
                  h,
                  static_cast<int>((hi.x - lo.x) / h) + 1,
                  static_cast<int>((hi.y - lo.y) / h) + 1,
                  static_cast<int>((hi.z - lo.z) / h) + 1};
    field.mm.resize(field.grid.count());
    for (int k = 0; k < field.grid.nz; ++k)
        for (int j = 0; j < field.grid.ny; ++j)
            for (int i = 0; i < field.grid.nx; ++i)
                field.mm[field.grid.index(i, j, k)] = static_cast<float>(box_distance(field.grid.node(i, j, k)));
    return field;
}

// Signed distance to the block |x| <= half.x ... grown by the ball of radius r.
double rounded_block(Point3 p, Vec3 half, double r) {
    const Vec3 q{std::abs(p.x) - half.x, std::abs(p.y) - half.y, std::abs(p.z) - half.z};
    const Vec3 out{std::max(q.x, 0.0), std::max(q.y, 0.0), std::max(q.z, 0.0)};
    return norm(out) + std::min(std::max({q.x, q.y, q.z}), 0.0) - r;
}

const Vec3 kHalf{72, 110, 92};  // of the block before rounding, so the sides are flat and the edges have radius 8
const double kRound = 8.0;
const double kBaffle = 3.3;  // the plane cuts the block near its middle, between grid nodes

Frame turned_frame() {
    const double a = 0.4, b = 0.25;
    const Vec3 x{std::cos(a), std::sin(a), 0}, y0{-std::sin(a), std::cos(a), 0};
    const Vec3 y = y0 * std::cos(b) + Vec3{0, 0, 1} * std::sin(b);
    return {{310, -120, 55}, x, y, cross(x, y)};
}

space::Field block_field(const Frame& frame, double h = 2.0) {
    return sampled(frame, {-101, -21, -121}, {101, 141, 121}, h,
                   [](Point3 p) { return rounded_block(p, kHalf, kRound); });
}

// Volume behind y = kBaffle, in closed form: half of Steiner's formula less the slab between 0 and the plane.
double block_volume_mm3() {
    const double a = 2 * kHalf.x, b = 2 * kHalf.y, c = 2 * kHalf.z, r = kRound, pi = std::numbers::pi;
    const double whole =
        a * b * c + 2 * r * (a * b + b * c + c * a) + pi * r * r * (a + b + c) + 4.0 / 3.0 * pi * r * r * r;
    return whole / 2 - kBaffle * (a * c + 2 * r * (a + c) + pi * r * r);
}

struct Mesh {
    std::vector<Point3> points;
    std::vector<std::array<std::size_t, 3>> triangles;
    std::size_t open_edges = 0;
    double volume_mm3 = 0.0;
};

Mesh mesh_of(const Brep& brep, double chord) {
    const TopoDS_Shape& shape = to_occt(brep);
    BRepMesh_IncrementalMesh mesher(shape, chord, Standard_False, 0.3);
    Mesh mesh;
    std::map<std::array<long, 3>, std::size_t> known;
    for (TopExp_Explorer f(shape, TopAbs_FACE); f.More(); f.Next()) {
        TopLoc_Location place;
        const auto t = BRep_Tool::Triangulation(TopoDS::Face(f.Current()), place);
        if (t.IsNull()) continue;
        std::vector<std::size_t> id(static_cast<std::size_t>(t->NbNodes()) + 1);
        for (int i = 1; i <= t->NbNodes(); ++i) {
            const Point3 p = from_occt(t->Node(i));
            const auto [it, fresh] = known.insert(
                {{std::lround(p.x * 1e4), std::lround(p.y * 1e4), std::lround(p.z * 1e4)}, mesh.points.size()});
            if (fresh) mesh.points.push_back(p);
            id[static_cast<std::size_t>(i)] = it->second;
        }
        for (int i = 1; i <= t->NbTriangles(); ++i) {
            int a = 0, b = 0, c = 0;
            t->Triangle(i).Get(a, b, c);
            if (f.Current().Orientation() == TopAbs_REVERSED) std::swap(b, c);
            mesh.triangles.push_back(
                {id[static_cast<std::size_t>(a)], id[static_cast<std::size_t>(b)], id[static_cast<std::size_t>(c)]});
        }
    }
    std::map<std::pair<std::size_t, std::size_t>, int> half;
    for (const auto& t : mesh.triangles) {
        if (t[0] == t[1] || t[1] == t[2] || t[2] == t[0]) continue;
        for (std::size_t c = 0; c < 3; ++c) ++half[{t[c], t[(c + 1) % 3]}];
        mesh.volume_mm3 += dot(mesh.points[t[0]], cross(mesh.points[t[1]], mesh.points[t[2]])) / 6.0;
    }
    for (const auto& [edge, n] : half) mesh.open_edges += n != 1 || half.count({edge.second, edge.first}) == 0;
    return mesh;
}

skin::SkinOptions block_options(const Frame& frame, bool flats, double rim_mm) {
    skin::SkinOptions options;
    options.baffle_y_mm = kBaffle;
    options.rim_radius = Length::mm(rim_mm);
    const auto add = [&](Point3 p, Vec3 n) { options.flats.push_back({frame.to_parent(p), frame.dir_to_parent(n)}); };
    if (flats) {
        add({0, 0, kHalf.z + kRound}, {0, 0, 1});
        add({kHalf.x + kRound, 0, 0}, {1, 0, 0});
        add({0, kHalf.y + kRound, 0}, {0, 1, 0});
    }
    return options;
}

}  // namespace

TEST_CASE("the skin of a rounded block lies on it, sound and of the closed form's volume", "[skin][oracle]") {
    const Frame frame = turned_frame();
    const auto field = block_field(frame);
    const auto made = skin::make_skin(field, block_options(frame, false, 0.0), {});
    REQUIRE(made);
    CHECK(BRepCheck_Analyzer(to_occt(made->shell)).IsValid());
    CHECK(made->quality.plane_faces == 1);
    CHECK(made->quality.bspline_faces == 5);
    CHECK(made->quality.deviation_p99_mm < 0.12);
    CHECK(made->quality.deviation_max_mm < 0.30);
    CHECK(made->quality.break_p99_deg < 2.0);
    CHECK(made->quality.break_max_deg < 5.0);
    CHECK(made->quality.least_jacobian > 0.3);
    CHECK(made->quality.control_points < 25000);
    CHECK(made->volume.mm3() == Approx(block_volume_mm3()).epsilon(2e-4));

    const Mesh mesh = mesh_of(made->shell, 0.1);
    CHECK(mesh.open_edges == 0);
    CHECK(mesh.volume_mm3 == Approx(made->volume.mm3()).epsilon(1e-3));
    std::vector<double> off;
    double least_y = 1e300;
    for (const auto& p : mesh.points) {
        const Point3 q = frame.to_local(p);
        least_y = std::min(least_y, q.y);
        if (q.y > kBaffle + 1e-4) off.push_back(std::abs(rounded_block(q, kHalf, kRound)));
    }
    REQUIRE(off.size() > 2000);
    std::sort(off.begin(), off.end());
    CHECK(off[off.size() * 99 / 100] < 0.12);
    CHECK(off.back() < 0.30);
    CHECK(least_y == Approx(kBaffle).margin(1e-6));
}

TEST_CASE("every limit that bounds the body gets a true plane, neighbours and the back alike", "[skin]") {
    const Frame frame = turned_frame();
    const auto field = block_field(frame);
    const auto options = block_options(frame, true, 3.0);
    const auto made = skin::make_skin(field, options, {});
    REQUIRE(made);
    CHECK(BRepCheck_Analyzer(to_occt(made->shell)).IsValid());
    CHECK(made->quality.bspline_faces == 9);
    std::vector<int> found(options.flats.size(), 0);
    for (TopExp_Explorer f(to_occt(made->shell), TopAbs_FACE); f.More(); f.Next()) {
        const auto plane = Handle(Geom_Plane)::DownCast(BRep_Tool::Surface(TopoDS::Face(f.Current())));
        if (plane.IsNull()) continue;
        for (std::size_t i = 0; i < found.size(); ++i)
            if (std::abs(options.flats[i].height(from_occt(plane->Location()))) < 1e-6 &&
                std::abs(dot(from_occt(plane->Axis().Direction()), options.flats[i].outward)) > 1 - 1e-12)
                ++found[i];
    }
    for (const int n : found) CHECK(n >= 1);
    // A hole and the plane that fills it leave the shell closed and its volume as it was.
    const Mesh mesh = mesh_of(made->shell, 0.1);
    CHECK(mesh.open_edges == 0);
    const auto plain = skin::make_skin(field, block_options(frame, false, 3.0), {});
    REQUIRE(plain);
    CHECK(made->volume.mm3() == Approx(plain->volume.mm3()).epsilon(1e-5));
}

TEST_CASE("rounding the rim takes away what the fillet's section says", "[skin][oracle]") {
    const Frame frame;
    const auto field = block_field(frame);
    const auto sharp = skin::make_skin(field, block_options(frame, false, 0.0), {});
    const auto rounded = skin::make_skin(field, block_options(frame, false, 3.0), {});
    REQUIRE(sharp);
    REQUIRE(rounded);
    // Square sides: (1 - pi/4) r^2 a millimetre of the straight parts, and by Pappus on the four rounded corners at the
    // radius of the sliver's centroid, (10 - 3 pi) / (12 - 3 pi) r inside the edge's lines.
    const double r = 3.0, area = (1 - std::numbers::pi / 4) * r * r,
                 inside = (10 - 3 * std::numbers::pi) / (12 - 3 * std::numbers::pi) * r;
    const double wanted = area * (4 * (kHalf.x + kHalf.z) + 2 * std::numbers::pi * (kRound - inside));
    CHECK(sharp->volume.mm3() - rounded->volume.mm3() == Approx(wanted).margin(120.0));  // 0.004 % of the volume
    CHECK(rounded->quality.break_max_deg < 5.0);
    const Mesh mesh = mesh_of(rounded->shell, 0.02);
    CHECK(mesh.open_edges == 0);
    // Nothing of the fillet stands outside the block or nearer to its edge than the ball leaves.
    double worst = 0.0;
    for (const auto& p : mesh.points) {
        if (p.y > kBaffle + r - 0.01 || p.y < kBaffle + 0.01) continue;
        const double side = rounded_block(p, kHalf, kRound) + r, front = kBaffle - p.y + r;
        worst = std::max(worst, std::abs(std::hypot(std::max(side, 0.0), front) - r));
    }
    CHECK(worst < 0.08);
}

TEST_CASE("a skin does not depend on where the vehicle's frame lies", "[skin][property]") {
    const Frame plain, turned = turned_frame();
    const auto a = skin::make_skin(block_field(plain), block_options(plain, true, 3.0), {});
    const auto b = skin::make_skin(block_field(turned), block_options(turned, true, 3.0), {});
    REQUIRE(a);
    REQUIRE(b);
    CHECK(a->volume.mm3() == Approx(b->volume.mm3()).epsilon(1e-9));
    CHECK(a->quality.faces == b->quality.faces);
    const Point3 moved = turned.to_parent(a->quality.break_at);
    CHECK(a->quality.break_max_deg == Approx(b->quality.break_max_deg).epsilon(1e-6));
    CHECK(distance(moved, b->quality.break_at) < 1e-6);
}

TEST_CASE("two skins made at once are those made one after the other", "[skin][threads]") {
    const Frame frame;
    const auto field = block_field(frame, 2.5);
    const auto outer = block_options(frame, true, 3.0), inner = block_options(frame, false, 0.0);
    const auto first = skin::make_skin(field, outer, {});
    const auto second = skin::make_skin(field, inner, {});
    double volume[2] = {};
    std::thread other([&] {
        const auto s = skin::make_skin(field, outer, {});
        if (s) volume[0] = s->volume.mm3();
    });
    const auto here = skin::make_skin(field, inner, {});
    other.join();
    REQUIRE(first);
    REQUIRE(second);
    REQUIRE(here);
    volume[1] = here->volume.mm3();
    CHECK(volume[0] == first->volume.mm3());
    CHECK(volume[1] == second->volume.mm3());
}

TEST_CASE("a solid from two shells holds the difference and is valid", "[skin]") {
    const Frame frame;
    const auto field = block_field(frame);
    auto smaller = field;
    for (float& v : smaller.mm) v += 6.0f;
    const auto outer = skin::make_skin(field, block_options(frame, false, 3.0), {});
    skin::SkinOptions options;
    options.name = "inner";
    options.baffle_y_mm = kBaffle + 9.0;
    const auto inner = skin::make_skin(smaller, options, {});
    REQUIRE(outer);
    REQUIRE(inner);
    const auto solid = skin::solid_from_shells(outer->shell, inner->shell);
    REQUIRE(solid);
    CHECK(BRepCheck_Analyzer(to_occt(*solid)).IsValid());
    const Mesh mesh = mesh_of(*solid, 0.1);
    CHECK(mesh.open_edges == 0);
    CHECK(mesh.volume_mm3 == Approx(outer->volume.mm3() - inner->volume.mm3()).epsilon(2e-3));
    const auto plain = skin::solid_from_shells(outer->shell, {});
    REQUIRE(plain);
    CHECK(mesh_of(*plain, 0.1).volume_mm3 == Approx(outer->volume.mm3()).epsilon(1e-3));
}

TEST_CASE("a tapering body with a tilted, bulging side gets a round rim that fits its angle", "[skin]") {
    // An ellipsoid cut off its middle: the sides meet the plane at all angles about 70 to 110 degrees.
    const Frame frame;
    const auto field = sampled(frame, {-101, -31, -101}, {101, 101, 101}, 2.0, [](Point3 p) {
        return norm(p - Vec3{0, -8, 0}) - 85.0;  // a ball whose centre lies 8 in front of the plane
    });
    skin::SkinOptions options;
    options.rim_radius = Length::mm(4);
    const auto made = skin::make_skin(field, options, {});
    REQUIRE(made);
    CHECK(BRepCheck_Analyzer(to_occt(made->shell)).IsValid());
    CHECK(made->quality.deviation_max_mm < 0.30);
    CHECK(made->quality.break_p99_deg < 2.0);
    CHECK(made->quality.break_max_deg < 5.0);
    // A cap of height 77 of the ball, less the sliver between its edge and the torus of the fillet (by Pappus, the
    // sliver's centroid taken at its edge: an upper bound good to a percent of itself).
    const double height = 77.0, cap = std::numbers::pi * height * height * (85.0 - height / 3);
    CHECK(made->volume.mm3() < cap);
    CHECK(made->volume.mm3() == Approx(cap).epsilon(3e-3));
}

TEST_CASE("a body that is no disk with one rim is refused by name and place", "[skin][faults]") {
    const Frame frame = turned_frame();
    const auto block = [](Point3 p) { return rounded_block(p, kHalf, kRound); };
    skin::SkinOptions options;
    options.baffle_y_mm = kBaffle;
    SECTION("a post from the baffle to the back") {
        const auto field = sampled(frame, {-101, -21, -121}, {101, 141, 121}, 2.5,
                                   [&](Point3 p) { return std::max(block(p), 18.0 - std::hypot(p.x - 10, p.z - 20)); });
        const auto made = skin::make_skin(field, options, {});
        REQUIRE_FALSE(made);
        CHECK(made.error().code == FaultCode::MethodRefused);
        CHECK(made.error().what == "outer skin: the baffle plane meets the body in two rims; wanted one");
        CHECK_FALSE(made.error().hint.empty());
        REQUIRE(made.error().where);
        const Point3 at = frame.to_local(*made.error().where);
        CHECK(std::hypot(at.x - 10, at.z - 20) < 10.0);
    }
    SECTION("a bar across, off the baffle") {
        const auto field = sampled(frame, {-101, -21, -121}, {101, 141, 121}, 2.5,
                                   [&](Point3 p) { return std::max(block(p), 16.0 - std::hypot(p.y - 60, p.z)); });
        const auto made = skin::make_skin(field, options, {});
        REQUIRE_FALSE(made);
        CHECK(made.error().what == "outer skin: a tunnel runs through the body; wanted a surface without one");
        REQUIRE(made.error().where);
    }
    SECTION("an island of solid inside") {
        const auto field = sampled(frame, {-101, -21, -121}, {101, 141, 121}, 2.5, [&](Point3 p) {
            return std::max(block(p), 20.0 - norm(p - Vec3{0, 60, 0}));
        });
        const auto made = skin::make_skin(field, options, {});
        REQUIRE_FALSE(made);
        CHECK(made.error().what == "outer skin: there is an island of solid inside the body; wanted one outer surface");
        REQUIRE(made.error().where);
        CHECK(distance(frame.to_local(*made.error().where), {0, 60, 0}) < 10.0);
    }
    SECTION("two pieces behind the plane") {
        const auto field = sampled(frame, {-101, -21, -121}, {101, 141, 121}, 2.5,
                                   [&](Point3 p) { return std::max(block(p), 14.0 - std::abs(p.x)); });
        const auto made = skin::make_skin(field, options, {});
        REQUIRE_FALSE(made);
        CHECK(made.error().what == "outer skin: the baffle plane cuts the body into two separate pieces; wanted one");
    }
    SECTION("a plane behind the body") {
        options.baffle_y_mm = 130.0;
        const auto made = skin::make_skin(block_field(frame, 2.5), options, {});
        REQUIRE_FALSE(made);
        CHECK(made.error().what == "outer skin: there is no body behind the baffle plane");
    }
    SECTION("a body that runs out of the grid") {
        const auto field = sampled(frame, {-60, -21, -121}, {60, 141, 121}, 2.5, block);
        const auto made = skin::make_skin(field, options, {});
        REQUIRE_FALSE(made);
        CHECK(made.error().what == "outer skin: the body reaches the border of the grid");
        CHECK(made.error().where);
    }
}

TEST_CASE("gaps of awkward sections give hollow solids that are sound and free of self-crossing", "[skin][slow]") {
    // The fields come from tests/support by a method that shares no code with the library.
    const std::string name = GENERATE("L", "oblique");
    CAPTURE(name);
    const auto fields = gap_fields::make_fields(gap_fields::named_gap(name), 2.5);
    skin::SkinOptions outer, inner;
    outer.baffle_y_mm = fields.outer_baffle_y_mm;
    outer.rim_radius = Length::mm(3);
    outer.flats = fields.outer_flats;
    inner.name = "inner";
    inner.baffle_y_mm = fields.inner_baffle_y_mm;
    inner.flats = fields.inner_flats;
    const auto a = skin::make_skin(fields.outer, outer, {}), b = skin::make_skin(fields.inner, inner, {});
    REQUIRE(a);
    REQUIRE(b);
    CHECK(a->quality.faces + b->quality.faces <= 24);
    for (const auto* s : {&*a, &*b}) {
        CHECK(s->quality.plane_faces >= 2);
        CHECK(s->quality.deviation_max_mm < 0.35);  // 0.30 at the usual 2 mm; these fields have 2.5
        CHECK(s->quality.deviation_p99_mm < 0.12);
        CHECK(s->quality.break_median_deg < 0.2);
        CHECK(s->quality.break_p99_deg < 2.0);
        CHECK(s->quality.break_max_deg < 5.0);
        CHECK(s->quality.least_jacobian > 0.1);
        CHECK(s->quality.control_points <= 25000);
    }
    const auto solid = skin::solid_from_shells(a->shell, b->shell);
    REQUIRE(solid);
    CHECK(BRepCheck_Analyzer(to_occt(*solid)).IsValid());
    const Mesh mesh = mesh_of(*solid, 0.2);
    CHECK(mesh.open_edges == 0);
    CHECK_FALSE(crosses_itself(mesh.points, mesh.triangles));
}

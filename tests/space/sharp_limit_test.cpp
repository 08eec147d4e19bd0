// Limits whose edges stay sharp: a plain gap of 200 x 250 mm under a plane, 4 mm clear of its sides, in closed form.
#include "geom/space/room.h"
#include "tests/space/accuracy.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::space;

namespace {

constexpr double kEdge = 20.0, kInner = 14.0, kWall = 6.0;
constexpr double kFront = 60.0;  // what lies behind it is measured

RoomOptions options(LimitEdges edges) {
    RoomOptions o;
    o.air = {0, 120, 125};
    o.baffle = {{0, 0, 0}, {0, -1, 0}};
    o.travel_lo_mm = -200, o.travel_hi_mm = -20;
    o.edge_radius = Length::mm(kEdge);
    o.inner_radius = Length::mm(kInner);
    o.voxel = Length::mm(3.0);
    o.limits = {{.name = "top", .plane = {{0, 0, 230}, {0, 0, 1}}, .edges = edges}};
    return o;
}

const scan::Surface& gap() {
    static const scan::Surface surface = [] {
        test::Scene s;
        s.solids = {test::half_space({-100, 0, 0}, {1, 0, 0}), test::half_space({100, 0, 0}, {-1, 0, 0}),
                    test::half_space({0, 250, 0}, {0, -1, 0}), test::half_space({0, 0, 0}, {0, 0, 1})};
        s.sampled = {{-105, 0, -5}, {105, 255, 232}};  // the scan ends just past the limit
        auto made = scan::estimate_surface(test::noisy_scan(s, 4.0, 0.0), {}, {});
        if (!made) throw std::runtime_error(made.error().what);
        return std::move(made).value();
    }();
    return surface;
}

struct Made {
    Room room;
    Field air;
    double outer_mm3, air_mm3;
};
const Made& made(LimitEdges edges) {
    static std::map<LimitEdges, Made> all;
    if (const auto it = all.find(edges); it != all.end()) return it->second;
    auto room = free_room(gap(), options(edges), {});
    if (!room) throw std::runtime_error(room.error().what);
    auto air = cavity(*room, Length::mm(kWall), Length::mm(kInner), {});
    if (!air) throw std::runtime_error(air.error().what);
    Made one{std::move(*room), std::move(air->air), 0, 0};
    one.outer_mm3 = VolumeTable::of(one.room.outer).volume_behind(kFront).mm3();
    one.air_mm3 = VolumeTable::of(one.air).volume_behind(kFront).mm3();
    return all.emplace(edges, std::move(one)).first->second;
}

/// What rounding by r takes at the top: along straight edges (1 - pi / 4) r^2 a millimetre, and the two corners at the
/// back, rounded in plan by r too, where sections are larger by half circles: pi r^3 / 6.
double rounding_mm3(double half_width, double back, double r) {
    const double along = 2.0 * (half_width - r) + 2.0 * (back - kFront - r);
    return along * (1.0 - std::numbers::pi / 4.0) * r * r + std::numbers::pi / 6.0 * r * r * r;
}

}  // namespace

TEST_CASE("a sharp limit gains what its rounding took, outside and inside", "[space][sharp][oracle]") {
    const Made &rounded = made(LimitEdges::Rounded), &sharp = made(LimitEdges::Sharp);
    CHECK(sharp.outer_mm3 - rounded.outer_mm3 == Approx(rounding_mm3(96, 246, kEdge)).epsilon(0.04));
    // The air's rounding errs on the small side: up to half a voxel in corners.
    CHECK(sharp.air_mm3 - rounded.air_mm3 == Approx(rounding_mm3(90, 240, kInner)).epsilon(0.2));
    CHECK(rounded.room.beyond.mm.empty());
    REQUIRE(sharp.room.cuts.size() == 1);
    CHECK(sharp.room.cuts[0].face.height({0, 0, 230}) == Approx(0.0).margin(1e-9));
    // Just under the plane at the middle of a side, 1 mm from both faces.
    CHECK(sharp.room.outer.at({95, 150, 229}) < 0.0);
    CHECK(rounded.room.outer.at({95, 150, 229}) > 1.0);
    CHECK(sharp.air.at({89, 150, 223}) < 0.0);
    CHECK(sharp.room.outer.at({97, 150, 229}) > 0.5);
    CHECK(sharp.room.outer.at({95, 150, 231}) > 0.5);
}

TEST_CASE("an edge that is sharp outside alone leaves the air as it was", "[space][sharp]") {
    const Made &rounded = made(LimitEdges::Rounded), &outside = made(LimitEdges::SharpOutside);
    CHECK(outside.outer_mm3 == Approx(made(LimitEdges::Sharp).outer_mm3).epsilon(1e-6));
    CHECK(outside.air_mm3 == Approx(rounded.air_mm3).epsilon(5e-4));
}

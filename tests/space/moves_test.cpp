#include "geom/core/parallel.h"
#include "tests/space/accuracy.h"
#include "tests/space/way_scene.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::space;
using geom::test::seat_options;

namespace {

constexpr double kDegree = std::numbers::pi / 180.0;

Room made(const scan::Surface& surface, const RoomOptions& o) {
    auto room = free_room(surface, o, {});
    if (!room) FAIL(room.error().what << "; " << room.error().hint);
    return std::move(room).value();
}

double seat_litres(const Room& room) {
    return VolumeTable::of(room.outer).volume_behind(-32).litres();
}

}  // namespace

TEST_CASE("a way in ends seated, and its poses meet where one move ends and the next begins", "[space][way]") {
    const WayIn way({Slide{{10, 200, 0}}, Turn{20 * kDegree, {1, 0, 0}, {0, 10, 5}}, Slide{{0, 30, -4}}});
    const Point3 x{33, 120, 70};
    CHECK(distance(way.during(2, 1.0).to_parent(x), x) < 1e-12);
    for (std::size_t i = 0; i + 1 < way.size(); ++i)
        CHECK(distance(way.during(i, 1.0).to_parent(x), way.during(i + 1, 0.0).to_parent(x)) < 1e-9);
    // By hand: the last slide taken back, then a turn of -20 degrees about the x axis through (y, z) = (10, 5).
    const double y = 120 - 30 - 10, z = 70 + 4 - 5, c = std::cos(20 * kDegree), s = std::sin(20 * kDegree);
    const Point3 start = way.during(1, 0.0).to_parent(x);
    CHECK(start.x == Approx(33.0));
    CHECK(start.y == Approx(10 + c * y + s * z));
    CHECK(start.z == Approx(5 - s * y + c * z));
    CHECK(distance(way.during(0, 0.0).to_parent(x), start - Vec3{10, 200, 0}) < 1e-9);
    // The path of a place is its poses, one after the other.
    for (std::size_t i = 0; i < way.size(); ++i) {
        const PathBack path(way.move(i), way.after(i).to_parent(x));
        for (const double share : {0.0, 0.3, 1.0})
            CHECK(distance(path.at((1.0 - share) * path.length_mm()), way.during(i, share).to_parent(x)) < 1e-9);
    }
    // Seen from another frame it is the same way.
    Frame f = test::turned(0.7, 0.4);
    f.origin = {12, -30, 77};
    const WayIn there = way.seen_from(f);
    CHECK(distance(f.to_parent(there.during(1, 0.4).to_parent(f.to_local(x))), way.during(1, 0.4).to_parent(x)) < 1e-9);
}

TEST_CASE("slides along one straight line give the room of that direction", "[space][way][property]") {
    RoomOptions o = seat_options(4.0);
    o.insert = unit(Vec3{0.15, 1, -0.1});
    const Room straight = made(test::gap_surface(3.0), o);
    o.moves = {Slide{*o.insert * 150.0}, Slide{*o.insert * 240.0}};
    const Room slid = made(test::gap_surface(3.0), o);
    CHECK(seat_litres(slid) == Approx(seat_litres(straight)).epsilon(1e-3));
    // The search for a straight way's peaks may miss a sharp one by a voxel in a few places.
    std::size_t near = 0, apart = 0;
    const GridSpec& g = slid.outer.grid;
    for (int k = 0; k < g.nz; ++k)
        for (int j = 0; j < g.ny; ++j)
            for (int i = 0; i < g.nx; ++i) {
                const Point3 p = g.vehicle_from_box.to_parent(g.node(i, j, k));
                const double v = slid.outer.mm[g.index(i, j, k)];
                if (p.y < 12 || std::abs(v) > 4.0) continue;
                ++near;
                if (std::abs(v - straight.outer.at(p)) > 1.0) ++apart;
            }
    CHECK(near > 20000);
    CHECK(apart * 100 < near);
}

TEST_CASE("a room for a part that is tipped in holds what sampling the whole motion says", "[space][way][oracle]") {
    const test::WayScene scene = test::way_scene(11, 2.6);
    for (const int kind : {0, 2, 3}) {
        Random random(110 + static_cast<std::uint64_t>(kind));
        RoomOptions o = test::way_options(scene, 3.0);
        o.moves = test::random_moves(random, scene, kind);
        if (kind == 3)
            o.keep_outs = {
                {"ball", SphereShape{{0.3 * scene.size.x, -40, 0.2 * scene.size.z}, 22}, Length::mm(3), true}};
        if (kind == 2) o.limits = {{"top", {{0, 0, 0.85 * scene.size.z}, {0, 0, 1}}, Length::mm(0), true}};
        const Room room = made(scene.surface, o);
        const test::WayFigures f = test::way_figures(scene, o, room, 11, 1.0);
        CAPTURE(kind, f.litres, f.more_at.x, f.more_at.y, f.more_at.z, f.less_at.x, f.less_at.y, f.less_at.z);
        CHECK(f.border > 10000);
        CHECK(f.more_vx < 0.5);
        CHECK(f.less_vx < 1.0);
    }
}

TEST_CASE("more clearance on the way, more in the way, or a longer way never gives more room",
          "[space][way][property]") {
    const test::WayScene scene = test::way_scene(13, 3.5);
    RoomOptions o = test::way_options(scene, 6.0);
    o.moves = {Slide{{0, 120, 0}}, Turn{14 * kDegree, {1, 0, 0}, {0, 0, 60}}, Slide{{0, 40, 5}}};
    const auto litres = [&](const RoomOptions& with) {
        return VolumeTable::of(made(scene.surface, with).outer).volume_behind(test::WayScene::kMouth).litres();
    };
    const double here = litres(o);
    RoomOptions without = o;
    without.moves.clear();
    without.insert_clearance = Length::mm(0);
    CHECK(here > 0.3);
    CHECK(here < litres(without));
    RoomOptions more = o;
    more.insert_clearance = Length::mm(8);
    more.keep_outs = {{"rod", CylinderShape{{-200, -30, 70}, {200, -30, 70}, 12}, Length::mm(0), true}};
    CHECK(litres(more) < here - 0.02);
    more = o;
    more.moves.insert(more.moves.begin(), {Slide{{0, 100, 0}}, Turn{-25 * kDegree, {0, 0, 1}, {0, -30, 0}}});
    CHECK(litres(more) < here + 0.002);
    more = o;
    more.limits = {{"top", {{0, 0, 0.7 * scene.size.z}, {0, 0, 1}}, Length::mm(0), true}};
    CHECK(litres(more) < here);
}

TEST_CASE("what is not outside before a first turn is left out, and said", "[space][way]") {
    RoomOptions o = seat_options(6.0);
    o.moves = {Turn{6 * kDegree, {1, 0, 0}, {0, 8, 0}}};
    const auto none = free_room(test::gap_surface(3.0), o, {});
    REQUIRE_FALSE(none);
    CHECK(none.error().code == FaultCode::Impossible);
    o.moves = {Slide{{0, 60, 0}}, Turn{6 * kDegree, {1, 0, 0}, {0, 8, 0}}};
    CHECK(seat_litres(made(test::gap_surface(3.0), o)) > 5.0);
    // Sliding along the baffle never comes from outside.
    o.moves = {Slide{{100, 0, 0}}};
    const auto aside = free_room(test::gap_surface(3.0), o, {});
    REQUIRE_FALSE(aside);
    CHECK(aside.error().code == FaultCode::Impossible);
}

TEST_CASE("a room for a tipped part is the same on one thread and two", "[space][way][determinism]") {
    RoomOptions o = seat_options(6.0);
    o.moves = {Slide{{5, 200, 0}}, Turn{9 * kDegree, unit(Vec3{1, 0.1, 0}), {0, 30, 40}}, Slide{{0, 30, 3}}};
    const auto run = [&](int threads) {
        const ThreadLimit limit(threads);
        return made(test::gap_surface(3.0), o).outer.mm;
    };
    CHECK(run(1) == run(2));
}

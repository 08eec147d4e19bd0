#include "geom/space/room.h"
#include "tests/space/scene.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::space;

namespace {
RoomOptions gap_options() {
    RoomOptions o;
    o.air = {0, 120, 160};
    o.baffle = {{0, 40, 0}, {0, -1, 0}};
    o.travel_lo_mm = -200;
    o.travel_hi_mm = 32;
    o.voxel = Length::mm(4);
    o.limits = {{"shelf", {{0, 0, 300}, {0, 0, 1}}, Length::mm(0), true}};
    return o;
}
}  // namespace

TEST_CASE("a gap gives a room and a wall leaves air in it", "[space][room]") {
    const scan::Surface surface = test::exact_surface(test::seat_gap(), 3.0);
    const auto room = free_room(surface, gap_options(), {});
    REQUIRE(room);
    const auto air = cavity(room->outer, Length::mm(6), Length::mm(4), {});
    REQUIRE(air);
    const double outer = VolumeTable::of(room->outer).volume_behind(-32).litres(), inner = VolumeTable::of(*air).volume_behind(-32).litres();
    CHECK(outer > 18.0);
    CHECK(inner < outer - 1.5);
}

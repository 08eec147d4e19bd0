#include "geom/space/room.h"
#include "tests/space/scene.h"

#include <catch2/catch.hpp>

#include <functional>

using namespace geom;
using namespace geom::space;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;

namespace {

const scan::Surface& gap() {
    return test::gap_surface(3.0);
}

RoomOptions options() {
    RoomOptions o;
    o.air = {0, 120, 160};
    o.baffle = {{0, 40, 0}, {0, -1, 0}};
    o.travel_lo_mm = -200, o.travel_hi_mm = 32;
    o.voxel = Length::mm(4);
    o.limits = {{"shelf", {{0, 0, 300}, {0, 0, 1}}, Length::mm(0), true}};
    return o;
}

Fault fault_of(const std::function<void(RoomOptions&)>& change, const scan::Surface& surface = gap()) {
    RoomOptions o = options();
    change(o);
    const auto room = free_room(surface, o, {});
    REQUIRE_FALSE(room);
    CHECK(room.error().stage == "space");
    CHECK_FALSE(room.error().hint.empty());
    return room.error();
}

}  // namespace

TEST_CASE("a hole in the scan wider than the clearance is a leak that names its place and width",
          "[space][leak][fault]") {
    test::Scene holed = test::seat_gap();
    const Point3 centre{-100, 150, 150};
    holed.is_missing = [=](Point3 p) { return norm(p - centre) < 15.0; };
    const Fault f = fault_of([](RoomOptions&) {}, test::exact_surface(holed, 2.0));
    CHECK(f.code == FaultCode::Leak);
    REQUIRE(f.where);
    CHECK(norm(*f.where - centre) < 2.0);
    CHECK_THAT(f.what, StartsWith("the scan has a hole near (") && Contains("less than 8.0 mm wanted"));
    double width = 0.0;
    REQUIRE(std::sscanf(f.what.c_str() + f.what.find("a ball of "), "a ball of %lf mm", &width) == 1);
    CHECK(std::abs(width - 30.0) <= 2.0);
    CHECK(f.hint == "declare a limit or an open plane there, move the baffle in, or rescan that place");
}

TEST_CASE("a limit across a leak closes it", "[space][leak]") {
    test::Scene holed = test::seat_gap();
    holed.is_missing = [](Point3 p) { return norm(p - Point3{-100, 150, 150}) < 15.0; };
    RoomOptions o = options();
    o.limits.push_back({"side", {{-94, 0, 0}, {-1, 0, 0}}, Length::mm(0), true});
    CHECK(free_room(test::exact_surface(holed, 2.0), o, {}));
}

TEST_CASE("a side that nothing closes is a leak that says which way it is open", "[space][leak][fault]") {
    const Fault f = fault_of([](RoomOptions& o) { o.limits.clear(); });
    CHECK(f.code == FaultCode::Leak);
    CHECK_THAT(f.what, StartsWith("the room is open: nothing scanned or declared closes it towards ("));
}

TEST_CASE("a scan that stops well short of the outermost baffle is a leak that says by how much",
          "[space][leak][fault]") {
    const Fault f =
        fault_of([](RoomOptions& o) { o.travel_hi_mm = 65; });  // the scan begins at y = 0, the mouth is y = -25
    CHECK(f.code == FaultCode::Leak);
    CHECK_THAT(f.what, Contains("short of the outermost baffle place"));
    double missing = 0.0;
    REQUIRE(std::sscanf(f.what.c_str(), "the scan stops about %lf mm", &missing) == 1);
    CHECK(std::abs(missing - 25.0) <= 2.0);
    CHECK_THAT(f.hint, StartsWith("let the baffle travel "));
}

TEST_CASE("air that is not in the air of the gap is refused with the distance found and wanted",
          "[space][air][fault]") {
    const auto refused = [](Point3 air) {
        const Fault f = fault_of([=](RoomOptions& o) { o.air = air; });
        CHECK(f.code == FaultCode::AirBlocked);
        return f.what;
    };
    CHECK(refused({0, 3, 160}) ==
          "air: the point lies 5.0 mm in front of the outermost baffle place, wanted behind it");
    CHECK(refused({0, 120, 310}) == "air: the point lies 10.0 mm beyond 'shelf', wanted behind it");
    CHECK_THAT(refused({0, 120, 2}),
               StartsWith("air: the point is 2.0 mm from the scanned surface, more than 6.0 mm wanted"));
    CHECK_THAT(refused({-700, 120, 160}),
               StartsWith("air: the point lies ") && Contains("outside the scanned surface's box"));
    CHECK_THAT(refused({-130, 150, 150}),
               StartsWith("air: seen from the point, scanned surface and limits close only "));  // inside a seat
}

TEST_CASE("air inside a keep-out is refused by its name", "[space][air][fault]") {
    const Fault f = fault_of([](RoomOptions& o) {
        o.keep_outs = {{"buckle", SphereShape{{0, 120, 165}, 10}, Length::mm(3), true}};
    });
    CHECK(f.code == FaultCode::AirBlocked);
    CHECK(f.what == "air: the point lies -5.0 mm from keep-out 'buckle', more than 3.0 mm wanted");
}

TEST_CASE("a room that a limit shuts off before the baffle is refused", "[space][air][fault]") {
    const Fault f = fault_of([](RoomOptions& o) {
        o.limits.push_back({"front", {{0, 60, 0}, {0, -1, 0}}, Length::mm(0), true});
    });
    CHECK(f.code == FaultCode::AirBlocked);
    CHECK_THAT(f.what, Contains("before the outermost baffle place, from which the part comes in"));
}

TEST_CASE("a rounding wider than the room leaves nothing and says so", "[space][fault]") {
    const Fault f = fault_of([](RoomOptions& o) { o.edge_radius = Length::mm(150); });
    CHECK(f.code == FaultCode::Impossible);
    CHECK(f.what == "nothing is left of the room after the way in and the outside rounding of 150.0 mm");
}

TEST_CASE("a memory limit names the finest voxel that fits, and that one does fit", "[space][memory][fault]") {
    const Fault f = fault_of([](RoomOptions& o) { o.memory_limit_bytes = 20e6; });
    CHECK(f.code == FaultCode::MemoryLimit);
    double finest = 0.0;
    REQUIRE(std::sscanf(f.hint.c_str(), "the finest voxel that fits is %lf mm", &finest) == 1);
    RoomOptions o = options();
    o.memory_limit_bytes = 20e6;
    o.voxel = Length::mm(finest);
    CHECK(free_room(gap(), o, {}));
}

TEST_CASE("a cancelled run stops as interrupted", "[space][cancel]") {
    std::atomic<bool> cancel = true;
    Context context;
    context.cancel = &cancel;
    const auto room = free_room(gap(), options(), context);
    REQUIRE_FALSE(room);
    CHECK(room.error().code == FaultCode::Interrupted);
}

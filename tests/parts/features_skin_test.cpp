// The features on skins as the pipeline makes them: a field with bulging sides, its cavity, both skins.
#include "tests/parts/features_bodies.h"

#include "geom/skin/skin.h"

#include <catch2/catch.hpp>

#include <array>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

/// A box with round edges whose sides wave by 6 %, skinned outside and inside.
const Case& skinned_box() {
    static const Case made = [] {
        Case box = rounded_box();
        const Sizes sizes;
        space::Field& field = box.room.outer;
        field.grid.h_mm = 2.5;
        field.grid.lo = {-150, -40, -150};
        field.grid.nx = field.grid.nz = 121;
        field.grid.ny = 101;
        field.mm.resize(field.grid.count());
        const double r = 10.0;
        for (int k = 0; k < field.grid.nz; ++k)
            for (int j = 0; j < field.grid.ny; ++j)
                for (int i = 0; i < field.grid.nx; ++i) {
                    Point3 p = field.grid.vehicle_from_box.to_parent(field.grid.node(i, j, k));
                    p.x /= 1 + 0.06 * std::sin(p.z / 45) + 0.05 * std::sin(p.y / 50 + 1);
                    p.z /= 1 + 0.05 * std::cos(p.y / 40);
                    const std::array<double, 3> q{std::abs(p.x) - 115 + r, std::abs(p.y - 65) - 115 + r,
                                                  std::abs(p.z) - 110 + r};
                    const Vec3 out{std::max(q[0], 0.0), std::max(q[1], 0.0), std::max(q[2], 0.0)};
                    field.mm[field.grid.index(i, j, k)] =
                        static_cast<float>(norm(out) + std::min(std::max({q[0], q[1], q[2]}), 0.0) - r);
                }
        const space::Field air = require(space::cavity(field, Length::mm(sizes.wall), Length::mm(4), {}));
        skin::SkinOptions outer{.name = "outer", .baffle_y_mm = 0.0, .rim_radius = Length::mm(3), .flats = {}};
        skin::SkinOptions inner{
            .name = "inner", .baffle_y_mm = sizes.thickness, .rim_radius = Length::mm(0), .flats = {}};
        box.bodies.outer = require(skin::solid_from_shells(require(skin::make_skin(field, outer, {})).shell, Brep{}));
        box.bodies.air = require(skin::solid_from_shells(require(skin::make_skin(air, inner, {})).shell, Brep{}));
        box.name = "skinned box";
        return box;
    }();
    return made;
}

}  // namespace

TEST_CASE("all features go onto a real skin, integral or separate", "[parts][features][skin][slow]") {
    Case box = skinned_box();
    box.request.driver = mounted(woofer());
    box.request.terminal = Terminal{.diameter = Length::mm(20), .at = {80, 90, 30}, .displacement = std::nullopt};
    box.request.feet.push_back({.name = "right", .point = {150, 60, -60}, .axis = {0, 0, -1}, .thread = "M6"});
    SECTION("integral, with a recess and a foot before the box") {
        box.request.driver->driver.recess = Length::mm(4);
        box.request.feet.push_back({.name = "front", .point = {-60, -35, -119.5}, .axis = {0, 0, -1}, .thread = "M8"});
        check_sound(box, require(add_features(box.bodies, box.room, box.request, {})), 1);
    }
    SECTION("separate") {
        box.request.baffle.separate = true;
        check_sound(box, require(add_features(box.bodies, box.room, box.request, {})), 2);
    }
}

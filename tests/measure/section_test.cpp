#include "tests/measure/shapes.h"

#include "geom/measure/brep_measure.h"

using namespace shapes;
using geom::measure::section;

TEST_CASE("a section's area and width are those of plane geometry", "[measure][section][oracle]") {
    SECTION("straight through a box") {
        const auto s = require(section(geom::to_brep(box({0, 0, 0}, {100, 12, 9})), {{50, 0, 0}, {1, 0, 0}}));
        CHECK(s.area.mm2() == Approx(108.0).epsilon(1e-12));
        CHECK(s.least_thickness_mm == Approx(9.0).epsilon(1e-9));
    }
    SECTION("oblique through a cylinder: an ellipse") {
        const geom::Vec3 normal = geom::unit({0, std::sin(0.6), std::cos(0.6)});
        const auto s = require(section(geom::to_brep(cylinder({0, 0, -100}, {0, 0, 1}, 20, 200)), {{0, 0, 3}, normal}));
        CHECK(s.area.mm2() == Approx(kPi * 20 * 20 / std::cos(0.6)).epsilon(1e-7));
        CHECK(s.least_thickness_mm == Approx(40.0).epsilon(1e-3));
    }
    SECTION("through a hollow box: the material alone") {
        const TopoDS_Shape hollow = cut(box({0, 0, 0}, {100, 80, 60}), box({6, 6, 6}, {94, 74, 54}));
        CHECK(require(section(geom::to_brep(hollow), {{0, 0, 30}, {0, 0, 1}})).area.mm2() ==
              Approx(8000.0 - 88 * 68).epsilon(1e-12));
    }
    SECTION("moved with its plane it stays the same") {
        const gp_Trsf motion = skew_motion();
        const auto s = require(section(geom::to_brep(moved(box({0, 0, 0}, {100, 12, 9}), motion)),
                                       {moved(Point3{50, 0, 0}, motion), turned({1, 0, 0}, motion)}));
        CHECK(s.area.mm2() == Approx(108.0).epsilon(1e-9));
    }
    SECTION("a plane that misses gives nothing") {
        const auto s = require(section(geom::to_brep(box({0, 0, 0}, {10, 10, 10})), {{50, 0, 0}, {1, 0, 0}}));
        CHECK(s.area.mm2() == 0.0);
        CHECK(s.least_thickness_mm == 0.0);
    }
}

// A straight column of a rounded rectangle. Oracles: the distance to a straight duct, written for another purpose;
// slopes by differences; the farthest place by many places of the border.
#include "geom/check/internal/straight_column.h"
#include "geom/core/random.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::check;

TEST_CASE("a straight column tells distance, slope and its farthest place", "[check][port][oracle]") {
    parts::DuctPath path;
    path.start = {5, 6, 7};
    path.along = unit(Vec3{1, 2, -2}), path.right = unit(Vec3{2, 1, 2}), path.up = cross(path.along, path.right);
    path.length_mm = 30;
    for (const parts::DuctSection& section :
         {parts::DuctSection::round(34), parts::DuctSection{30, 9, 4, 0.35}, parts::DuctSection{9, 30, 0, 0}}) {
        const StraightColumn column = StraightColumn::on(path.at(0), section, false, 30);
        Random random(3);
        for (int i = 0; i < 1000; ++i) {
            const Point3 p =
                path.at(15).at + Vec3{random.uniform(-60, 60), random.uniform(-60, 60), random.uniform(-60, 60)};
            const auto told = column.at(p);
            REQUIRE(told.value == Approx(path.distance_to(section, 0, 30, p)).margin(1e-9));
            // Convex: no place lies under the plane of another's slope.
            const Point3 q = p + Vec3{random.uniform(-40, 40), random.uniform(-40, 40), random.uniform(-40, 40)};
            REQUIRE(column.at(q).value >= told.value + dot(told.slope, q - p) - 1e-9);
            const Vec3 way = unit(q - p);
            double most = -1e300;
            for (const auto& [x, y] : section.border(0.2))
                for (const double on : {0.0, 30.0}) {
                    const auto place = path.at(on);
                    most = std::max(most, dot(place.at + place.right * x + place.up * y, way));
                }
            REQUIRE(dot(column.farthest(way), way) == Approx(most).margin(0.01));
        }
        CHECK(column.distance_to(column.middle()) < -5);
        // Against the way it stands before the mouth.
        const StraightColumn before = StraightColumn::on(path.at(0), section, true, 30);
        CHECK(before.distance_to(path.at(-15).at) < -5);
        CHECK(before.distance_to(path.at(10).at) == Approx(10));
    }
}

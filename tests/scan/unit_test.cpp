#include "geom/scan/unit.h"
#include "geom/scan/internal/unit_remark.h"

#include <catch2/catch.hpp>

#include <cmath>

using namespace geom;
using namespace geom::scan;
using Catch::Matchers::Contains;

TEST_CASE("units are spelled as in job files and back", "[scan][unit]") {
    for (const FileUnit unit : kFileUnits) CHECK(file_unit_named(name_of(unit)) == unit);
    CHECK_FALSE(file_unit_named("ft").has_value());
    CHECK(one(FileUnit::Inch).mm() == 25.4);
    CHECK(one(FileUnit::Metre).mm() == 1000.0);
}

TEST_CASE("all units that make sense of an extent are listed, with what each would mean", "[scan][unit]") {
    const UnitGuess guess = likely_units({380, 285, 6});  // 380 mm, 3.8 m, 380 m, 9.65 m
    REQUIRE(guess.plausible.size() == 3);
    CHECK(guess.plausible.front().unit == FileUnit::Millimetre);
    CHECK_FALSE(guess.likeliest.has_value());  // a cabin of 3.8 m in centimetres is no less likely than a gap
    CHECK_FALSE(guess.all[2].plausible);
    CHECK(guess.all[2].size_mm.x == 380000.0);
    CHECK_THAT(plausible_text(guess), Contains("mm (380 x 285 x 6 mm)") && Contains("cm (3800 x 2850 x 60 mm)") &&
                                          Contains("in (9652 x 7239 x 152.4 mm)") && !Contains(" m ("));
    double sum = 0.0;
    for (const UnitReading& reading : guess.all) sum += reading.share;
    CHECK(std::abs(sum - 1.0) < 1e-12);
}

TEST_CASE("an extent that no unit makes sense of gives none", "[scan][unit]") {
    CHECK_FALSE(likely_units({1e6, 1, 1}).likeliest.has_value());
    CHECK_FALSE(likely_units({1e-3, 0, 0}).likeliest.has_value());
    CHECK(plausible_text(likely_units({0, 0, 0})).empty());
}

TEST_CASE("the true unit of a vehicle's gap is plausible whatever the file is written in, and first in mm and m",
          "[scan][unit][property]") {
    // Gaps and cabins of 0.25 to 3 m, sampled every 1 to 4 mm.
    for (const double extent_mm : {250.0, 600.0, 1200.0, 3000.0})
        for (const double spacing_mm : {1.0, 2.0, 4.0})
            for (const FileUnit unit : kFileUnits) {
                CAPTURE(extent_mm, spacing_mm, name_of(unit));
                const double scale = one(unit).mm();
                const Vec3 size = Vec3{extent_mm, extent_mm / 3, extent_mm / 2} / scale;
                const UnitGuess guess = likely_units(size, spacing_mm / scale);
                CHECK(guess.all[static_cast<std::size_t>(unit)].plausible);
                if (unit == FileUnit::Millimetre || unit == FileUnit::Metre)
                    CHECK(guess.plausible.front().unit == unit);
            }
}

TEST_CASE("a unit is named likeliest only where the size decides it: the right one or none", "[scan][unit][property]") {
    int named = 0, asked = 0;
    for (const double extent_mm : {200.0, 400.0, 850.0, 1500.0, 2700.0, 3500.0, 5000.0, 7400.0})
        for (const FileUnit unit : kFileUnits) {
            CAPTURE(extent_mm, name_of(unit));
            const UnitGuess guess = likely_units(Vec3{extent_mm, extent_mm / 3, extent_mm / 2} / one(unit).mm());
            CHECK(guess.all[static_cast<std::size_t>(unit)].plausible);
            ++asked;
            if (!guess.likeliest) continue;
            CHECK(*guess.likeliest == unit);
            CHECK(guess.plausible.front().unit == unit);
            ++named;
        }
    CHECK(named >= asked / 4);
}

TEST_CASE("what a remark at the head of a file says about its unit is found, and what it counts is not",
          "[scan][unit]") {
    using internal::unit_remark;
    const std::string ply = "ply\nformat ascii 1.0\n", rest = "element vertex 0\nend_header\n";
    CHECK(unit_remark(ply + "comment millimetres\n" + rest) == FileUnit::Millimetre);
    CHECK(unit_remark(ply + "obj_info units: m\n" + rest) == FileUnit::Metre);
    CHECK(unit_remark(ply + "comment thinned to 2 millimetres\n" + rest) == std::nullopt);
    CHECK(unit_remark(ply + "comment made in a shop\n" + rest) == std::nullopt);
    CHECK(unit_remark(ply + "comment metres\ncomment once inches\n" + rest) == std::nullopt);
    CHECK(unit_remark("# File units = inches\nv 0 0 0\n") == FileUnit::Inch);
    CHECK(unit_remark("solid part in centimeters\nfacet normal 0 0 1\n") == FileUnit::Centimetre);
    CHECK(unit_remark("x y z\n0 0 0\n") == std::nullopt);
    std::string packed = "meters";
    packed.resize(84, '\0');
    CHECK(unit_remark(packed) == FileUnit::Metre);
    CHECK(unit_remark("") == std::nullopt);
}

TEST_CASE("the spacing tells units apart where the extent leaves them open", "[scan][unit]") {
    // 100 long: 10 cm in mm, 1 m in cm, 2.5 m in inches. With points 0.2 apart it may be any; at 2 mm in cm it is
    // likely cm.
    const UnitGuess by_extent = likely_units({100, 50, 50});
    const UnitGuess by_both = likely_units({100, 50, 50}, 0.01);
    CHECK(by_extent.all[1].share < by_both.all[1].share + by_both.all[3].share);
    CHECK_FALSE(by_both.all[0].plausible);  // a hundredth of a millimetre is no scan of a vehicle
}

TEST_CASE("a stray point does not change the middle box", "[scan][unit]") {
    std::vector<Point3> points;
    for (int i = 0; i < 1000; ++i) points.push_back({i % 10 * 1.0, i / 10 % 10 * 1.0, i / 100 * 1.0});
    points.push_back({1e9, -1e9, 1e9});
    const Aabb box = middle_box(points);
    CHECK(box.hi == Vec3{9, 9, 9});
    CHECK(box.lo == Vec3{0, 0, 0});
}

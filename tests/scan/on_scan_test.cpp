#include "geom/scan/on_scan.h"
#include "geom/core/random.h"

#include <catch2/catch.hpp>

#include <algorithm>

using namespace geom;
using namespace geom::scan;
using Catch::Matchers::Contains;

namespace {

/// The floor and two sides of a gap 200 wide, 400 deep and 300 high, as if read in `read_as` from a file in
/// millimetres.
RawScan gap_read_as(FileUnit read_as) {
    const double by = one(read_as).mm();
    RawScan scan;
    for (int i = 0; i <= 40; ++i)
        for (int j = 0; j <= 60; ++j) {
            const double a = 10.0 * i, b = 5.0 * j;
            scan.points.push_back(Point3{-100, a, b} * by);
            scan.points.push_back(Point3{100, a, b} * by);
            if (j <= 40) scan.points.push_back(Point3{-100 + 5.0 * j, a, 0} * by);
        }
    return scan;
}

const std::vector<NamedPlace> kPlaces = {{"air", {{0, 200, 150}, {0, 200, 150}}, false},
                                         {"fixing \"side\"", {{100, 200, 150}, {100, 200, 150}}, true},
                                         {"keep-out \"buckle\"", {{60, 100, 0}, {90, 130, 200}}, false}};

Status check(FileUnit file, FileUnit stated, const std::vector<NamedPlace>& places = kPlaces) {
    RawScan scan = gap_read_as(stated);
    for (Point3& p : scan.points) p = p / one(file).mm();
    return check_on_scan(scan, stated, places);
}

}  // namespace

TEST_CASE("places on the scan are taken in the right unit, and in a wrong one the right unit is named",
          "[scan][on_scan]") {
    for (const FileUnit file : kFileUnits)
        for (const FileUnit stated : kFileUnits) {
            CAPTURE(name_of(file), name_of(stated));
            const Status status = check(file, stated);
            if (file == stated) {
                CHECK(status.has_value());
                continue;
            }
            REQUIRE_FALSE(status.has_value());
            CHECK(status.error().code == FaultCode::WrongUnit);
            CHECK_THAT(status.error().hint, Contains(std::string("\"") + name_of(file) + "\" (200 x 400 x 300 mm)"));
            CHECK_THAT(status.error().what, (Contains(" lies ") && Contains("mm off the scan")) ||
                                                Contains("wanted 50 mm to 20 m for a vehicle"));
        }
}

TEST_CASE("a place off the scan in every unit is a fault of the job that says where", "[scan][on_scan][fault]") {
    std::vector<NamedPlace> places = kPlaces;
    places[0].box = {{0, -3000, 150}, {0, -3000, 150}};
    const Status status = check(FileUnit::Millimetre, FileUnit::Millimetre, places);
    REQUIRE_FALSE(status.has_value());
    CHECK(status.error().code == FaultCode::BadJob);
    CHECK_THAT(status.error().what,
               Contains("air at (0, -3000, 150) lies 3000 mm off the scan, which in mm reaches from"));
    CHECK_THAT(status.error().hint, Contains("in no unit"));
    CHECK(status.error().where == Point3{0, -3000, 150});
}

TEST_CASE("a fixing where nothing was scanned is left to others, and a stray point hides no wrong unit",
          "[scan][on_scan]") {
    std::vector<NamedPlace> places = kPlaces;
    places[1].box = {{0, 390, 290}, {0, 390, 290}};  // 100 mm from the sides, more from the floor: no unit explains it
    CHECK(check(FileUnit::Millimetre, FileUnit::Millimetre, places).has_value());
    RawScan stray = gap_read_as(FileUnit::Millimetre);
    for (Point3& p : stray.points) p = p / 1000.0;
    stray.points.push_back({900, 900, 900});
    CHECK_FALSE(check_on_scan(stray, FileUnit::Millimetre, kPlaces).has_value());
}

TEST_CASE("a fixing in the middle of a large triangle lies on the surface", "[scan][on_scan]") {
    RawScan mesh;
    mesh.points = {{-1000, -1000, 0}, {1000, -1000, 0}, {0, 2000, 0}, {0, 0, 900}};
    mesh.triangles = {{0, 1, 2}, {0, 1, 3}};
    CHECK(check_on_scan(mesh, FileUnit::Millimetre, {{"fixing", {{0, 100, 0}, {0, 100, 0}}, true}}).has_value());
}

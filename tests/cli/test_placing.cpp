// A scan that stands elsewhere, turned and mirrored, gives the part of the scan that stands right.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <fmt/format.h>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>

namespace {

using Catch::Contains;
using geom::Point3;
using geom::Vec3;
using support::box_gap_job;
using support::box_gap_points;

constexpr const char* kUnitLine = "length_unit = \"mm\"\nair";

/// Turned by a Pythagorean third about z, mirrored left to right before, and far away: every number exact in decimals.
Point3 elsewhere(Point3 p) {
    const Point3 m{-p.x, p.y, p.z};
    return {0.6 * m.x - 0.8 * m.y + 1000.0, 0.8 * m.x + 0.6 * m.y - 200.0, m.z + 50.0};
}

std::string moved_ply() {
    auto points = box_gap_points();
    for (auto& p : points) p = elsewhere(p);
    return support::as_binary_ply(points);
}

nlohmann::json made(const std::string& job, const std::string& scan, std::string* told = nullptr) {
    const support::TempFolder folder;
    folder.write("job.toml", job);
    folder.write("gap.ply", scan);
    const auto ran = support::run_program({"enclosure", (folder.path() / "job.toml").string()});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == 0);
    if (told != nullptr) *told = ran.out;
    return nlohmann::json::parse(support::read_bytes(folder.path() / "box-gap/report.json"));
}

/// The good job with lines of [scan] added; nothing may be left behind by a job that is refused.
void check_refused(const std::string& lines, int exit, const std::string& told) {
    const support::TempFolder folder;
    folder.write("job.toml", box_gap_job(kUnitLine, lines + "\n" + kUnitLine));
    folder.write("gap.ply", support::as_binary_ply(box_gap_points()));
    folder.write("box-gap/box-gap.step", "an earlier good part");
    const auto before = support::contents_of(folder.path());
    const auto ran = support::run_program({"enclosure", (folder.path() / "job.toml").string()});
    INFO(ran.err << ran.out);
    CHECK(ran.exit == exit);
    CHECK_THAT(ran.err, Contains(told) && Contains("  try:   "));
    CHECK(support::contents_of(folder.path()) == before);
}

std::string pair(const char* name, Point3 scan, Point3 vehicle) {
    return fmt::format("{{ name = \"{}\", scan = [{}, {}, {}], vehicle = [{}, {}, {}] }},\n", name, scan.x, scan.y,
                       scan.z, vehicle.x, vehicle.y, vehicle.z);
}

}  // namespace

TEST_CASE("a moved, turned and mirrored scan placed back gives the same volume", "[cli][placing]") {
    const auto plain = made(box_gap_job(), support::as_binary_ply(box_gap_points()));
    // Back: the turned frame's axes, then the mirror about x = 0.
    const auto back = made(
        box_gap_job(kUnitLine, std::string("place = { origin = [1000, -200, 50], x = [0.6, 0.8, 0], z = [0, 0, 1] }\n"
                                           "mirror = \"x\"\n") +
                                   kUnitLine),
        moved_ply());
    // The turned samples are rounded to float a thousand millimetres away: 6e-5 mm.
    CHECK(back["net_volume"]["litres"].get<double>() ==
          Approx(plain["net_volume"]["litres"].get<double>()).epsilon(1e-4));
    CHECK(std::abs(back["clearance"]["min_mm"].get<double>() - plain["clearance"]["min_mm"].get<double>()) < 0.1);
    for (int a = 0; a < 3; ++a)
        CHECK(std::abs(back["solid"]["bounding_box_mm"]["size"][static_cast<std::size_t>(a)].get<double>() -
                       plain["solid"]["bounding_box_mm"]["size"][static_cast<std::size_t>(a)].get<double>()) < 0.3);
    CHECK(back["scan"]["placing"][0]["mirrored"] == true);
    CHECK(plain["scan"]["placing"][0]["mirrored"] == false);
}

TEST_CASE("pairs place a scan, and one that is a little off is told", "[cli][placing]") {
    // As scanned, before the mirror: the pairs lead to the mirrored gap, which the box is as well.
    const auto turned = [](Point3 p) { return Point3{-p.x, p.y, p.z}; };
    std::string pairs = "place.pairs = [\n";
    const Point3 corners[] = {{-100, 0, 0}, {100, 0, 0}, {-100, 250, 0}, {100, 250, 250}, {-100, 0, 250}};
    for (std::size_t i = 0; i < 5; ++i)
        pairs += pair(i == 2 ? "rail end" : "corner", elsewhere(corners[i]),
                      turned(corners[i]) + (i == 2 ? Vec3{0, 0, 6} : Vec3{}));
    std::string told;
    const auto report = made(box_gap_job(kUnitLine, pairs + "]\n" + kUnitLine), moved_ply(), &told);
    const auto& placing = report["scan"]["placing"][0];
    CHECK(placing["pairs"].size() == 5);
    CHECK(placing["bad_pair"]["name"] == "rail end");
    CHECK(placing["bad_pair"]["off_mm"].get<double>() == Approx(6.0).margin(0.01));
    CHECK_THAT(told, Contains("gap.ply: pair 'rail end' is 6.0 mm from where the other 4 put it"));
}

TEST_CASE("places that make no sense end with exit 3 and leave all as it was", "[cli][placing]") {
    check_refused("place = { x = [1, 0, 0.1] }", 3, "place x is 5.7 deg off a right angle to z");
    check_refused("place = { points = [[0, 0, 0], [90, 0, 0], [200, 1, 0]] }", 3, "lie on one line");
    check_refused("place.pairs = [" + pair("a", {0, 0, 0}, {0, 0, 0}) + pair("b", {1, 0, 0}, {1000, 0, 0}) + "]", 3,
                  "pairs are 2");
    check_refused("place.pairs = [" + pair("a", {0, 0, 0}, {0, 0, 0}) + pair("b", {0.1, 0, 0}, {100, 0, 0}) +
                      pair("c", {0, 0.1, 0}, {0, 100, 0}) + "]",
                  3, "points in one place");
    check_refused("place.pairs = [" + pair("a", {0, 0, 0}, {0, 0, 0}) + pair("b", {20, 0, 0}, {508, 0, 0}) +
                      pair("c", {0, 20, 0}, {0, 508, 0}) + "]",
                  3, "25.4 times as far apart");
    check_refused("join = \"fit\"", 3, "has one file");
    check_refused("mirrow = \"x\"", 3, "did you mean 'mirror'?");
}

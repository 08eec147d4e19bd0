// The box command from job file to files, as a user runs it: the example's figures worked by hand from what its report
// says was solved.
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>
#include <fstream>
#include <numbers>
#include <sstream>

using namespace support;

namespace {

const std::filesystem::path kExample = std::filesystem::path(GAPWRIGHT_SOURCE) / "examples/box_wedge";
constexpr double kPi = std::numbers::pi;

}  // namespace

TEST_CASE("the example wedge is made; boards, files and volumes are what a hand sheet says", "[cli][box][oracle]") {
    const TempFolder out;
    const Ran ran = run_program({"box", (kExample / "job.toml").string(), "--out", out.path().string(), "--quiet"});
    INFO(ran.err);
    REQUIRE(ran.exit == 0);
    CHECK(ran.out.empty());
    const auto report = nlohmann::json::parse(read_bytes(out.path() / "report.json"));
    CHECK(report["part"] == "box");
    CHECK(report["proved"] == true);
    CHECK(!report.contains("clearance"));
    CHECK(report["net_volume"]["litres"].get<double>() == Approx(14).epsilon(1e-6));
    CHECK(report["net_volume"]["by"]["closed_form"].get<double>() == Approx(14).epsilon(1e-6));
    CHECK(report["net_volume"]["by"]["mesh"].get<double>() == Approx(14).epsilon(2e-5));
    // Profile: deep d below and 130 above, 320 high; inside 390 wide and 290 high, and as deep as at half height, less
    // 15 at the back and 30 along the slope in front.
    const double d = report["solved"]["value_mm"].get<double>();
    const double along = std::hypot(320, d - 130) / 320.0;
    const double inside = 390.0 * 290 * ((d + 130) / 2 - 15 - 30 * along);
    CHECK(report["box"]["inside_litres"].get<double>() == Approx(inside * 1e-6).epsilon(1e-6));
    CHECK(report["box"]["outside_litres"].get<double>() == Approx(420 * 320 * (d + 130) / 2 * 1e-6).epsilon(1e-6));
    // Less a post of 20, the driver's magnet and frustum (110 by 30; 182 to 110 over 48), with the cut-out of 182.
    const double post = kPi * 100 * 390, cutout = kPi * 91 * 91 * 30;
    const double driver = report["ledger"][3]["litres"].get<double>();
    CHECK(report["ledger"][3]["name"] == "driver");
    CHECK((inside - post + cutout) * 1e-6 + driver == Approx(14).epsilon(1e-5));

    double boards = 0.0;
    for (const auto& board : report["box"]["boards"]) boards += board["litres"].get<double>();
    CHECK(boards == Approx((420 * 320 * (d + 130) / 2 - inside) * 1e-6).epsilon(1e-5));
    const double lean = std::atan((d - 130) / 320) * 180 / kPi;
    for (const auto& board : report["box"]["boards"])
        for (const auto& edge : board["edges"]) {
            const double bevel = edge["bevel_deg"].get<double>();
            CHECK((std::abs(bevel) < 1e-3 || std::abs(std::abs(bevel) - lean) < 2e-3));
        }

    // One drawing a board, the boards in place, and the cut list with a line an edge.
    for (const char* file : {"box-wedge.step", "box-wedge.stl", "box-wedge-boards.step", "box-wedge-front-layer-1.dxf",
                             "box-wedge-front-layer-2.dxf", "box-wedge-top.dxf", "box-wedge-left.dxf"})
        CHECK(std::filesystem::file_size(out.path() / file) > 500);
    std::istringstream lines(read_bytes(out.path() / "box-wedge-cut-list.csv"));
    std::string line;
    int count = 0;
    while (std::getline(lines, line)) {
        CHECK(std::count(line.begin(), line.end(), ',') == 14);
        ++count;
    }
    CHECK(count == 1 + 7 * 4);
}

TEST_CASE("a wall that battens hide is judged no more than what is seen of it", "[cli][box]") {
    // A low nose behind a baffle that comes off: its inner face lies behind the battens.
    const TempFolder folder;
    const auto driver = std::filesystem::path(GAPWRIGHT_SOURCE) / "examples/drivers/woofer-165.toml";
    std::ofstream(folder.path() / "job.toml")
        << "[job]\nname = \"low\"\npart = \"box\"\n[box]\nshape = \"nosed wedge\"\nwidth = \"solve\"\nheight = "
           "395\ndepth = 208\ntop_depth = 139\nnose = 63\nwall = 18\nwalls = { front = 9 }\n[enclosure]\nnet_volume = "
           "\"18.8 L\"\nbaffle = { made = \"separate\" }\n[driver]\nfile = \""
        << driver.string() << "\"\n";
    const Ran ran = run_program({"box", (folder.path() / "job.toml").string(), "--json"});
    INFO(ran.err);
    CHECK(ran.exit == 0);
    const auto report = nlohmann::json::parse(ran.out);
    bool has_back = false;
    for (const auto& check : report["checks"]) has_back = has_back || check["name"] == "wall, back";
    CHECK(has_back);
}

TEST_CASE("a box of given sizes is told what it holds, and one that misses its volume fails", "[cli][box]") {
    const TempFolder folder;
    const auto run = [&](const std::string& depth, const std::string& asked) {
        std::ofstream(folder.path() / "job.toml") << "[job]\nname = \"plain\"\npart = \"box\"\n[box]\nshape = "
                                                     "\"rectangular\"\nwidth = 300\nheight = 200\ndepth = "
                                                  << depth << "\nwall = 10\n[enclosure]\n"
                                                  << asked;
        return run_program({"box", (folder.path() / "job.toml").string(), "--json"});
    };
    const Ran plain = run("220", "");
    CHECK(plain.exit == 0);
    const auto report = nlohmann::json::parse(plain.out);
    CHECK(report["net_volume"]["litres"].get<double>() == Approx(0.28 * 1.8 * 2.0 * 10));
    CHECK(report["net_volume"]["asked_litres"].is_null());
    const Ran missed = run("220", "net_volume = \"9 L\"\n");
    CHECK(missed.exit == 5);
    const Ran none = run("\"solve\"\nsolve_range = [40, 100]", "net_volume = \"9 L\"\n");
    CHECK(none.exit == 4);
    const auto fault = nlohmann::json::parse(none.out)["fault"];
    CHECK_THAT(fault["what"].get<std::string>(), Catch::Contains("gives 1.008 L to 4.032 L"));
}

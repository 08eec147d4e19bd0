// Two drivers in one box as a user makes it: the report's ledger, fit and sound against closed forms, and the response
// of the same job.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>

namespace {

using Catch::Contains;
using nlohmann::json;

constexpr const char* kDrivers = R"(
[[driver]]
name = "mid 100"
centre = [0, 0, 70]
wired = { series = 1, parallel = 2 }
cutout_diameter = 76
flange_diameter = 96
mounting_depth = 50
magnet_diameter = 56
magnet_depth = 16
displacement = "0.11 L"
mass = 0.6
fs = 80
qts = 0.5
qes = 0.6
vas = "2 L"
re = 6
sd = "50 cm2"
xmax = 3
power = 30

[[driver]]
centre = [0, 0, 180]
turn = "30 deg"
)";

std::string job() {
    return support::box_gap_job("edge_radius = 12\ninner_radius = 6\nvoxel = 4",
                                "edge_radius = 20\ninner_radius = 14\nvoxel = 3", kDrivers);
}

}  // namespace

TEST_CASE("two drivers share a box: volume, fit and sound are those of both", "[cli][drivers]") {
    const support::TempFolder folder;
    folder.write("job.toml", job());
    folder.write("gap.ply", support::as_binary_ply(support::box_gap_points()));
    const std::string file = (folder.path() / "job.toml").string();
    const auto ran = support::run_program({"enclosure", file, "--json"});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == 0);
    const json report = json::parse(ran.out);
    const double litres = report.at("net_volume").at("litres").get<double>();
    CHECK(litres == Approx(4.0).epsilon(0.002));
    double of_drivers = 0.0, sum = 0.0;
    for (const auto& line : report.at("ledger")) {
        const std::string name = line.at("name").get<std::string>();
        sum += line.at("litres").get<double>();
        if (name == "driver" || name == "driver 2") of_drivers += line.at("litres").get<double>();
    }
    CHECK(of_drivers == Approx(-0.22));
    CHECK(sum == Approx(litres).epsilon(1e-5));
    // Two in parallel: Vas and the cones' area of both.
    CHECK(report.at("sound").at("drivers").at("count") == 2);
    CHECK(report.at("sound").at("alpha").at("value").get<double>() == Approx(4.0 / litres).margin(1e-4));
    CHECK(report.at("sound").at("qtc").at("value").get<double>() ==
          Approx(0.5 * std::sqrt(1.0 + 4.0 / litres)).margin(1e-4));
    int bodies = 0;
    for (const auto& line : report.at("checks")) {
        CHECK(line.at("ok").get<bool>());
        const std::string name = line.at("name").get<std::string>();
        bodies += name == "driver, body against the wall" || name == "driver 2, body against the wall";
    }
    CHECK(bodies == 2);
    // 0.6 kg each, midway between them.
    const double mass = report.at("solid").at("mass_kg").get<double>();
    CHECK(mass > 1.2);

    const auto response = support::run_program({"response", file});
    INFO(response.err);
    CHECK(response.exit == 0);
    CHECK_THAT(response.out, Contains("2 x mid 100 in 4 L, closed: Qtc 0.707") && Contains("re 3 ohm"));
}

TEST_CASE("response of a job takes its port and its lining", "[cli][drivers][response]") {
    const support::TempFolder folder;
    std::string text = job();
    const std::string wall = "wall = 6\n";
    text.insert(text.find(wall),
                "port = { tuning = 70, diameter = 26, at = [70, 0, 125] }\n"
                "lining = { thickness = 10, gain = 1.1 }\n");
    const auto file = folder.write("job.toml", text);
    folder.write("gap.ply", "not read");
    const auto ran = support::run_program({"response", file.string()});
    INFO(ran.out << ran.err);
    CHECK(ran.exit == 0);
    CHECK_THAT(ran.out, Contains("2 x mid 100 in 4 L at 70 Hz, with a port") && Contains("lining gain 1.1") &&
                            Contains("one tube of 26 mm"));
    // What the command line says goes before the job.
    CHECK_THAT(support::run_program({"response", file.string(), "--tuning", "60", "--port", "30 mm"}).out,
               Contains("at 60 Hz") && Contains("one tube of 30 mm"));
}

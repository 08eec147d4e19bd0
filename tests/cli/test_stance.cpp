// A driver from behind, one that is turned round, and two unlike ones, as a user makes them: boxes whose air is worked
// by hand.
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>
#include <numbers>

using namespace support;
using nlohmann::json;

namespace {

constexpr double kPi = std::numbers::pi;

/// 300 x 260 x 240 outside in boards of 15, a woofer of the 165 mm class; no room left in front but what `space` says.
std::string job(const std::string& of_driver) {
    return R"([job]
name = "stance"
part = "box"
[box]
shape = "rectangular"
width = 300
height = 260
depth = 240
wall = 15
[enclosure]
material = "MDF"
baffle = { made = "separate" }
[driver]
)" + of_driver +
           R"(
cutout_diameter = 145
flange_diameter = 168
flange_thickness = 5
basket_diameter = 142
bolt_circle = 157
bolt_count = 4
bolt_thread = "M4"
mounting_depth = 68
magnet_diameter = 90
magnet_depth = 28
displacement = "0.5 L"
mass = 1.3
fs = 48
qes = 0.58
qms = 4.8
vas = "12 L"
re = 3.4
sd = "133 cm2"
xmax = 6
power = 90
)";
}

json made(const TempFolder& folder, const std::string& of_driver) {
    folder.write("job.toml", job(of_driver));
    const Ran ran = run_program({"box", (folder.path() / "job.toml").string(), "--json"});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == 0);
    json report = json::parse(ran.out);
    for (const auto& line : report.at("checks")) {
        INFO(line.dump());
        CHECK(line.at("ok").get<bool>());
    }
    return report;
}

double ledger(const json& report, const std::string& name) {
    for (const auto& line : report.at("ledger"))
        if (line.at("name") == name) return line.at("litres").get<double>();
    return 0.0;
}

}  // namespace

TEST_CASE("a box with a driver from behind holds its air less driver and flange, and no cut-out",
          "[cli][stance][oracle]") {
    const TempFolder folder;
    const json report = made(folder, "from = \"behind\"");
    const double flange = kPi * 84 * 84 * 5 / 1e6, inside = 270.0 * 230 * 210 / 1e6;
    CHECK(ledger(report, "driver") == Approx(-0.5 - flange).epsilon(1e-6));
    CHECK(ledger(report, "cut-out behind the driver's seat") == 0.0);
    CHECK(report.at("net_volume").at("litres").get<double>() ==
          Approx(inside + ledger(report, "rim flange") - 0.5 - flange).epsilon(1e-6));
    // 240 less boards of 15, flange and 68 of driver.
    CHECK(report.at("driver_fit").at("rear_gap_mm").get<double>() == Approx(240 - 15 - 15 - 5 - 68).margin(0.01));
    bool has_bench = false;
    for (const auto& line : report.at("checks"))
        has_bench |= line.at("name") == "access, screws of drivers from behind";
    CHECK(has_bench);
}

TEST_CASE("a driver that is turned round gives the box the hollow of its cone", "[cli][stance][oracle]") {
    const TempFolder folder;
    const json report = made(folder, "turned = true\nfront_volume = \"0.1 L\"");
    CHECK(ledger(report, "driver") == Approx(0.1).epsilon(1e-6));
    CHECK(ledger(report, "cut-out behind the driver's seat") == Approx(kPi * 72.5 * 72.5 * 15 / 1e6).epsilon(1e-6));
    const json front = report.at("driver_fit").at("front");
    CHECK(front.at("magnet_needs_mm").get<double>() == Approx(5 + 68 + 10));
    CHECK_FALSE(report.at("driver_fit").contains("rear_gap_mm"));
    // Its magnet's middle 59 before the baffle moves the centre of mass: by 1.3 kg of all.
    const json inside = made(folder, "from = \"front\"");
    const double mass = report.at("solid").at("mass_kg").get<double>();
    CHECK(mass == Approx(inside.at("solid").at("mass_kg").get<double>()));
    const auto centre = [](const json& r) { return r.at("solid").at("centre_of_mass_mm").at(1).get<double>(); };
    CHECK(centre(inside) - centre(report) == Approx(1.3 / mass * (5 + 68 - 14 + 68 - 14)).epsilon(1e-3));
}

TEST_CASE("a box from numbers holds drivers of two kinds", "[cli][stance][drivers][oracle]") {
    const TempFolder folder;
    std::string text = job("centre = [100, 0, 130]\nwired = { series = 1, parallel = 2 }");
    for (const auto& [from, into] :
         {std::pair<std::string, std::string>{"[driver]", "[[driver]]"}, {"width = 300", "width = 340"}})
        text.replace(text.find(from), from.size(), into);
    text += R"(
[[driver]]
name = "small"
centre = [255, 0, 130]
cutout_diameter = 92
flange_diameter = 114
flange_thickness = 4
mounting_depth = 50
magnet_diameter = 60
magnet_depth = 20
displacement = "0.15 L"
mass = 0.5
fs = 90
qes = 0.7
qms = 4
vas = "3 L"
re = 3.6
sd = "55 cm2"
xmax = 3
power = 40
)";
    folder.write("job.toml", text);
    const Ran ran = run_program({"box", (folder.path() / "job.toml").string(), "--json"});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == 0);
    const json report = json::parse(ran.out);
    CHECK(ledger(report, "driver") == Approx(-0.5));
    CHECK(ledger(report, "driver 2") == Approx(-0.15));
    CHECK(ledger(report, "cut-out behind the driver's seat, driver 2") ==
          Approx(kPi * 46 * 46 * 15 / 1e6).margin(1e-6));
    const double cutouts = kPi * (46.0 * 46 + 72.5 * 72.5) * 15 / 1e6, inside = 310.0 * 230 * 210 / 1e6;
    CHECK(report.at("net_volume").at("litres").get<double>() ==
          Approx(inside + ledger(report, "rim flange") + cutouts - 0.65).epsilon(1e-6));
    std::size_t bodies = 0;
    for (const auto& line : report.at("checks")) {
        INFO(line.dump());
        CHECK(line.at("ok").get<bool>());
        const auto name = line.at("name").get<std::string>();
        bodies += name.ends_with("air behind the magnet");
    }
    CHECK(bodies == 2);
    CHECK(report.at("sound").at("drivers").at("count") == 2);
}

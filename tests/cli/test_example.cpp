// The camper-van example as a user runs it, from the recipe of its scan to the report, against what stands beside it.
#include "tests/cli/run_program.h"
#include "tests/cli/step_air.h"
#include "tests/support/step_reader.h"

#include <fmt/format.h>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>

namespace {

/// The STEP file by a reading that has nothing of the kernel that wrote it, against the figures of the report.
void check_step(const std::string& text, const nlohmann::json& report) {
    const auto products = outside::read_step(text);
    REQUIRE(products.size() == 1);
    CHECK(products[0].name == "shell");
    REQUIRE(products[0].solids.size() == 1);
    const outside::Solid& solid = products[0].solids[0];
    for (const std::string& fault : solid.faults) FAIL_CHECK(fault);

    // The ledger's lines that add air are the body behind the baffle and the holes; the others stand in it.
    double air_litres = 0.0;
    for (const auto& line : report.at("ledger")) air_litres += std::max(0.0, line.at("litres").get<double>());
    // The report's mass is that of the shell and of the driver (woofer-165.toml: 1.7 kg), to 0.1 g.
    const double shell_mm3 = (report.at("solid").at("mass_kg").get<double>() - 1.7) /
                             report.at("solid").at("products")[0].at("density_kg_m3").get<double>() * 1e9;
    const support::Rim cut_out = support::outer_rim(solid, 71.0, solid.centre);
    const support::Rim terminal = support::outer_rim(solid, 10.0, solid.centre);
    // The ledger ends the air in the terminal's hole at a plane 0.05 mm under its rim's lowest point.
    const double air_mm3 = support::air_behind(solid, {cut_out, terminal}) - support::over_lowest(solid, terminal) -
                           0.05 * std::acos(-1.0) * 10.0 * 10.0;
    INFO(
        fmt::format("outside reading of the example: solid {:.3f} mm3 (report {:.0f}), air {:.3f} mm3 (ledger {:.0f}), "
                    "area {:.3f} mm2; "
                    "edges off their surfaces by {:.2e} mm, off their vertices by {:.2e} mm; vector area {:.2e} mm2, "
                    "quadrature {:.2e} mm3; {} faces, genus {}",
                    solid.volume, shell_mm3, air_mm3, air_litres * 1e6, solid.area, solid.off_surface, solid.end_gap,
                    solid.open_area, solid.unresolved, solid.faces(), solid.genus()));
    CHECK(std::abs(air_mm3 / (air_litres * 1e6) - 1) < 2e-6);
    CHECK(std::abs(solid.volume - shell_mm3) < 0.06e-3 / 1075 * 1e9);
    CHECK(solid.faces() == report.at("solid").at("faces").get<int>());
    // Cut-out and terminal hole lead into one room: one handle; and a hole through each foot.
    CHECK(solid.genus() == 3);
    CHECK(solid.open_area < 1e-3);
    CHECK(solid.off_surface < 1e-3);
}

}  // namespace

TEST_CASE("the camper-van example is made with every check passed and measures what stands beside it",
          "[cli][example][slow]") {
    const std::filesystem::path source = std::filesystem::path(GAPWRIGHT_SOURCE) / "examples/camper_seat_gap";
    const auto expected = nlohmann::json::parse(support::read_bytes(source / "expected.json"));
    const support::TempFolder folder;
    for (const char* name : {"job.toml", "woofer-165.toml"}) folder.write(name, support::read_bytes(source / name));
    REQUIRE(support::run_recipe("camper_seat_gap", folder.path() / "gap.ply") == 0);

    const auto out = folder.path() / "out";
    const auto ran =
        support::run_program({"enclosure", (folder.path() / "job.toml").string(), "--json", "--out", out.string()});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == expected.at("exit").get<int>());
    const auto report = nlohmann::json::parse(ran.out);
    const auto& net = report.at("net_volume");
    const double asked = expected.at("net_litres").get<double>();
    CHECK(net.at("litres").get<double>() == Approx(asked).epsilon(expected.at("net_error_rel").get<double>()));
    double least = 1e9, most = 0.0;
    for (const char* way : {"field", "brep", "mesh"}) {
        least = std::min(least, net.at("by").at(way).get<double>());
        most = std::max(most, net.at("by").at(way).get<double>());
    }
    CHECK((most - least) / asked <= expected.at("three_ways_rel").get<double>());
    double ledger = 0.0;
    for (const auto& line : report.at("ledger")) ledger += line.at("litres").get<double>();
    CHECK(ledger == Approx(net.at("litres").get<double>()).epsilon(1e-4));
    CHECK(report.at("wall").at("min_mm").get<double>() >= expected.at("wall_least_mm").get<double>());
    CHECK(report.at("wall").at("median_mm").get<double>() ==
          Approx(expected.at("wall_median_mm").get<double>()).epsilon(0.01));
    // The armrest line less the covering bounds the part, and the part reaches it.
    const auto& box = report.at("solid").at("bounding_box_mm");
    const double top = box.is_object() ? box.at("max")[2].get<double>() : box[1][2].get<double>();
    CHECK(top == Approx(expected.at("top_mm").get<double>()).margin(0.3));
    CHECK(std::filesystem::file_size(out / "camper-seat-gap.step") <=
          expected.at("step_bytes_most").get<std::uintmax_t>());
    check_step(support::read_bytes(out / "camper-seat-gap.step"), report);
    for (const auto& check : report.at("checks")) {
        CAPTURE(check.at("name").get<std::string>());
        CHECK(check.at("ok").get<bool>());
    }

    // Filled with what its report says it takes empty, it is as built; the driver's figures are those of that report.
    double empty = net.at("litres").get<double>();
    for (const auto& line : report.at("ledger"))
        if (line.at("name") == "driver" || line.at("name") == "terminal") empty -= line.at("litres").get<double>();
    const auto filled = support::run_program(
        {"asbuilt", (out / "report.json").string(), "--water", fmt::format("{:.3f} L", empty), "--json"});
    INFO(filled.err);
    REQUIRE(filled.exit == 0);
    const auto built = nlohmann::json::parse(filled.out);
    CHECK(built.at("net_as_built").at("litres").get<double>() == Approx(asked).epsilon(3e-4));
    REQUIRE(built.at("sound").size() == 5);
    // Qtc = 0.46 sqrt(1 + 11/9.5) of woofer-165.toml.
    CHECK(built.at("sound")[0].at("qtc").get<double>() == Approx(0.675730).epsilon(1e-5));
}

// Sleeves and braces from the job file to the checked files.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <numbers>

namespace {

/// The plain gap under a shelf, so that a socket comes in over the box; two sleeves, two placed braces.
std::string held_job() {
    std::string job = support::box_gap_job("voxel = 4\n[enclosure]",
                                           "voxel = 4\nlimits = [ { name = \"shelf\", point = [0, 0, 200], outward = "
                                           "[0, 0, 1] } ]\n[enclosure]\nbraces = 2");
    for (const char* x : {"-50", "50"})
        job += std::string("[[fixing]]\nkind = \"sleeve\"\nname = \"at ") + x + "\"\npoint = [" + x +
               ", 190, 0]\naxis = [0, 0, -1]\nthread = \"M6\"\nrecess = 2\n";
    return job;
}

}  // namespace

TEST_CASE("a box with sleeves and braces holds its volume, and all of them are in the ledger", "[cli][sleeve][brace]") {
    const support::TempFolder folder;
    folder.write("job.toml", held_job());
    folder.write("gap.ply", support::as_binary_ply(support::box_gap_points()));
    const auto ran = support::run_program({"enclosure", (folder.path() / "job.toml").string(), "--json"});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == 0);
    const auto report = nlohmann::json::parse(ran.out);
    const auto& by = report.at("net_volume").at("by");
    for (const char* way : {"field", "brep", "mesh"}) CHECK(by.at(way).get<double>() == Approx(4.0).epsilon(0.002));
    REQUIRE(report.at("fixings").size() == 2);
    REQUIRE(report.at("braces").size() == 2);
    const double hole = 9.6, tube = hole / 2 + 6;  // ISO 273 medium, 6.6 [verified], and a metal sleeve of 1.5
    double in_ledger = 0.0, solids = 0.0;
    for (const auto& line : report.at("ledger"))
        if (const auto name = line.at("name").get<std::string>(); name.find('"') != std::string::npos)
            in_ledger -= line.at("litres").get<double>();
    for (const auto& sleeve : report.at("fixings")) {
        CHECK(sleeve.at("kind") == "sleeve");
        CHECK(sleeve.at("measured_hole_mm").get<double>() == Approx(hole));
        CHECK(sleeve.at("measured_off_axis_mm").get<double>() < 0.01);
        // From wall to wall: 4 of clearance and 6 of wall below, 6 of wall above; the recess's step comes on top.
        const double litres = sleeve.at("tube_litres").get<double>();
        CHECK(litres > std::numbers::pi * tube * tube * 182 / 1e6);
        CHECK(litres < 1.2 * std::numbers::pi * tube * tube * 186 / 1e6);
        solids += litres;
    }
    for (const auto& brace : report.at("braces")) solids += brace.at("litres").get<double>();
    CHECK(in_ledger == Approx(solids).epsilon(1e-4));
}

TEST_CASE("the price list says what each sleeve and the braces take", "[cli][capacity][sleeve]") {
    const support::TempFolder folder;
    folder.write("job.toml", held_job());
    folder.write("gap.ply", support::as_binary_ply(support::box_gap_points()));
    const auto ran = support::run_program({"capacity", (folder.path() / "job.toml").string(), "--prices", "--json"});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == 0);
    const auto told = nlohmann::json::parse(ran.out);
    int sleeves = 0;
    for (const auto& price : told.at("prices").at("singles")) {
        const std::string name = price.at("name");
        if (name == "fixing 'at -50'" || name == "fixing 'at 50'") {
            ++sleeves;
            // A tube of 4.8 and 6 mm through 182 to 186 mm of air.
            CHECK(price.at("litres").get<double>() == Approx(std::numbers::pi * 10.8 * 10.8 * 184 / 1e6).epsilon(0.04));
        }
        if (name == "2 placed braces") CHECK(price.at("litres").get<double>() > 0.01);
    }
    CHECK(sleeves == 2);
}

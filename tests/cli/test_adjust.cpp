// Every way to reach the volume, end to end: the volume three ways, what was solved, and what is said when it cannot
// be.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

namespace {

using Catch::Contains;
using nlohmann::json;

const std::string kPlane = "outward = [0, -1, 0], point = [0, 20, 0], thickness = 12";
const std::string kTop = "limits = [ { name = \"top\", point = [0, 0, 230], outward = [0, 0, 1], sharp = true } ]";

/// The plain gap's job with a baffle that stays 60 mm in, so that there are about 6 L behind it.
std::string staying_job(const std::string& enclosure, const std::string& baffle_more = {},
                        const std::string& space = {}) {
    return "[job]\nname = \"box-gap\"\n[scan]\nfiles = [\"gap.ply\"]\nlength_unit = \"mm\"\nair = [0, 140, 125]\n"
           "[space]\nclearance = 4\nedge_radius = 20\ninner_radius = 14\nvoxel = 4\n" +
           space + "\n[enclosure]\nnet_volume = \"4 L\"\n" + enclosure + "\nbaffle = { " + kPlane + ", at = -60" +
           baffle_more + " }\n";
}

struct Ran {
    support::Ran program;
    json report;
};
Ran run(const std::string& job) {
    const support::TempFolder folder;
    folder.write("job.toml", job);
    folder.write("gap.ply", support::as_binary_ply(support::box_gap_points(6.25)));
    Ran ran{support::run_program({"enclosure", (folder.path() / "job.toml").string(), "--json"}), {}};
    ran.report = json::parse(ran.program.out);
    return ran;
}

/// The promise: net volume of the made part within 0.2 % of the asked one, three ways within 0.1 %.
void check_volume(const Ran& ran) {
    INFO(ran.program.out);
    REQUIRE(ran.program.exit == 0);
    const auto& net = ran.report.at("net_volume");
    const double brep = net.at("by").at("brep"), field = net.at("by").at("field"), mesh = net.at("by").at("mesh");
    CHECK(brep == Approx(4.0).epsilon(0.002));
    CHECK(mesh == Approx(4.0).epsilon(0.002));
    CHECK(std::max({brep, field, mesh}) - std::min({brep, field, mesh}) < 0.004);
    double ledger = 0.0;
    for (const auto& line : ran.report.at("ledger")) ledger += line.at("litres").get<double>();
    CHECK(ledger == Approx(brep).margin(1e-4));
}

}  // namespace

TEST_CASE("a named limit is moved until the box holds its volume, its edges left sharp", "[cli][adjust][sharp]") {
    const Ran ran = run(staying_job("wall = 6\nadjust = \"limit:top\"\nadjust_range = [-90, 10]", "", kTop));
    check_volume(ran);
    const auto& solved = ran.report.at("solved");
    CHECK(solved.at("what") == "limit 'top'");
    const double moved = solved.at("value_mm");
    // The box's top is the moved plane; the height comes from the scene: about 4 L over 180 x 154 mm of section.
    CHECK(ran.report.at("solid").at("bounding_box_mm").at("max").at(2).get<double>() ==
          Approx(230 + moved).margin(1e-3));
    CHECK(moved == Approx(-61.7).margin(1.5));
    CHECK(ran.report.at("resolved").at("space.limits[1].sharp") == "true");
    CHECK_THAT(ran.report.at("resolved").at("space.limit 'top'.moved").get<std::string>(), Contains("mm (solved)"));
}

TEST_CASE("the wall is found between its bounds until the box holds its volume", "[cli][adjust]") {
    const Ran ran = run(staying_job("adjust = \"wall\"\nadjust_range = [8, 30]"));
    check_volume(ran);
    const double wall = ran.report.at("solved").at("value_mm");
    CHECK(ran.report.at("wall").at("median_mm").get<double>() == Approx(wall).epsilon(0.01));
    CHECK(ran.report.at("wall").at("asked_mm").get<double>() == Approx(wall).margin(1e-3));
    CHECK(wall == Approx(20.4).margin(0.5));
    CHECK_THAT(ran.report.at("resolved").at("enclosure.wall").get<std::string>(), Contains("mm (solved)"));
}

TEST_CASE("a box that would hold too much gets a pad of its own, which stands in the ledger and has a mass",
          "[cli][adjust]") {
    const Ran ran =
        run(staying_job("wall = 6\nadjust = \"fill\"\nfill = { made = \"separate\" }", ", made = \"separate\""));
    check_volume(ran);
    const double filled = ran.report.at("solved").at("filled_litres");
    CHECK(filled == Approx(1.95).margin(0.1));
    const auto& ledger = ran.report.at("ledger");
    REQUIRE(ledger.at(1).at("name") == "filler pad");
    CHECK(ledger.at(1).at("litres").get<double>() == Approx(-filled).margin(1e-4));
    const auto& products = ran.report.at("solid").at("products");
    REQUIRE(products.size() == 3);
    CHECK(products.at(2).at("name") == "pad");
    // Shell and baffle alone weigh about as much as the air they enclose is less than the outside.
    CHECK(ran.report.at("solid").at("mass_kg").get<double>() > filled * 1.075 + 1.0);
}

TEST_CASE("a pad that is part of the shell, and one that is only told, leave the same net volume", "[cli][adjust]") {
    const Ran integral = run(staying_job("wall = 6\nadjust = \"fill\""));
    check_volume(integral);
    CHECK(integral.report.at("solid").at("products").size() == 1);
    const Ran told = run(staying_job("wall = 6\nadjust = \"fill\"\nfill = \"told\""));
    check_volume(told);
    CHECK(told.report.at("solved").at("filled_litres").get<double>() ==
          Approx(integral.report.at("solved").at("filled_litres").get<double>()).margin(0.004));
    const double filled = integral.report.at("solved").at("filled_litres");
    CHECK(integral.report.at("solid").at("mass_kg").get<double>() -
              told.report.at("solid").at("mass_kg").get<double>() ==
          Approx(filled * 1.075).margin(0.02));
}

TEST_CASE("what cannot be reached is told with the range that can", "[cli][adjust][faults]") {
    struct Row {
        std::string job, what, hint;
    };
    for (const Row& row : {Row{staying_job("adjust = \"wall\"\nadjust_range = [30, 40]"),
                               "with a wall of 30 to 40 mm the gap holds at most", "what would free how much"},
                           {staying_job("wall = 6\nadjust = \"fill\"\nfill = { made = \"separate\" }"),
                            "does not come into a closed shell without a cut-out", "fill.made"}}) {
        const Ran ran = run(row.job);
        INFO(ran.program.out);
        CHECK(ran.program.exit == 4);
        const auto& fault = ran.report.at("fault");
        CHECK_THAT(fault.at("what").get<std::string>(), Contains(row.what));
        CHECK_THAT(fault.at("hint").get<std::string>(), Contains(row.hint));
    }
}

TEST_CASE("capacity says what the job moves instead of the baffle", "[cli][capacity][adjust]") {
    const support::TempFolder folder;
    folder.write("gap.ply", support::as_binary_ply(support::box_gap_points(6.25)));
    folder.write("job.toml", staying_job("adjust = \"wall\"\nadjust_range = [8, 30]"));
    const auto ran = support::run_program({"capacity", (folder.path() / "job.toml").string()});
    INFO(ran.out << ran.err);
    REQUIRE(ran.exit == 0);
    CHECK_THAT(ran.out, Contains("adjusted     the job solves the wall from 8 to 30 mm; here it is 8 mm"));
    CHECK_THAT(ran.out, Contains("asked        4 L: with the baffle in its place") && Contains("L too much"));
    CHECK_THAT(ran.out, !Contains("more than the gap holds"));
}

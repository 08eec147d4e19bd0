// The whole way on a real scanned gap, as points and as the scanner's mesh.
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

namespace {

std::string filled_in(std::string text, const std::string& mark, const std::string& with) {
    for (std::size_t at = text.find(mark); at != std::string::npos; at = text.find(mark))
        text.replace(at, mark.size(), with);
    return text;
}

}  // namespace

TEST_CASE("a real scanned gap gets a box of 22 L at 4 mm clearance with every check passed", "[cli][real][slow]") {
    const std::string file = GENERATE("gap_two_scanned_objects.ply", "gap_two_scanned_objects_mesh.stl");
    const std::filesystem::path scan = std::filesystem::path(GAPWRIGHT_SCANS) / file;
    if (std::string(GAPWRIGHT_SCANS).empty() || !std::filesystem::exists(scan)) {
        WARN("skipped: set GAPWRIGHT_SCANS to a folder with " << file);
        return;
    }
    // As asked this gap holds 27.2 L at most (what the program says when it is asked for more): 22 L is 81 % of that.
    const support::TempFolder folder;
    const std::string job =
        support::read_bytes(std::filesystem::path(GAPWRIGHT_SOURCE) / "tests/corpus/jobs/scanned_gap.toml");
    folder.write("job.toml", filled_in(filled_in(job, "@SCAN@", scan.string()), "@LITRES@", "22"));
    const auto ran = support::run_program({"enclosure", (folder.path() / "job.toml").string(), "--json"});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == 0);
    const auto report = nlohmann::json::parse(ran.out);
    CHECK(report.at("net_volume").at("litres").get<double>() == Approx(22.0).epsilon(0.002));
    for (const auto& check : report.at("checks")) {
        CAPTURE(check.at("name").get<std::string>());
        CHECK(check.at("ok").get<bool>());
    }
}

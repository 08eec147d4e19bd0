// A job that can be made: what is printed, what is left, and that neither depends on threads or on where the job lies.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

namespace {

using Catch::Contains;

/// Rounder and finer than the gap of the faults, so that a box comes out with every check passed.
std::string job_that_can_be_made() {
    return support::box_gap_job("edge_radius = 12\ninner_radius = 6\nvoxel = 4",
                                "edge_radius = 20\ninner_radius = 14\nvoxel = 3");
}

}  // namespace

TEST_CASE("a plain gap gets its box, and the same files whatever the threads and the place", "[cli][made]") {
    const support::TempFolder here, there;
    for (const auto* folder : {&here, &there}) {
        folder->write("job.toml", job_that_can_be_made());
        folder->write("gap.ply", support::as_binary_ply(support::box_gap_points()));
    }
    const auto first = support::run_program({"enclosure", (here.path() / "job.toml").string(), "--threads", "1"});
    INFO(first.err << first.out);
    REQUIRE(first.exit == 0);
    CHECK(first.err.empty());  // no terminal, no progress
    CHECK_THAT(first.out, Catch::StartsWith("box-gap: made, all ") && Contains("net volume   4.000 L asked") &&
                              Contains("size ") && Contains("mass ") && Contains("checks\n") &&
                              Contains("take care\n") && Contains("files in "));
    CHECK_THAT(first.out, !Contains("FAILED"));
    const auto files = support::contents_of(here.path() / "box-gap");
    CHECK(files.count("box-gap.step") == 1);
    CHECK(files.count("report.json") == 1);
    const auto report = nlohmann::json::parse(files.at("report.json"));
    CHECK(report.at("net_volume").at("litres").get<double>() == Approx(4.0).epsilon(0.002));

    const std::string timings = (there.path() / "times.json").string();
    const auto second =
        support::run_program({"enclosure", (there.path() / "job.toml").string(), "--threads", "2", "--json", "--out",
                              (there.path() / "deep/er").string(), "--timings", timings});
    REQUIRE(second.exit == 0);
    CHECK(second.out == files.at("report.json"));
    CHECK(support::contents_of(there.path() / "deep/er") == files);
    const auto times = nlohmann::json::parse(support::read_bytes(timings));
    CHECK(times.at("stages").size() > 3);
    CHECK(times.at("peak_memory_bytes").get<double>() > 1e6);
    for (const auto& stage : times.at("stages")) CHECK(stage.at("seconds").get<double>() >= 0.0);
}

TEST_CASE("progress is a line a stage on a terminal, and nothing when quiet", "[cli][progress]") {
    if (!support::has_terminals()) {
        WARN("skipped: no terminal is to be had (mount /dev/pts)");
        return;
    }
    const support::TempFolder folder;
    folder.write("job.toml", support::box_gap_job("air = [0, 120, 125]", "air = [98, 120, 125]"));
    folder.write("gap.ply", support::as_binary_ply(support::box_gap_points()));
    const std::string job = (folder.path() / "job.toml").string();
    const std::string shown = support::run_on_terminal({"enclosure", job});
    for (const char* stage : {"job ", "scan/read ", "space "}) CHECK_THAT(shown, Contains(stage));
    CHECK_THAT(shown, Contains(" s\r\n") && Contains("gapwright: air: "));
    const std::string quiet = support::run_on_terminal({"enclosure", job, "--quiet"});
    CHECK_THAT(quiet, Catch::StartsWith("gapwright: air: ") && !Contains("scan/read "));
}

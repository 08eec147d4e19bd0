// gapwright capacity: table, JSON, plot, kept field and faults.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

namespace {

using Catch::Contains;
using support::box_gap_job;
using support::run_program;

struct Gap {
    explicit Gap(const std::string& text) {
        folder.write("gap.ply", support::as_binary_ply(support::box_gap_points()));
        job = folder.write("job.toml", text).string();
    }
    support::TempFolder folder;
    std::string job;
};

}  // namespace

TEST_CASE("capacity tells net volume against baffle place, and leaves nothing unless asked", "[cli][capacity]") {
    const Gap gap(box_gap_job());
    const auto before = support::contents_of(gap.folder.path());
    const auto ran = run_program({"capacity", gap.job});
    INFO(ran.out << ran.err);
    CHECK(ran.exit == 0);
    CHECK(ran.err.empty());
    for (const char* told : {"box-gap: the gap holds at most", "asked        4 L: baffle at", "net volume",
                             "front section", "outermost", "innermost", "no driver is given"})
        CHECK_THAT(ran.out, Contains(told));
    CHECK(support::contents_of(gap.folder.path()) == before);
}

TEST_CASE("capacity JSON has places, prices, pairs and directions; a kept field gives the same",
          "[cli][capacity][json]") {
    const Gap gap(box_gap_job());
    const auto keep = gap.folder.path() / "keep", out = gap.folder.path() / "out";
    const auto first = run_program({"capacity", gap.job, "--json", "--keep", keep.string(), "--out", out.string()});
    REQUIRE(first.exit == 0);
    CHECK(first.err.empty());
    const auto told = nlohmann::json::parse(first.out);
    const auto& places = told.at("places");
    CHECK(places.size() > 90);
    CHECK(places.front().at("t_mm") == -190.0);
    CHECK(places.back().at("t_mm") == 0.0);
    for (std::size_t i = 1; i < places.size(); ++i)
        CHECK(places[i].at("net_litres").get<double>() >= places[i - 1].at("net_litres").get<double>());
    CHECK(told.at("net_volume").at("most_litres") == places.back().at("net_litres"));
    // Walls, clearance twice and the baffle taken off the box by hand; the corners are rounded at 6 mm.
    const double inner = 180.0 * (250.0 - 20.0 - 12.0 - 10.0) * 230.0 / 1e6;
    CHECK(places.back().at("net_litres").get<double>() == Approx(inner).epsilon(0.01));
    CHECK(places.back().at("depth_mm").get<double>() == Approx(220.0).margin(0.3));
    CHECK(told.at("prices").is_null());
    CHECK(support::read_bytes(out / "box-gap-capacity.json") == first.out);
    CHECK_THAT(support::read_bytes(out / "box-gap-capacity.svg"), Contains("asked 4 L") && Contains("outermost, 0 mm"));

    // The scan is not needed for the curve any more, but its bytes must be those.
    const auto again = run_program(
        {"capacity", gap.job, "--json", "--keep", keep.string(), "--timings", (gap.folder.path() / "t.json").string()});
    CHECK(again.exit == 0);
    CHECK(again.out == first.out);
    CHECK_THAT(support::read_bytes(gap.folder.path() / "t.json"), !Contains("scan/read"));

    // Another volume is the same field, another clearance is not.
    gap.folder.write("job.toml", box_gap_job("4 L", "5 L"));
    CHECK_THAT(run_program({"capacity", gap.job, "--keep", keep.string()}).out, Contains("kept from an earlier run"));
    gap.folder.write("job.toml", box_gap_job("clearance = 4", "clearance = 5"));
    const auto other = run_program({"capacity", gap.job, "--keep", keep.string()});
    CHECK_THAT(other.err, Contains("left out of account: it is of another scan, other values"));
    CHECK_THAT(other.out, !Contains("kept from an earlier run"));

    gap.folder.write("job.toml", box_gap_job("voxel = 4", "voxel = 6"));
    const auto all = run_program({"capacity", gap.job, "--json", "--pairs", "--directions"});
    REQUIRE(all.exit == 0);
    const auto more = nlohmann::json::parse(all.out);
    const auto& singles = more.at("prices").at("singles");
    CHECK(singles.size() == 5);  // clearance, both roundings, the way in, wall
    CHECK(singles[0].at("name") == "wall");
    CHECK(more.at("prices").at("pairs").size() >= 1);
    CHECK(more.at("directions").at("tried").size() == 25);
    const auto& tried = more.at("directions").at("tried");
    for (std::size_t i = 1; i < tried.size(); ++i)
        CHECK((tried[i].at("net_litres").is_null() || tried[i - 1].at("net_litres") >= tried[i].at("net_litres")));
    CHECK(tried[0].at("is_asked") == true);
    CHECK(more.at("directions").at("tried")[0].at("insert") == nlohmann::json::array({0.0, 1.0, 0.0}));
}

TEST_CASE("capacity of a job that asks for too much still tells what there is", "[cli][capacity]") {
    const Gap gap(box_gap_job("4 L", "40 L"));
    const auto ran = run_program({"capacity", gap.job});
    CHECK(ran.exit == 0);
    CHECK_THAT(ran.out, Contains("L more than the gap holds"));
}

TEST_CASE("capacity refuses what it cannot work with by the exit codes of the program", "[cli][capacity][fault]") {
    CHECK(run_program({"capacity"}).exit == 2);
    const Gap gap(box_gap_job());
    CHECK(run_program({"capacity", gap.job, "--costs"}).exit == 2);
    CHECK(run_program({"capacity", (gap.folder.path() / "none.toml").string()}).exit == 3);
    CHECK(run_program({"capacity", gap.job, "--out", (gap.folder.path() / "gap.ply" / "x").string()}).exit == 1);

    const auto without = run_program({"capacity", Gap(box_gap_job("travel = [-190, 0], ", "")).job});
    CHECK(without.exit == 3);
    CHECK_THAT(without.err, Contains("travel"));

    const Gap behind(box_gap_job("travel = [-190, 0]", "travel = [-240, -236]"));
    const auto never = run_program({"capacity", behind.job, "--json"});
    CHECK(never.exit != 0);
    CHECK(nlohmann::json::parse(never.out).contains("fault"));

    auto points = support::box_gap_points();
    std::erase_if(points,
                  [](const geom::Point3& p) { return p.x == 100.0 && std::hypot(p.y - 120.0, p.z - 120.0) < 60.0; });
    const Gap open(box_gap_job());
    open.folder.write("gap.ply", support::as_binary_ply(points));
    const auto leak = run_program({"capacity", open.job, "--json", "--keep", (open.folder.path() / "keep").string()});
    CHECK(leak.exit == 3);
    CHECK(nlohmann::json::parse(leak.out).at("fault").at("code") == "Leak");
    CHECK_FALSE(std::filesystem::exists(open.folder.path() / "keep"));
}

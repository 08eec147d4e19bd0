// Bad input: the text, the exit code, and that the folders are byte for byte as they were.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <sys/stat.h>

#include <csignal>
#include <limits>

namespace {

using Catch::Contains;
using support::as_binary_ply;
using support::as_xyz;
using support::box_gap_job;
using support::box_gap_points;

/// A job beside its scan and a folder with an earlier good part.
struct Bench {
    support::TempFolder folder;

    Bench(const std::string& job, const std::string& scan_name, const std::string& scan) {
        folder.write("job.toml", job);
        if (!scan_name.empty()) folder.write(scan_name, scan);
        folder.write("box-gap/box-gap.step", "an earlier good part");
        folder.write("box-gap/report.json", "{}");
    }
    std::vector<std::string> command(std::vector<std::string> more = {}) const {
        std::vector<std::string> words = {"enclosure", (folder.path() / "job.toml").string()};
        words.insert(words.end(), more.begin(), more.end());
        return words;
    }
};

/// Runs the job with its default folder; the fault must read so, and no file may have changed.
void check_refused(const Bench& bench, int exit, const std::vector<std::string>& told, const std::string& hint = {}) {
    const auto before = support::contents_of(bench.folder.path());
    const auto ran = support::run_program(bench.command());
    INFO(ran.err << ran.out);
    CHECK(ran.exit == exit);
    CHECK(ran.out.empty());
    CHECK_THAT(ran.err, Catch::StartsWith("gapwright: "));
    for (const auto& text : told) CHECK_THAT(ran.err, Contains(text));
    if (!hint.empty()) CHECK_THAT(ran.err, Contains("  try:   ") && Contains(hint));
    CHECK(support::contents_of(bench.folder.path()) == before);
}

const std::string& good_scan() {
    static const std::string bytes = as_binary_ply(box_gap_points());
    return bytes;
}

Bench with_job(const std::string& change, const std::string& into, const std::string& more = {}) {
    return Bench(box_gap_job(change, into, more), "gap.ply", good_scan());
}

Bench with_scan(const std::string& name, const std::string& bytes) {
    return Bench(box_gap_job("gap.ply", name), name, bytes);
}

}  // namespace

TEST_CASE("a missing scan is told", "[cli][faults][scan]") {
    check_refused(Bench(box_gap_job(), "", ""), 3, {"gap.ply", "no such file"});
}

TEST_CASE("an empty scan is told", "[cli][faults][scan]") {
    check_refused(with_scan("gap.ply", ""), 3, {"gap.ply", "empty"});
}

TEST_CASE("a truncated scan is told", "[cli][faults][scan]") {
    check_refused(with_scan("gap.ply", good_scan().substr(0, good_scan().size() / 2)), 3,
                  {"gap.ply", "11091 vertex declared"});
}

TEST_CASE("a binary file named as text is told", "[cli][faults][scan]") {
    std::string noise;
    for (int i = 0; i < 4000; ++i) noise += static_cast<char>((i * 197 + 31) % 256);
    check_refused(with_scan("gap.xyz", noise), 3, {"gap.xyz"});
}

TEST_CASE("a scan of nothing but NaN is told", "[cli][faults][scan]") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    check_refused(with_scan("gap.ply", as_binary_ply(std::vector<geom::Point3>(50, {nan, nan, nan}))), 3,
                  {"no finite number"});
}

TEST_CASE("a scan of infinite coordinates is told", "[cli][faults][scan]") {
    const double inf = std::numeric_limits<double>::infinity();
    check_refused(with_scan("gap.ply", as_binary_ply(std::vector<geom::Point3>(50, {0, -inf, 0}))), 3,
                  {"no finite number"});
}

TEST_CASE("a scan of one point is told", "[cli][faults][scan]") {
    check_refused(with_scan("gap.xyz", "1 2 3\n"), 3, {"one point"});
}

TEST_CASE("a scan of points on a line is told", "[cli][faults][scan]") {
    std::vector<geom::Point3> line;
    for (int i = 0; i < 300; ++i) line.push_back({i * 1.0, i * 2.0, i * 0.5});
    check_refused(with_scan("gap.xyz", as_xyz(line)), 3, {"on one line"});
}

TEST_CASE("a scan in the wrong unit is told with the plausible ones", "[cli][faults][scan]") {
    check_refused(with_job("files = [\"gap.ply\"]\nlength_unit = \"mm\"", "files = [\"gap.ply\"]\nlength_unit = \"m\""),
                  3, {"extent", "wanted 50 mm to 20 m"}, "\"mm\" (200 x 250 x 250 mm)");
}

TEST_CASE("a later fault of a scan whose numbers look like another unit says so", "[cli][faults][scan]") {
    check_refused(
        with_job("files = [\"gap.ply\"]\nlength_unit = \"mm\"", "files = [\"gap.ply\"]\nlength_unit = \"cm\""), 3,
        {"its numbers look like mm"});
}

TEST_CASE("air inside a seat is told", "[cli][faults][space]") {
    check_refused(with_job("air = [0, 120, 125]", "air = [98, 120, 125]"), 3, {"air", "where: 98.0, 120.0, 125.0 mm"});
}

TEST_CASE("air outside the gap is told", "[cli][faults][space]") {
    check_refused(with_job("air = [0, 120, 125]", "air = [0, 120, 700]"), 3, {"air"});
    check_refused(with_job("air = [0, 120, 125]", "air = [140, 120, 125]"), 3, {});
}

TEST_CASE("a baffle that faces away is told", "[cli][faults][job]") {
    check_refused(with_job("outward = [0, -1, 0]", "outward = [0, 1, 0]"), 3,
                  {"baffle faces away from the air", "100 mm in front"}, "turn it round");
}

TEST_CASE("a travel that never meets the room is told", "[cli][faults][size]") {
    // The room behind the outermost plane is 30 mm deep, and a baffle of 28 mm with a wall of 6 mm leaves no air in it.
    std::string late = box_gap_job("air = [0, 120, 125]", "air = [0, 230, 125]");
    late.replace(late.find("[-190, 0], thickness = 12"), 25, "[-198, -196], thickness = 28");
    check_refused(Bench(late, "gap.ply", good_scan()), 4, {"travel", "never meets the room"});
    // All of the travel lies behind the air.
    check_refused(with_job("travel = [-190, 0]", "travel = [-900, -600]"), 3,
                  {"baffle never comes before the air", "500 mm in front"});
}

TEST_CASE("a wall thicker than the room is told", "[cli][faults][size]") {
    check_refused(with_job("wall = 6", "wall = 110"), 4, {"wall"});
}

TEST_CASE("more air than the gap holds is told with the most it can hold", "[cli][faults][size]") {
    check_refused(with_job("net_volume = \"4 L\"", "net_volume = \"40 L\""), 4, {"at most", "wanted 40.00 L"});
}

TEST_CASE("a driver larger than the baffle is told", "[cli][faults][part]") {
    check_refused(with_job("", "", "[driver]\ncentre = [0, 0, 125]\ncutout_diameter = 280\nflange_diameter = 310\n"), 4,
                  {"driver", "310"});
}

TEST_CASE("a foot that cannot reach its point is told", "[cli][faults][part]") {
    check_refused(with_job("", "",
                           "[[fixing]]\nname = \"far rail\"\nkind = \"foot\"\npoint = [0, 120, 245]\naxis = [0, 0, "
                           "-1]\nthread = \"M8\"\n"),
                  4, {"far rail"});
}

TEST_CASE("a milled hollow shell with an integral baffle is refused by the method", "[cli][faults][part]") {
    check_refused(with_job("", "", "[make]\nmethod = \"cnc\"\n"), 4, {"cnc", "separate baffle"});
}

TEST_CASE("faults of the job file end with 3 and leave everything alone", "[cli][faults][job]") {
    struct Row {
        std::string change, into, more, told;
    };
    for (const Row& row :
         {Row{"clearance = 4", "clearence = 4", "",
              "job.toml:9: unknown key 'clearence' in [space]; did you mean 'clearance'?"},
          {"", "", "[colours]\nshell = \"red\"\n", "job.toml:17: unknown key 'colours' in the job file"},
          {"", "", "[load]\ndeceleration = 200\n", "job.toml:18: [load] deceleration is 200 g; wanted at most 100"},
          {"wall = 6", "wall = 6\nport = { diameter = 50 }", "", "job.toml:16: [enclosure] port tuning is missing"},
          {"wall = 6", "wall = \"six\"", "",
           "job.toml:15: [enclosure] wall is \"six\", which does not begin with a number"},
          {"wall = 6", "wall = [6]", "", "job.toml:15: [enclosure] wall is a list of 1; wanted a length"},
          {"wall = 6", "wall = -6", "", "job.toml:15: [enclosure] wall is -6 mm; wanted more than 0 mm"},
          {"clearance = 4", "clearance = -4", "", "job.toml:9: [space] clearance is -4 mm; wanted 0 mm or more"},
          {"net_volume = \"4 L\"", "net_volume = 4", "",
           "[enclosure] net_volume is 4 without a unit; wanted a volume with its unit"}}) {
        INFO(row.told);
        check_refused(with_job(row.change, row.into, row.more), 3, {row.told});
    }
}

TEST_CASE("a missing job file ends with 3", "[cli][faults][job]") {
    const auto ran = support::run_program({"enclosure", "/no/such/job.toml"});
    CHECK(ran.exit == 3);
    CHECK(ran.err == "gapwright: job file /no/such/job.toml: no such file\n  stage: job\n  try:   check the path\n");
}

TEST_CASE("a fault is JSON on standard output when JSON was asked for", "[cli][faults][json]") {
    const Bench bench = with_job("outward = [0, -1, 0]", "outward = [0, 1, 0]");
    const auto before = support::contents_of(bench.folder.path());
    const auto ran = support::run_program(bench.command({"--json"}));
    CHECK(ran.exit == 3);
    CHECK(ran.err.empty());
    const auto fault = nlohmann::json::parse(ran.out).at("fault");
    CHECK(fault.at("code") == "BadJob");
    CHECK(fault.at("exit") == 3);
    CHECK(fault.at("stage") == "job");
    CHECK(fault.at("where") == nlohmann::json({0.0, 120.0, 125.0}));
    CHECK_THAT(fault.at("what").get<std::string>(), Contains("faces away"));
    CHECK_THAT(fault.at("hint").get<std::string>(), Contains("turn it round"));
    CHECK(support::contents_of(bench.folder.path()) == before);
    const auto without_place = support::run_program({"enclosure", "/no/such/job.toml", "--json"});
    CHECK(nlohmann::json::parse(without_place.out).at("fault").at("where").is_null());
}

TEST_CASE("a run that fails makes no folder", "[cli][faults][out]") {
    const Bench bench = with_job("air = [0, 120, 125]", "air = [98, 120, 125]");
    const auto before = support::contents_of(bench.folder.path());
    const auto ran = support::run_program(bench.command({"--out", (bench.folder.path() / "new/er").string()}));
    CHECK(ran.exit == 3);
    CHECK(support::contents_of(bench.folder.path()) == before);
}

TEST_CASE("an output folder that cannot be written is told before any work", "[cli][faults][out]") {
    const Bench bench = with_job("", "");
    bench.folder.write("taken", "a file");
    const auto before = support::contents_of(bench.folder.path());
    for (const char* out : {"taken", "taken/deeper/still"}) {
        const std::string folder = (bench.folder.path() / out).string();
        const auto ran = support::run_program(bench.command({"--out", folder}));
        CHECK(ran.exit == 1);
        CHECK_THAT(ran.err,
                   Contains("results cannot be written to " + folder) && Contains("is a file, wanted a folder"));
        CHECK_THAT(ran.err, Contains("name another folder with --out"));
    }
    CHECK(support::contents_of(bench.folder.path()) == before);
}

TEST_CASE("an interrupt ends the run with 130 and leaves the folder alone", "[cli][interrupt]") {
    // The job file is a pipe: the program has to be up and listening to signals before the pipe can be opened for
    // writing, so that no clock is needed to hit it while it runs.
    const Bench bench = with_job("", "");
    std::filesystem::remove(bench.folder.path() / "job.toml");
    const std::string pipe = (bench.folder.path() / "job.toml").string();
    REQUIRE(mkfifo(pipe.c_str(), 0600) == 0);
    const auto before = support::contents_of(bench.folder.path());
    const auto ran = support::run_program(bench.command(), [&](pid_t child) {
        std::ofstream job(pipe);
        kill(child, SIGINT);
        job << box_gap_job();
    });
    CHECK(ran.exit == 130);
    CHECK(ran.out.empty());
    CHECK_THAT(ran.err, Contains("gapwright: interrupted"));
    CHECK(support::contents_of(bench.folder.path()) == before);
}

// gapwright shortlist: table, JSON, plot, orders and faults.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>

namespace {

using Catch::Contains;
using support::box_gap_job;
using support::run_program;

const std::string kDrivers = (std::filesystem::path(GAPWRIGHT_SOURCE) / "examples/drivers").string();

struct Gap {
    Gap() {
        folder.write("gap.ply", support::as_binary_ply(support::box_gap_points()));
        job = folder.write("job.toml", box_gap_job()).string();
    }
    nlohmann::json list(const std::vector<std::string>& more = {}) const {
        std::vector<std::string> arguments{"shortlist", job, "--drivers", kDrivers, "--json"};
        arguments.insert(arguments.end(), more.begin(), more.end());
        const auto ran = run_program(arguments);
        INFO(ran.out << ran.err);
        REQUIRE(ran.exit == 0);
        return nlohmann::json::parse(ran.out);
    }
    support::TempFolder folder;
    std::string job;
};

}  // namespace

TEST_CASE("the shortlist tells which of the six example drivers fit, where, and what they do", "[cli][shortlist]") {
    const Gap gap;
    const auto out = gap.folder.path() / "out";
    const auto told = gap.list({"--out", out.string()});
    CHECK(told["drivers"].size() == 6);
    double before = 1e9;
    bool seen_misfit = false;
    int fit = 0;
    for (const auto& d : told["drivers"]) {
        INFO(d.dump());
        if (!d["fits"].get<bool>()) {
            seen_misfit = true;
            CHECK(!d["notes"].empty());
            continue;
        }
        ++fit;
        CHECK_FALSE(seen_misfit);  // those that fit stand first
        CHECK(d["most_db"].get<double>() <= before);
        before = d["most_db"].get<double>();
        // Qtc = Qts sqrt(1 + Vas/V) of the net volume told (Small 1972), by the drivers' own sheets.
        const std::map<std::string, std::array<double, 3>> sheets = {
            {"woofer-130.toml", {0.55, 4.5, 6.5}}, {"woofer-165.toml", {0.58, 4.8, 12}},
            {"woofer-200.toml", {0.52, 5.2, 32}},  {"woofer-200-shallow.toml", {0.62, 5.0, 24}},
            {"woofer-250.toml", {0.50, 5.5, 52}},  {"woofer-300.toml", {0.48, 6.0, 90}}};
        const auto [qes, qms, vas] = sheets.at(d["file"].get<std::string>());
        const double qts = qes * qms / (qes + qms), net = d["place"]["net_litres"].get<double>();
        CHECK(d["qtc"].get<double>() == Approx(qts * std::sqrt(1 + vas / net)).epsilon(1e-3));
        CHECK(d["wanted_litres"].get<double>() == Approx(vas / (0.5 / (qts * qts) - 1)).epsilon(1e-3));
        CHECK(d["left_litres"].get<double>() ==
              Approx(d["roomiest"]["net_litres"].get<double>() - d["wanted_litres"].get<double>()).margin(1e-3));
    }
    CHECK(fit >= 1);
    CHECK(fit <= 4);
    CHECK(std::filesystem::file_size(out / "box-gap-shortlist.svg") > 2000);
    CHECK(std::filesystem::file_size(out / "box-gap-shortlist.json") > 1000);
    const auto text = run_program({"shortlist", gap.job, "--drivers", kDrivers});
    CHECK_THAT(text.out, Contains("of 6 drivers fit") && Contains("does not fit: ") && Contains("cabin"));
}

TEST_CASE("each rule sorts the shortlist by its own figure", "[cli][shortlist]") {
    const Gap gap;
    const auto rises = [&](const char* rule, const char* key) {
        const auto told = gap.list({"--sort", rule});
        double before = -1e9;
        for (const auto& d : told["drivers"]) {
            if (!d["fits"].get<bool>()) break;
            CHECK(d[key].get<double>() >= before);
            before = d[key].get<double>();
        }
    };
    rises("corner", "f3_hz");
    rises("air", "wanted_litres");
    rises("size", "flange_mm");
}

TEST_CASE("what the shortlist cannot read is told", "[cli][shortlist][faults]") {
    const Gap gap;
    CHECK(run_program({"shortlist", gap.job}).exit == 2);
    CHECK(run_program({"shortlist", "--drivers", kDrivers}).exit == 2);
    const std::string two = "[[driver]]\nfile = \"" + kDrivers +
                            "/woofer-130.toml\"\ncentre = [0, 0, 70]\nwired = { parallel = 2 }\n[[driver]]\ncentre = "
                            "[0, 0, 180]\n";
    const auto several = gap.folder.write("two.toml", box_gap_job() + two).string();
    const auto refused = run_program({"shortlist", several, "--drivers", kDrivers});
    CHECK(refused.exit == 3);
    CHECK_THAT(refused.err, Contains("has 2 drivers"));
    const auto none = run_program({"shortlist", gap.job, "--drivers", (gap.folder.path() / "nowhere").string()});
    CHECK(none.exit == 3);
    CHECK_THAT(none.err, Contains("nowhere"));
    const auto empty = gap.folder.path() / "empty";
    std::filesystem::create_directories(empty);
    CHECK_THAT(run_program({"shortlist", gap.job, "--drivers", empty.string()}).err, Contains("holds no .toml file"));
    // One broken file does not spoil the list: it is named.
    std::filesystem::copy_file(std::filesystem::path(kDrivers) / "woofer-130.toml", empty / "good.toml");
    std::ofstream(empty / "bad.toml") << "name = \"bad\"\nflange_diametre = 3\n";
    const auto mixed = run_program({"shortlist", gap.job, "--drivers", empty.string(), "--json"});
    REQUIRE(mixed.exit == 0);
    const auto told = nlohmann::json::parse(mixed.out);
    CHECK(told["drivers"].size() == 1);
    REQUIRE(told["not_read"].size() == 1);
    CHECK_THAT(told["not_read"][0].get<std::string>(), Contains("bad.toml"));
}

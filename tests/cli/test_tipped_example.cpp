// The tipped-in example on a coarser grid than a user's, against what stands beside it: it passes every check, and what
// the best straight way in leaves of the same gap is far too little.
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

TEST_CASE("the tipped-in example is made with every check passed at a volume that no straight way in leaves",
          "[cli][example][slow]") {
    const std::filesystem::path source = std::filesystem::path(GAPWRIGHT_SOURCE) / "examples/tipped_in";
    const auto expected = nlohmann::json::parse(support::read_bytes(source / "expected.json"));
    const support::TempFolder folder;
    folder.write("woofer-130.toml", support::read_bytes(source / "woofer-130.toml"));
    REQUIRE(support::run_recipe("tipped_in", folder.path() / "gap.ply") == 0);
    std::string job = support::read_bytes(source / "job.toml");
    const auto put = [&](const std::string& from, const std::string& to, const std::string& text) {
        const std::size_t begin = job.find(from), end = job.find(to, begin);
        REQUIRE(end != std::string::npos);
        job.replace(begin, end - begin, text);
    };
    put("inner_radius = 4", "insert", "inner_radius = 4\nvoxel = 3\n");
    const auto tipped = folder.write("job.toml", job);
    put("insert = [", "[enclosure]", "insert = [0, 1, 0]\n\n");
    const auto straight = folder.write("straight.toml", job);

    const auto ran =
        support::run_program({"enclosure", tipped.string(), "--json", "--out", (folder.path() / "out").string()});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == expected.at("exit").get<int>());
    const auto report = nlohmann::json::parse(ran.out);
    const double asked = expected.at("net_litres").get<double>();
    CHECK(report.at("net_volume").at("litres").get<double>() ==
          Approx(asked).epsilon(expected.at("net_error_rel").get<double>()));
    CHECK(report.at("wall").at("min_mm").get<double>() >= expected.at("wall_least_mm").get<double>());
    for (const auto& check : report.at("checks")) {
        CAPTURE(check.at("name").get<std::string>());
        CHECK(check.at("ok").get<bool>());
    }
    const auto& clearance = report.at("clearance");
    REQUIRE(clearance.at("moves").size() == expected.at("moves").get<std::size_t>());
    double least = 1e9;
    for (const auto& move : clearance.at("moves")) least = std::min(least, move.at("least_mm").get<double>());
    CHECK(clearance.at("along_insertion_min_mm").get<double>() == Approx(least).margin(1e-6));
    CHECK(clearance.at("moves")[clearance.at("along_insertion_move").get<std::size_t>() - 1]
              .at("least_mm")
              .get<double>() == Approx(least).margin(1e-6));
    CHECK(report.at("resolved").at("space.insert[2].turn") == "-50 deg");

    const auto capacity = support::run_program({"capacity", straight.string(), "--json"});
    INFO(capacity.err << capacity.out);
    REQUIRE(capacity.exit == 0);
    const double most = nlohmann::json::parse(capacity.out).at("net_volume").at("most_litres").get<double>();
    CHECK(most == Approx(expected.at("straight_most_litres").get<double>()).epsilon(0.03));
    CHECK(most < 0.75 * asked);
}

// The camper-van example as a user runs it, from the recipe of its scan to the report, against what stands beside it.
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <sys/wait.h>

namespace {

/// Runs the recipe that the build made; its exit code.
int run_recipe(const std::filesystem::path& out) {
    const pid_t child = fork();
    if (child == 0) {
        const std::string program = std::string(GAPWRIGHT_BINARY) + "/recipe_camper_seat_gap";
        execl(program.c_str(), program.c_str(), out.c_str(), nullptr);
        _exit(127);
    }
    int status = 0;
    waitpid(child, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

}  // namespace

TEST_CASE("the camper-van example is made with every check passed and measures what stands beside it", "[cli][example][slow]") {
    const std::filesystem::path source = std::filesystem::path(GAPWRIGHT_SOURCE) / "examples/camper_seat_gap";
    const auto expected = nlohmann::json::parse(support::read_bytes(source / "expected.json"));
    const support::TempFolder folder;
    for (const char* name : {"job.toml", "woofer-165.toml"}) folder.write(name, support::read_bytes(source / name));
    REQUIRE(run_recipe(folder.path() / "gap.ply") == 0);

    const auto out = folder.path() / "out";
    const auto ran = support::run_program({"enclosure", (folder.path() / "job.toml").string(), "--json", "--out", out.string()});
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
    CHECK(report.at("wall").at("median_mm").get<double>() == Approx(expected.at("wall_median_mm").get<double>()).epsilon(0.01));
    // The armrest line less the covering bounds the part, and the part reaches it.
    const auto& box = report.at("solid").at("bounding_box_mm");
    const double top = box.is_object() ? box.at("max")[2].get<double>() : box[1][2].get<double>();
    CHECK(top == Approx(expected.at("top_mm").get<double>()).margin(0.3));
    CHECK(std::filesystem::file_size(out / "camper-seat-gap.step") <= expected.at("step_bytes_most").get<std::uintmax_t>());
    for (const auto& check : report.at("checks")) {
        CAPTURE(check.at("name").get<std::string>());
        CHECK(check.at("ok").get<bool>());
    }
}

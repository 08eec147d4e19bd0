// Ring and dish from the job file to the checked files, integral and separate, and what stands before them.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

namespace {

using Catch::Contains;

const std::string kDriver =
    "[driver]\ncentre = [0, 0, 125]\ncutout_diameter = 84\nflange_diameter = 104\nbolt_circle = 94\nbolt_count = 4\n"
    "bolt_thread = \"M4\"\nmounting_depth = 50\nmagnet_diameter = 60\nmagnet_depth = 20\ndisplacement = \"0.15 L\"\n"
    "front_height = 6\nxmax = 4\n";

/// The plain gap's job with a driver and a baffle as told.
std::string job_with(const std::string& baffle, const std::string& more) {
    std::string text = support::box_gap_job("edge_radius = 12\ninner_radius = 6\nvoxel = 4",
                                            "edge_radius = 20\ninner_radius = 14\nvoxel = 3");
    const std::string end = "thickness = 12";
    text.replace(text.find(end), end.size(), end + ", " + baffle);
    return text + kDriver + more;
}

/// A seat that is out while the box goes in, and then slides back to `nearest` before the mouth's plane.
std::string seat(double nearest) {
    return "[[space.keep_out]]\nname = \"seat\"\nslide = { box = { min = [-90, " + std::to_string(-nearest - 400) +
           ", 20], max = [90, " + std::to_string(-nearest - 200) +
           ", 240] }, path = [[0, 0, 0], [0, 200, 0]], way_in = \"none\" }\n";
}

nlohmann::json made(const support::TempFolder& folder, const std::string& job, int exit) {
    folder.write("job.toml", job);
    folder.write("gap.ply", support::as_binary_ply(support::box_gap_points()));
    const auto ran = support::run_program({"enclosure", (folder.path() / "job.toml").string(), "--json"});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == exit);
    return nlohmann::json::parse(ran.out);
}

nlohmann::json find(const nlohmann::json& list, const std::string& name) {
    for (const auto& one : list)
        if (one.at("name") == name) return one;
    FAIL("nothing is named " + name);
    return {};
}

}  // namespace

TEST_CASE("a ring on an integral baffle is made, with grille room before a seat on its rails", "[cli][baffle]") {
    const support::TempFolder folder;
    const auto report =
        made(folder, job_with("shape = \"ring\", ring = { height = 8 }, grille_room = 12", seat(60)), 0);
    CHECK(report.at("net_volume").at("litres").get<double>() == Approx(4.0).epsilon(0.002));
    CHECK(find(report.at("ledger"), "cut-out in the raised ring").at("litres").get<double>() ==
          Approx(std::acos(-1.0) * 42 * 42 * 8 / 1e6).epsilon(1e-3));
    // From the seat plane, 8 before the baffle, to the seat at its rearmost place.
    const double front_y = report.at("baffle").at("point")[1].get<double>() - 8;
    // Before what moves up to 1 mm less is told than is free.
    CHECK(report.at("driver_fit").at("front").at("free_mm").get<double>() == Approx(front_y + 59.5).margin(0.6));
    CHECK_THAT(report.at("driver_fit").at("front").at("free_up_to").get<std::string>(), Contains("seat"));
    CHECK(report.at("driver_fit").at("front").at("cone_needs_mm").get<double>() == Approx(12));
}

TEST_CASE("a dish in a separate baffle is milled, its back through the rim flange", "[cli][baffle]") {
    const support::TempFolder folder;
    std::string job = job_with(
        "made = \"separate\", shape = \"dish\", dish = { depth = 6, flank = \"30 deg\" }, grille_room = 12", "");
    job += "[make]\nmethod = \"cnc\"\n";
    const auto report = made(folder, job, 0);
    CHECK(report.at("net_volume").at("litres").get<double>() == Approx(4.0).epsilon(0.002));
    // Floor 53 (flange and 1 mm), 6 tan 30 more at the outer face, 12 tan 30 more behind.
    const double t = std::tan(std::acos(-1.0) / 6), out = 12 * t, a = 53 + 6 * t + out, b = 53 + out;
    CHECK(find(report.at("ledger"), "back of the dish").at("litres").get<double>() ==
          Approx(-std::acos(-1.0) / 3 * 6 * (a * a + a * b + b * b) / 1e6).epsilon(1e-3));
    CHECK(find(report.at("checks"), "net volume, three ways").at("value").get<double>() < 0.1);
    CHECK(report.at("solid").at("products").size() == 2);
}

TEST_CASE("a seat that comes into grille room fails the part, and the files say that they are not proved",
          "[cli][baffle]") {
    const support::TempFolder folder;
    // The baffle comes to lie where the volume wants it; the seat ends past the mouth, 47 before the baffle.
    const auto first = made(folder, job_with("grille_room = 12", ""), 0);
    const double y = first.at("baffle").at("point")[1].get<double>();
    const auto report = made(folder, job_with("grille_room = 52", seat(47 - y)), 5);
    const auto line = find(report.at("checks"), "grille room");
    CHECK(line.at("value").get<double>() == Approx(-5).margin(0.3));
    CHECK_THAT(line.at("note").get<std::string>(),
               Contains("keep-out \"seat\"") && Contains("with the baffle 5.") && Contains("mm farther in"));
    CHECK(support::contents_of(folder.path() / "box-gap").count("box-gap.unproved.step") == 1);
}

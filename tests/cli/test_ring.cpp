// The ring command from job file to files, as a user runs it.
#include "tests/cli/run_program.h"
#include "tests/cli/stl_corners.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>
#include <fstream>
#include <numbers>

using namespace support;

namespace {

const std::filesystem::path kExample = std::filesystem::path(GAPWRIGHT_SOURCE) / "examples/ring_flat";
constexpr double kPi = std::numbers::pi;

/// The example's job with one piece of its text changed, beside its driver.
std::filesystem::path edited(const TempFolder& folder, const std::string& from, const std::string& into) {
    std::string text = read_bytes(kExample / "job.toml");
    const auto at = text.find(from);
    REQUIRE(at != std::string::npos);
    text.replace(at, from.size(), into);
    std::filesystem::copy_file(kExample / "woofer-160.toml", folder.path() / "woofer-160.toml");
    std::ofstream(folder.path() / "job.toml", std::ios::binary) << text;
    return folder.path() / "job.toml";
}

/// Volume of a binary STL by signed tetrahedra.
double stl_mm3(const std::string& bytes) {
    const auto corners = stl_corners(bytes);
    double six = 0.0;
    for (std::size_t i = 0; i < corners.size(); i += 3)
        six +=
            geom::dot(corners[i] - corners[0], geom::cross(corners[i + 1] - corners[0], corners[i + 2] - corners[0]));
    return six / 6.0;
}

}  // namespace

TEST_CASE("the example ring is made, and its files hold what closed forms say", "[cli][ring][oracle]") {
    const TempFolder out;
    const Ran ran = run_program({"ring", (kExample / "job.toml").string(), "--out", out.path().string(), "--quiet"});
    INFO(ran.err);
    REQUIRE(ran.exit == 0);
    CHECK(ran.out.empty());
    // Outside 214 and bore 140, 18 high; four pilots of 5.6, 8.85 deep; four holes of 5.5 under heads of 11 sunk by 12.
    const double want = kPi * (107.0 * 107 - 70.0 * 70) * 18 - 4 * kPi * 2.8 * 2.8 * 8.85 - 4 * kPi * 2.75 * 2.75 * 6 -
                        4 * kPi * 5.5 * 5.5 * 12;
    const auto report = nlohmann::json::parse(read_bytes(out.path() / "report.json"));
    CHECK(report["job"] == "ring-flat");
    CHECK(report["part"] == "ring");
    CHECK(report["proved"] == true);
    CHECK(report["ring"]["volume_litres"].get<double>() ==
          Approx(want * 1e-6).epsilon(3e-6));  // six decimals of a litre
    CHECK(report["solid"]["mass_kg"].get<double>() == Approx(want * 1e-9 * 1075).epsilon(2e-4));
    CHECK(report["solid"]["valid"] == true);
    CHECK(report["solid"]["closed"] == true);
    CHECK(report["inputs"].size() == 2);
    CHECK(report["resolved"]["ring.height"] == "18 mm");
    CHECK(report["cautions"].size() == 4);
    for (const auto& check : report["checks"]) CHECK(check["ok"] == true);
    CHECK(report["ring"]["holes"].size() == 13);
    for (const auto& file : report["files"])
        CHECK(std::filesystem::file_size(out.path() / file.get<std::string>()) > 0);
    CHECK(stl_mm3(read_bytes(out.path() / "ring-flat.stl")) == Approx(want).epsilon(1e-3));
    CHECK(read_bytes(out.path() / "ring-flat.step").rfind("ISO-10303-21;", 0) == 0);

    SECTION("a second run writes the same bytes") {
        const TempFolder again;
        REQUIRE(run_program({"ring", (kExample / "job.toml").string(), "--out", again.path().string(), "--quiet",
                             "--threads", "1"})
                    .exit == 0);
        for (const auto& file : report["files"]) {
            const std::string name = file.get<std::string>();
            INFO(name);
            CHECK(read_bytes(out.path() / name) == read_bytes(again.path() / name));
        }
    }
}

TEST_CASE("a tilted ring is made, and its STEP comes back with its volume", "[cli][ring][oracle]") {
    const TempFolder folder, out;
    const auto job = edited(folder, "height = 18", "height = 18\ntilt = \"12 deg\"\ntilt_towards = [1, 0, 0]");
    const Ran ran = run_program({"ring", job.string(), "--out", out.path().string(), "--quiet"});
    INFO(ran.err);
    REQUIRE(ran.exit == 0);
    const auto report = nlohmann::json::parse(read_bytes(out.path() / "report.json"));
    const double slope = std::tan(12 * kPi / 180);
    CHECK(report["ring"]["most_height_mm"].get<double>() == Approx(18 + 214 * slope).epsilon(1e-6));
    bool is_told = false;
    for (const auto& check : report["checks"]) {
        CHECK(check["ok"] == true);
        if (check["name"] != "STEP read back, volume") continue;
        is_told = true;
        CHECK(check["value"].get<double>() < 1e-6);  // per cent
    }
    CHECK(is_told);
}

TEST_CASE("what a ring's job gets wrong is told, and nothing is written", "[cli][ring]") {
    const auto refused = [](const std::string& from, const std::string& into, int exit, const std::string& what) {
        const TempFolder folder;
        const auto job = edited(folder, from, into);
        const Ran ran = run_program({"ring", job.string()});
        INFO(into << "\n" << ran.err << ran.out);
        CHECK(ran.exit == exit);
        CHECK(ran.err.find(what) != std::string::npos);
        CHECK_FALSE(std::filesystem::exists(folder.path() / "ring-flat"));
    };
    refused("under_head = 6", "under_head = 14", 4, "vehicle bolt \"door, 1 of 4\"'s seat and the front face over it");
    // Screws stand on a circle of 156, and the flange covers the bolts' heads.
    refused("circle = 192, count = 4, turn = \"45 deg\", thread = \"M5\", under_head = 6 },\n]\n\n[driver]\n",
            "circle = 166, count = 4, thread = \"M5\", under_head = 6 },\n]\n\n[driver]\nturn = \"0 deg\"\n", 4,
            "driver screw 1 and vehicle bolt \"door, 1 of 4\"");
    refused("outside = 214", "outside = 160", 4, "the flange's edge and the outside");
    refused("height = 18", "height = 18\nlip = 3", 3, "has a lip and no opening for it");
    refused("height = 18", "heigth = 18", 3, "did you mean 'height'?");
    refused("height = 18", "height = 18\ntilt = \"10 deg\"", 3, "[ring] tilt_towards is missing");
    refused("height = 18", "height = 18\ntilt = \"70 deg\"\ntilt_towards = [1, 0, 0]", 3, "tilt is 70 deg");
    refused("outside = 214", "outside = 214, outline = \"seat.dxf\"", 3, "[ring] seat outline is no key of a seat");
    refused("method = \"print\"", "method = \"layup\"", 3, "\"layup\" of a ring is not built yet");
    refused("file = \"woofer-160.toml\"", "file = \"woofer-160.toml\"\nseal = \"tape\"", 3, "seal is not built yet");
}

TEST_CASE("a job goes to the command of its part", "[cli][ring]") {
    const Ran ran = run_program({"enclosure", (kExample / "job.toml").string()});
    CHECK(ran.exit == 3);
    CHECK(ran.err.find("gapwright ring makes it") != std::string::npos);
    CHECK(run_program({"capacity", (kExample / "job.toml").string()}).exit == 3);
    CHECK(run_program({"ring"}).exit == 2);
}

// Whether a ring fits the vehicle, as a user's job asks it: a window's pane behind a woofer.
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <fstream>

using namespace support;
using Catch::Contains;

namespace {

const std::filesystem::path kExample = std::filesystem::path(GAPWRIGHT_SOURCE) / "examples/ring_flat";

/// The flat example with a pane, four thick, whose face towards the ring lies `behind` its seat; it slides up past the
/// woofer and is clear of it at both ends. The woofer's magnet comes to 48 behind the seat.
std::filesystem::path with_pane(const TempFolder& folder, double behind, const std::string& more,
                                const std::string& driver_from = "", const std::string& driver_into = "") {
    std::string job = read_bytes(kExample / "job.toml"), driver = read_bytes(kExample / "woofer-160.toml");
    const double face = -780 - behind;
    job +=
        "\n[space]\n[[space.keep_out]]\nname = \"glass\"\nclearance = 3\nslide = { path = [[0, 0, 0], [0, 0, 900]], "
        "box = { min = [340, " +
        std::to_string(face - 4) + ", -300], max = [940, " + std::to_string(face) + ", 200] } }\n" + more;
    if (!driver_from.empty()) {
        const auto at = driver.find(driver_from);
        REQUIRE(at != std::string::npos);
        driver.replace(at, driver_from.size(), driver_into);
    }
    std::ofstream(folder.path() / "woofer-160.toml", std::ios::binary) << driver;
    std::ofstream(folder.path() / "job.toml", std::ios::binary) << job;
    return folder.path() / "job.toml";
}

nlohmann::json check_of(const nlohmann::json& report, const std::string& name) {
    for (const auto& check : report["checks"])
        if (check["name"] == name) return check;
    FAIL("no check named " + name);
    return {};
}

bool has_caution(const nlohmann::json& report, const std::string& name) {
    return std::any_of(report["cautions"].begin(), report["cautions"].end(),
                       [&](const auto& caution) { return caution["name"] == name; });
}

}  // namespace

TEST_CASE("a pane that comes past the magnet fails the ring, and says what would do", "[cli][ring][ringfit]") {
    const TempFolder folder, out;
    // 4 mm deep in the magnet.
    const auto job = with_pane(folder, 44, "");
    const Ran ran = run_program({"ring", job.string(), "--out", out.path().string()});
    INFO(ran.out << ran.err);
    CHECK(ran.exit == 5);
    CHECK_THAT(ran.out, Contains("driver, keep-out \"glass\"") && Contains("-4 mm, limit 3 mm") &&
                            Contains("nearest when slid by") && Contains("try a ring 7.") &&
                            Contains("a driver no deeper than 5"));
    CHECK_THAT(ran.out, Contains("1 of ") && Contains("checks failed") && !Contains("room behind the ring"));
    const auto report = nlohmann::json::parse(read_bytes(out.path() / "ring-flat.unproved.report.json"));
    CHECK(report["proved"] == false);
    const auto check = check_of(report, "driver, keep-out \"glass\"");
    CHECK(check["ok"] == false);
    CHECK(check["value"].get<double>() == Approx(-4).margin(0.01));
    CHECK(check["limit"] == 3);
    CHECK(check_of(report, "ring, keep-out \"glass\"")["value"].get<double>() == Approx(44).margin(0.03));
}

TEST_CASE("the same job with a shallower driver passes, and its caution is gone", "[cli][ring][ringfit]") {
    const TempFolder folder, out;
    const auto job = with_pane(folder, 44, "", "mounting_depth = 66", "mounting_depth = 58");
    const Ran ran = run_program({"ring", job.string(), "--out", out.path().string(), "--quiet"});
    INFO(ran.out << ran.err);
    REQUIRE(ran.exit == 0);
    const auto report = nlohmann::json::parse(read_bytes(out.path() / "report.json"));
    CHECK(check_of(report, "driver, keep-out \"glass\"")["value"].get<double>() == Approx(4).margin(0.01));
    CHECK_FALSE(has_caution(report, "room behind the ring"));

    const TempFolder plain;
    REQUIRE(run_program({"ring", (kExample / "job.toml").string(), "--out", plain.path().string(), "--quiet"}).exit ==
            0);
    CHECK(has_caution(nlohmann::json::parse(read_bytes(plain.path() / "report.json")), "room behind the ring"));
}

TEST_CASE("a ring's grille room is judged against limits before it", "[cli][ring][ringfit]") {
    const TempFolder folder, out;
    auto job =
        with_pane(folder, 60, "[[space.limits]]\nname = \"trim\"\npoint = [640, -752, 410]\noutward = [0, 1, 0]\n");
    std::string text = read_bytes(job);
    const std::string height = "height = 18";
    text.replace(text.find(height), height.size(), height + "\ngrille_room = 12");
    std::ofstream(job, std::ios::binary) << text;
    const Ran ran = run_program({"ring", job.string(), "--out", out.path().string()});
    INFO(ran.out << ran.err);
    CHECK(ran.exit == 5);
    const auto report = nlohmann::json::parse(read_bytes(out.path() / "ring-flat.unproved.report.json"));
    const auto check = check_of(report, "grille room");
    CHECK(check["value"].get<double>() == Approx(-2).margin(0.01));  // 10 free, 12 asked
    CHECK_THAT(check["note"].get<std::string>(), Contains("limit \"trim\"") && Contains("try a ring 2.0 mm lower"));
}

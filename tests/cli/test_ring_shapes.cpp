// Rings on other seats than round ones, from job file to files: the oval example, outlines by numbers and drawn in a
// DXF of the test's own, and the example on a scanned face.
#include "tests/cli/run_program.h"

#include <fmt/format.h>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>
#include <fstream>
#include <numbers>

using namespace support;

namespace {

const std::filesystem::path kExamples = std::filesystem::path(GAPWRIGHT_SOURCE) / "examples";
constexpr double kPi = std::numbers::pi;

/// A DXF of 1990's kind: pairs of lines. Entities are given as text by the functions below.
std::string dxf(int unit, const std::string& entities) {
    return fmt::format(
        "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1009\n9\n$INSUNITS\n70\n{}\n0\nENDSEC\n0\nSECTION\n2\n"
        "ENTITIES\n{}0\nENDSEC\n0\nEOF\n",
        unit, entities);
}
std::string line(double x0, double y0, double x1, double y1, const char* layer = "0") {
    return fmt::format("0\nLINE\n8\n{}\n10\n{}\n20\n{}\n30\n0\n11\n{}\n21\n{}\n31\n0\n", layer, x0, y0, x1, y1);
}
std::string arc(double x, double y, double r, double from, double to, const char* layer = "0") {
    return fmt::format("0\nARC\n8\n{}\n10\n{}\n20\n{}\n30\n0\n40\n{}\n50\n{}\n51\n{}\n", layer, x, y, r, from, to);
}
/// Square of width 2 h about the origin, its corners rounded by r.
std::string rounded_square(double h, double r) {
    const double i = h - r;
    return line(-i, -h, i, -h) + arc(i, -i, r, 270, 360) + line(h, -i, h, i) + arc(i, i, r, 0, 90) + line(i, h, -i, h) +
           arc(-i, i, r, 90, 180) + line(-h, i, -h, -i) + arc(-i, -i, r, 180, 270);
}

/// The level example on another outline, beside its driver and a drawing.
Ran made_on(const TempFolder& folder, const std::string& outside, const std::string& drawing = {}) {
    std::string text = read_bytes(kExamples / "ring_flat/job.toml");
    const std::string from = "outside = 214";
    text.replace(text.find(from), from.size(), "outside = " + outside);
    std::filesystem::copy_file(kExamples / "ring_flat/woofer-160.toml", folder.path() / "woofer-160.toml");
    std::ofstream(folder.path() / "job.toml", std::ios::binary) << text;
    if (!drawing.empty()) std::ofstream(folder.path() / "seat.dxf", std::ios::binary) << drawing;
    return run_program({"ring", (folder.path() / "job.toml").string(), "--quiet"});
}

nlohmann::json report_of(const std::filesystem::path& folder) {
    return nlohmann::json::parse(read_bytes(folder / "report.json"));
}

/// Material of the level example on a seat of that area: see test_ring.cpp.
double litres_on(double area_mm2) {
    return 1e-6 * ((area_mm2 - kPi * 70 * 70) * 18 - 4 * kPi * 2.8 * 2.8 * 8.85 - 4 * kPi * 2.75 * 2.75 * 6 -
                   4 * kPi * 5.5 * 5.5 * 12);
}

}  // namespace

TEST_CASE("the example on an oval seat is made, and told as a whole", "[cli][ring]") {
    const TempFolder out;
    const Ran ran =
        run_program({"ring", (kExamples / "ring_oval/job.toml").string(), "--out", out.path().string(), "--quiet"});
    INFO(ran.err);
    REQUIRE(ran.exit == 0);
    const auto report = report_of(out.path());
    bool is_read_back = false;
    for (const auto& check : report["checks"]) {
        CHECK(check["ok"] == true);
        if (check["name"] != "STEP read back, volume") continue;
        is_read_back = true;
        CHECK(check["value"].get<double>() < 1e-4);  // per cent; the lip's outline is no circle's
    }
    CHECK(is_read_back);
    const auto& ring = report["ring"];
    CHECK(ring["free_area"]["share"].get<double>() >= 0.6);
    CHECK(ring["free_area"]["cone_cm2"] == 132.0);
    // A slanting bore of 140 holds its section times the length of its axis from seat to flange.
    double bore = 0.0;
    for (const auto& hole : ring["holes"])
        if (hole["name"] == "the bore") bore = hole["depth_mm"];
    CHECK(ring["inside_litres"].get<double>() == Approx(kPi * 4900 * bore * 1e-6).epsilon(1e-5));
    CHECK(ring["air_behind"]["door_litres"] == 22.0);
    const double driver = 22.0 + ring["inside_litres"].get<double>() - ring["air_behind"]["litres"].get<double>();
    CHECK(driver > 0.2);
    CHECK(driver < 1.0);
}

TEST_CASE("an outline by numbers and drawn, in two units, is the same seat", "[cli][ring][oracle]") {
    const double area = 220.0 * 220 - (4 - kPi) * 30 * 30;
    const auto litres = [&](const std::string& outside, const std::string& drawing) {
        const TempFolder folder;
        const Ran ran = made_on(folder, outside, drawing);
        INFO(outside << "\n" << ran.err);
        REQUIRE(ran.exit == 0);
        return report_of(folder.path() / "ring-flat")["ring"]["volume_litres"].get<double>();
    };
    // Six decimals of a litre.
    CHECK(litres("{ rectangle = [220, 220], corner_radius = 30 }", {}) == Approx(litres_on(area)).epsilon(3e-6));
    CHECK(litres("{ points = [[-110, -110], [110, -110], [110, 110], [-110, 110]], corner_radius = 30 }", {}) ==
          Approx(litres_on(area)).epsilon(3e-6));
    CHECK(litres("{ drawing = \"seat.dxf\" }", dxf(4, rounded_square(110, 30))) ==
          Approx(litres_on(area)).epsilon(3e-6));
    CHECK(litres("{ drawing = \"seat.dxf\" }", dxf(1, rounded_square(110 / 25.4, 30 / 25.4))) ==
          Approx(litres_on(area)).epsilon(3e-6));
    CHECK(litres("{ ellipse = [260, 220] }", {}) == Approx(litres_on(kPi * 130 * 110)).epsilon(3e-6));
    // Only the layer that is asked for.
    CHECK(litres("{ drawing = \"seat.dxf\", layer = \"SEAT\" }",
                 dxf(4, line(0, 0, 5, 5) + arc(0, 0, 112, 0, 180, "SEAT") + arc(0, 0, 112, 180, 360, "SEAT"))) ==
          Approx(litres_on(kPi * 112 * 112)).epsilon(3e-6));
}

TEST_CASE("what is wrong with a drawn outline is told", "[cli][ring][faults]") {
    const auto told = [](const std::string& outside, const std::string& drawing) {
        const TempFolder folder;
        const Ran ran = made_on(folder, outside, drawing);
        CHECK(ran.exit == 3);
        CHECK_FALSE(std::filesystem::exists(folder.path() / "ring-flat"));
        INFO(ran.err);
        CHECK(ran.err.find("try:") != std::string::npos);
        return ran.err;
    };
    const std::string drawn = "{ drawing = \"seat.dxf\" }";
    const auto has = [](const std::string& text, const std::string& what) {
        INFO(text);
        CHECK(text.find(what) != std::string::npos);
    };
    has(told(drawn, {}), "seat.dxf");
    has(told(drawn, "no drawing at all\n"), "seat.dxf");
    // One side is left out: its end and what it lacks.
    const std::string open = line(-110, -110, 110, -110) + line(110, -110, 110, 110) + line(110, 110, -110, 110);
    has(told(drawn, dxf(4, open)), "220");
    has(told("{ drawing = \"seat.dxf\", layer = \"SAET\" }", dxf(4, rounded_square(110, 30))), "SAET");
    has(told("{ ellipse = [260, 220], corner_radius = 3 }", {}), "does not go with ellipse");
    has(told("{ points = [[-110, -110], [110, -110], [-60, 110], [110, 110]] }", {}), "cross");
}

TEST_CASE("the example on a scanned face is made, its foot a gasket away", "[cli][ring]") {
    const TempFolder folder;
    for (const char* file : {"job.toml", "woofer-160.toml"})
        std::filesystem::copy_file(kExamples / "ring_on_scan" / file, folder.path() / file);
    REQUIRE(run_recipe("ring_on_scan", folder.path() / "gap.ply") == 0);
    const Ran ran = run_program({"ring", (folder.path() / "job.toml").string(), "--quiet"});
    INFO(ran.err);
    REQUIRE(ran.exit == 0);
    const auto report = report_of(folder.path() / "ring-on-scan");
    for (const auto& check : report["checks"]) CHECK(check["ok"] == true);
    bool is_told = false;
    for (const auto& note : report["notes"])
        is_told |= note.get<std::string>().rfind("foot: the scanned face lies", 0) == 0;
    CHECK(is_told);
    CHECK(report["inputs"].size() == 3);
    CHECK(report["ring"]["volume_litres"].get<double>() > 0.3);
}

// A ring of layers from job file to drawings, which are read back as a job's own drawings are.
#include "geom/job/outline_drawing.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>
#include <fstream>
#include <numbers>

using namespace support;

namespace {

const std::filesystem::path kExample = std::filesystem::path(GAPWRIGHT_SOURCE) / "examples/ring_flat";
constexpr double kPi = std::numbers::pi;

/// The example's job of another height with more keys, beside its driver.
std::filesystem::path job_with(const TempFolder& folder, const std::string& height_and_more) {
    std::string text = read_bytes(kExample / "job.toml");
    const std::string from = "height = 18";
    const auto at = text.find(from);
    REQUIRE(at != std::string::npos);
    text.replace(at, from.size(), height_and_more);
    std::filesystem::copy_file(kExample / "woofer-160.toml", folder.path() / "woofer-160.toml");
    std::ofstream(folder.path() / "job.toml", std::ios::binary) << text;
    return folder.path() / "job.toml";
}

/// Areas of a drawing's layer together.
double area_on(const std::filesystem::path& file, const std::string& layer) {
    const auto outlines = geom::job::read_drawing(file, {.layer = layer});
    if (!outlines) FAIL(outlines.error().what);
    double sum = 0.0;
    for (const auto& outline : *outlines) sum += geom::parts::area_mm2(outline);
    return sum;
}

}  // namespace

TEST_CASE("a layered ring is made, and its drawings hold what closed forms say", "[cli][ring][layers][oracle]") {
    const TempFolder folder, out;
    const auto job = job_with(folder, "height = 36\nlayers = { thickness = 12, dowel = 5, dowels = 3, wall = 3 }");
    const Ran ran = run_program({"ring", job.string(), "--out", out.path().string()});
    INFO(ran.err);
    REQUIRE(ran.exit == 0);
    CHECK(ran.out.find("layers       3 of a sheet of 12 mm") != std::string::npos);
    const auto report = nlohmann::json::parse(read_bytes(out.path() / "report.json"));
    CHECK(report["proved"] == true);
    CHECK(report["resolved"]["ring.layers.dowel"] == "5 mm");
    int told = 0;
    for (const auto& check : report["checks"]) {
        CHECK(check["ok"] == true);
        if (check["name"] == "layers together, volume" || check["name"] == "drawings cut into layers") ++told;
    }
    CHECK(told == 2);
    const auto& layers = report["layers"];
    REQUIRE(layers.size() == 3);
    const auto files = report["files"].get<std::vector<std::string>>();
    double volume = 0.0;
    for (std::size_t i = 0; i < 3; ++i) {
        const auto& layer = layers[i];
        CHECK(layer["index"] == i + 1);
        CHECK(layer["thickness_mm"] == 12.0);
        CHECK(layer["file"] == "ring-flat-layer-" + std::to_string(i + 1) + "-of-3.dxf");
        const auto file = out.path() / layer["file"].get<std::string>();
        CHECK(std::count(files.begin(), files.end(), layer["file"].get<std::string>()) == 1);
        CHECK(ran.out.find(file.string()) != std::string::npos);
        // Outside 214 and bore 140; heads are sunk to 6 over the seat, so that two layers have their wide holes.
        CHECK(area_on(file, "outline") == Approx(kPi * 107 * 107).epsilon(1e-9));
        const double holes = 4 * kPi * (i == 0 ? 2.75 * 2.75 : 5.5 * 5.5);
        CHECK(area_on(file, "through-holes") == Approx(kPi * 70 * 70 + holes).epsilon(1e-9));
        CHECK(layer["area_cm2"].get<double>() == Approx((kPi * (107.0 * 107 - 70 * 70) - holes) / 100).margin(1e-4));
        const double dowels = (i == 1 ? 6 : 3) * kPi * 2.5 * 2.5;
        CHECK(layer["dowels"].size() == (i == 1 ? 6 : 3));
        // Dowels, and what else ends within: heads in the lowest layer, the driver's pilots in the top one.
        const double more = i == 0 ? 4 * kPi * 5.5 * 5.5 : i == 2 ? 4 * kPi * 2.8 * 2.8 : 0.0;
        CHECK(area_on(file, "pockets") == Approx(dowels + more).epsilon(1e-9));
        const double deep = dowels * 6 + (i == 0   ? 4 * kPi * (5.5 * 5.5 - 2.75 * 2.75) * 6
                                          : i == 2 ? 4 * kPi * 2.8 * 2.8 * 8.85
                                                   : 0.0);
        CHECK(layer["volume_litres"].get<double>() * 1e6 ==
              Approx((kPi * (107.0 * 107 - 70 * 70) - holes) * 12 - deep).margin(0.6));
        volume += layer["volume_litres"].get<double>() * 1e6 + dowels * 6;
    }
    CHECK(volume == Approx(report["ring"]["volume_litres"].get<double>() * 1e6).margin(3));
    for (const char* face : {"seat", "front"}) {
        const auto file = out.path() / ("ring-flat-" + std::string(face) + ".dxf");
        const double holes = face[0] == 's' ? 4 * kPi * 2.75 * 2.75 : 4 * kPi * (2.8 * 2.8 + 5.5 * 5.5);
        CHECK(area_on(file, "outline") == Approx(kPi * 107 * 107).epsilon(1e-9));
        CHECK(area_on(file, "through-holes") == Approx(kPi * 70 * 70 + holes).epsilon(1e-9));
    }
}

TEST_CASE("a tilted ring of layers: dowels drawn at the same places on both sides of a joint",
          "[cli][ring][layers][oracle]") {
    const TempFolder folder, out;
    const auto job =
        job_with(folder, "height = 24\ntilt = \"8 deg\"\ntilt_towards = [1, 0, 0]\nlayers = { thickness = 15 }");
    const Ran ran = run_program({"ring", job.string(), "--out", out.path().string(), "--quiet"});
    INFO(ran.err);
    REQUIRE(ran.exit == 0);
    const auto report = nlohmann::json::parse(read_bytes(out.path() / "report.json"));
    const auto& layers = report["layers"];
    REQUIRE(layers.size() >= 4);  // 24 + 214 tan 8 = 54.1
    const auto count = [&](std::size_t i, double way) {
        std::vector<nlohmann::json> from;
        for (const auto& dowel : layers[i]["dowels"])
            if (dowel["way"][1].get<double>() * way > 0.0) from.push_back(dowel["from"]);
        return from;
    };
    for (std::size_t i = 0; i + 1 < layers.size(); ++i) {
        const auto below = count(i, -1), above = count(i + 1, 1);
        CHECK(below.size() >= 2);
        CHECK(below == above);
    }
    for (const auto& layer : layers) {
        const double drawn = area_on(out.path() / layer["file"].get<std::string>(), "outline");
        CHECK(drawn <= kPi * 107 * 107 * (1 + 1e-9));
        CHECK(layer["area_cm2"].get<double>() * 100 * 15 > layer["volume_litres"].get<double>() * 1e6);
    }
}

TEST_CASE("what a job's layers get wrong is told", "[cli][ring][layers]") {
    const auto refused = [](const std::string& into, int exit, const std::string& what) {
        const TempFolder folder;
        const Ran ran = run_program({"ring", job_with(folder, into).string()});
        INFO(into << "\n" << ran.err << ran.out);
        CHECK(ran.exit == exit);
        CHECK(ran.err.find(what) != std::string::npos);
        CHECK_FALSE(std::filesystem::exists(folder.path() / "ring-flat"));
    };
    refused("height = 18\nlayers = 18", 3, "a sheet of 18 mm is as thick as the ring of 18.00 mm");
    refused("height = 36\nlayers = { thickness = 18, dowels = 1 }", 3, "1 dowels a joint, wanted 2 to 60");
    refused("height = 36\nlayers = { thickness = 18, dowel = 34 }", 4, "dowels of 34 mm between layers 1 and 2");
}

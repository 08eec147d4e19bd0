// A box on a mounting plate from the job file to its checked files.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

TEST_CASE("a box on a plate holds its volume, and the plate is a product with its own drawing", "[cli][plate]") {
    const support::TempFolder folder;
    folder.write("job.toml",
                 support::box_gap_job() +
                     "[driver]\nname = \"woofer\"\ncutout_diameter = 120\nflange_diameter = 150\nbolt_circle = 136\n"
                     "bolt_count = 4\nbolt_thread = \"M4\"\nmounting_depth = 60\nmagnet_diameter = 80\nmagnet_depth = "
                     "25\nmass = 1.2\ncentre = [0, 0, 130]\nturn = \"45 deg\"\n"
                     "[[fixing]]\nname = \"rear plate\"\nkind = \"plate\"\npoints = [[-60, 250, 60], [60, 250, 60], "
                     "[-60, 250, 200], [60, 250, 200]]\naxis = [0, 1, 0]\nthread = \"M6\"\nhead = \"countersunk\"\n"
                     "thickness = 5\nscrews = 4\n");
    folder.write("gap.ply", support::as_binary_ply(support::box_gap_points()));
    const auto out = folder.path() / "out";
    const auto ran =
        support::run_program({"enclosure", (folder.path() / "job.toml").string(), "--json", "--out", out.string()});
    INFO(ran.err << ran.out);
    REQUIRE((ran.exit == 0 || ran.exit == 5));  // on 4 mm voxels the wall may be a little thin at an edge
    const auto report = nlohmann::json::parse(ran.out);
    for (const auto& check : report.at("checks"))
        if (check.at("name") != "wall, least") CHECK(check.at("ok").get<bool>());
    const auto& by = report.at("net_volume").at("by");
    for (const char* way : {"field", "brep", "mesh"}) CHECK(by.at(way).get<double>() == Approx(4.0).epsilon(0.002));
    REQUIRE(report.at("fixings").size() == 4);
    for (const auto& bolt : report.at("fixings")) {
        CHECK(bolt.at("kind") == "plate");
        CHECK(bolt.at("measured_hole_mm").get<double>() == Approx(6.6));  // ISO 273, medium [verified]
    }
    bool has_drawing = false;
    for (const auto& file : report.at("files")) {
        const std::string name = file;
        CHECK(name.find(' ') == std::string::npos);
        if (name.size() < 4 || name.substr(name.size() - 4) != ".dxf") continue;
        has_drawing = true;
        const std::string text = support::read_bytes(out / name);
        CHECK(text.find("AC1015") != std::string::npos);
        CHECK(text.find("through-holes") != std::string::npos);
    }
    CHECK(has_drawing);
}

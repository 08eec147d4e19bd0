// gapwright scan: what it says, what it leaves on disk, and that scans are never written over.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

namespace {

using Catch::Contains;
using support::as_binary_ply;
using support::as_xyz;
using support::box_gap_points;
using support::run_program;

std::vector<geom::Point3> scaled(std::vector<geom::Point3> points, double factor) {
    for (auto& p : points) p = p * factor;
    return points;
}

/// A closed box of 100 x 60 x 40 mm as a text STL; without its last `missing` triangles.
std::string box_stl(std::size_t missing) {
    const double c[8][3] = {{0, 0, 0},  {100, 0, 0},  {100, 60, 0},  {0, 60, 0},
                            {0, 0, 40}, {100, 0, 40}, {100, 60, 40}, {0, 60, 40}};
    const int t[12][3] = {{0, 2, 1}, {0, 3, 2}, {4, 5, 6}, {4, 6, 7}, {0, 1, 5}, {0, 5, 4},
                          {1, 2, 6}, {1, 6, 5}, {2, 3, 7}, {2, 7, 6}, {3, 0, 4}, {3, 4, 7}};
    std::string text = "solid box\n";
    for (std::size_t i = 0; i + missing < 12; ++i) {
        text += "facet normal 0 0 0\nouter loop\n";
        for (const int corner : t[i])
            text += "vertex " + std::to_string(c[corner][0]) + " " + std::to_string(c[corner][1]) + " " +
                    std::to_string(c[corner][2]) + "\n";
        text += "endloop\nendfacet\n";
    }
    return text + "endsolid box\n";
}

}  // namespace

TEST_CASE("scan tells points, unit, extent, spacing and holes", "[cli][scan]") {
    const support::TempFolder folder;
    auto points = box_gap_points();
    std::erase_if(points, [](const geom::Point3& p) { return p.y == 250.0 && std::hypot(p.x, p.z - 125.0) < 30.0; });
    const auto file = folder.write("gap.ply", as_binary_ply(points));
    const auto before = support::contents_of(folder.path());
    const auto ran = run_program({"scan", file.string()});
    INFO(ran.out << ran.err);
    CHECK(ran.exit == 0);
    CHECK(ran.err.empty());
    for (const char* told :
         {"gap.ply", "no normals, no colours", "taken as mm", "also plausible: cm and in", "200.0 x 250.0 x 250.0 mm",
          "x -100.0 to 100.0, y 0.0 to 250.0, z 0.0 to 250.0", "spacing", "noise", "at 0.0, 250.0, 125.0", "--out DIR"})
        CHECK_THAT(ran.out, Contains(told));
    CHECK(support::contents_of(folder.path()) == before);
}

TEST_CASE("scan takes a file in metres as one, and says what is plausible when the stated unit makes no sense",
          "[cli][scan][unit]") {
    const support::TempFolder folder;
    const auto file = folder.write("gap.xyz", as_xyz(scaled(box_gap_points(), 0.001)));
    CHECK_THAT(run_program({"scan", file.string()}).out, Contains("m, likeliest by its size;"));
    const auto stated = run_program({"scan", file.string(), "--unit", "mm"});
    CHECK(stated.exit == 0);
    CHECK_THAT(stated.out, Contains("mm, as stated; the size makes no sense in it; plausible: m"));
    CHECK(run_program({"scan", file.string(), "--unit", "furlong"}).exit == 2);
}

TEST_CASE("scan JSON has every subject, with units in its keys, and nothing beside it", "[cli][scan][json]") {
    const support::TempFolder folder;
    const auto file = folder.write("gap.ply", as_binary_ply(box_gap_points()));
    const auto ran = run_program({"scan", file.string(), "--json"});
    REQUIRE(ran.exit == 0);
    CHECK(ran.err.empty());
    const auto told = nlohmann::json::parse(ran.out);
    for (const char* key :
         {"files", "points", "triangles", "has_normals", "has_colours", "points_not_finite", "points_repeated", "unit",
          "box_mm", "middle_box_mm", "spacing", "surface", "no_surface", "mesh", "not_believed", "holes", "written"})
        CHECK(told.contains(key));
    CHECK(told.at("points") == box_gap_points().size());
    CHECK(told.at("unit").at("taken") == "mm");
    CHECK(told.at("unit").at("readings").size() == 4);
    CHECK(told.at("box_mm").at("size")[1] == 250.0);
    CHECK(told.at("spacing").at("median_mm").get<double>() == Approx(4.43).margin(0.1));
    CHECK(told.at("mesh").is_null());
}

TEST_CASE("scan judges a mesh: closed, oriented, not self-crossing; or open", "[cli][scan][mesh]") {
    const support::TempFolder folder;
    const auto whole = folder.write("box.stl", box_stl(0)), open = folder.write("open.stl", box_stl(1));
    const auto closed =
        nlohmann::json::parse(run_program({"scan", whole.string(), "--unit", "mm", "--json"}).out).at("mesh");
    CHECK(closed.at("closed") == true);
    CHECK(closed.at("oriented") == true);
    CHECK(closed.at("self_crossing") == false);
    CHECK(closed.at("volume_litres").get<double>() == Approx(0.24));
    const auto gaping =
        nlohmann::json::parse(run_program({"scan", open.string(), "--unit", "mm", "--json"}).out).at("mesh");
    CHECK(gaping.at("closed") == false);
    CHECK(gaping.at("border_edges") == 3);
    CHECK(gaping.at("volume_litres").is_null());
    CHECK_THAT(run_program({"scan", whole.string()}).out, Contains("closed, evenly oriented, 1 piece"));
    CHECK_THAT(run_program({"scan", open.string()}).out, Contains("open: 3 border edges"));
}

TEST_CASE("scan leaves pictures and the cleaned scan where it was told to", "[cli][scan][files]") {
    const support::TempFolder folder;
    auto points = box_gap_points();
    points.push_back({0, 100, 100});  // a lone one, to be dropped
    const auto file = folder.write("gap.ply", as_binary_ply(points));
    const auto out = folder.path() / "told", clean = folder.path() / "clean.ply";
    const auto ran = run_program({"scan", file.string(), "--out", out.string(), "--clean", clean.string(), "--quiet"});
    CHECK(ran.exit == 0);
    CHECK(ran.out.empty());
    CHECK(ran.err.empty());
    for (const char* name : {"gap-front.png", "gap-side.png", "gap-top.png"})
        CHECK(std::filesystem::file_size(out / name) > 5000);
    const auto again = nlohmann::json::parse(run_program({"scan", clean.string(), "--json"}).out);
    CHECK(again.at("has_normals") == true);
    const auto kept = again.at("points").get<std::size_t>();
    CHECK(kept < points.size());
    CHECK(kept > points.size() * 98 / 100);
    CHECK(again.at("box_mm").at("size")[0].get<double>() == Approx(200.0).margin(0.5));
}

TEST_CASE("scan never writes over a scan it reads", "[cli][scan][faults]") {
    const support::TempFolder folder;
    const auto file = folder.write("gap.ply", as_binary_ply(box_gap_points()));
    std::filesystem::create_symlink(file, folder.path() / "other.ply");
    const auto before = support::contents_of(folder.path());
    for (const auto& target : {file, folder.path() / "other.ply", folder.path() / "." / "gap.ply"}) {
        const auto ran = run_program({"scan", file.string(), "--clean", target.string()});
        CHECK(ran.exit == 2);
        CHECK_THAT(ran.err, Contains("never written over"));
        CHECK(support::contents_of(folder.path()) == before);
    }
    const auto ending = run_program({"scan", file.string(), "--clean", (folder.path() / "clean.stl").string()});
    CHECK(ending.exit == 2);
    CHECK_THAT(ending.err, Contains("does not end in .ply"));
}

TEST_CASE("a scan that cannot be read or has no surface is told so", "[cli][scan][faults]") {
    const support::TempFolder folder;
    const auto missing = run_program({"scan", (folder.path() / "none.ply").string()});
    CHECK(missing.exit == 3);
    CHECK_THAT(missing.err, Contains("no such file"));
    const auto none = run_program({"scan"});
    CHECK(none.exit == 2);
    CHECK_THAT(none.err, Contains("scan: no scan file named"));
    const auto few = folder.write("few.xyz", "0 0 0\n100 0 0\n0 100 0\n0 0 100\n");
    const auto told = run_program({"scan", few.string()});
    CHECK(told.exit == 0);
    CHECK_THAT(told.out, Contains("none in this unit") && Contains("wanted a surface"));
    const auto clean = folder.path() / "clean.ply";
    const auto refused = run_program({"scan", few.string(), "--clean", clean.string(), "--json"});
    CHECK(refused.exit == 3);
    CHECK(nlohmann::json::parse(refused.out).at("fault").at("code") == "BadScan");
    CHECK_FALSE(std::filesystem::exists(clean));
}

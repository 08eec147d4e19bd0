// gapwright volume: exit codes, units, JSON, the mass, sections on disk.
#include "tests/cli/run_program.h"
#include "tests/support/mesh_files.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

namespace {

using Catch::Contains;
using support::run_program;

geom::TriMesh box() {
    geom::TriMesh mesh;
    for (int i = 0; i < 8; ++i)
        mesh.vertices.push_back({i & 1 ? 300.0 : 0.0, i & 2 ? 200.0 : 0.0, i & 4 ? 100.0 : 0.0});
    constexpr std::uint32_t kFaces[6][4] = {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4},
                                            {1, 3, 7, 5}, {3, 2, 6, 7}, {2, 0, 4, 6}};
    for (const auto& f : kFaces) {
        mesh.triangles.push_back({f[0], f[1], f[2]});
        mesh.triangles.push_back({f[0], f[2], f[3]});
    }
    return mesh;
}

}  // namespace

TEST_CASE("volume: a closed box is told exactly, with its mass and its sections", "[cli][volume]") {
    const support::TempFolder folder;
    const std::string file = folder.write("box.stl", support::stl_binary(box())).string();
    const auto ran = run_program({"volume", file, "--unit", "cm", "--material", "mdf", "--sections", "4", "--axis", "x",
                                  "--json", "--out", (folder.path() / "out").string()});
    REQUIRE(ran.exit == 0);
    const auto json = nlohmann::json::parse(ran.out)["shapes"][0];
    CHECK(json["volume_litres"].get<double>() == Approx(6000.0).epsilon(1e-12));
    CHECK(json["mass_kg"].get<double>() == Approx(4440.0));
    CHECK(json["exact"] == true);
    CHECK(json["unit"]["by"] == "stated");
    CHECK(json["sections"]["rows"].size() == 5);
    CHECK(json["flaws"].empty());
    CHECK(support::read_bytes(folder.path() / "out" / "box-sections.csv")
              .starts_with("x_mm,area_mm2,area_below_mm2,litres_to_next\n0.000000,2000000"));
}

TEST_CASE("volume: an unknown unit is asked for, an open mesh bounded, a sheet refused", "[cli][volume]") {
    const support::TempFolder folder;
    const std::string file = folder.write("box.stl", support::stl_binary(box())).string();
    const auto unit = run_program({"volume", file});
    CHECK(unit.exit == 3);
    CHECK_THAT(unit.err, Contains("300 x 200 x 100") && Contains("--unit") && Contains("mm (300 x 200 x 100 mm)"));
    geom::TriMesh open = box();
    open.triangles.pop_back();
    const auto bounded =
        run_program({"volume", folder.write("open.obj", support::obj_text(open)).string(), "--unit", "mm"});
    CHECK(bounded.exit == 5);
    CHECK_THAT(bounded.out, Contains("not exact") && Contains("open: 1 hole"));
    open.triangles.resize(2);
    const auto sheet =
        run_program({"volume", folder.write("sheet.obj", support::obj_text(open)).string(), "--unit", "mm"});
    CHECK(sheet.exit == 3);
    CHECK_THAT(sheet.out, Contains("volume       none") && Contains("a sheet has no volume"));
    CHECK(run_program({"volume", file, "--unit", "mm", "--material", "pet"}).exit == 3);
    CHECK(run_program({"volume", file, "--unit", "mm", "--inside", "1,2,3", "--opening", "1,2,3"}).exit == 2);
    CHECK(run_program({"volume", file, "--unit", "mm", "--opening", "1,2,3,4"}).exit == 2);
    CHECK(run_program({"volume"}).exit == 2);
    CHECK(run_program({"volume", (folder.path() / "none.step").string()}).exit == 3);
}

TEST_CASE("volume: the inside behind a wall, the air of an open shell", "[cli][volume]") {
    const support::TempFolder folder;
    const std::string file = folder.write("box.3mf", support::three_mf(box())).string();
    const auto wall = run_program({"volume", file, "--wall", "12", "--json"});
    REQUIRE(wall.exit == 0);
    const auto inside = nlohmann::json::parse(wall.out)["shapes"][0]["inside"];
    CHECK(inside["volume_litres"].get<double>() == Approx(3.691776).epsilon(1e-3));
    geom::TriMesh open = box();
    open.triangles.erase(open.triangles.begin() + 2, open.triangles.begin() + 4);
    const std::string shell = folder.write("shell.off", support::off_text(open)).string();
    const auto air = run_program(
        {"volume", shell, "--unit", "mm", "--inside", "50,50,50", "--opening", "150,100,100,400", "--json"});
    REQUIRE(air.exit == 0);
    CHECK(nlohmann::json::parse(air.out)["shapes"][0]["air"]["volume_litres"].get<double>() == Approx(6.0));
}

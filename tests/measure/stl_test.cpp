#include "tests/measure/shapes.h"

#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"

#include <BRepPrimAPI_MakeSphere.hxx>

#include <array>
#include <cstdio>

using namespace shapes;
using geom::FaultCode;
using geom::measure::measure_mesh;
using geom::measure::read_stl;

namespace {

TriMesh drilled_plate() {
    return require(geom::measure::tessellate(
        geom::to_brep(cut(hill_block(), cylinder({50, 40, -5}, {0, 0, 1}, 17, 200))), geom::Length::mm(0.05), {}));
}

void write_text(const std::filesystem::path& file, const std::string& text) {
    std::ofstream(file, std::ios::binary) << text;
}

std::string output_of(const std::string& command) {
    std::string text;
    FILE* pipe = popen(command.c_str(), "r");
    if (pipe == nullptr) return text;
    std::array<char, 512> line;
    while (std::fgets(line.data(), line.size(), pipe) != nullptr) text += line.data();
    pclose(pipe);
    return text;
}

}  // namespace

TEST_CASE("a written STL reads back as the same mesh", "[measure][stl]") {
    const Folder folder("stl-same");
    const TriMesh mesh = drilled_plate();
    write_stl(mesh, folder / "plate.stl");
    const TriMesh back = require(read_stl(folder / "plate.stl"));
    CHECK(back.triangles.size() == mesh.triangles.size());
    CHECK(back.vertices.size() == mesh.vertices.size());
    CHECK(measure_mesh(back).volume.mm3() == measure_mesh(mesh).volume.mm3());
    CHECK(measure_mesh(back).closed);
}

TEST_CASE("an STL reader of another library finds the same volume and nothing to mend", "[measure][stl][oracle]") {
    // admesh, from Debian's package of that name.
    if (output_of("command -v admesh").empty()) {
        WARN("skipped: admesh is not installed");
        return;
    }
    const Folder folder("stl-admesh");
    const TriMesh mesh = drilled_plate();
    write_stl(mesh, folder / "plate.stl");
    const std::string report = output_of("admesh " + (folder / "plate.stl").string());
    const auto number_after = [&](const std::string& label) {
        const auto at = report.find(label);
        REQUIRE(at != std::string::npos);
        return std::stod(report.substr(report.find(':', at) + 1));
    };
    CHECK(number_after("Volume") == Approx(measure_mesh(mesh).volume.mm3()).epsilon(1e-5));
    CHECK(number_after("Number of parts") == 1);
    CHECK(number_after("Degenerate facets") == 0);
    CHECK(number_after("Edges fixed") == 0);
    CHECK(number_after("Facets removed") == 0);
    CHECK(number_after("Facets reversed") == 0);
    CHECK(number_after("Backwards edges") == 0);
}

TEST_CASE("a text STL is read, with words in any layout", "[measure][stl]") {
    const Folder folder("stl-text");
    write_text(folder / "t.stl",
               "solid t\nfacet normal 0 0 1\n outer loop\n vertex 0 0 0\n vertex 1 0 0 vertex 0 1 0\n "
               "endloop\nendfacet\nendsolid t\n");
    const TriMesh mesh = require(read_stl(folder / "t.stl"));
    CHECK(mesh.triangles.size() == 1);
    CHECK(mesh.vertices[1] == Point3{1, 0, 0});
}

TEST_CASE("a broken STL is refused with its reason", "[measure][stl][fault]") {
    const Folder folder("stl-broken");
    const auto fault_of = [&](const std::string& name) {
        const auto result = read_stl(folder / name);
        REQUIRE_FALSE(result.has_value());
        CHECK(result.error().code == FaultCode::Unreadable);
        return result.error().what;
    };
    CHECK(fault_of("missing.stl") == "missing.stl: missing or empty");
    write_text(folder / "empty.stl", "");
    CHECK(fault_of("empty.stl") == "empty.stl: missing or empty");
    write_stl(drilled_plate(), folder / "whole.stl");
    std::filesystem::copy_file(folder / "whole.stl", folder / "cut.stl");
    std::filesystem::resize_file(folder / "cut.stl", 84 + 50 * 3 + 7);
    CHECK(fault_of("cut.stl").find("neither text nor the length for") != std::string::npos);
    write_text(folder / "prose.stl", "solid words and nothing else");
    CHECK(fault_of("prose.stl") == "prose.stl: no STL file, or one without a facet");
    write_text(folder / "four.stl", "solid\nfacet\nvertex 0 0 0\nvertex 1 0 0\nvertex 1 1 0\nvertex 0 1 0\nendfacet\n");
    CHECK(fault_of("four.stl") == "four.stl: a facet with 4 vertices, 3 wanted");
    TriMesh wild = drilled_plate();
    wild.vertices[3].y = std::nan("");
    write_stl(wild, folder / "nan.stl");
    CHECK(fault_of("nan.stl") == "nan.stl: a coordinate is not a finite number");
}

TEST_CASE("faults of a mesh are seen and not healed", "[measure][mesh]") {
    const TriMesh good =
        require(geom::measure::tessellate(geom::to_brep(box({0, 0, 0}, {10, 20, 30})), geom::Length::mm(0.05), {}));
    REQUIRE(measure_mesh(good).closed);
    REQUIRE(measure_mesh(good).volume.mm3() == Approx(6000.0));
    SECTION("a missing facet") {
        TriMesh bad = good;
        bad.triangles.pop_back();
        CHECK_FALSE(measure_mesh(bad).closed);
    }
    SECTION("a facet turned over") {
        TriMesh bad = good;
        std::swap(bad.triangles[4][0], bad.triangles[4][1]);
        CHECK(measure_mesh(bad).closed);
        CHECK_FALSE(measure_mesh(bad).oriented);
    }
    SECTION("a T-junction: a vertex on a neighbour's side") {
        TriMesh bad = good;
        const auto t = bad.triangles[0];
        const auto v = static_cast<std::uint32_t>(bad.vertices.size());
        bad.vertices.push_back((bad.vertices[t[0]] + bad.vertices[t[1]]) * 0.5);
        bad.triangles[0] = {t[0], v, t[2]};
        bad.triangles.push_back({v, t[1], t[2]});
        CHECK_FALSE(measure_mesh(bad).closed);
        CHECK(measure_mesh(bad).volume.mm3() == Approx(6000.0));  // and its volume looks right
    }
    SECTION("a facet without area") {
        TriMesh bad = good;
        bad.triangles.push_back({0, 1, 1});
        const auto v = static_cast<std::uint32_t>(bad.vertices.size());
        bad.vertices.push_back((bad.vertices[0] + bad.vertices[1]) * 0.5);
        bad.triangles.push_back({0, v, 1});
        CHECK(measure_mesh(bad).degenerate == 2);
    }
    SECTION("two bodies") {
        CHECK(measure_mesh(geom::measure::merged({good, good})).components == 2);
        CHECK(measure_mesh(good).components == 1);
    }
    SECTION("the mesh from the other side has the negative volume") {
        CHECK(measure_mesh(geom::reversed(good)).volume.mm3() == Approx(-6000.0));
        CHECK(geom::measure::winding_number(good, {5, 5, 5}) == Approx(1.0));
        CHECK(geom::measure::winding_number(geom::reversed(good), {5, 5, 5}) == Approx(-1.0));
        CHECK(geom::measure::winding_number(good, {15, 5, 5}) == Approx(0.0).margin(1e-12));
    }
}

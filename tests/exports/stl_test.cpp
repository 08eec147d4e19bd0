// The outside judge of our STL is admesh (Debian), a reader and repairer of another house.
#include "exports/stl.h"
#include "tests/exports/test_parts.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <map>
#include <memory>
#include <regex>
#include <set>

using exports::float_facets;
using exports::stl_bytes;
using geom::Point3;
using geom::TriMesh;

namespace {

std::string output_of(const std::string& command) {
    const std::unique_ptr<std::FILE, int (*)(std::FILE*)> pipe(popen(command.c_str(), "r"), pclose);
    REQUIRE(pipe);
    std::string text;
    std::array<char, 4096> buffer{};
    while (const std::size_t n = std::fread(buffer.data(), 1, buffer.size(), pipe.get())) text.append(buffer.data(), n);
    return text;
}

/// The number that follows `label` and a colon in admesh's table.
double admesh_value(const std::string& text, const std::string& label) {
    std::smatch m;
    REQUIRE(std::regex_search(text, m, std::regex(label + R"(\s*:\s*(-?[0-9.eE+]+))")));
    return std::stod(m[1]);
}

struct Facet {
    std::array<float, 12> values{};
};
std::vector<Facet> facets_in(const std::string& bytes) {
    std::uint32_t count = 0;
    std::memcpy(&count, bytes.data() + 80, 4);
    REQUIRE(bytes.size() == 84 + 50ull * count);
    std::vector<Facet> facets(count);
    for (std::size_t i = 0; i < count; ++i) std::memcpy(facets[i].values.data(), bytes.data() + 84 + 50 * i, 48);
    return facets;
}

/// Every directed edge once, and its opposite once.
bool is_closed(const TriMesh& mesh) {
    std::map<std::pair<std::uint32_t, std::uint32_t>, int> edges;
    for (const auto& t : mesh.triangles)
        for (std::size_t c = 0; c < 3; ++c) ++edges[{t[c], t[(c + 1) % 3]}];
    for (const auto& [edge, count] : edges) {
        const auto opposite = edges.find({edge.second, edge.first});
        if (count != 1 || opposite == edges.end() || opposite->second != 1) return false;
    }
    return !edges.empty();
}

double least_area(const TriMesh& mesh) {
    double least = 1e300;
    for (std::size_t i = 0; i < mesh.triangles.size(); ++i)
        least = std::min(
            least, 0.5 * norm(cross(mesh.corner(i, 1) - mesh.corner(i, 0), mesh.corner(i, 2) - mesh.corner(i, 0))));
    return least;
}

/// A tetrahedron whose edge from vertex 0 to 1 is cut by a vertex off the edge by `off` mm, so that two facets are
/// thin.
TriMesh thin_tetrahedron(double off) {
    return {{{0, 0, 0}, {100, 0, 0}, {0, 100, 0}, {0, 0, 100}, {50, off, off}},
            {{0, 2, 4}, {4, 2, 1}, {0, 4, 3}, {4, 1, 3}, {0, 3, 2}, {1, 2, 3}}};
}

}  // namespace

TEST_CASE("another library reads our STL as one closed part of the right volume", "[exports][stl][oracle]") {
    const support::TempFolder folder;
    struct Case {
        const char* name;
        geom::Brep solid;
        double volume_mm3;  // < 0: that of the mesh
    };
    for (const Case& c :
         {Case{"plain", test_parts::plain_box(200, 150, 100), 200.0 * 150 * 100},
          Case{"hollow", test_parts::hollow_box(240, 260, 330, 6, 24), -1.0}, Case{"loft", test_parts::loft(), -1.0}}) {
        CAPTURE(c.name);
        const TriMesh mesh = test_parts::mesh_of(c.solid, 0.5);
        const auto file = folder.write(std::string(c.name) + ".stl", stl_bytes(mesh, c.name));
        // -c -e would repair; only the exact check is asked for.
        const std::string said = output_of("admesh --no-check --exact " + file.string() + " 2>&1");
        REQUIRE(said.find("Total disconnected facets") != std::string::npos);
        CHECK(admesh_value(said, "Total disconnected facets") == 0);
        CHECK(said.find("binary STL") != std::string::npos);
        // A full run repairs and measures; it must find nothing to repair.
        const std::string whole = output_of("admesh " + file.string() + " 2>&1");
        CHECK(admesh_value(whole, "Number of parts") == 1);
        CHECK(admesh_value(whole, "Degenerate facets") == 0);
        CHECK(admesh_value(whole, "Edges fixed") == 0);
        CHECK(admesh_value(whole, "Facets removed") == 0);
        CHECK(admesh_value(whole, "Facets added") == 0);
        CHECK(admesh_value(whole, "Facets reversed") == 0);
        CHECK(admesh_value(whole, "Backwards edges") == 0);
        CHECK(admesh_value(whole, "Normals fixed") == 0);
        const double wanted = c.volume_mm3 > 0.0 ? c.volume_mm3 : geom::signed_volume_mm3(mesh);
        CHECK(admesh_value(whole, "Volume") == Approx(wanted).epsilon(2e-5));  // it sums in single precision
    }
}

TEST_CASE("the header never makes a reader take the file for text", "[exports][stl]") {
    const std::string bytes = stl_bytes(test_parts::mesh_of(test_parts::plain_box(10, 10, 10), 1.0), "solid\n\xc3\xa4");
    CHECK(bytes.substr(0, 5) != "solid");
    CHECK(bytes.substr(0, 9) == "gapwright");
    CHECK(bytes.find('\n') >= 80);
}

TEST_CASE("facets carry unit normals that agree with their corners", "[exports][stl]") {
    for (const Facet& f : facets_in(stl_bytes(test_parts::mesh_of(test_parts::loft(), 1.0), "loft"))) {
        const auto at = [&](std::size_t k) { return geom::Vec3{f.values[k], f.values[k + 1], f.values[k + 2]}; };
        const geom::Vec3 n = geom::unit(cross(at(6) - at(3), at(9) - at(3)));
        CHECK(norm(at(0)) == Approx(1.0).margin(1e-6));
        CHECK(norm(at(0) - n) < 1e-5);
    }
}

TEST_CASE("vertices that round to one place take their facet away and leave the mesh closed", "[exports][stl]") {
    TriMesh mesh = thin_tetrahedron(5.0);
    const double before = geom::signed_volume_mm3(mesh);
    mesh.vertices[4] = {100.0 - 1e-6, 1e-9, 0};  // a float at 100 is 7.6e-6 wide, at 1e-9 it is not: so y is moved too
    mesh.vertices[4].y = 0.0;
    REQUIRE(before > 0.0);
    REQUIRE(is_closed(mesh));
    const auto out = float_facets(mesh);
    CHECK(out.dropped == 2);
    CHECK(out.mesh.vertices.size() == 4);
    CHECK(is_closed(out.mesh));
    CHECK(geom::signed_volume_mm3(out.mesh) == Approx(1e6 / 6.0));
}

TEST_CASE("a facet whose corners round to a line is swapped away and leaves the mesh closed", "[exports][stl]") {
    // The vertex stands 1e-9 mm above the facet 0 1 2 and its foot lies on the edge 1 2 once rounded.
    TriMesh mesh{{{0, 0, 0}, {128, 0, 0}, {0, 128, 0}, {0, 0, 128}, {64 + 1e-7, 64 + 1e-7, 0}},
                 {{0, 2, 1}, {1, 2, 4}, {0, 1, 3}, {0, 3, 2}, {1, 4, 3}, {4, 2, 3}}};
    REQUIRE(is_closed(mesh));
    const auto out = float_facets(mesh);
    CHECK(out.flipped == 1);
    CHECK(is_closed(out.mesh));
    CHECK(least_area(out.mesh) > 1.0);
    CHECK(geom::signed_volume_mm3(out.mesh) == Approx(128.0 * 128 * 128 / 6));
}

TEST_CASE("two facets on the same corners that face each other vanish together", "[exports][stl]") {
    TriMesh mesh = thin_tetrahedron(5.0);
    const std::uint32_t far = static_cast<std::uint32_t>(mesh.vertices.size());
    mesh.vertices.insert(mesh.vertices.end(), {{300, 0, 0}, {310, 0, 0}, {300, 10, 0}});
    mesh.triangles.push_back({far, far + 1, far + 2});
    mesh.triangles.push_back({far, far + 2, far + 1});
    const auto out = float_facets(mesh);
    CHECK(out.dropped == 2);
    CHECK(out.mesh.triangles.size() == mesh.triangles.size() - 2);
    CHECK(is_closed(out.mesh));
}

TEST_CASE("the file is the same when it is written again", "[exports][stl]") {
    const auto write = [] { return stl_bytes(test_parts::mesh_of(test_parts::loft(), 1.0), "loft"); };
    CHECK(write() == write());
}

TEST_CASE("a folder that cannot be written to is a fault that names the file", "[exports][stl]") {
    const auto status =
        exports::write_stl(test_parts::mesh_of(test_parts::plain_box(1, 1, 1), 1), "x", "/nowhere/x.stl");
    REQUIRE_FALSE(status.has_value());
    CHECK(status.error().code == geom::FaultCode::CannotWrite);
    CHECK(status.error().what == "x.stl cannot be written: No such file or directory");
}

TEST_CASE("a full disk is a fault and not a short file", "[exports][stl]") {
    const auto status = exports::write_stl(test_parts::mesh_of(test_parts::loft(), 1.0), "x", "/dev/full");
    REQUIRE_FALSE(status.has_value());
    CHECK(status.error().what == "full cannot be written: No space left on device");
}

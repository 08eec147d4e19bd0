#include "exports/ply.h"
#include "exports/write_files.h"
#include "geom/scan/read.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

using namespace exports;
using geom::Point3;
using support::read_bytes;

namespace {

geom::scan::RawScan read_back(const std::string& bytes) {
    const support::TempFolder folder;
    REQUIRE(write_whole(folder.path() / "scan.ply", bytes).has_value());
    geom::scan::ReadOptions options;
    options.any_extent = true;
    auto scan = geom::scan::read_scans({folder.path() / "scan.ply"}, options, {});
    REQUIRE(scan.has_value());
    return std::move(*scan);
}

}  // namespace

TEST_CASE("a levelled scan is read back with its normals, without what the program put in", "[exports][ply]") {
    geom::scan::Surface surface;
    for (int i = 0; i < 30; ++i) {
        surface.points.push_back({1.25 * i, 0.1 * (i % 7), 300.0 - i});
        surface.normals.push_back(geom::unit({1.0, 0.1 * i, -0.3}));
    }
    surface.edge_begin = 24, surface.edge_end = 28;
    const auto back = read_back(ply_of_surface(surface));
    REQUIRE(back.points.size() == 24);
    REQUIRE(back.normals.size() == 24);
    for (std::size_t i = 0; i < 24; ++i) {
        CHECK(geom::distance(back.points[i], surface.points[i]) < 3e-5);
        CHECK(geom::distance(back.normals[i], surface.normals[i]) < 1e-6);
    }
}

TEST_CASE("far from the origin nothing is lost", "[exports][ply]") {
    geom::scan::Surface surface;
    for (int i = 0; i < 30; ++i) {
        surface.points.push_back({4.5e8 + 0.001 * i, 5.6e9 + i % 5, 1e5});
        surface.normals.push_back({0, 0, 1});
    }
    surface.edge_begin = surface.edge_end = 30;
    const auto back = read_back(ply_of_surface(surface));
    REQUIRE(back.points.size() == 30);
    for (std::size_t i = 0; i < 30; ++i) CHECK(back.points[i] == surface.points[i]);
}

TEST_CASE("a mesh is read back with its triangles", "[exports][ply]") {
    const geom::TriMesh mesh{{{0, 0, 0}, {80, 0, 0}, {0, 80, 0}, {0, 0, 80}},
                             {{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {2, 0, 3}}};
    const auto back = read_back(ply_of_mesh(mesh));
    CHECK(back.points == mesh.vertices);
    CHECK(back.triangles == mesh.triangles);
}

TEST_CASE("a file that cannot be written leaves the one that was there, and nothing beside it", "[exports][ply]") {
    const support::TempFolder folder;
    const auto file = folder.path() / "keep.ply";
    REQUIRE(write_whole(file, "first").has_value());
    REQUIRE(write_whole(file, "second").has_value());
    CHECK(read_bytes(file) == "second");
    std::filesystem::create_directory(folder.path() / "taken.ply");
    const auto refused = write_together(folder.path(), {{"keep.ply", "third"}, {"taken.ply", "third"}});
    REQUIRE_FALSE(refused.has_value());
    CHECK(refused.error().code == geom::FaultCode::CannotWrite);
    CHECK(read_bytes(file) == "second");
    std::size_t entries = 0;
    for ([[maybe_unused]] const auto& entry : std::filesystem::directory_iterator(folder.path())) ++entries;
    CHECK(entries == 2);
}

// Several files of several kinds, polygons of every outline, and what is kept under a memory limit.
#include "geom/scan/surface.h"
#include "tests/scan/scan_files.h"
#include "tests/support/temp_folder.h"

#include <fmt/format.h>

#include <map>

using namespace geom;
using namespace geom::scan;
using namespace scan_files;
using Catch::Matchers::Contains;
using support::TempFolder;

namespace {

double area_of(const RawScan& scan) {
    double area = 0.0;
    for (const auto& t : scan.triangles)
        area += norm(cross(scan.points[t[1]] - scan.points[t[0]], scan.points[t[2]] - scan.points[t[0]])) / 2.0;
    return area;
}

/// Area by the shoelace sum, which knows nothing of triangles.
double shoelace(const std::vector<Point3>& outline) {
    double twice = 0.0;
    for (std::size_t i = 0; i < outline.size(); ++i) {
        const Point3 a = outline[i], b = outline[(i + 1) % outline.size()];
        twice += a.x * b.y - a.y * b.x;
    }
    return std::abs(twice) / 2.0;
}

std::string cloud_ply(std::size_t points, bool normals, bool text = false) {
    std::string bytes = fmt::format(
        "ply\nformat {} 1.0\nelement vertex {}\nproperty float x\nproperty float y\nproperty float z\n{}"
        "end_header\n",
        text ? "ascii" : "binary_little_endian", points,
        normals ? "property float nx\nproperty float ny\nproperty float nz\n" : "");
    for (std::size_t i = 0; i < points; ++i) {
        const double x = static_cast<double>(i), y = static_cast<double>(i * 53 % 9973),
                     z = static_cast<double>(i % 31);
        if (text) {
            bytes += fmt::format("{} {} {}{}\n", x, y, z, normals ? " 0 0 1" : "");
            continue;
        }
        for (double v : {x, y, z}) put(bytes, static_cast<float>(v));
        if (normals)
            for (float v : {0.0f, 0.0f, 1.0f}) put(bytes, v);
    }
    return bytes;
}

}  // namespace

TEST_CASE("a polygon that turns in is cut into triangles of its own area, in OBJ, OFF and PLY",
          "[scan][read][polygon]") {
    const TempFolder folder;
    const std::vector<Point3> outline = GENERATE(
        std::vector<Point3>{{0, 0, 0}, {100, 0, 0}, {20, 20, 0}, {0, 100, 0}},  // dart
        std::vector<Point3>{{20, 20, 0}, {0, 100, 0}, {0, 0, 0}, {100, 0, 0}},  // dart from its notch
        std::vector<Point3>{
            {0, 0, 0}, {90, 0, 0}, {90, 90, 0}, {60, 90, 0}, {60, 30, 0}, {30, 30, 0}, {30, 90, 0}, {0, 90, 0}},  // U
        std::vector<Point3>{
            {0, 0, 0}, {50, 0, 0}, {100, 0, 0}, {100, 100, 0}, {50, 100, 0}, {0, 100, 0}});  // corners on a side
    CAPTURE(outline.size());
    std::string v, face, list;
    for (std::size_t i = 0; i < outline.size(); ++i) {
        v += fmt::format("{} {} {}\n", outline[i].x, outline[i].y, outline[i].z);
        face += fmt::format(" {}", i + 1);
        list += fmt::format(" {}", i);
    }
    std::string obj;
    for (std::size_t i = 0, at = 0; i < outline.size(); ++i) {
        const std::size_t end = v.find('\n', at) + 1;
        obj += "v " + v.substr(at, end - at);
        at = end;
    }
    const std::size_t n = outline.size();
    for (const auto& file :
         {folder.write("p.obj", "f" + face + "\n" + obj),  // vertices after the face
          folder.write("p.off", fmt::format("OFF\n{} 1 0\n{}{}{}\n", n, v, n, list)),
          folder.write(
              "p.ply",
              fmt::format(
                  "ply\nformat ascii 1.0\nelement face 1\nproperty list uchar int vertex_indices\n"
                  "element vertex {}\nproperty float z\nproperty double x\nproperty float y\nend_header\n{}{}\n",
                  n, n, list) +
                  [&] {
                      std::string rows;
                      for (const Point3& p : outline) rows += fmt::format("{} {} {}\n", p.z, p.x, p.y);
                      return rows;
                  }())}) {
        CAPTURE(file.string());
        const RawScan scan = require(read(file));
        CHECK(scan.triangles.size() == n - 2);
        CHECK(area_of(scan) == Approx(shoelace(outline)).epsilon(1e-12));
        for (const auto& t : scan.triangles)  // none lies on its back
            CHECK(cross(scan.points[t[1]] - scan.points[t[0]], scan.points[t[2]] - scan.points[t[0]]).z >= 0.0);
    }
}

TEST_CASE("an OBJ's vertex colours are noted and its fourth coordinate is none", "[scan][read][obj]") {
    const TempFolder folder;
    const RawScan coloured =
        require(read(folder.write("c.obj", "v 0 0 0 1 0 0\nv 100 0 0 0 1 0\nv 0 100 0 0 0 1\nf 1 2 3\n")));
    CHECK(coloured.files[0].has_colours);
    CHECK(coloured.triangles.size() == 1);
    CHECK_FALSE(require(read(folder.write("w.obj", "v 0 0 0 1.0\nv 100 0 0 1.0\nv 0 100 0 1.0\nf 1 2 3\n")))
                    .files[0]
                    .has_colours);
}

TEST_CASE("clouds and meshes in one job become points alike", "[scan][read]") {
    const TempFolder folder;
    const auto mesh = folder.write("m.off", "OFF\n4 2 0\n0 0 0\n100 0 0\n100 100 0\n0 100 0\n3 0 1 2\n3 0 2 3\n");
    const auto cloud = folder.write("c.xyz", "0 0 50\n100 0 50\n0 100 50\n");
    const RawScan scan = require(read_scans({mesh, cloud}, {}, {}));
    CHECK(scan.triangles.empty());
    CHECK(scan.points.size() > 9000);  // a point a square millimetre
    std::size_t above = 0, outside = 0;
    for (const Point3& p : scan.points) {
        above += p.z == 50.0 ? 1 : 0;
        outside += p.x < 0 || p.x > 100 || p.y < 0 || p.y > 100 || (p.z != 0.0 && p.z != 50.0) ? 1 : 0;
    }
    CHECK(above == 3);
    CHECK(outside == 0);
    REQUIRE(scan.files.size() == 2);
    CHECK(scan.files[0].triangles == 2);
    CHECK(scan.files[1].format == "text with columns");
}

TEST_CASE("a cloud over the memory limit is refused with what would fit, and what would fit does",
          "[scan][read][memory]") {
    const TempFolder folder;
    const bool is_text = GENERATE(false, true), has_normals = GENERATE(false, true);
    CAPTURE(is_text, has_normals);
    constexpr std::size_t kPoints = 10000;
    const auto file = folder.write("c.ply", cloud_ply(kPoints, has_normals, is_text));
    ReadOptions options;
    options.memory_limit_bytes = 200e3;
    const Fault fault = require_fault(read_scans({file}, options, {}));
    CHECK(fault.code == FaultCode::MemoryLimit);
    CHECK_THAT(fault.what, Contains("c.ply: 10000 points") && Contains("wanted at most 1 MB"));
    const std::size_t key = fault.hint.find("keep_every = ");
    REQUIRE(key != std::string::npos);
    CHECK_THAT(fault.hint, Contains("one a voxel") && Contains("times as wide as the points lie apart"));
    options.keep_every = static_cast<std::size_t>(std::atoi(fault.hint.c_str() + key + 13));
    const RawScan thinned = require(read_scans({file}, options, {}));
    CHECK(thinned.points.size() == (kPoints + options.keep_every - 1) / options.keep_every);
    CHECK(thinned.points[1].x == static_cast<double>(options.keep_every));
    CHECK(thinned.normals.size() == (has_normals ? thinned.points.size() : 0));
    CHECK(thinned.files[0].points == kPoints);
    options.keep_every -= 1;
    CHECK(require_fault(read_scans({file}, options, {})).code == FaultCode::MemoryLimit);
    options.keep_every = 0;
    CHECK(require(read_scans({file}, options, {})).points == thinned.points);
}

TEST_CASE("the limit is one for all files, holds for text too, and a mesh is refused with the triangles that fit",
          "[scan][read][memory]") {
    const TempFolder folder;
    std::string text;
    for (int i = 0; i < 5000; ++i) text += fmt::format("{} {} {}\n", i, i % 97, i % 31);
    const auto a = folder.write("a.xyz", text), b = folder.write("b.xyz", text);
    ReadOptions options;
    options.memory_limit_bytes = 300e3;
    CHECK(require(read_scans({a}, options, {})).points.size() == 5000);
    const Fault both = require_fault(read_scans({a, b}, options, {}));
    CHECK(both.code == FaultCode::MemoryLimit);
    CHECK_THAT(both.what, Contains("b.xyz: 5000 points") && Contains("beside the files before it"));
    std::string off = "OFF\n5000 6000 0\n";
    for (int i = 0; i < 5000; ++i) off += fmt::format("{} {} {}\n", i, i % 97, i % 31);
    for (int i = 0; i < 6000; ++i) off += fmt::format("3 {} {} {}\n", i % 4990, i % 4990 + 1, i % 4990 + 5);
    const Fault mesh = require_fault(read_scans({folder.write("m.off", off)}, options, {}));
    CHECK(mesh.code == FaultCode::MemoryLimit);
    CHECK_THAT(mesh.what, Contains("5000 points and 6000 triangles"));
    CHECK_THAT(mesh.hint, Contains("reduce the mesh to at most 5625 triangles"));  // 6000 x 300 / 320
}

TEST_CASE("text of many pieces gives the points of the file in its order, and a fault its line", "[scan][read][text]") {
    const TempFolder folder;
    std::string bytes = "// x y z intensity\r\n";
    const int lines = 200000;  // some megabytes, so several pieces
    for (int i = 0; i < lines; ++i) bytes += fmt::format("{}.125\t{}\t-{}.5\t0.25\r\n", i / 100, i % 97, i % 31);
    const RawScan scan = require(read(folder.write("m.xyz", bytes)));
    REQUIRE(scan.points.size() == static_cast<std::size_t>(lines));
    CHECK(scan.points[150000] == Point3{1500.125, 150000 % 97, -(150000 % 31) - 0.5});
    CHECK(scan.points[lines - 1].x == lines / 100 - 1 + 0.125);
    const Fault fault = require_fault(read(folder.write("f.xyz", bytes + "1 2 three\r\n")));
    CHECK_THAT(fault.what, Contains(fmt::format("line {}: \"three\"", lines + 2)));
}

TEST_CASE("a large text PLY is read in pieces as it is line by line", "[scan][read][ply]") {
    const TempFolder folder;
    ReadOptions options;
    options.any_extent = true;
    const std::string bytes = cloud_ply(120000, true, true);
    const RawScan fast = require(read_scans({folder.write("f.ply", bytes)}, options, {}));
    REQUIRE(fast.points.size() == 120000);
    CHECK(fast.points[119999] == Point3{119999, 119999 * 53 % 9973, 119999 % 31});
    CHECK(fast.normals.size() == 120000);
    const Fault fault = require_fault(read_scans({folder.write("x.ply", bytes + "1 1 1 0 0 1\n")}, options, {}));
    CHECK_THAT(fault.what, Contains("after all that the PLY header declares"));
}

TEST_CASE("a binary PLY cut at any byte is a fault, and so is a binary STL",
          "[scan][read][ply][stl][fault][property]") {
    const TempFolder folder;
    std::string ply =
        "ply\nformat binary_big_endian 1.0\nelement vertex 4\nproperty double x\nproperty float y\nproperty float z\n"
        "element face 2\nproperty list uchar int vertex_indices\nend_header\n";
    for (const auto& [x, y] : {std::pair{0.0, 0.0f}, {90.0, 0.0f}, {90.0, 90.0f}, {0.0, 90.0f}}) {
        put(ply, x, true);
        put(ply, y, true);
        put(ply, 1.0f, true);
    }
    for (const std::array<std::int32_t, 3>& face : {std::array<std::int32_t, 3>{0, 1, 2}, {0, 2, 3}}) {
        ply += '\3';
        for (std::int32_t i : face) put(ply, i, true);
    }
    std::string stl(80, ' ');
    put(stl, std::uint32_t{2});
    for (int t = 0; t < 2; ++t) {
        for (int i = 0; i < 12; ++i) put(stl, static_cast<float>(i * i + 7 * t));
        put(stl, std::uint16_t{0});
    }
    for (const auto& [name, whole] : {std::pair<std::string, std::string>{"c.ply", ply}, {"c.stl", stl}}) {
        CAPTURE(name);
        REQUIRE(read(folder.write(name, whole)).has_value());
        for (std::size_t n = 0; n < whole.size(); ++n) {
            const auto result = read(folder.write(name, whole.substr(0, n)));
            if (result) FAIL("cut at byte " << n << " of " << whole.size() << " was read");
            REQUIRE_FALSE(result.error().what.empty());
        }
    }
}

TEST_CASE("a surface over its memory limit is refused with the thinning that would fit, and that fits",
          "[scan][surface][memory]") {
    // 600 000 points of a plane, 2 mm apart: none is thinned away at 1.5 to 2 mm.
    RawScan scan;
    for (int i = 0; i < 1000; ++i)
        for (int j = 0; j < 600; ++j) scan.points.push_back({2.0 * i, 2.0 * j, 0.0});
    SurfaceOptions options;
    options.memory_limit_bytes = 40e6;
    const auto refused = estimate_surface(scan, options, {});
    REQUIRE_FALSE(refused.has_value());
    CHECK(refused.error().code == FaultCode::MemoryLimit);
    const std::size_t key = refused.error().hint.find("thin = \"");
    REQUIRE(key != std::string::npos);
    options.thin = Length::mm(std::atof(refused.error().hint.c_str() + key + 8));
    CHECK(options.thin.mm() < 12.0);
    CHECK(estimate_surface(scan, options, {}).has_value());
}

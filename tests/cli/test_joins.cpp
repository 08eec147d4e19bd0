// Two passes of one gap brought together by the program, and a cloud with a mesh beside it.
#include "geom/core/random.h"
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>

namespace {

using Catch::Contains;
using geom::Point3;
using geom::Vec3;
using support::box_gap_job;

/// The box gap about every 4 mm, with noise; a side wall is seen where `sees` says so.
template <class Sees>
std::vector<Point3> pass_of_gap(std::uint64_t seed, double noise_mm, Sees sees) {
    geom::Random random(seed);
    std::vector<Point3> points;
    const auto strew = [&](Point3 corner, Vec3 a, Vec3 b) {
        // A step of 4 mm, each point somewhere in the middle half of its cell: no two passes share a point.
        const int m = static_cast<int>(norm(a) / 4.0), n = static_cast<int>(norm(b) / 4.0);
        for (int i = 0; i < m; ++i)
            for (int j = 0; j < n; ++j) {
                const Point3 p =
                    corner + a * ((i + random.uniform(0.25, 0.75)) / m) + b * ((j + random.uniform(0.25, 0.75)) / n);
                if (sees(p)) points.push_back(p + Vec3{random.normal(), random.normal(), random.normal()} * noise_mm);
            }
    };
    const Vec3 x{200, 0, 0}, y{0, 250, 0}, z{0, 0, 250};
    strew({-100, 0, 0}, x, y);
    strew({-100, 0, 250}, x, y);
    strew({-100, 250, 0}, x, z);
    strew({-100, 0, 0}, y, z);
    strew({100, 0, 0}, y, z);
    return points;
}

/// Held to the left: the right wall is seen below 130 alone. Held to the right: the left wall above 120.
std::vector<Point3> left_pass() {
    return pass_of_gap(5, 0.3, [](Point3 p) { return p.x < 99.0 || p.z < 130.0; });
}
std::vector<Point3> right_pass() {
    return pass_of_gap(6, 0.3, [](Point3 p) { return p.x > -99.0 || p.z > 120.0; });
}

/// Turned by 0.4 deg about an upright through the middle, and shifted.
std::vector<Point3> displaced(std::vector<Point3> points, Vec3 shift) {
    const double a = 0.4 * M_PI / 180.0, c = std::cos(a), s = std::sin(a);
    for (Point3& p : points) {
        const Vec3 d = p - Point3{0, 125, 125};
        p = Point3{c * d.x - s * d.y, s * d.x + c * d.y, d.z} + Point3{0, 125, 125} + shift;
    }
    return points;
}

std::string two_pass_job(const std::string& join) {
    return box_gap_job("files = [\"gap.ply\"]", "files = [\"left.ply\", \"right.ply\"]\njoin = \"" + join + "\"");
}

}  // namespace

TEST_CASE("a second pass three millimetres off is joined by fit, and the box keeps its clearance to the true walls",
          "[cli][placing][fit]") {
    const support::TempFolder folder;
    folder.write("job.toml", two_pass_job("fit"));
    folder.write("left.ply", support::as_binary_ply(left_pass()));
    folder.write("right.ply", support::as_binary_ply(displaced(right_pass(), {2.0, -1.5, 1.8})));
    const auto ran = support::run_program({"enclosure", (folder.path() / "job.toml").string()});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == 0);
    CHECK_THAT(ran.out, Contains("right.ply: moved ") && Contains("onto the first file"));
    const auto report = nlohmann::json::parse(support::read_bytes(folder.path() / "box-gap/report.json"));
    const auto& fit = report["scan"]["placing"][1]["fit"];
    CHECK_FALSE(report["scan"]["placing"][0].contains("fit"));
    CHECK(fit["overlap"].get<double>() > 0.6);
    CHECK(fit["moved_mm"].get<double>() > 2.5);
    CHECK(fit["turned_deg"].get<double>() == Approx(0.4).margin(0.03));
    CHECK(fit["after_mm"].get<double>() < 0.35);
    CHECK(fit["before_mm"].get<double>() > 1.0);
    // 4 mm from the planes that both passes are of; the stated bound is the surface's own.
    const double bound = report["scan"]["bound_mm"].get<double>();
    CHECK(bound < 0.8);
    const auto& box = report["solid"]["bounding_box_mm"];
    CHECK(box["min"][0].get<double>() > -96.0 - bound);
    CHECK(box["max"][0].get<double>() < 96.0 + bound);
    CHECK(box["max"][1].get<double>() < 246.0 + bound);
    CHECK(box["min"][2].get<double>() > 4.0 - bound);
    CHECK(box["max"][2].get<double>() < 246.0 + bound);
    // Joined, it fills the gap: as scanned the walls stand nearer by what the pass is off.
    CHECK(box["min"][0].get<double>() < -95.0);
    CHECK(box["max"][0].get<double>() > 95.0);
    for (const auto& check : report["checks"]) CHECK(check["ok"].get<bool>());
}

TEST_CASE("a pass that lies too far off to be fitted is a fault that says by how much it overlaps",
          "[cli][placing][fit]") {
    const support::TempFolder folder;
    folder.write("job.toml", two_pass_job("fit"));
    folder.write("left.ply", support::as_binary_ply(left_pass()));
    folder.write("right.ply", support::as_binary_ply(displaced(right_pass(), {600.0, 0.0, 400.0})));
    const auto before = support::contents_of(folder.path());
    const auto ran = support::run_program({"enclosure", (folder.path() / "job.toml").string()});
    INFO(ran.err << ran.out);
    CHECK(ran.exit == 3);
    CHECK_THAT(ran.err, Contains("right.ply overlaps the first file by 0 % (within 10 mm); wanted 10 % at least") &&
                            Contains("  try:   place it nearer"));
    CHECK(support::contents_of(folder.path()) == before);
}

TEST_CASE("a mesh beside a cloud counts by its whole surface, and it is said so", "[cli][placing][mixed]") {
    // The floor is two triangles, with corners at its edges alone; all else is points.
    const support::TempFolder folder;
    folder.write("job.toml", box_gap_job("files = [\"gap.ply\"]", "files = [\"gap.ply\", \"floor.stl\"]"));
    std::vector<Point3> points;
    for (const Point3& p : support::box_gap_points())
        if (p.z > 0.0) points.push_back(p);
    folder.write("gap.ply", support::as_binary_ply(points));
    folder.write(
        "floor.stl",
        "solid floor\n"
        "facet normal 0 0 1\nouter loop\nvertex -100 0 0\nvertex 100 0 0\nvertex 100 250 0\nendloop\nendfacet\n"
        "facet normal 0 0 1\nouter loop\nvertex -100 0 0\nvertex 100 250 0\nvertex -100 250 0\nendloop\n"
        "endfacet\nendsolid floor\n");
    const auto ran = support::run_program({"enclosure", (folder.path() / "job.toml").string()});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == 0);
    CHECK_THAT(ran.out, Contains("floor.stl: its mesh was read as ") && Contains("another file of the job is a cloud"));
    const auto report = nlohmann::json::parse(support::read_bytes(folder.path() / "box-gap/report.json"));
    const auto& files = report["scan"]["placing"];
    CHECK_FALSE(files[0].contains("mesh_read_as_points"));
    CHECK(files[1]["mesh_read_as_points"]["points"].get<int>() > 45000);  // 200 x 250 mm, about a millimetre apart
    CHECK(files[1]["mesh_read_as_points"]["spacing_mm"].get<double>() <= 1.0);
    CHECK(report["scan"]["from_mesh"] == false);
    const double lowest = report["solid"]["bounding_box_mm"]["min"][2].get<double>();
    CHECK(lowest > 4.0 - 0.1);
    CHECK(lowest < 5.0);
}

#include "geom/scan/diagnosis.h"
#include "tests/support/holed_cavity.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

#include <fstream>
#include <set>
#include <tuple>

using namespace geom;
using namespace geom::scan;

namespace {

Diagnosis diagnosed(const std::vector<Point3>& points) {
    RawScan raw;
    raw.points = points;
    auto d = diagnose(raw, {});
    REQUIRE(d.has_value());
    return std::move(*d);
}

/// A square grid of the plane z = 0, `n` points a side.
std::vector<Point3> grid(int n, double step_mm) {
    std::vector<Point3> points;
    for (int j = 0; j < n; ++j)
        for (int i = 0; i < n; ++i) points.push_back({i * step_mm, j * step_mm, 0.0});
    return points;
}

std::filesystem::path write_xyz(const support::TempFolder& folder, const std::string& name,
                                const std::vector<Point3>& points, double factor) {
    const auto path = folder.path() / name;
    std::ofstream file(path);
    for (const Point3& p : points) file << p.x * factor << ' ' << p.y * factor << ' ' << p.z * factor << '\n';
    return path;
}

}  // namespace

TEST_CASE("planted holes of 15 mm and more are named within 5 mm, and planted outliers are not believed",
          "[scan][diagnosis][property]") {
    const double spacing = GENERATE(2.0, 3.0);
    const double noise = GENERATE(0.0, 0.3);
    const test::HoledCavity cavity = test::holed_cavity(
        {.spacing_mm = spacing, .most_local_mm = 3.2, .noise_mm = noise, .widths_mm = {15, 20, 30, 40}, .seed = 3});
    CAPTURE(spacing, noise);
    const Diagnosis d = diagnosed(cavity.points);
    REQUIRE(d.surface);
    CHECK(d.spacing.median_mm == Approx(spacing).epsilon(0.15));
    CHECK(d.surface->noise_mm == Approx(noise).margin(0.05));
    REQUIRE(cavity.holes.size() == 4);
    for (const auto& hole : cavity.holes) {
        CAPTURE(hole.width_mm, hole.spacing_mm, hole.place.x, hole.place.y, hole.place.z);
        CHECK(std::any_of(d.holes.begin(), d.holes.end(), [&](const Hole& h) {
            return distance(h.place, hole.place) <= 5.0 && std::abs(h.width.mm() - hole.width_mm) < 2.0 + spacing;
        }));
    }
    CHECK(
        std::is_sorted(d.holes.begin(), d.holes.end(), [](const Hole& a, const Hole& b) { return a.width > b.width; }));

    std::set<std::tuple<double, double, double>> strays;
    for (const Point3& p : d.strays) strays.insert({p.x, p.y, p.z});
    const auto dropped = [&](Point3 p) { return strays.count({p.x, p.y, p.z}) > 0; };
    const auto first = cavity.points.begin() + static_cast<std::ptrdiff_t>(cavity.points.size() - cavity.outliers);
    const auto wrong = std::count_if(cavity.points.begin(), first, dropped);
    CHECK(static_cast<double>(wrong) < 0.001 * static_cast<double>(cavity.points.size()));
    std::size_t far = 0, found = 0;
    for (auto p = first; p != cavity.points.end(); ++p)
        if (test::CavityScene::distance(*p) > 3.0) ++far, found += dropped(*p);
    CHECK(static_cast<double>(found) > 0.95 * static_cast<double>(far));
    std::size_t in_clusters = 0;
    for (const Dropped& cluster : d.clusters) in_clusters += cluster.points;
    CHECK(d.outliers + in_clusters == Approx(static_cast<double>(d.strays.size())).epsilon(0.02));
}

TEST_CASE("the spacing of a square grid is its step, and points written twice are counted and do not halve it",
          "[scan][diagnosis]") {
    std::vector<Point3> points = grid(120, 2.0);
    const Diagnosis once = diagnosed(points);
    // The eighth neighbour of a grid is a diagonal one.
    CHECK(once.spacing.median_mm == Approx(2.0 * std::sqrt(2.0 * std::numbers::pi / 8.0)).epsilon(0.01));
    CHECK(once.spacing.p95_mm < 1.7 * once.spacing.median_mm);
    CHECK(once.repeated == 0);
    const std::vector<Point3> copy = points;
    points.insert(points.end(), copy.begin(), copy.end());
    const Diagnosis twice = diagnosed(points);
    CHECK(twice.repeated == copy.size());
    CHECK(twice.spacing.median_mm == Approx(once.spacing.median_mm).epsilon(1e-6));
}

TEST_CASE("points a hair apart are no repeats", "[scan][diagnosis]") {
    std::vector<Point3> points = grid(40, 2.0);
    const std::size_t before = points.size();
    for (std::size_t i = 0; i < before; ++i) points.push_back(points[i] + Vec3{0, 0, 1e-9});
    CHECK(diagnosed(points).repeated == 0);
}

TEST_CASE("a floating cluster is told by place and number of points", "[scan][diagnosis]") {
    std::vector<Point3> points = grid(120, 2.0);
    Random random(5);
    const Point3 middle{100, 120, 60};
    for (int i = 0; i < 40; ++i)
        points.push_back(middle + Vec3{random.normal(), random.normal(), random.normal()} * 1.5);
    points.push_back({30, 40, 90});
    const Diagnosis d = diagnosed(points);
    REQUIRE(d.clusters.size() == 1);
    CHECK(distance(d.clusters[0].place, middle) < 1.0);
    CHECK(d.clusters[0].points >= 36);
    CHECK(d.strays.size() == 41);
    CHECK(d.outliers + d.clusters[0].points == 41);
}

TEST_CASE("a scan without a surface is still told", "[scan][diagnosis]") {
    Random random(2);
    std::vector<Point3> points;
    for (int i = 0; i < 60; ++i)
        points.push_back({random.uniform(0, 900), random.uniform(0, 900), random.uniform(0, 900)});
    const Diagnosis few = diagnosed(std::vector<Point3>(points.begin(), points.begin() + 10));
    CHECK_FALSE(few.surface);
    REQUIRE(few.no_surface);
    CHECK(few.no_surface->code == FaultCode::BadScan);
    CHECK(few.points == 10);
    CHECK(few.spacing.median_mm > 0.0);
}

TEST_CASE("the likeliest unit is taken, a stated one wins, and the scan comes in millimetres",
          "[scan][diagnosis][unit]") {
    const support::TempFolder folder;
    const std::vector<Point3> points = grid(60, 10.0);  // 590 mm
    const auto in_metres = write_xyz(folder, "m.xyz", points, 0.001), in_mm = write_xyz(folder, "mm.xyz", points, 1.0);
    const auto taken = [](const std::filesystem::path& file, std::optional<FileUnit> stated) {
        auto read = read_in_likeliest_unit({file}, stated, {});
        REQUIRE(read.has_value());
        return std::move(*read);
    };
    const auto extent = [](const ReadInUnit& read) {
        Aabb box;
        for (const Point3& p : read.scan.points) box.grow(p);
        return box.size().x;
    };
    const ReadInUnit m = taken(in_metres, {}), mm = taken(in_mm, {}), stated = taken(in_mm, FileUnit::Inch);
    CHECK(m.taken.unit == FileUnit::Metre);
    CHECK(m.taken.by == UnitBy::Likelihood);
    CHECK(extent(m) == Approx(590.0));
    CHECK(mm.taken.unit == FileUnit::Millimetre);
    CHECK(extent(mm) == Approx(590.0));
    CHECK(stated.taken.unit == FileUnit::Inch);
    CHECK(stated.taken.by == UnitBy::Statement);
    CHECK(extent(stated) == Approx(590.0 * 25.4));
    CHECK(mm.taken.by == UnitBy::Habit);  // 5.9 m in centimetres would do as well
    CHECK(stated.taken.guess.plausible.front().unit == FileUnit::Millimetre);
    const auto remarked = folder.path() / "remarked.xyz";
    folder.write("remarked.xyz", "# units: cm\n" + support::read_bytes(in_mm));
    const ReadInUnit cm = taken(remarked, {});
    CHECK(cm.taken.by == UnitBy::Remark);
    CHECK(cm.taken.unit == FileUnit::Centimetre);
    CHECK(taken(remarked, FileUnit::Millimetre).taken.by == UnitBy::Statement);
    const auto speck = write_xyz(folder, "speck.xyz", points, 1e-6);
    const ReadInUnit none = taken(speck, {});
    CHECK(none.taken.by == UnitBy::Default);
    CHECK(none.taken.guess.plausible.empty());
}

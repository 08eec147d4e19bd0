#include "geom/scan/surface.h"
#include "examples/camper_seat_gap/scene.h"
#include "geom/core/parallel.h"
#include "tests/support/cavity_scene.h"

#include <fmt/format.h>
#include <catch2/catch.hpp>

#include <algorithm>
#include <filesystem>

using namespace geom;
using namespace geom::scan;
using Catch::Matchers::Contains;
using test::CavityScene;

namespace {

Surface require_surface(RawScan raw, const SurfaceOptions& options = {}) {
    auto result = estimate_surface(std::move(raw), options, {});
    if (!result) FAIL(result.error().what);
    return *std::move(result);
}

Surface surface_of(std::vector<Point3> points) {
    RawScan raw;
    raw.points = std::move(points);
    return require_surface(std::move(raw));
}

struct Errors {
    double bias = 0, p95 = 0;
    std::vector<double> too_far;  ///< ascending; negative where too near
};

template <class Truth>
Errors errors_of(const Surface& surface, const std::vector<Point3>& places, Truth truth) {
    const SurfaceDistance distance(surface);
    Errors e;
    for (const Point3& p : places) e.too_far.push_back(distance.at(p) - truth(p));
    std::vector<double> size;
    for (const double d : e.too_far) {
        e.bias += d / static_cast<double>(places.size());
        size.push_back(std::abs(d));
    }
    std::sort(e.too_far.begin(), e.too_far.end());
    std::sort(size.begin(), size.end());
    e.p95 = size[size.size() * 95 / 100];
    return e;
}

/// A sheet in z = height(x, y), 300 x 200, one point per `spacing` squared, with noise.
template <class Height>
std::vector<Point3> sheet(double spacing, double noise, std::uint64_t seed, Height height) {
    Random random(seed);
    std::vector<Point3> points;
    for (int i = 0; i < static_cast<int>(300 * 200 / (spacing * spacing)); ++i) {
        const double x = random.uniform(0, 300), y = random.uniform(0, 200);
        points.push_back(Point3{x, y, height(x, y)} + Vec3{random.normal(), random.normal(), random.normal()} * noise);
    }
    return points;
}

std::vector<Point3> flat_sheet(double spacing, double noise, std::uint64_t seed) {
    return sheet(spacing, noise, seed, [](double, double) { return 0.0; });
}

/// A box as a mesh, corner to corner, `cells` squares along each edge.
RawScan box_mesh(Vec3 half, int cells) {
    RawScan raw;
    for (std::size_t axis = 0; axis < 3; ++axis)
        for (const double side : {-1.0, 1.0}) {
            const auto base = static_cast<std::uint32_t>(raw.points.size());
            for (int i = 0; i <= cells; ++i)
                for (int j = 0; j <= cells; ++j) {
                    Point3 p;
                    p[axis] = side * half[axis];
                    p[(axis + 1) % 3] = half[(axis + 1) % 3] * (2.0 * i / cells - 1.0);
                    p[(axis + 2) % 3] = half[(axis + 2) % 3] * (2.0 * j / cells - 1.0);
                    raw.points.push_back(p);
                }
            const auto n = static_cast<std::uint32_t>(cells + 1);
            for (std::uint32_t i = 0; i + 1 < n; ++i)
                for (std::uint32_t j = 0; j + 1 < n; ++j) {
                    const std::uint32_t a = base + i * n + j;
                    raw.triangles.push_back({a, a + n, a + n + 1});
                    raw.triangles.push_back({a, a + n + 1, a + 1});
                }
        }
    return raw;
}

double distance_to_box(Point3 p, Vec3 half) {
    const Vec3 o{std::abs(p.x) - half.x, std::abs(p.y) - half.y, std::abs(p.z) - half.z};
    const Vec3 out{std::max(o.x, 0.0), std::max(o.y, 0.0), std::max(o.z, 0.0)};
    return norm(out) + std::min(std::max({o.x, o.y, o.z}), 0.0);
}

}  // namespace

TEST_CASE("distances from noisy points are those to the scanned surface", "[scan][surface][oracle]") {
    // Oracle: the closed form of the cavity, 3 to 8 mm from it. Limits: those set for the project (bias 0.05; p95 0.2
    // at noise 0.3 and 0.4 at 0.7), the points what a hand-held scan of a gap has.
    const double noise = GENERATE(0.3, 0.7);
    CAPTURE(noise);
    const Surface surface = surface_of(CavityScene::scan({.points = 300000, .noise_mm = noise}));
    const Errors e =
        errors_of(surface, CavityScene::queries(20000, 3, 8, 77), [](Point3 p) { return CavityScene::distance(p); });
    CHECK(std::abs(e.bias) < 0.02);
    CHECK(e.p95 < (noise < 0.5 ? 0.15 : 0.33));
    CHECK(surface.noise_mm == Approx(noise).epsilon(0.05));
    CHECK(surface.points.size() > 290000);
    CHECK(surface.raw_points == 300000);
    CHECK(surface.raw.size() == 300000);
    REQUIRE(surface.normals.size() == surface.points.size());
    REQUIRE(surface.radius_mm.size() == surface.points.size());
    for (std::size_t i = 0; i < surface.points.size(); i += 97) {
        CHECK(norm(surface.normals[i]) == Approx(1.0).margin(1e-9));
        CHECK(surface.radius_mm[i] > 0.0f);
    }
}

TEST_CASE("the true surface is nowhere nearer than told by more than the stated bound", "[scan][surface][property]") {
    // Oracle: the example's gap in closed form; it has no sharp edge that stands into it. Holes are another matter.
    camper_seat_gap::ScanOptions options;
    options.noise_mm = GENERATE(0.0, 0.3, 0.7);
    options.holes = false;
    CAPTURE(options.noise_mm);
    const Surface surface = surface_of(camper_seat_gap::scan(options));
    Random random(5);
    std::vector<Point3> places;
    while (places.size() < 40000) {
        const Point3 p{random.uniform(-125, 125), random.uniform(-20, 325), random.uniform(0, 300)};
        if (const double d = camper_seat_gap::distance(p); d >= 3 && d <= 8) places.push_back(p);
    }
    const Errors e = errors_of(surface, places, [](Point3 p) { return camper_seat_gap::distance(p); });
    // One place in ten thousand may be worse, by half.
    CHECK(e.too_far[places.size() * 9999 / 10000 - 1] <= surface.bound_mm);
    CHECK(e.too_far.back() <= 1.5 * surface.bound_mm);
    CHECK(surface.bound_mm <= options.noise_mm + 0.18);
    CHECK(std::abs(e.bias) < 0.01);
}

TEST_CASE("a sharp edge that stands into the gap is kept within its bound", "[scan][surface][oracle]") {
    // Oracle: the ledge of the cavity, of which no point was scanned on its edges.
    const Surface surface = surface_of(CavityScene::scan({.points = 300000, .noise_mm = 0.3, .outliers_rel = 0.0}));
    CHECK(surface.edge_end > surface.edge_begin + 1000);
    CHECK(surface.edge_bound_mm > surface.bound_mm);
    CHECK(surface.edge_bound_mm < 1.0);
    std::vector<Point3> places;
    for (const Point3& p : CavityScene::queries(150000, 3, 8, 78)) {
        int which = 0;
        CavityScene::distance(p, &which);
        if (which == CavityScene::Ledge) places.push_back(p);
    }
    REQUIRE(places.size() > 5000);
    const Errors e = errors_of(surface, places, [](Point3 p) { return CavityScene::distance(p); });
    CHECK(e.too_far.back() <= surface.edge_bound_mm);
    CHECK(e.p95 < 0.3);
    // Samples said to lie on an edge lie on two faces.
    for (std::size_t i = surface.edge_begin; i < surface.edge_end; i += 31) {
        int near = 0;
        for (int s = 0; s < CavityScene::kSolids; ++s)
            near += std::abs(CavityScene::distance_to(s, surface.points[i])) < 1.5;
        CHECK(near >= 1);
    }
}

TEST_CASE("a bent surface is not flattened", "[scan][surface][oracle]") {
    // Oracle: half cylinders of radius 12 and 40 seen from outside and inside: a plane through a patch lies on the
    // hollow side by about its mean square over four radii, here up to 0.1 mm.
    const double radius = GENERATE(12.0, 40.0), noise = GENERATE(0.05, 0.3);
    CAPTURE(radius, noise);
    Random random(7);
    std::vector<Point3> points;
    for (int i = 0; i < static_cast<int>(3.1416 * radius * 300 / 1.44); ++i) {
        const double a = random.uniform(0, std::numbers::pi), y = random.uniform(0, 300);
        points.push_back(Point3{radius * std::cos(a), y, radius * std::sin(a)} +
                         Vec3{random.normal(), random.normal(), random.normal()} * noise);
    }
    const Surface surface = surface_of(points);
    for (const double offset : {-5.0, 5.0}) {
        std::vector<Point3> places;
        for (int i = 0; i < 3000; ++i) {
            const double a = random.uniform(0.4, std::numbers::pi - 0.4), y = random.uniform(10, 290);
            places.push_back({(radius + offset) * std::cos(a), y, (radius + offset) * std::sin(a)});
        }
        const Errors e = errors_of(surface, places, [](Point3) { return 5.0; });
        CAPTURE(offset);
        CHECK(std::abs(e.bias) < 0.03);
    }
}

TEST_CASE("a ball scanned wide and without noise keeps its points", "[scan][surface]") {
    // Neighbours 3 to 8 mm away lie up to half a millimetre off each other's planes, many times the noise.
    Random random(12);
    std::vector<Point3> points;
    while (points.size() < 6000) {
        const Point3 p = unit(Vec3{random.normal(), random.normal(), random.normal()}) * 80.0;
        const double share = 0.55 + 0.45 * std::sin(p.x / 31 + 1) * std::sin(p.y / 37) * std::cos(p.z / 29);
        if (random.uniform() < share) points.push_back(p);
    }
    const Surface surface = surface_of(points);
    CHECK(surface.points.size() > 5960);
    for (const Point3& p : surface.points) CHECK(std::abs(norm(p) - 80.0) < 0.5);
}

TEST_CASE("outliers and floating clusters are dropped and told by place", "[scan][surface]") {
    std::vector<Point3> points = flat_sheet(1.5, 0.2, 3);
    Random random(4);
    for (int i = 0; i < 40; ++i)
        points.push_back({random.uniform(0, 300), random.uniform(0, 200), random.uniform(15, 150)});
    const Point3 cluster{100, 80, 40};
    for (int i = 0; i < 60; ++i)
        points.push_back(cluster + Vec3{random.normal(), random.normal(), random.normal()} * 2.0);
    // A cable: 6 mm thick, 60 mm long, clear of the sheet.
    for (int i = 0; i < 500; ++i) {
        const double a = random.uniform(0, 6.2831853);
        points.push_back({200 + 3 * std::cos(a), random.uniform(60, 120), 30 + 3 * std::sin(a)});
    }
    const Surface surface = surface_of(points);
    for (const Point3& p : surface.points) REQUIRE(std::abs(p.z) < 1.5);
    auto told_near = [&](Point3 place, double within) {
        return std::any_of(surface.dropped.begin(), surface.dropped.end(), [&](const Dropped& d) {
            return d.reason == "floating cluster" && distance(d.place, place) < within && d.points >= 30;
        });
    };
    CHECK(told_near(cluster, 3.0));
    CHECK(told_near({200, 90, 30}, 5.0));
    std::size_t total = 0;
    for (std::size_t i = 0; i < surface.dropped.size(); ++i) {
        total += surface.dropped[i].points;
        if (i > 0) CHECK(surface.dropped[i].points <= surface.dropped[i - 1].points);
    }
    CHECK(total >= 500);
    CHECK(total <= 640);
    // What counts as floating is the user's to say.
    RawScan raw;
    raw.points = points;
    const Surface kept = require_surface(raw, {.thin = {}, .least_cluster = Area::mm2(500), .close_holes = {}});
    CHECK(std::any_of(kept.points.begin(), kept.points.end(),
                      [](Point3 p) { return p.z > 25 && p.z < 35 && p.x > 190; }));
}

TEST_CASE("noise is estimated, also where it differs from face to face", "[scan][surface]") {
    const double noise = GENERATE(0.1, 0.3, 1.0);
    CHECK(surface_of(flat_sheet(1.5, noise, 5)).noise_mm == Approx(noise).epsilon(0.08));

    // Two sheets, one quiet and one loud: both keep their points.
    std::vector<Point3> points = flat_sheet(1.5, 0.05, 6);
    const std::size_t quiet = points.size();
    for (const Point3& p : flat_sheet(1.5, 1.5, 7)) points.push_back(p + Vec3{0, 0, 100});
    const Surface surface = surface_of(points);
    const auto loud = static_cast<std::size_t>(
        std::count_if(surface.points.begin(), surface.points.end(), [](Point3 p) { return p.z > 50; }));
    CHECK(loud > quiet * 95 / 100);
    CHECK(surface.points.size() - loud > quiet * 99 / 100);
    CHECK(surface.bound_mm > 1.3);
}

TEST_CASE("two sides of a thin board stay two", "[scan][surface]") {
    std::vector<Point3> points = flat_sheet(1.5, 0.2, 8);
    for (const Point3& p : flat_sheet(1.5, 0.2, 9)) points.push_back(p + Vec3{0, 0, 6});
    const Surface surface = surface_of(points);
    Random random(10);
    std::vector<Point3> above, below;
    for (int i = 0; i < 2000; ++i) {
        const double x = random.uniform(10, 290), y = random.uniform(10, 190);
        above.push_back({x, y, 11});
        below.push_back({x, y, -5});
    }
    for (const auto& places : {above, below}) {
        const Errors e = errors_of(surface, places, [](Point3) { return 5.0; });
        CHECK(std::abs(e.bias) < 0.03);
        CHECK(e.p95 < 0.2);
    }
}

TEST_CASE("a wall scanned twice leaves no more room than the nearer pass and the bound", "[scan][surface][property]") {
    for (const double spacing : {1.2, 2.5})
        for (const double apart : {1.0, 2.0, 3.0}) {
            INFO(fmt::format("spacing {}, {} mm apart", spacing, apart));
            std::vector<Point3> points = sheet(spacing, 0.3, 3, [](double, double) { return 0.0; });
            const Surface once = surface_of(points);
            CHECK(once.bound_mm < 0.6);
            for (const Point3& p : sheet(spacing, 0.3, 4, [&](double, double) { return -apart; })) points.push_back(p);
            const Surface surface = surface_of(std::move(points));
            Random random(9);
            std::vector<Point3> places;
            for (int i = 0; i < 10000; ++i)
                places.push_back({random.uniform(20, 280), random.uniform(20, 180), random.uniform(3, 8)});
            const Errors e = errors_of(surface, places, [](const Point3& p) { return p.z; });
            CHECK(e.too_far[e.too_far.size() * 999 / 1000] <= surface.bound_mm);
            CHECK(surface.bound_mm < 1.5 * apart + 0.5);
        }
}

TEST_CASE("a scan moved, turned and far from the origin gives the same distances", "[scan][surface][property]") {
    // Law: rigid motion. Grids fall elsewhere, so single samples differ by chance; their spread bounds the difference.
    const std::vector<Point3> points = CavityScene::scan({.points = 60000, .noise_mm = 0.3});
    const Vec3 x = unit(Vec3{1, 2, 0.5}), z = unit(cross(x, {0.3, -1, 2}));
    const Frame place{{68000, -21000, 5000}, x, cross(z, x), z};
    std::vector<Point3> moved;
    for (const Point3& p : points) moved.push_back(place.to_parent(p));
    const Surface here = surface_of(points), there = surface_of(moved);
    CHECK(there.spacing_mm == Approx(here.spacing_mm).epsilon(1e-4));
    CHECK(there.noise_mm == Approx(here.noise_mm).epsilon(0.02));
    CHECK(there.points.size() == Approx(here.points.size()).epsilon(0.002));
    const SurfaceDistance a(here), b(there);
    std::vector<double> difference;
    for (const Point3& p : CavityScene::queries(4000, 3, 8, 79))
        difference.push_back(std::abs(a.at(p) - b.at(place.to_parent(p))));
    std::sort(difference.begin(), difference.end());
    CHECK(difference[difference.size() / 2] < 0.02);
    CHECK(difference[difference.size() * 95 / 100] < 0.1);
}

TEST_CASE("the surface does not depend on threads or on the order of the points", "[scan][surface][property]") {
    RawScan raw;
    raw.points = CavityScene::scan({.points = 60000, .noise_mm = 0.3});
    const Surface all = require_surface(raw);
    Surface one;
    {
        const ThreadLimit limit(1);
        one = require_surface(raw);
    }
    CHECK(all.points == one.points);
    CHECK(all.normals == one.normals);
    CHECK(all.radius_mm == one.radius_mm);
    CHECK(all.noise_mm == one.noise_mm);
    std::reverse(raw.points.begin(), raw.points.end());
    const Surface reversed = require_surface(raw);
    CHECK(all.points == reversed.points);
}

TEST_CASE("a cloud of a million points is thinned without bias", "[scan][surface][oracle]") {
    RawScan raw;
    raw.points = CavityScene::scan({.points = 1000000, .noise_mm = 0.3});
    const Surface surface = require_surface(std::move(raw));
    CHECK(surface.points.size() < 600000);
    CHECK(surface.raw.size() == 1000000);
    CHECK(surface.noise_mm == Approx(0.3).epsilon(0.05));
    const Errors e =
        errors_of(surface, CavityScene::queries(10000, 3, 8, 80), [](Point3 p) { return CavityScene::distance(p); });
    CHECK(std::abs(e.bias) < 0.02);
    CHECK(e.p95 < 0.1);
}

TEST_CASE("points scanned twice count once", "[scan][surface]") {
    std::vector<Point3> points = flat_sheet(1.5, 0.2, 12);
    const Surface once = surface_of(points);
    const std::size_t n = points.size();
    for (std::size_t i = 0; i < n; ++i) points.push_back(points[i]);
    // A scanner that got stuck.
    for (int i = 0; i < 20000; ++i) points.push_back({150, 100, 0});
    const Surface twice = surface_of(points);
    CHECK(twice.points.size() == Approx(once.points.size()).margin(3));
    CHECK(twice.spacing_mm == Approx(once.spacing_mm).epsilon(0.02));
}

TEST_CASE("a mesh is sampled evenly, with its normals and its edges", "[scan][surface][mesh]") {
    const Vec3 half{100, 60, 40};
    const int cells = GENERATE(1, 7, 150);
    CAPTURE(cells);
    const Surface surface = require_surface(box_mesh(half, cells));
    CHECK(surface.from_mesh);
    CHECK(surface.noise_mm == 0.0);
    const double area = 8 * (half.x * half.y + half.y * half.z + half.z * half.x);
    CHECK(static_cast<double>(surface.points.size()) > 0.8 * area);
    CHECK(static_cast<double>(surface.points.size()) < 3.0 * area);
    for (std::size_t i = 0; i < surface.points.size(); i += 53) {
        CHECK(std::abs(distance_to_box(surface.points[i], half)) < 1e-9);
        CHECK(std::max({std::abs(surface.normals[i].x), std::abs(surface.normals[i].y),
                        std::abs(surface.normals[i].z)}) == Approx(1.0));
    }
    Random random(3);
    std::vector<Point3> places;
    while (places.size() < 3000) {
        const Point3 p{random.uniform(-115, 115), random.uniform(-75, 75), random.uniform(-55, 55)};
        if (const double d = std::abs(distance_to_box(p, half)); d > 3 && d < 8) places.push_back(p);
    }
    const Errors e = errors_of(surface, places, [&](Point3 p) { return std::abs(distance_to_box(p, half)); });
    CHECK(e.too_far.back() <= surface.bound_mm);
    CHECK(e.too_far.front() > -0.8);
    CHECK(e.p95 < 0.35);
}

TEST_CASE("a scan that holds no surface is refused in words", "[scan][surface][fault]") {
    auto fault_of = [](RawScan raw) {
        auto result = estimate_surface(std::move(raw), {}, {});
        REQUIRE_FALSE(result.has_value());
        CHECK(result.error().code == FaultCode::BadScan);
        CHECK_FALSE(result.error().hint.empty());
        return result.error().what;
    };
    CHECK_THAT(fault_of({}), Contains("no point"));
    RawScan few;
    few.points = {{0, 0, 0}, {100, 0, 0}, {0, 100, 0}, {100, 100, 0}};
    CHECK_THAT(fault_of(few), Contains("the scan holds 4 points"));
    RawScan small;  // 25 x 25 mm: under what counts as floating
    for (int i = 0; i < 50; ++i)
        for (int j = 0; j < 50; ++j) small.points.push_back({0.5 * i, 0.5 * j, 0});
    CHECK_THAT(fault_of(small), Contains("floating cluster"));
    RawScan needle;
    needle.points = {{0, 0, 0}, {100, 0, 0}, {200, 0, 0}};
    needle.triangles = {{0, 1, 2}, {0, 0, 1}};
    CHECK_THAT(fault_of(needle), Contains("all 2 triangles of the scan have no area"));
}

TEST_CASE("points on a line or in few places do no harm", "[scan][surface]") {
    for (const std::size_t n : {1u, 2u, 24u, 41u, 500u}) {
        RawScan raw;
        for (std::size_t i = 0; i < n; ++i)
            raw.points.push_back({static_cast<double>(i), 2.0 * static_cast<double>(i), 7});
        const auto result = estimate_surface(raw, {}, {});
        if (result)
            for (const Vec3& v : result->normals) CHECK(is_finite(v));
    }
    RawScan same;
    same.points.assign(1000, {1, 2, 3});
    CHECK_FALSE(estimate_surface(same, {}, {}).has_value());
}

TEST_CASE("estimating stops when it is cancelled", "[scan][surface]") {
    RawScan raw;
    raw.points = flat_sheet(3.0, 0.2, 3);
    const std::atomic<bool> cancel = true;
    Context context;
    context.cancel = &cancel;
    const auto result = estimate_surface(std::move(raw), {}, context);
    REQUIRE_FALSE(result.has_value());
    CHECK(result.error().code == FaultCode::Interrupted);
}

TEST_CASE("real scans keep what belongs to a surface", "[scan][surface][corpus]") {
    const std::filesystem::path folder = GAPWRIGHT_SCANS;
    struct Real {
        const char* file;
        FileUnit unit;
        double least_kept_rel;
    };
    for (const Real& real : {Real{"gap_two_scanned_objects.ply", FileUnit::Millimetre, 0.94},
                             Real{"room_corner_depthcam_1.ply", FileUnit::Metre, 0.95},
                             Real{"floor_objects_depthcam.ply", FileUnit::Metre, 0.97},
                             Real{"parked_vehicles_lidar.xyz", FileUnit::Metre, 0.9}}) {
        if (folder.empty() || !std::filesystem::exists(folder / real.file)) {
            WARN("skipped: set GAPWRIGHT_SCANS to a folder with " << real.file);
            continue;
        }
        CAPTURE(real.file);
        auto raw = read_scans({folder / real.file}, {.unit = real.unit, .vehicle_place = {}, .placed = false}, {});
        REQUIRE(raw.has_value());
        const Surface surface = require_surface(*std::move(raw));
        const std::size_t levelled = surface.points.size() - (surface.edge_end - surface.edge_begin);
        CHECK(static_cast<double>(levelled) > real.least_kept_rel * static_cast<double>(surface.raw_points));
    }
}

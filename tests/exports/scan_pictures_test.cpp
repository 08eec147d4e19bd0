// Pictures of scans, judged by what a program can see: size, where the scan is and is not, that marks stand where the
// hole is, that a hidden inside is cut open. Looking at them stays a human's work.
#include "exports/scan_pictures.h"
#include "exports/internal/discs.h"
#include "geom/core/parallel.h"
#include "geom/core/random.h"
#include "tests/exports/png_reader.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <map>

using namespace exports;
using geom::Point3;
using geom::Vec3;

namespace {

/// Five sides of a box 200 x 200 x 200 mm, open to the front (y = 0), every 2 mm; a hole of 30 mm in the rear wall.
std::vector<Point3> open_box() {
    std::vector<Point3> points;
    for (int i = 0; i <= 100; ++i)
        for (int j = 0; j <= 100; ++j) {
            const double u = 2.0 * i, v = 2.0 * j;
            points.push_back({u, v, 0});
            points.push_back({u, v, 200});
            points.push_back({0, u, v});
            points.push_back({200, u, v});
            if (std::hypot(u - 60, v - 140) > 15.0) points.push_back({u, 200, v});
        }
    return points;
}

struct Drawn {
    geom::scan::RawScan raw;
    geom::scan::Diagnosis diagnosis;
    std::map<std::string, png_reader::Image> images;
    std::map<std::string, std::string> bytes;
};

Drawn drawn(const std::vector<Point3>& points) {
    Drawn out;
    out.raw.points = points;
    auto diagnosis = geom::scan::diagnose(out.raw, {});
    REQUIRE(diagnosis.has_value());
    out.diagnosis = std::move(*diagnosis);
    const auto pictures = scan_pictures({"a <box> & more", out.diagnosis, out.raw.points, false}, {});
    REQUIRE(pictures.has_value());
    for (const auto& p : *pictures) {
        CHECK(p.ending == "png");
        out.images[p.suffix] = png_reader::read(p.bytes);
        out.bytes[p.suffix] = p.bytes;
    }
    return out;
}

struct Channels {
    int r, g, b;
};
Channels at(const png_reader::Image& image, int x, int y) {
    const std::uint32_t p = image.at(x, y);
    return {static_cast<int>(p >> 16 & 255), static_cast<int>(p >> 8 & 255), static_cast<int>(p & 255)};
}
bool is_hole_ink(Channels c) {
    return c.r > 170 && c.g < 110 && c.b < 90;
}
bool is_paper(Channels c) {
    return c.r > 240 && c.g > 240 && c.b > 235;
}

}  // namespace

TEST_CASE("a scan is drawn from the front, the side and above, 1600 pixels wide", "[exports][scan_pictures]") {
    const Drawn box = drawn(open_box());
    REQUIRE(box.images.size() == 3);
    for (const char* side : {"front", "side", "top"}) {
        REQUIRE(box.images.count(side) == 1);
        CHECK(box.images.at(side).width == 1600);
        CHECK(box.images.at(side).height == 1200);
    }
    // Frame of the plot: 120 + 1060 wide, 136 + 940 high; 200 mm fill 0.92 of the height.
    const double px_per_mm = 0.92 * 940 / 200;
    const auto on_front = [&](double x, double z) {
        return std::array<int, 2>{static_cast<int>(120 + 530 + (x - 100) * px_per_mm),
                                  static_cast<int>(136 + 470 - (z - 100) * px_per_mm)};
    };
    const auto& front = box.images.at("front");
    const auto [wx, wy] = on_front(130, 50);
    const Channels wall = at(front, wx, wy);
    CHECK(wall.b > wall.r + 40);  // the rear wall is far: deep blue
    const auto [hx, hy] = on_front(64, 136);
    CHECK(is_paper(at(front, hx, hy)));  // one sees through the hole
    int ring = 0;
    for (int a = 0; a < 360; a += 5) {
        const double t = a * 3.14159265 / 180.0;
        bool met = false;
        for (double r = 12.0; r < 18.0; r += 0.2) {
            const auto [x, y] = on_front(60 + r * std::cos(t), 140 + r * std::sin(t));
            met = met || is_hole_ink(at(front, x, y));
        }
        ring += met;
    }
    CHECK(ring > 60);  // of 72
}

TEST_CASE("a closed cavity is cut open so that its inside is seen", "[exports][scan_pictures]") {
    // A ball that stands inside shows from the side only when the near wall is left out.
    std::vector<Point3> points = open_box();
    geom::Random random(4);
    for (int i = 0; i < 16000; ++i)
        points.push_back(Point3{60, 100, 60} + geom::unit({random.normal(), random.normal(), random.normal()}) * 30.0);
    const Drawn box = drawn(points);
    const double px_per_mm = 0.92 * 940 / 200;
    const auto& side = box.images.at("side");
    const int x = static_cast<int>(120 + 530), y = static_cast<int>(136 + 470 - (60 - 100) * px_per_mm);
    const Channels ball = at(side, x, y), wall = at(side, x, y - static_cast<int>(80 * px_per_mm));
    CHECK_FALSE(is_paper(ball));
    CHECK(wall.b > wall.r + 40);  // the far wall at x = 0
    CHECK(ball.r > wall.r + 40);  // nearer: lighter
}

TEST_CASE("pictures do not depend on the number of threads", "[exports][scan_pictures]") {
    const std::vector<Point3> points = open_box();
    const auto all = drawn(points).bytes;
    const geom::ThreadLimit one(1);
    CHECK(drawn(points).bytes == all);
}

TEST_CASE("a scan without a surface is drawn as the points it has", "[exports][scan_pictures]") {
    std::vector<Point3> points;
    for (int i = 0; i < 12; ++i) points.push_back({i * 40.0, 10.0 * (i % 3), 25.0 * (i % 4)});
    const Drawn few = drawn(points);
    CHECK_FALSE(few.diagnosis.surface);
    int inked = 0;
    const auto& front = few.images.at("front");
    for (int y = 140; y < 1070; ++y)
        for (int x = 130; x < 1170; ++x) inked += at(front, x, y).r < 200;
    CHECK(inked >= 12);
}

TEST_CASE("a disc at a slant is as long as it is wide only along its tilt axis", "[exports][scan_pictures][discs]") {
    View view = look({0, -1, 0}, {0, 0, 1});
    view.width = view.height = 400;
    view.px_per_mm = 10.0;
    const std::vector<Point3> points = {{0, 0, 0}};
    const std::vector<Vec3> normals = {geom::unit({std::sqrt(3.0), -1.0, 0.0})};  // 60 degrees about z
    const std::vector<float> radius = {10.0f};
    Discs discs;
    discs.points = &points, discs.normals = &normals, discs.radius_mm = &radius;
    const DiscPicture picture = draw_discs(discs, view);
    int across = 0, upward = 0;
    for (int i = 0; i < 400; ++i) {
        across += picture.depth[200u * 400u + static_cast<std::size_t>(i)] != DiscPicture::kNothing;
        upward += picture.depth[static_cast<std::size_t>(i) * 400u + 200u] != DiscPicture::kNothing;
    }
    CHECK(upward == Approx(200).margin(2));
    CHECK(across == Approx(100).margin(2));
    // Its right edge lies farther from the viewer: the normal looks to the right, so the disc recedes there.
    const double right = picture.depth[200u * 400u + 240u], left = picture.depth[200u * 400u + 160u];
    CHECK(right - left == Approx(-8.0 * std::sqrt(3.0)).margin(0.3));
}

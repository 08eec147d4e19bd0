// Random gaps for the robustness bench and tests: an analytic cavity, its scan with noise and holes, and a request
// for a box in it. All from one seed; what was drawn is in `features`.
//
// Scene, vehicle frame, mm: x across, y to the rear, z up. Two side walls x = -+half_width(y, z), a floor
// z = floor(x, y), a rear wall y = rear(x, z), optionally blocks along the side walls (L and T sections). Open to the
// front and above; a limit plane closes the top. Obstacles are what lies beyond any of these.
#pragma once

#include "geom/core/random.h"
#include "geom/parts/enclosure.h"
#include "geom/scan/read.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

namespace support {

using geom::Point3;
using geom::Vec3;

struct GapScene {
    double width = 220, depth = 320, height = 300, top = 280;
    double taper = 0.0;  ///< side walls come together towards the rear, mm each at the rear
    double bulge = 0.0;  ///< sides bulge into the gap by this in the middle
    double waist = 0.0;  ///< share of the width taken by a waist at mid height
    double hump = 0.0;   ///< share of the height taken by a hump of the floor
    double lean = 0.0;   ///< mm the right wall leans in at the top
    enum class Section { Plain, L, T } section = Section::Plain;
    double block_x = 0, block_z = 0;  ///< how far a block reaches in from its wall, and up from the floor
    double sigma = 0.3;
    struct Hole {
        Point3 at;
        double radius;
    };
    std::vector<Hole> holes;

    double bump(double t) const { return std::exp(-t * t / 2.0); }
    double side(double y, double z, double sign) const {
        double half = width / 2.0 - taper * std::clamp(y / depth, 0.0, 1.2);
        half -= bulge * bump((z - 0.5 * top) / (0.35 * top)) * bump((y - 0.5 * depth) / (0.5 * depth));
        half -= 0.5 * waist * width * bump((z - 0.5 * top) / (0.13 * top));
        if (sign > 0) half -= lean * z / top;
        return half;
    }
    double floor(double x, double y) const {
        (void)y;
        return hump * top * bump(x / (0.16 * width));
    }
    double rear(double x, double z) const { return depth - 12.0 * bump(x / (0.5 * width)) - 0.05 * z; }
    bool in_block(Point3 p) const {
        if (section == Section::Plain) return false;
        const bool right = p.x > width / 2.0 - block_x && p.z < block_z;
        const bool left = p.x < -width / 2.0 + block_x && p.z < block_z;
        return section == Section::L ? right : right || left;
    }
    /// Outside every obstacle, to within `eps`.
    bool is_free(Point3 p, double eps = 1e-9) const {
        return p.x < side(p.y, p.z, 1) + eps && p.x > -side(p.y, p.z, -1) - eps && p.z > floor(p.x, p.y) - eps &&
               p.y < rear(p.x, p.z) + eps && !in_block(p + Vec3{0, 0, eps});
    }
};

struct RandomGap {
    GapScene scene;
    geom::scan::RawScan scan;
    geom::parts::EnclosureRequest request;  ///< net_volume left at zero: choose from what the gap holds
    double fill = 0.8;                      ///< share of the most it can hold to ask for
    std::vector<std::string> features;      ///< "waist", "hump", "tilted baffle", ...
};

inline geom::scan::RawScan scan_of(const GapScene& scene, std::size_t count, geom::Random& rng) {
    geom::scan::RawScan scan;
    const double w = scene.width / 2.0;
    // Faces by area; each sample is kept only where it is not buried in another obstacle.
    const double y0 = -40, y1 = scene.depth + 5, z1 = scene.height;
    struct Face {
        double area;
        int kind;
    };
    std::vector<Face> faces = {{(y1 - y0) * z1, 0}, {(y1 - y0) * z1, 1}, {(y1 - y0) * 2 * w, 2}, {2 * w * z1, 3}};
    const bool l = scene.section != GapScene::Section::Plain, t = scene.section == GapScene::Section::T;
    if (l) faces.push_back({(y1 - y0) * (scene.block_x + scene.block_z), 4});
    if (t) faces.push_back({(y1 - y0) * (scene.block_x + scene.block_z), 5});
    double total = 0;
    for (const Face& f : faces) total += f.area;
    while (scan.points.size() < count) {
        double pick = rng.uniform() * total;
        int kind = faces.back().kind;
        for (const Face& f : faces) {
            if (pick < f.area) {
                kind = f.kind;
                break;
            }
            pick -= f.area;
        }
        const double y = rng.uniform(y0, y1), z = rng.uniform(0, z1), x = rng.uniform(-w, w);
        Point3 p;
        if (kind == 0) p = {scene.side(y, z, 1), y, z};
        if (kind == 1) p = {-scene.side(y, z, -1), y, z};
        if (kind == 2) p = {x, y, scene.floor(x, y)};
        if (kind == 3) p = {x, scene.rear(x, z), z};
        if (kind >= 4) {
            const double along = rng.uniform(0, scene.block_x + scene.block_z);
            p = along < scene.block_x ? Point3{w - along, y, scene.block_z}
                                      : Point3{w - scene.block_x, y, along - scene.block_x};
            if (kind == 5) p.x = -p.x;
        }
        if (!scene.is_free(p, 1e-6)) continue;
        const bool in_hole = std::any_of(scene.holes.begin(), scene.holes.end(),
                                         [&](const GapScene::Hole& h) { return geom::distance(p, h.at) < h.radius; });
        if (in_hole) continue;
        p += Vec3{rng.normal(), rng.normal(), rng.normal()} * scene.sigma;
        scan.points.push_back(p);
    }
    return scan;
}

/// Gap number `index` of the series `seed`. The first draw decides which trouble it must have, so that every kind of
/// trouble comes at least once in five.
inline RandomGap random_gap(std::uint64_t seed, int index, std::size_t points = 80000) {
    geom::Random rng(seed * 1000003u + static_cast<std::uint64_t>(index));
    RandomGap gap;
    GapScene& s = gap.scene;
    s.width = rng.uniform(190, 270);
    s.depth = rng.uniform(240, 340);
    s.top = rng.uniform(230, 300);
    s.height = s.top + 30;
    s.taper = rng.uniform(0, 12);
    s.bulge = rng.uniform(0, 10);
    s.lean = rng.uniform(0, 12);
    s.sigma = rng.uniform(0.0, 0.7);
    const auto has = [&](int kind) { return index % 5 == kind || rng.uniform() < 0.12; };
    if (has(0)) s.waist = 0.25, gap.features.push_back("waist");
    if (has(1)) s.hump = 0.20, gap.features.push_back("hump");
    if (has(2)) {
        s.section = rng.uniform() < 0.5 ? GapScene::Section::L : GapScene::Section::T;
        s.block_x = s.width * rng.uniform(0.18, 0.3), s.block_z = s.top * rng.uniform(0.2, 0.4);
        gap.features.push_back(s.section == GapScene::Section::L ? "L section" : "T section");
    }
    const bool tilted = has(3), oblique = has(4);
    const int holes = index % 5 == (index / 5) % 5 ? 3 : rng.uniform() < 0.1 ? 1 : 0;
    for (int i = 0; i < holes; ++i) {
        const double y = rng.uniform(30, s.depth - 30), z = rng.uniform(40, s.top - 40),
                     sign = rng.uniform() < 0.5 ? 1 : -1;
        s.holes.push_back({{sign * s.side(y, z, sign), y, z}, rng.uniform(2.5, 20.0)});
    }
    if (holes > 0) gap.features.push_back("holes");
    gap.scan = scan_of(s, points, rng);

    geom::parts::EnclosureRequest& r = gap.request;
    r.name = "gap-" + std::to_string(index);
    r.wall = r.room.wall = geom::Length::mm(6);
    r.room.clearance = geom::Length::mm(4);
    r.room.covering = geom::Length::mm(rng.uniform() < 0.5 ? 0.0 : 2.0);
    r.room.air = {0, 0.5 * s.depth, 0.75 * s.top};
    double pitch_deg = 0, yaw_deg = 0;
    if (tilted || oblique) {
        const double angle_deg = rng.uniform(oblique ? 10 : 5, 30);
        if (rng.uniform() < 0.8)
            pitch_deg = rng.uniform() < 0.7 ? angle_deg : -angle_deg;
        else
            yaw_deg = std::min(angle_deg, 20.0);
    }
    if (tilted) gap.features.push_back("tilted baffle");
    const double pitch = pitch_deg * std::numbers::pi / 180, yaw = yaw_deg * std::numbers::pi / 180;
    // Outward leans up by pitch and to the right by yaw.
    const Vec3 outward = geom::unit({std::sin(yaw), -std::cos(yaw) * std::cos(pitch), std::cos(yaw) * std::sin(pitch)});
    // Outermost place: the plane just touches the front (y = -10) where it stands nearest to the listener.
    const Point3 middle{0, 60, 0.5 * s.top};
    r.baffle.plane = r.room.baffle = {middle, outward};
    double out = 0;  // as far out as the scan's sides reach (y >= -20) anywhere in the section
    for (const double x : {-s.width / 2, s.width / 2})
        for (const double z : {0.0, s.top}) {
            const double t = geom::dot(Point3{x, -20, z} - middle, outward);
            out = (x < 0 && z <= 0.0) ? t : std::min(out, t);
        }
    r.baffle.travel_lo_mm = r.room.travel_lo_mm = -160;
    r.baffle.travel_hi_mm = r.room.travel_hi_mm = out;
    r.baffle.thickness = geom::Length::mm(12);
    r.room.insert = Vec3{0, 1, 0};
    r.room.limits.push_back({"top", {{0, 0, s.top}, {0, 0, 1}}, geom::Length::mm(0), true});
    if (oblique) {
        gap.features.push_back("oblique insertion");
        if (pitch_deg == 0 && yaw_deg == 0) {
            // From above and in front, the space above the top limit being free on the way in.
            const double a = rng.uniform(10, 35) * std::numbers::pi / 180;
            r.room.insert = Vec3{0, std::cos(a), -std::sin(a)};
        }
        r.room.open.push_back({"front", {r.baffle.plane.point + outward * out, outward}});
        r.room.open.push_back({"top", {{0, 0, s.top}, {0, 0, 1}}});
    }
    gap.fill = rng.uniform(0.55, 0.85);
    r.make.chord_error = geom::Length::mm(0.05);
    if (s.section == GapScene::Section::Plain && s.waist == 0.0 && rng.uniform() < 0.5) {
        geom::parts::DriverMount mount;
        mount.driver = {.name = "invented 100 mm driver",
                        .cutout_diameter = geom::Length::mm(92),
                        .flange_diameter = geom::Length::mm(108),
                        .flange_thickness = geom::Length::mm(4),
                        .front_height = {},
                        .recess = {},
                        .basket_diameter = geom::Length::mm(90),
                        .bolt_circle = geom::Length::mm(100),
                        .bolt_count = 4,
                        .bolt_thread = "M4",
                        .mounting_depth = geom::Length::mm(48),
                        .magnet_diameter = geom::Length::mm(60),
                        .magnet_depth = geom::Length::mm(20),
                        .displacement = geom::Volume::litres(0.18),
                        .mass_kg = 0.9,
                        .fs_hz = {},
                        .qts = {},
                        .qes = {},
                        .qms = {},
                        .re_ohm = {},
                        .power_w = {},
                        .vas = {},
                        .sd = {},
                        .xmax = {}};
        mount.centre = middle + Vec3{0, 0, 0.1 * s.top};  // on the plane of t = 0, so that it stays in the middle
        r.driver = mount;
        gap.features.push_back("driver");
    }
    return gap;
}

}  // namespace support

// Gaps whose surfaces are known in closed form, ways in by moves, and what a place of the body meets on them by plain
// sampling: the oracle of the field's way in.
#pragma once

#include "geom/space/room.h"
#include "tests/space/scene.h"

#include <numbers>
#include <optional>

namespace geom::test {

/// The corner {p : a.height <= 0 and b.height <= 0} of two planes at right angles, solid.
inline std::function<double(Point3)> solid_corner(Plane a, Plane b) {
    return [=](Point3 p) {
        const double u = a.height(p), v = b.height(p);
        return std::hypot(std::max(u, 0.0), std::max(v, 0.0)) + std::min(std::max(u, v), 0.0);
    };
}

struct WayScene {
    Scene scene;  ///< what is scanned: the gap behind y = 0, the face round its mouth, what stands before it
    scan::Surface surface;
    static constexpr double kMouth = 4.0;  ///< y of the outermost baffle place
    Vec3 size;                             ///< of the cavity: x from -size.x / 2, y from 0, z from 0
};

inline WayScene way_scene(std::uint64_t seed, double spacing) {
    Random random(seed);
    WayScene w;
    w.size = {random.uniform(150, 230), random.uniform(130, 220), random.uniform(150, 230)};
    const double x = 0.5 * w.size.x, z = w.size.z;
    const Plane face{{0, 0, 0}, {0, -1, 0}};
    Scene& s = w.scene;
    s.solids = {solid_corner({{-x, 0, 0}, {1, 0, 0}}, face), solid_corner({{x, 0, 0}, {-1, 0, 0}}, face),
                solid_corner({{0, 0, 0}, {0, 0, 1}}, face), solid_corner({{0, 0, z}, {0, 0, -1}}, face),
                half_space({0, w.size.y, 0}, {0, -1, 0})};
    const auto place = [&](double from_y, double to_y) {
        return Point3{random.uniform(-x, x), random.uniform(from_y, to_y), random.uniform(0, z)};
    };
    // A ball, a tube and a turned box, each on a wall, inside; one of them hangs over the mouth or stands before it.
    Point3 c = place(60, w.size.y);
    c.x = c.x < 0 ? -x : x;
    s.solids.push_back(ball(c, random.uniform(15, 35)));
    c = place(20, w.size.y - 20);
    s.solids.push_back(rod({c.x, c.y, -10},
                           {c.x + random.uniform(-40, 40), c.y + random.uniform(-40, 40), random.uniform(20, 60)},
                           random.uniform(6, 14)));
    c = place(-4, 4);
    c.z = z;
    s.solids.push_back(turned_box(c, {random.uniform(20, 60), random.uniform(14, 30), random.uniform(10, 35)},
                                  random.uniform(-0.2, 0.2)));
    c = place(-120, -60);
    c.z = random.uniform() < 0.5 ? -25.0 : z + 25.0;
    s.solids.push_back(ball(c, random.uniform(20, 40)));
    s.sampled = {{-x - 160, -180, -160}, {x + 160, w.size.y + 1, z + 160}};
    w.surface = exact_surface(s, spacing, seed);
    return w;
}

inline space::RoomOptions way_options(const WayScene& w, double h) {
    space::RoomOptions o;
    o.air = {0, 0.5 * w.size.y, 0.5 * w.size.z};
    for (int round = 0; round < 40 && w.scene.distance(o.air) < 14.0; ++round)
        o.air += Vec3{round % 2 == 0 ? 5.0 : -3.0, 3.0, round % 3 == 0 ? 6.0 : -2.0};
    o.baffle = {{0, 0, 0}, {0, -1, 0}};
    o.travel_lo_mm = -100, o.travel_hi_mm = -WayScene::kMouth;
    o.voxel = Length::mm(h);
    o.clearance = Length::mm(4);
    o.edge_radius = Length::mm(0);
    return o;
}

/// 0: slides, 1: slide and turn, 2: slide, turn, slide, 3: slide, turn, turn, slide.
inline std::vector<space::Move> random_moves(Random& random, const WayScene& w, int kind) {
    const auto axis = [&] {
        return random.uniform() < 0.6 ? Vec3{random.uniform() < 0.5 ? 1.0 : 0.0, 0, 0} + Vec3{0, 0, 0.2}
                                      : Vec3{random.normal(), random.normal(), random.normal()};
    };
    const auto turn = [&](double most_deg) {
        return space::Turn{
            random.uniform(0.2, 1.0) * most_deg * (random.uniform() < 0.5 ? -1.0 : 1.0) * std::numbers::pi / 180.0,
            unit(axis()),
            {random.uniform(-60, 60), random.uniform(-60, w.size.y), random.uniform(0, w.size.z)}};
    };
    const auto in = [&](double length, double aside) {
        return space::Slide{Vec3{random.uniform(-aside, aside), 1.0, random.uniform(-aside, aside)} * length};
    };
    if (kind == 0)
        return {in(random.uniform(60, 150), 0.5),
                space::Slide{{random.uniform(-30, 30), random.uniform(0, 20), random.uniform(-30, 30)}},
                in(random.uniform(20, 90), 0.3)};
    if (kind == 1) return {in(random.uniform(60, 200), 0.4), turn(25)};
    if (kind == 2) return {in(random.uniform(60, 200), 0.4), turn(30), in(random.uniform(15, 120), 0.3)};
    return {in(random.uniform(60, 150), 0.3), turn(18), turn(18), in(random.uniform(15, 80), 0.2)};
}

/// The highest that a seated place meets on its way, all moves sampled every `step_mm` and the top looked at closer.
/// Positive: it does not come in; by that much the clearance asked for is missed.
class SampledWay {
public:
    SampledWay(const WayScene& w, const space::RoomOptions& o) : w_(w), o_(o), way_(o.moves) {}

    /// What one place of the way forbids.
    double met(Point3 p) const {
        const double c = o_.insert_clearance.value_or(o_.clearance).mm() + o_.covering.mm();
        double v = c - w_.scene.distance(p);
        const Plane mouth{{0, WayScene::kMouth, 0}, {0, -1, 0}};
        for (const space::Limit& l : o_.limits)
            v = std::max(v, -solid_corner({l.plane.point, -l.plane.outward}, mouth)(p));
        for (const space::KeepOut& k : o_.keep_outs) {
            const double margin = k.clearance.mm() + (k.covering ? o_.covering.mm() : 0.0);
            if (const auto* b = std::get_if<space::SphereShape>(&k.shape))
                v = std::max(v, margin - ball(b->centre, b->radius_mm)(p));
            else if (const auto* q = std::get_if<space::BoxShape>(&k.shape))
                v = std::max(v, margin - box_distance(p - (q->min + q->max) * 0.5, (q->max - q->min) * 0.5));
        }
        return v;
    }
    double standing(Point3 x) const {
        double v = std::max(met(x), o_.clearance.mm() + o_.covering.mm() - w_.scene.distance(x));
        for (const space::Limit& l : o_.limits) v = std::max(v, l.plane.height(x));
        return v;
    }
    double most(Point3 seated, double step_mm) const {
        double most = standing(seated);
        for (std::size_t i = 0; i < way_.size(); ++i) {
            // Pose by pose, as a user would draw it: the share of the move that is done.
            const Point3 from = way_.during(i, 0.0).to_parent(seated);
            double length = 0.0, before = 0.0;
            if (const auto* slide = std::get_if<space::Slide>(&way_.move(i))) {
                length = norm(slide->by_mm);
                if (i == 0)
                    before =
                        std::max(0.0, space::kCarriedOn_mm + from.y - WayScene::kMouth) / (slide->by_mm.y / length);
            } else {
                const auto& turn = std::get<space::Turn>(way_.move(i));
                length = norm(cross(turn.axis, from - turn.about)) * std::abs(turn.angle_rad);
            }
            const auto at = [&](double s) {
                return met(way_.during(i, length > 0.0 ? s / length : 0.0).to_parent(seated));
            };
            const int n = std::max(1, static_cast<int>(std::ceil((length + before) / step_mm)));
            const double step = (length + before) / n;
            double top = -1e300, top_at = 0.0;
            for (int q = 0; q <= n; ++q)
                if (const double v = at(q * step - before); v > top) top = v, top_at = q * step - before;
            for (int q = -4; q <= 4 && top > most - step; ++q)
                most = std::max(most, at(std::clamp(top_at + q * step / 4.0, -before, length)));
            most = std::max(most, top);
            if (i == 0)
                most = std::max(most, WayScene::kMouth < way_.during(0, 0.0).to_parent(seated).y && before == 0.0
                                          ? from.y - WayScene::kMouth
                                          : -1e300);
        }
        return most;
    }

private:
    const WayScene& w_;
    const space::RoomOptions& o_;
    space::WayIn way_;
};

struct WayFigures {
    double more_vx = -1e300;  ///< of room claimed that the way does not leave, voxels
    double less_vx = -1e300;  ///< of room lost
    Point3 more_at, less_at;
    double litres = 0.0;
    std::size_t border = 0;
};

/// Along the border of a room behind the mouth: one place in `every`.
inline WayFigures way_figures(const WayScene& w, const space::RoomOptions& o, const space::Room& room, int every,
                              double step_mm) {
    const SampledWay way(w, o);
    const space::Field& f = room.outer;
    const Frame& frame = f.grid.vehicle_from_box;
    WayFigures figures;
    const std::size_t stride[3] = {1, static_cast<std::size_t>(f.grid.nx),
                                   static_cast<std::size_t>(f.grid.nx) * static_cast<std::size_t>(f.grid.ny)};
    for (int k = 1; k + 1 < f.grid.nz; ++k)
        for (int j = 1; j + 1 < f.grid.ny; ++j)
            for (int i = 1; i + 1 < f.grid.nx; ++i) {
                const Point3 p = f.grid.node(i, j, k);
                if (p.y < WayScene::kMouth + f.grid.h_mm) continue;
                const float a = f.mm[f.grid.index(i, j, k)];
                for (std::size_t axis = 0; axis < 3; ++axis) {
                    const float b = f.mm[f.grid.index(i, j, k) + stride[axis]];
                    if ((a < 0) == (b < 0) || ++figures.border % static_cast<std::size_t>(every) != 0) continue;
                    Point3 z = p;
                    z[axis] += f.grid.h_mm * a / (a - b);
                    const double v = way.most(frame.to_parent(z), step_mm) / f.grid.h_mm;
                    if (v > figures.more_vx) figures.more_vx = v, figures.more_at = frame.to_parent(z);
                    if (-v > figures.less_vx) figures.less_vx = -v, figures.less_at = frame.to_parent(z);
                }
            }
    figures.litres = space::VolumeTable::of(f).volume_behind(WayScene::kMouth).litres();
    return figures;
}

}  // namespace geom::test

// A place of the body goes its path back from where it is seated, in steps as long as what is known there lets it be:
// W changes by no more than the way gone, so that where it is far below the highest met so far nothing is missed, and
// near it steps are half a voxel, with a parabola through three tricubic values at the top. Blocks of nodes go first:
// if a block's middle passes with more room than the block is large, so do all of its nodes.
//
// W is put together on one grid. Behind all open planes ("inside") the room's own field rules: scanned surface with its
// rim carried on, limits, keep-outs, and whatever `air` does not reach is solid. Beyond an open plane there is the
// scanned surface and the keep-outs alone. So that W does not jump at the plane the inside's solids end there: what
// forbids by more than the depth behind the plane forbids by that depth, which is the distance function of the solid
// cut off by the plane, with the same zero set.
#include "geom/space/internal/moved_in.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"
#include "geom/space/internal/rough_distance.h"
#include "geom/space/internal/sample_tree.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

namespace geom::space::internal {
namespace {

constexpr double kLeastStep = 0.5;  // voxels
constexpr float kBand = 2.5f;       // voxels about zero in which values are wanted
constexpr double kDeep = 14.0;      // voxels to which freedom is told apart
constexpr double kMostNodes = 2.4e7;
constexpr int kBlock = 4;

/// Behind all open planes by so much; negative beyond one.
double depth_of(const RoomJob& job, Point3 p) {
    double height = -1e9;
    for (const Plane& o : job.open) height = std::max(height, o.height(p));
    return -height;
}

double gap(const Aabb& b, Point3 p) {
    double d2 = 0.0;
    for (std::size_t a = 0; a < 3; ++a) {
        const double d = std::max({b.lo[a] - p[a], 0.0, p[a] - b.hi[a]});
        d2 += d * d;
    }
    return std::sqrt(d2);
}

/// Everything that places of `body` pass.
Aabb passed_by(const RoomJob& job, const Aabb& body) {
    constexpr double kStep_rad = 4.0 * std::numbers::pi / 180.0;
    std::array<Point3, 8> corner;
    for (std::size_t c = 0; c < 8; ++c)
        corner[c] = {(c & 1) ? body.hi.x : body.lo.x, (c & 2) ? body.hi.y : body.lo.y, (c & 4) ? body.hi.z : body.lo.z};
    Aabb all;
    double sagitta = 0.0;
    for (std::size_t i = job.way.size(); i-- > 0;) {
        int steps = 1;
        if (const auto* turn = std::get_if<Turn>(&job.way.move(i))) {
            steps = static_cast<int>(std::ceil(std::abs(turn->angle_rad) / kStep_rad));
            const double half = 0.5 * std::abs(turn->angle_rad) / steps;
            for (const Point3 c : corner)
                sagitta = std::max(sagitta,
                                   PathBack(*turn, job.way.after(i).to_parent(c)).radius_mm() * (1.0 - std::cos(half)));
        }
        for (int s = 0; s <= steps; ++s) {
            const Frame pose = job.way.during(i, static_cast<double>(s) / steps);
            for (const Point3 c : corner) all.grow(pose.to_parent(c));
        }
    }
    if (job.way.begins_with_slide()) {
        const Vec3 back = -unit(std::get<Slide>(job.way.move(0)).by_mm);
        const Frame start = job.way.during(0, 0.0);
        for (const Point3 c : corner) {
            const Point3 p = start.to_parent(c);
            all.grow(p + back * carried_on_mm(job.open, p, back));
        }
    }
    const Vec3 more{sagitta, sagitta, sagitta};
    return {all.lo - more, all.hi + more};
}

/// The highest that one node meets.
class Going {
public:
    Going(const RoomJob& job, const WayField& field) : job_(job), field_(field), step_(kLeastStep * field.h_mm()) {}

    /// No higher than `cap` and no lower than `floor` is told apart; not refined.
    float most(Point3 seated, float floor, float cap) {
        most_ = floor;
        best_move_ = job_.way.size();
        begins_inside_ = false;
        for (std::size_t i = job_.way.size(); i-- > 0 && most_ < cap;) {
            const PathBack path(job_.way.move(i), job_.way.after(i).to_parent(seated));
            double length = path.length_mm();
            if (i == 0 && job_.way.begins_with_slide())
                length += carried_on_mm(job_.open, path.at(length), path.at(1.0) - path.at(0.0));
            for (double s = 0.0; most_ < cap;) {
                const float w = field_.rough(path.at(s));
                if (w > most_) most_ = w, best_move_ = i, best_at_ = s, best_length_ = length;
                if (s >= length) break;
                s = std::min(length, s + std::max(step_, static_cast<double>(most_ - w)));
            }
            if (i == 0) {
                const auto inside = static_cast<float>(depth_of(job_, path.at(length)));
                begins_inside_ = inside > most_;
                most_ = std::max(most_, inside);
            }
        }
        return most_;
    }
    /// The same, from the field's smooth values about the place where it was met.
    float refined(Point3 seated) const {
        if (begins_inside_ || best_move_ == job_.way.size()) return most_;
        const PathBack path(job_.way.move(best_move_), job_.way.after(best_move_).to_parent(seated));
        const auto at = [&](double s) { return field_.fine(path.at(s)); };
        const double lo = std::max(0.0, best_at_ - step_), hi = std::min(best_length_, best_at_ + step_);
        const float f0 = at(lo), f1 = at(best_at_), f2 = at(hi);
        float top = std::max({f0, f1, f2});
        const double bend = static_cast<double>(f0) - 2.0 * f1 + f2;
        if (hi - lo > 1.9 * step_ && bend < -1e-6)
            top = std::max(top,
                           at(best_at_ + step_ * std::clamp(0.5 * (static_cast<double>(f0) - f2) / bend, -1.0, 1.0)));
        return top;
    }
    bool begins_inside() const { return begins_inside_; }

private:
    const RoomJob& job_;
    const WayField& field_;
    double step_;
    float most_ = 0.0f;
    std::size_t best_move_ = 0;
    double best_at_ = 0.0, best_length_ = 0.0;
    bool begins_inside_ = false;
};

}  // namespace

WayField::WayField(const RoomJob& job, const Standing& standing, const scan::Surface& surface, Aabb passed)
    : job_(job) {
    const double h = standing.at.grid.h_mm, reach = job.way_clearance_mm + 4.0 * h;
    solid_ = static_cast<float>(4.0 * h);
    for (const Point3& p : surface.points) scan_.grow(job.box.to_local(p));
    for (const Obstacle& ob : job.obstacles) {
        if (ob.in_way() == nullptr) continue;
        scan_.grow(ob.box_in_way().lo - Vec3{ob.margin_mm, ob.margin_mm, ob.margin_mm});
        scan_.grow(ob.box_in_way().hi + Vec3{ob.margin_mm, ob.margin_mm, ob.margin_mm});
    }
    // On the lattice of the room's own grid, so that its values are taken over as they are.
    const GridSpec& room = standing.at.grid;
    grid_ = room;
    Aabb b;
    for (std::size_t a = 0; a < 3; ++a) {
        b.lo[a] = std::max(passed.lo[a], scan_.lo[a] - reach) - 4.0 * h;
        b.hi[a] = std::min(passed.hi[a], scan_.hi[a] + reach) + 4.0 * h;
        const auto nodes = [](double v) { return static_cast<int>(v); };
        const int lo = nodes(std::floor((b.lo[a] - room.lo[a]) / h)), hi = nodes(std::ceil((b.hi[a] - room.lo[a]) / h));
        grid_.lo[a] = room.lo[a] + lo * h;
        (a == 0 ? grid_.nx : a == 1 ? grid_.ny : grid_.nz) = std::max(8, hi - lo + 1);
    }
    if (const double count = static_cast<double>(grid_.count()); count > kMostNodes) {
        const double by = std::cbrt(count / kMostNodes);
        grid_.h_mm = h * by;
        grid_.nx = static_cast<int>(grid_.nx / by) + 2, grid_.ny = static_cast<int>(grid_.ny / by) + 2,
        grid_.nz = static_cast<int>(grid_.nz / by) + 2;
    }
    fill(standing, surface);
    deepen();
}

void WayField::fill(const Standing& s, const scan::Surface& surface) {
    const GridSpec& room = s.at.grid;
    const double h = grid_.h_mm;
    const auto hf = static_cast<float>(h), clearance = static_cast<float>(job_.way_clearance_mm);
    const double farthest = job_.way_clearance_mm + 4.5 * h, mouth_y = room.lo.y + s.at.mouth * room.h_mm;
    const auto is_outside = [&](double depth, double y) { return depth < 2.5 * h || y < mouth_y + 0.5 * h; };

    // The scanned surface, for what lies beyond an open plane or in front of the mouth.
    std::vector<Vec3f> places;
    std::vector<LocalSample> samples;
    const double margin = farthest + h;
    const auto f3 = [](Vec3 v) {
        return Vec3f{static_cast<float>(v.x), static_cast<float>(v.y), static_cast<float>(v.z)};
    };
    const Point3 end = grid_.node(grid_.nx - 1, grid_.ny - 1, grid_.nz - 1);
    for (std::size_t q = 0; q < surface.points.size(); ++q) {
        const Point3 p = job_.box.to_local(surface.points[q]);
        bool is_near = true;
        for (std::size_t a = 0; a < 3; ++a) is_near = is_near && p[a] > grid_.lo[a] - margin && p[a] < end[a] + margin;
        if (!is_near) continue;
        samples.push_back({f3(p - grid_.lo), f3(job_.box.dir_to_local(surface.normals[q])), surface.radius_mm[q]});
        places.push_back(samples.back().at);
    }
    mm_ = rough_distance(grid_, places, farthest);
    const SampleTree tree(samples);

    // The room's own: standing where it counts, at the way's clearance, never past the planes that are open to the way.
    const bool same_lattice = grid_.h_mm == room.h_mm;
    const std::array<long, 3> shift{std::lround((grid_.lo.x - room.lo.x) / room.h_mm),
                                    std::lround((grid_.lo.y - room.lo.y) / room.h_mm),
                                    std::lround((grid_.lo.z - room.lo.z) / room.h_mm)};
    parallel_for(
        room.count() > 0 ? static_cast<std::size_t>(grid_.nz) : 0, 4, [&](std::size_t begin, std::size_t end_k) {
            std::vector<float> limits(static_cast<std::size_t>(grid_.nx)),
                obstacles(static_cast<std::size_t>(grid_.nx));
            SampleTree::Hint hint;
            for (std::size_t kk = begin; kk < end_k; ++kk)
                for (int j = 0; j < grid_.ny; ++j) {
                    const int k = static_cast<int>(kk);
                    std::fill(limits.begin(), limits.end(), -1e6f);
                    std::fill(obstacles.begin(), obstacles.end(), -1e6f);
                    job_.raise_to_planes(grid_, j, k, true, limits.data());
                    job_.raise_to_obstacles(grid_, j, k, Stand::GoingIn, obstacles.data());
                    for (int i = 0; i < grid_.nx; ++i) {
                        float& v = mm_[grid_.index(i, j, k)];
                        const Point3 p = grid_.node(i, j, k);
                        const double depth = depth_of(job_, p);
                        float ruled = obstacles[static_cast<std::size_t>(i)];
                        for (const Obstacle& ob : job_.obstacles)  // known to be near only within a few voxels
                            if (ob.in_way() != nullptr)
                                ruled = std::max(ruled,
                                                 static_cast<float>(ob.margin_mm - std::max(gap(ob.box_in_way(), p),
                                                                                            ob.margin_mm + 4.0 * h)));
                        // Inside: of the room's grid the nearest plane behind the mouth, in front of it.
                        float inside = solid_;
                        std::array<int, 3> at{};
                        bool is_in = true;
                        if (same_lattice)
                            at = {i + static_cast<int>(shift[0]), j + static_cast<int>(shift[1]),
                                  k + static_cast<int>(shift[2])};
                        else
                            for (std::size_t a = 0; a < 3; ++a)
                                at[a] = static_cast<int>(std::lround((p[a] - room.lo[a]) / room.h_mm));
                        is_in = at[0] >= 0 && at[1] >= 0 && at[2] >= 0 && at[0] < room.nx && at[1] < room.ny &&
                                at[2] < room.nz;
                        if (is_in) {
                            const std::size_t q = room.index(at[0], std::max(at[1], s.at.mouth), at[2]);
                            // In front of the mouth and not beyond an open plane the way ends where the grid does.
                            const float front = at[1] >= s.at.mouth ? -1e6f : static_cast<float>(3 - at[1]) * hf;
                            inside =
                                s.in[q] == 2
                                    ? solid_
                                    : std::max({limits[static_cast<std::size_t>(i)], clearance - s.surface[q], front});
                        }
                        inside = std::max(inside, ruled);
                        if (!is_outside(depth, p.y)) {
                            v = std::min(inside, static_cast<float>(depth));
                            continue;
                        }
                        if (std::abs(v - clearance) < 3.5f * hf)
                            v = tree.blended(
                                {static_cast<float>(i) * hf, static_cast<float>(j) * hf, static_cast<float>(k) * hf},
                                static_cast<float>(farthest), clearance, 2.5f * hf, hint);
                        v = std::max({clearance - v, ruled, std::min(inside, static_cast<float>(depth))});
                    }
                }
        });
}

// Distances were cut off a few voxels into the free; longer steps come of knowing how far from there a node is.
void WayField::deepen() {
    const auto h = static_cast<float>(grid_.h_mm);
    const float level = -3.0f * h;
    const std::size_t sy = static_cast<std::size_t>(grid_.nx), sz = sy * static_cast<std::size_t>(grid_.ny);
    std::vector<Vec3f> border;
    for (int k = 1; k + 1 < grid_.nz; ++k)
        for (int j = 1; j + 1 < grid_.ny; ++j)
            for (int i = 1; i + 1 < grid_.nx; ++i) {
                const float* v = mm_.data() + grid_.index(i, j, k);
                if (v[0] > level && std::min({v[1], *(v - 1), v[sy], *(v - sy), v[sz], *(v - sz)}) <= level)
                    border.push_back({static_cast<float>(i) * h, static_cast<float>(j) * h, static_cast<float>(k) * h});
            }
    const std::vector<float> from = rough_distance(grid_, border, kDeep * grid_.h_mm);
    parallel_for(mm_.size(), std::size_t{1} << 16, [&](std::size_t begin, std::size_t end) {
        for (std::size_t q = begin; q < end; ++q)
            if (mm_[q] <= level) mm_[q] = level - std::max(0.0f, from[q] - 2.0f * h);
    });
}

float WayField::off_grid(Point3 p) const {
    const double free = job_.way_clearance_mm - gap(scan_, p),
                 inside = std::min(static_cast<double>(solid_), depth_of(job_, p));
    return static_cast<float>(std::max(std::min(free, -3.0 * grid_.h_mm), inside));
}

float WayField::rough(Point3 p) const {
    const double x = (p.x - grid_.lo.x) / grid_.h_mm, y = (p.y - grid_.lo.y) / grid_.h_mm,
                 z = (p.z - grid_.lo.z) / grid_.h_mm;
    if (!(x >= 0.0 && y >= 0.0 && z >= 0.0 && x < grid_.nx - 1 && y < grid_.ny - 1 && z < grid_.nz - 1))
        return off_grid(p);
    const int i = static_cast<int>(x), j = static_cast<int>(y), k = static_cast<int>(z);
    const auto fx = static_cast<float>(x - i), fy = static_cast<float>(y - j), fz = static_cast<float>(z - k);
    const float* q = mm_.data() + grid_.index(i, j, k);
    const std::size_t sy = static_cast<std::size_t>(grid_.nx), sz = sy * static_cast<std::size_t>(grid_.ny);
    const auto row = [fx](const float* a) { return a[0] + fx * (a[1] - a[0]); };
    const float a0 = row(q), a1 = row(q + sy), b0 = row(q + sz), b1 = row(q + sz + sy);
    const float a = a0 + fy * (a1 - a0), b = b0 + fy * (b1 - b0);
    return a + fz * (b - a);
}

float WayField::fine(Point3 p) const {
    const Vec3 at = (p - grid_.lo) / grid_.h_mm;
    if (!(at.x >= 1.0 && at.y >= 1.0 && at.z >= 1.0 && at.x < grid_.nx - 2 && at.y < grid_.ny - 2 &&
          at.z < grid_.nz - 2))
        return rough(p);
    return Tricubic(grid_, mm_.data())
        .value({static_cast<float>(at.x), static_cast<float>(at.y), static_cast<float>(at.z)});
}

namespace {

/// Raises the field behind the mouth to what the convex keep-outs forbid all along the moves; known without noise.
void raise_to_obstacles_on_way(const RoomJob& job, const RoomGrid& at, std::vector<float>& mm) {
    const GridSpec& g = at.grid;
    const double h = g.h_mm, step = 0.1 * h;
    for (const Obstacle& ob : job.obstacles) {
        const ShapeDistance* shape = ob.in_way();
        if (shape == nullptr || !shape->is_convex()) continue;
        const auto least_of = [&](Point3 seated, double least) {
            for (std::size_t i = job.way.size(); i-- > 0;) {
                const PathBack path(job.way.move(i), job.way.after(i).to_parent(seated));
                if (path.is_straight()) {
                    const Vec3 back = path.at(1.0) - path.at(0.0);
                    const double length =
                        path.length_mm() + (i == 0 && job.way.begins_with_slide()
                                                ? carried_on_mm(job.open, path.at(path.length_mm()), back)
                                                : 0.0);
                    least = std::min(least, least_on_line(*shape, job.box.to_parent(path.at(0.0)),
                                                          job.box.dir_to_parent(back), length));
                    continue;
                }
                double best_at = -1.0;
                const auto ask = [&](double s) { return shape->at(job.box.to_parent(path.at(s))); };
                for (double s = 0.0;;) {
                    const double d = ask(s);
                    if (d < least) least = d, best_at = s;
                    if (s >= path.length_mm()) break;
                    s = std::min(path.length_mm(), s + std::max(step, d - least));
                }
                if (best_at < 0.0) continue;
                const double lo = std::max(0.0, best_at - step), hi = std::min(path.length_mm(), best_at + step);
                for (int n = 1; n < 8; ++n) least = std::min(least, ask(lo + (hi - lo) * n / 8.0));
            }
            return least;
        };
        const double far = ob.margin_mm + 2.5 * h;
        parallel_for(
            static_cast<std::size_t>((g.nz + kBlock - 1) / kBlock), 1, [&](std::size_t begin, std::size_t end) {
                const double half = 0.5 * (kBlock - 1), radius = half * std::sqrt(3.0) * h;
                for (std::size_t kb = begin; kb < end; ++kb)
                    for (int j0 = at.mouth; j0 < g.ny; j0 += kBlock)
                        for (int i0 = 0; i0 < g.nx; i0 += kBlock) {
                            const int k0 = static_cast<int>(kb) * kBlock;
                            const int i1 = std::min(g.nx, i0 + kBlock), j1 = std::min(g.ny, j0 + kBlock),
                                      k1 = std::min(g.nz, k0 + kBlock);
                            bool asked = false;
                            for (int k = k0; k < k1; ++k)
                                for (int j = j0; j < j1; ++j)
                                    for (int i = i0; i < i1; ++i) {
                                        float& v = mm[g.index(i, j, k)];
                                        if (v > static_cast<float>(2.5 * h)) continue;
                                        if (!asked && least_of(g.node(i0, j0, k0) + Vec3{half, half, half} * h,
                                                               far + radius + 1.0) > far + radius) {
                                            i = i1, j = j1, k = k1;
                                            continue;
                                        }
                                        asked = true;
                                        v = std::max(v,
                                                     static_cast<float>(ob.margin_mm - least_of(g.node(i, j, k), far)));
                                    }
                        }
            });
    }
}

}  // namespace

void take_moves_in(const RoomJob& job, Standing& s, const scan::Surface& surface, double tolerance_mm) {
    const GridSpec& g = s.at.grid;
    const double h = g.h_mm;
    Aabb body;
    for (int k = 0; k < g.nz; ++k)
        for (int j = s.at.mouth; j < g.ny; ++j)
            for (int i = 0; i < g.nx; ++i)
                if (s.phi[g.index(i, j, k)] < 0.0f) body.grow(g.node(i, j, k));
    if (body.is_empty()) return;
    const Vec3 band{2.0 * h, 2.0 * h, 2.0 * h};
    const WayField field(job, s, surface, passed_by(job, {body.lo - band, body.hi + band}));

    const auto hf = static_cast<float>(h), floor = -kBand * hf, cap = kBand * hf,
               tolerance = static_cast<float>(tolerance_mm);
    const auto blocks = [](int n) { return (n + kBlock - 1) / kBlock; };
    const int bx = blocks(g.nx), by = blocks(g.ny - s.at.mouth), bz = blocks(g.nz);
    const double half = 0.5 * (kBlock - 1);
    const auto block_radius = static_cast<float>(half * std::sqrt(3.0)) * hf;
    std::vector<std::size_t> inside(static_cast<std::size_t>(bz), 0);
    parallel_for(static_cast<std::size_t>(bz), 1, [&](std::size_t begin, std::size_t end) {
        Going going(job, field);
        for (std::size_t kb = begin; kb < end; ++kb)
            for (int jb = 0; jb < by; ++jb)
                for (int ib = 0; ib < bx; ++ib) {
                    const int i0 = ib * kBlock, j0 = s.at.mouth + jb * kBlock, k0 = static_cast<int>(kb) * kBlock;
                    const int i1 = std::min(g.nx, i0 + kBlock), j1 = std::min(g.ny, j0 + kBlock),
                              k1 = std::min(g.nz, k0 + kBlock);
                    bool counts = false;
                    for (int k = k0; k < k1 && !counts; ++k)
                        for (int j = j0; j < j1 && !counts; ++j)
                            for (int i = i0; i < i1 && !counts; ++i) counts = s.phi[g.index(i, j, k)] < 2.0f * hf;
                    if (!counts) continue;
                    const Point3 middle = g.node(i0, j0, k0) + Vec3{half, half, half} * h;
                    const float free = floor - block_radius - 0.5f * hf;
                    if (going.most(middle, free, free + 0.5f * hf) < free + 0.5f * hf) continue;
                    for (int k = k0; k < k1; ++k)
                        for (int j = j0; j < j1; ++j)
                            for (int i = i0; i < i1; ++i) {
                                float& v = s.phi[g.index(i, j, k)];
                                if (v > 2.0f * hf) continue;
                                const bool was_free = v < 0.0f;
                                const float least = std::max(v, floor);
                                if (!(going.most(g.node(i, j, k), least, cap) > least)) continue;
                                v = std::max(v, going.refined(g.node(i, j, k)) - tolerance);
                                if (was_free && v > 0.0f && going.begins_inside()) ++inside[kb];
                            }
                }
    });
    raise_to_obstacles_on_way(job, s.at, s.phi);
    std::size_t count = 0;
    for (const std::size_t n : inside) count += n;
    if (count > 0)
        s.notes.push_back(fmt::format(
            "{:.2f} L of the room {} not outside before the first move ({}) and left out: begin with a slide that "
            "comes in from outside",
            static_cast<double>(count) * h * h * h / 1e6, count == 1 ? "is" : "are", text_of(job.way.move(0))));
}

}  // namespace geom::space::internal

// The search of SweptDistance keeps pieces of the motion in a heap, the one that could hold the least value on top. A
// piece is known by the value f at its middle: no value on it is less than f - v w / 2, with w its width and v the
// speed of the place, or of the body's fastest place where that is less. It is cut in three, so that the middle of the
// middle third is known already.
#include "geom/space/internal/swept.h"

#include "geom/core/checks.h"
#include "geom/core/parallel.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace geom::space::internal {
namespace {

constexpr int kMostAsked = 4000;         // then what is certified is taken: the space comes out larger, never smaller
constexpr int kBrick = 8;                // nodes a side that are judged together
constexpr int kDepth = 3;                // voxels in which a depth inside is told apart
constexpr double kGridTolerance = 0.03;  // of a voxel
constexpr float kInside = -1e6f;

struct Part {
    double at_least, middle, half, mm;
    const void* piece;
};
bool is_later(const Part& a, const Part& b) {
    return a.at_least > b.at_least || (a.at_least == b.at_least && a.middle > b.middle);
}

}  // namespace

SweptDistance::SweptDistance(std::unique_ptr<ShapeDistance> body, const Motion& motion)
    : body_(std::move(body)), motion_(motion) {
    EXPECTS(is_moving(motion));
    box_ = swept_box(motion, body_->box());
    if (const auto* swing = std::get_if<Swing>(&motion)) {
        pieces_.push_back({0.0, run_of(motion), {}, {}});
        const Aabb drawn = body_->box();
        for (int c = 0; c < 8; ++c) {
            const Point3 corner{(c & 1) ? drawn.hi.x : drawn.lo.x, (c & 2) ? drawn.hi.y : drawn.lo.y,
                                (c & 4) ? drawn.hi.z : drawn.lo.z};
            radius_mm_ = std::max(radius_mm_, norm(cross(unit(swing->axis), corner - swing->hinge)));
        }
        return;
    }
    const std::vector<Point3>& path = std::get<Travel>(motion).path;
    double from = 0.0;
    for (std::size_t i = 1; i < path.size(); ++i) {
        const double length = distance(path[i - 1], path[i]);
        if (length > 0.0) pieces_.push_back({from, length, path[i - 1], (path[i] - path[i - 1]) / length});
        from += length;
    }
}

SweptDistance::Least SweptDistance::least(Point3 vehicle, const Search& search) const {
    const auto* swing = std::get_if<Swing>(&motion_);
    Vec3 axle, aside, across;
    double speed = 1.0, angle = 0.0, sense = 1.0;
    if (swing != nullptr) {
        const Vec3 axis = unit(swing->axis), d = vehicle - swing->hinge;
        const Vec3 along = axis * dot(d, axis);
        axle = swing->hinge + along;
        aside = d - along;
        across = cross(axis, aside);
        speed = std::min(norm(aside), radius_mm_);
        angle = swing->from.rad();
        sense = swing->to.rad() < swing->from.rad() ? -1.0 : 1.0;
    }
    // The place as the body sees it after `run`.
    const auto seen = [&](const Piece& piece, double run) {
        if (swing == nullptr) return vehicle - piece.start - piece.way * (run - piece.from);
        const double turned = angle + sense * run;
        return axle + aside * std::cos(turned) - across * std::sin(turned);
    };

    Least best;
    best.at_least = 1e300;  // of what was dropped
    std::vector<Part> heap;
    heap.reserve(64);
    int asked = 0;
    const auto ask = [&](const Piece& piece, double middle, double half) {
        const double reach = speed * half, of_use = std::min(best.mm - search.tolerance_mm, search.far_mm);
        const double limit = of_use + reach, mm = body_->at_most(seen(piece, middle), limit);
        ++asked;
        if (mm < best.mm && mm < limit - 1e-9) best.mm = mm, best.run = middle;  // else it may be the limit alone
        return Part{mm - reach, middle, half, mm, &piece};
    };
    const auto keep = [&](const Part& part) {
        if (part.at_least < std::min(best.mm - search.tolerance_mm, search.far_mm)) {
            heap.push_back(part);
            std::push_heap(heap.begin(), heap.end(), is_later);
        } else {
            best.at_least = std::min(best.at_least, part.at_least);
        }
    };
    if (search.try_first >= 0.0)
        for (const Piece& piece : pieces_)
            if (search.try_first >= piece.from && search.try_first <= piece.from + piece.length) {
                ask(piece, search.try_first, 0.0);
                break;
            }
    for (const Piece& piece : pieces_) {
        if (best.mm <= search.enough_mm) break;
        keep(ask(piece, piece.from + 0.5 * piece.length, 0.5 * piece.length));
    }
    while (!heap.empty() && best.mm > search.enough_mm) {
        const Part top = heap.front();
        if (top.at_least >= std::min(best.mm - search.tolerance_mm, search.far_mm)) break;
        if (asked >= kMostAsked) {
            best.mm = std::max(std::min(best.mm, 0.0), top.at_least);
            break;
        }
        std::pop_heap(heap.begin(), heap.end(), is_later);
        heap.pop_back();
        const Piece& piece = *static_cast<const Piece*>(top.piece);
        const double half = top.half / 3.0;
        keep({top.mm - speed * half, top.middle, half, top.mm, top.piece});
        for (const double side : {-2.0, 2.0}) keep(ask(piece, top.middle + side * half, half));
    }
    if (!heap.empty()) best.at_least = std::min(best.at_least, heap.front().at_least);
    best.at_least = std::min(best.at_least, best.mm);
    return best;
}

PosedDistance::PosedDistance(std::unique_ptr<ShapeDistance> body, const Motion& motion, double run)
    : body_(std::move(body)) {
    const Point3 origin = moved(motion, run, {});
    pose_ = {origin, moved(motion, run, {1, 0, 0}) - origin, moved(motion, run, {0, 1, 0}) - origin,
             moved(motion, run, {0, 0, 1}) - origin};
    const Aabb drawn = body_->box();
    for (int c = 0; c < 8; ++c)
        box_.grow(pose_.to_parent(
            {(c & 1) ? drawn.hi.x : drawn.lo.x, (c & 2) ? drawn.hi.y : drawn.lo.y, (c & 4) ? drawn.hi.z : drawn.lo.z}));
}

SweptGrid::SweptGrid(const SweptDistance& swept, const GridSpec& grid, const Aabb& near, double reach_mm, bool beyond)
    : part_(grid), made_for_(grid), beyond_(beyond), reach_mm_(reach_mm) {
    std::array<int, 3> lo{}, n{};
    const std::array<int, 3> all{grid.nx, grid.ny, grid.nz};
    for (std::size_t a = 0; a < 3; ++a) {
        const auto node = [&](double mm) { return (mm - grid.lo[a]) / grid.h_mm; };
        const auto whole = [](double nodes) { return static_cast<int>(std::clamp(nodes, -1e6, 1e6)); };
        lo[a] = whole(std::floor(node(near.lo[a] - reach_mm)));
        int end = whole(std::ceil(node(near.hi[a] + reach_mm))) + 1;
        if (!beyond) lo[a] = std::clamp(lo[a], 0, all[a]), end = std::clamp(end, 0, all[a]);
        n[a] = std::max(0, end - lo[a]);
    }
    part_.lo = grid.node(lo[0], lo[1], lo[2]);
    part_.nx = n[0], part_.ny = n[1], part_.nz = n[2];
    if (part_.count() == 0) part_.nx = part_.ny = part_.nz = 0;
    mm_.assign(part_.count(), static_cast<float>(reach_mm + grid.h_mm));
    if (mm_.empty()) return;
    measure(swept);
    measure_depths();
}

void SweptGrid::measure(const SweptDistance& swept) {
    const double h = part_.h_mm, tolerance = std::max(SweptDistance::kTolerance_mm, kGridTolerance * h);
    const double half_diagonal = 0.5 * (kBrick - 1) * h * std::sqrt(3.0), enough = swept.is_sheet() ? tolerance : 0.0;
    const auto bricks = [](int n) { return (n + kBrick - 1) / kBrick; };
    const int bx = bricks(part_.nx), by = bricks(part_.ny), bz = bricks(part_.nz);
    const auto count = static_cast<std::size_t>(bx) * static_cast<std::size_t>(by) * static_cast<std::size_t>(bz);
    parallel_for(count, 4, [&](std::size_t begin, std::size_t end) {
        for (std::size_t brick = begin; brick < end; ++brick) {
            const int b = static_cast<int>(brick), i0 = b % bx * kBrick, j0 = b / bx % by * kBrick,
                      k0 = b / (bx * by) * kBrick;
            const int i1 = std::min(i0 + kBrick, part_.nx), j1 = std::min(j0 + kBrick, part_.ny),
                      k1 = std::min(k0 + kBrick, part_.nz);
            const Point3 middle = part_.node(i0, j0, k0) + Vec3{0.5, 0.5, 0.5} * ((kBrick - 1) * h);
            const auto all =
                swept.least(part_.vehicle_from_box.to_parent(middle), {.tolerance_mm = 0.25 * half_diagonal,
                                                                       .far_mm = reach_mm_ + half_diagonal,
                                                                       .enough_mm = -half_diagonal});
            if (all.at_least >= reach_mm_ + half_diagonal) continue;
            const bool all_inside = all.mm <= -half_diagonal;
            double run = all.run;
            for (int k = k0; k < k1; ++k)
                for (int j = j0; j < j1; ++j)
                    for (int i = i0; i < i1; ++i) {
                        float& mm = mm_[part_.index(i, j, k)];
                        if (all_inside) {
                            mm = kInside;
                            continue;
                        }
                        const Point3 p = part_.vehicle_from_box.to_parent(part_.node(i, j, k));
                        const auto found = swept.least(
                            p, {.tolerance_mm = tolerance, .far_mm = reach_mm_, .enough_mm = enough, .try_first = run});
                        run = found.run;
                        if (found.mm <= enough)
                            mm = kInside;
                        else if (found.mm < reach_mm_)
                            mm = static_cast<float>(std::max(0.5 * (found.mm + found.at_least), 0.25 * found.mm));
                    }
        }
    });
}

// A ball round a free node with its distance for radius is free, so the depth of a node inside is at most the way to
// that ball; where the node lies straight out it is just that.
void SweptGrid::measure_depths() {
    std::vector<unsigned char> near(mm_.size());
    for (std::size_t q = 0; q < mm_.size(); ++q) near[q] = mm_[q] > 0.0f;
    const std::array<std::size_t, 3> step{1, static_cast<std::size_t>(part_.nx),
                                          static_cast<std::size_t>(part_.nx) * static_cast<std::size_t>(part_.ny)};
    const std::array<int, 3> n{part_.nx, part_.ny, part_.nz};
    for (std::size_t a = 0; a < 3; ++a) {
        std::vector<unsigned char> grown = near;
        parallel_for(mm_.size(), 1 << 15, [&](std::size_t begin, std::size_t end) {
            for (std::size_t q = begin; q < end; ++q) {
                if (near[q] != 0) continue;
                const int at = static_cast<int>(q / step[a] % static_cast<std::size_t>(n[a]));
                for (int d = std::max(-kDepth, -at); d <= std::min(kDepth, n[a] - 1 - at) && grown[q] == 0; ++d)
                    grown[q] = near[q + static_cast<std::size_t>(d) * step[a]];
            }
        });
        near = std::move(grown);
    }
    const double h = part_.h_mm;
    const auto deepest = static_cast<float>(kDepth * h);
    const std::vector<float> known = mm_;
    parallel_for(static_cast<std::size_t>(part_.nz), 2, [&](std::size_t begin, std::size_t end) {
        for (int k = static_cast<int>(begin); k < static_cast<int>(end); ++k)
            for (int j = 0; j < part_.ny; ++j)
                for (int i = 0; i < part_.nx; ++i) {
                    const std::size_t q = part_.index(i, j, k);
                    if (known[q] > 0.0f) continue;
                    float depth = deepest;
                    if (near[q] != 0)
                        for (int dk = std::max(-kDepth, -k); dk <= std::min(kDepth, part_.nz - 1 - k); ++dk)
                            for (int dj = std::max(-kDepth, -j); dj <= std::min(kDepth, part_.ny - 1 - j); ++dj)
                                for (int di = std::max(-kDepth, -i); di <= std::min(kDepth, part_.nx - 1 - i); ++di) {
                                    const float free = known[part_.index(i + di, j + dj, k + dk)];
                                    if (!(free > 0.0f && free < static_cast<float>(reach_mm_))) continue;
                                    depth = std::min(depth, static_cast<float>(h * std::sqrt(static_cast<double>(
                                                                                       di * di + dj * dj + dk * dk))) -
                                                                free);
                                }
                    mm_[q] = -std::max(depth, 1e-3f);
                }
    });
}

bool SweptGrid::is_for(const GridSpec& grid) const {
    const Frame &a = grid.vehicle_from_box, &b = made_for_.vehicle_from_box;
    if (grid.h_mm != made_for_.h_mm || a.origin != b.origin || a.x != b.x || a.y != b.y || a.z != b.z) return false;
    const std::array<int, 3> own{grid.nx, grid.ny, grid.nz}, all{made_for_.nx, made_for_.ny, made_for_.nz};
    for (std::size_t c = 0; c < 3; ++c) {
        const double nodes = (grid.lo[c] - made_for_.lo[c]) / grid.h_mm, first = std::round(nodes);
        if (std::abs(nodes - first) > 1e-6) return false;
        if (!beyond_ && (first < 0.0 || first + own[c] > all[c])) return false;
    }
    return true;
}

void SweptGrid::raise(const GridSpec& grid, int j, int k, double margin_mm, float* row) const {
    if (mm_.empty()) return;
    const auto shift = [&](std::size_t a) {
        return static_cast<int>(std::lround((grid.lo[a] - part_.lo[a]) / grid.h_mm));
    };
    const int own_j = j + shift(1), own_k = k + shift(2), right = shift(0);
    if (own_j < 0 || own_j >= part_.ny || own_k < 0 || own_k >= part_.nz) return;
    for (int i = std::max(0, -right); i < std::min(grid.nx, part_.nx - right); ++i) {
        const float mm = mm_[part_.index(i + right, own_j, own_k)];
        if (mm < static_cast<float>(reach_mm_)) row[i] = std::max(row[i], static_cast<float>(margin_mm) - mm);
    }
}

}  // namespace geom::space::internal

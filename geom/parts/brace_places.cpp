// Two walls that face each other, square to one of the box's own axes across the baffle, are looked at by lines along
// that axis, a few millimetres apart: a line counts where it meets both inner walls within 20 degrees of square. What
// is far from all that stiffens those walls, their edges, braces and sleeves, swings most: the brace goes where that
// distance is greatest. Of places that are as good within a tenth the first brace takes that nearest to the area's
// middle, each further one that farthest from the others.
#include "geom/parts/internal/brace.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::parts {
namespace {

constexpr double kCell_mm = 5.0;
constexpr double kSquare = 0.94;  // cosine: walls are met no flatter than that
constexpr double kAsGood = 0.9;
constexpr double kLeastFlat_mm = 15.0;  // distance from an edge or support below which no wall wants a brace

/// Lines along one axis on a lattice across it.
struct Lines {
    Vec3 axis, u, v;
    Point3 origin;
    int nu = 0, nv = 0;
    std::vector<char> is_flat;
    std::vector<char> is_refused;            ///< something stands there; it stays so
    std::vector<double> middle_mm, span_mm;  ///< along the axis
    std::vector<double> free_mm;             ///< distance from what stiffens the walls

    std::size_t index(int i, int j) const {
        return static_cast<std::size_t>(j) * static_cast<std::size_t>(nu) + static_cast<std::size_t>(i);
    }
    Point3 foot(int i, int j) const { return origin + u * (i * kCell_mm) + v * (j * kCell_mm); }
};

struct Candidate {
    double free_mm = 0.0, span_mm = 0.0;
    double spread_mm = 0.0;  ///< how far from the others, or how near to the middle (negative)
    Point3 at;
    Vec3 axis;
    char* is_refused = nullptr;
};

/// The longest stretch of air on each line, and whether both walls at its ends are met squarely.
Lines lines_along(const Site& site, Vec3 axis) {
    const space::Field& outer = site.room.outer;
    const space::GridSpec& g = outer.grid;
    const Frame& box = g.vehicle_from_box;
    Lines lines;
    lines.axis = axis;
    lines.u = site.frame.y;
    lines.v = cross(axis, site.frame.y);
    // The grid's box in this lattice.
    Point3 lo{1e300, 1e300, 1e300}, hi{-1e300, -1e300, -1e300};
    for (int corner = 0; corner < 8; ++corner) {
        const Point3 p = box.to_parent(g.node((corner & 1) != 0 ? g.nx - 1 : 0, (corner & 2) != 0 ? g.ny - 1 : 0,
                                              (corner & 4) != 0 ? g.nz - 1 : 0));
        const Point3 q{dot(p, axis), dot(p, lines.u), dot(p, lines.v)};
        for (std::size_t a = 0; a < 3; ++a) lo[a] = std::min(lo[a], q[a]), hi[a] = std::max(hi[a], q[a]);
    }
    lines.origin = lines.axis * lo.x + lines.u * lo.y + lines.v * lo.z;
    lines.nu = static_cast<int>((hi.y - lo.y) / kCell_mm) + 1;
    lines.nv = static_cast<int>((hi.z - lo.z) / kCell_mm) + 1;
    const std::size_t n = static_cast<std::size_t>(lines.nu) * static_cast<std::size_t>(lines.nv);
    lines.is_flat.assign(n, 0);
    lines.is_refused.assign(n, 0);
    lines.middle_mm.assign(n, 0.0);
    lines.span_mm.assign(n, 0.0);
    const double step = g.h_mm;
    for (int j = 0; j < lines.nv; ++j)
        for (int i = 0; i < lines.nu; ++i) {
            const Point3 foot = lines.foot(i, j);
            double begin = -1.0, best = 0.0, best_from = 0.0;
            for (double s = 0.0; s <= hi.x - lo.x + step; s += step) {
                const bool in = s <= hi.x - lo.x && site.air_mm(foot + axis * s) < 0.0;
                if (in && begin < 0.0) begin = s;
                if (!in && begin >= 0.0) {
                    if (s - begin > best) best = s - begin, best_from = begin;
                    begin = -1.0;
                }
            }
            if (best <= 4.0 * step) continue;
            bool is_square = true;
            for (const double end : {best_from - step, best_from + best}) {
                const Vec3 normal = unit(box.dir_to_parent(outer.gradient_box(box.to_local(foot + axis * end))));
                is_square = is_square && std::abs(dot(normal, axis)) > kSquare;
            }
            const std::size_t k = lines.index(i, j);
            lines.is_flat[k] = is_square ? 1 : 0;
            lines.middle_mm[k] = best_from + best / 2.0;
            lines.span_mm[k] = best;
        }
    return lines;
}

/// Distance from the edges of the flat areas and from what stands between the walls.
void measure_free(Lines& lines, const std::vector<Point3>& supports) {
    std::vector<Point3> stiff = supports;
    const auto is_flat = [&](int i, int j) {
        return i >= 0 && j >= 0 && i < lines.nu && j < lines.nv && lines.is_flat[lines.index(i, j)] != 0;
    };
    for (int j = -1; j <= lines.nv; ++j)
        for (int i = -1; i <= lines.nu; ++i)
            if (!is_flat(i, j) && (is_flat(i - 1, j) || is_flat(i + 1, j) || is_flat(i, j - 1) || is_flat(i, j + 1)))
                stiff.push_back(lines.foot(i, j));
    lines.free_mm.assign(lines.is_flat.size(), 0.0);
    for (int j = 0; j < lines.nv; ++j)
        for (int i = 0; i < lines.nu; ++i) {
            if (!is_flat(i, j)) continue;
            const Point3 foot = lines.foot(i, j);
            double least = 1e300;
            for (const Point3& p : stiff) {
                const Vec3 d = p - foot;
                least = std::min(least, std::hypot(dot(d, lines.u), dot(d, lines.v)));
            }
            lines.free_mm[lines.index(i, j)] = least;
        }
}

}  // namespace

Result<std::vector<BracePlan>> place_braces(const Site& site, int count, const BaffleRoom& baffle,
                                            const std::vector<SleevePlan>& sleeves, std::vector<BracePlan> braces) {
    if (count <= 0) return braces;
    std::vector<Lines> both{lines_along(site, site.frame.x), lines_along(site, site.frame.z)};
    const std::size_t given = braces.size();
    for (int number = 1; number <= count; ++number) {
        std::vector<Candidate> candidates;
        for (Lines& lines : both) {
            std::vector<Point3> supports;
            const auto stands_between = [&](const BoltLine& line, double height) {
                if (std::abs(dot(line.up, lines.axis)) > 0.7) supports.push_back(line.at(height));
            };
            for (const SleevePlan& sleeve : sleeves)
                stands_between(sleeve.line, (sleeve.enters_mm + sleeve.leaves_mm) / 2.0);
            for (const BracePlan& brace : braces) stands_between(brace.line, (brace.from_mm + brace.to_mm) / 2.0);
            measure_free(lines, supports);
            Point3 middle;
            double weight = 0.0;
            for (int j = 0; j < lines.nv; ++j)
                for (int i = 0; i < lines.nu; ++i)
                    if (const double free = lines.free_mm[lines.index(i, j)]; free > 0.0)
                        middle += lines.foot(i, j) * free, weight += free;
            if (weight > 0.0) middle = middle / weight;
            for (int j = 0; j < lines.nv; ++j)
                for (int i = 0; i < lines.nu; ++i) {
                    const std::size_t k = lines.index(i, j);
                    if (lines.free_mm[k] < kLeastFlat_mm || lines.is_refused[k] != 0) continue;
                    const Point3 foot = lines.foot(i, j);
                    const auto across = [&](Point3 p) {
                        return std::hypot(dot(p - foot, lines.u), dot(p - foot, lines.v));
                    };
                    double spread = supports.empty() ? -across(middle) : 1e300;
                    for (const Point3& p : supports) spread = std::min(spread, across(p));
                    candidates.push_back({lines.free_mm[k], lines.span_mm[k], spread,
                                          foot + lines.axis * lines.middle_mm[k], lines.axis, &lines.is_refused[k]});
                }
        }
        const auto planned = [&](const Candidate& candidate) {
            auto plan = plan_brace(site,
                                   {.name = fmt::format("brace {}", given + static_cast<std::size_t>(number)),
                                    .axis = candidate.axis,
                                    .at = candidate.at},
                                   baffle, sleeves, braces);
            if (!plan) *candidate.is_refused = 1;
            return plan;
        };
        std::stable_sort(candidates.begin(), candidates.end(),
                         [](const Candidate& a, const Candidate& b) { return a.free_mm > b.free_mm; });
        const auto best = std::find_if(candidates.begin(), candidates.end(), [&](const Candidate& candidate) {
            return static_cast<bool>(planned(candidate));
        });
        if (best == candidates.end())
            return impossible(fmt::format("braces: of {} only {} find a place between walls that are nearly flat, free "
                                          "of driver, sleeves and one another",
                                          count, number - 1),
                              fmt::format("give [enclosure] braces = {}, or places of your own", number - 1),
                              std::nullopt);
        // As good within a tenth: the shorter one, then the better spread.
        std::vector<Candidate> good(best, candidates.end());
        std::erase_if(good, [&](const Candidate& c) { return c.free_mm < kAsGood * best->free_mm; });
        double shortest = 1e300;
        for (const Candidate& c : good) shortest = std::min(shortest, c.span_mm);
        std::stable_sort(good.begin(), good.end(), [&](const Candidate& a, const Candidate& b) {
            const bool a_short = a.span_mm < 1.25 * shortest, b_short = b.span_mm < 1.25 * shortest;
            return a_short != b_short ? a_short : a.spread_mm > b.spread_mm;
        });
        for (const Candidate& candidate : good)
            if (auto plan = planned(candidate)) {
                braces.push_back(*plan);
                break;
            }
    }
    return braces;
}

}  // namespace geom::parts

// The raster, the face's largest part, its gaps, the sheet, and what of it is added to the samples: one step each, in
// relief_of() at the bottom.
#include "geom/scan/relief.h"

#include "geom/core/checks.h"
#include "geom/scan/internal/thin_plate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace geom::scan {
namespace {

constexpr double kLeastStep_mm = 2.0;
constexpr double kStepOfSpacing = 1.25;
constexpr double kCovers = 1.1;       // spacings about a sample
constexpr double kSteepest = 2.0;     // rise of the face from cell to cell, in cells
constexpr double kChance = 1.4;       // cells to the face: what is nowhere so deep is chance between samples
constexpr double kTurnedIn = 0.6;     // cosine of the slope from which a rim is turned in
constexpr double kNotAsked_mm = 4.0;  // of the face beside a rim that is turned in
constexpr double kBand_mm = 20.0;     // of the face that the sheet is drawn towards
constexpr double kStiffness = 0.1;    // see thin_plate.h; the samples are levelled already, and a swage is sharp
constexpr double kLand_mm = 3.0;      // of the face that must be left at the reach
constexpr double kBehind_mm = 3.0;    // samples this far behind what closes the face are left out
constexpr double kLeastFace = 0.2;    // share of the disc of `reach` that must be face

constexpr float kNone = -1e9f;

class Builder {
public:
    Builder(const Surface& surface, const ReliefOptions& options) : surface_(surface), options_(options) {
        out_.view = options.view;
        out_.step_mm = std::max(kLeastStep_mm, kStepOfSpacing * surface.spacing_mm);
        out_.n = static_cast<int>(std::ceil(2.0 * options.half_mm / out_.step_mm)) + 1;
        out_.lo_mm = -0.5 * (out_.n - 1) * out_.step_mm;
        cells_ = static_cast<std::size_t>(out_.n) * static_cast<std::size_t>(out_.n);
    }

    Result<Relief> build(const Context& context) {
        {
            const Stage stage(context, "scan/relief");
            take_samples();
            rasterise();
            GAPWRIGHT_CHECK(find_face());
            find_gaps();
            draw_sheet();
            GAPWRIGHT_CHECK(judge_gaps());
            close();
        }
        return std::move(out_);
    }

private:
    struct Local {
        std::size_t index;
        Point3 at;
        Vec3 normal;  ///< towards the viewer
        double radius;
    };

    std::size_t cell(int i, int j) const {
        return static_cast<std::size_t>(j) * static_cast<std::size_t>(out_.n) + static_cast<std::size_t>(i);
    }
    double along(int i) const { return out_.lo_mm + i * out_.step_mm; }
    double from_axis(std::size_t c) const {
        const int n = out_.n;
        return std::hypot(along(static_cast<int>(c) % n), along(static_cast<int>(c) / n));
    }
    int nearest_cell(double v) const { return static_cast<int>(std::lround((v - out_.lo_mm) / out_.step_mm)); }
    /// The cells beside one, by their sides.
    template <class F>
    void beside(std::size_t c, F&& f) const {
        const int i = static_cast<int>(c) % out_.n, j = static_cast<int>(c) / out_.n;
        if (i > 0) f(c - 1);
        if (i + 1 < out_.n) f(c + 1);
        if (j > 0) f(c - static_cast<std::size_t>(out_.n));
        if (j + 1 < out_.n) f(c + static_cast<std::size_t>(out_.n));
    }
    Point3 place(std::size_t c, double height) const {
        const int i = static_cast<int>(c) % out_.n, j = static_cast<int>(c) / out_.n;
        return out_.view.to_parent({along(i), along(j), height});
    }

    void take_samples() {
        const double half = -out_.lo_mm + 2.0 * out_.step_mm;
        for (std::size_t q = 0; q < surface_.points.size(); ++q) {
            const Point3 p = out_.view.to_local(surface_.points[q]);
            if (std::abs(p.x) > half || std::abs(p.y) > half) continue;
            all_heights_.push_back(p.z);
            if (p.z < -options_.behind_mm || p.z > options_.before_mm) continue;
            if (std::hypot(p.x, p.y) < options_.inside_mm) continue;
            Vec3 n = out_.view.dir_to_local(surface_.normals[q]);
            if (n.z < 0.0) n = -n;
            local_.push_back({q, p, n, static_cast<double>(surface_.radius_mm[q])});
        }
    }

    void rasterise() {
        top_.assign(cells_, kNone);
        for (const Local& s : local_) {
            const double reach = std::max(kCovers * std::min(s.radius, surface_.spacing_mm), 0.75 * out_.step_mm);
            const int i0 = std::max(0, nearest_cell(s.at.x - reach)),
                      i1 = std::min(out_.n - 1, nearest_cell(s.at.x + reach));
            const int j0 = std::max(0, nearest_cell(s.at.y - reach)),
                      j1 = std::min(out_.n - 1, nearest_cell(s.at.y + reach));
            for (int j = j0; j <= j1; ++j)
                for (int i = i0; i <= i1; ++i) {
                    const double dx = along(i) - s.at.x, dy = along(j) - s.at.y;
                    if (dx * dx + dy * dy > reach * reach) continue;
                    const double rise = -(s.normal.x * dx + s.normal.y * dy) / std::max(s.normal.z, 0.3);
                    float& top = top_[cell(i, j)];
                    top = std::max(top, static_cast<float>(s.at.z + std::clamp(rise, -reach, reach)));
                }
        }
        // Of the samples nearest to the top of their own cell: mean height and slope.
        mean_.assign(cells_, std::numeric_limits<float>::quiet_NaN());
        normal_.assign(cells_, {});
        std::vector<double> sum(cells_, 0.0);
        std::vector<int> count(cells_, 0);
        for (const Local& s : local_) {
            const std::size_t c = own_cell(s);
            if (c == cells_ || s.at.z < static_cast<double>(top_[c]) - kSteepest * out_.step_mm) continue;
            sum[c] += s.at.z, normal_[c] += s.normal, ++count[c];
        }
        for (std::size_t c = 0; c < cells_; ++c)
            if (count[c] > 0) {
                mean_[c] = static_cast<float>(sum[c] / count[c]);
                normal_[c] = unit(normal_[c]);
            }
    }

    std::size_t own_cell(const Local& s) const {
        const int i = nearest_cell(s.at.x), j = nearest_cell(s.at.y);
        return i < 0 || j < 0 || i >= out_.n || j >= out_.n ? cells_ : cell(i, j);
    }

    /// Connected cells from `first` on, as long as `may` lets one step from a cell to the next.
    template <class May>
    std::vector<std::size_t> spread(std::size_t first, std::vector<unsigned char>& seen, May&& may) const {
        std::vector<std::size_t> part{first};
        seen[first] = 1;
        for (std::size_t at = 0; at < part.size(); ++at)
            beside(part[at], [&](std::size_t next) {
                if (seen[next] || !may(part[at], next)) return;
                seen[next] = 1;
                part.push_back(next);
            });
        return part;
    }

    Status find_face() {
        const auto most = static_cast<float>(kSteepest * out_.step_mm + 0.5);
        std::vector<unsigned char> seen(cells_, 0);
        std::vector<std::size_t> largest;
        for (std::size_t c = 0; c < cells_; ++c) {
            if (seen[c] || top_[c] == kNone) continue;
            auto part = spread(c, seen, [&](std::size_t a, std::size_t b) {
                return top_[b] != kNone && std::abs(top_[a] - top_[b]) <= most;
            });
            if (part.size() > largest.size()) largest = std::move(part);
        }
        out_.scanned.assign(cells_, 0);
        double area = 0.0;
        for (const std::size_t c : largest) {
            out_.scanned[c] = 1;
            if (from_axis(c) < options_.reach_mm) area += out_.step_mm * out_.step_mm;
        }
        const double ring =
            std::max(options_.reach_mm * options_.reach_mm - options_.inside_mm * options_.inside_mm, 1.0) * 3.1416;
        if (area >= kLeastFace * ring) return Done{};
        std::string found = "nothing scanned";
        if (!all_heights_.empty()) {
            const auto middle = all_heights_.begin() + static_cast<std::ptrdiff_t>(all_heights_.size() / 2);
            std::nth_element(all_heights_.begin(), middle, all_heights_.end());
            found = fmt::format(
                "a scanned face over {:.0f} % of it, what is scanned there lying {:.0f} mm {} the plane (median)",
                100.0 * area / ring, std::abs(*middle), *middle < 0.0 ? "behind" : "before");
        }
        return Fault{
            FaultCode::BadScan,
            fmt::format("scan: within {:.0f} mm of the axis and from {:.0f} mm behind the seat to {:.0f} before "
                        "it there is {}, wanted one face all round",
                        options_.reach_mm, options_.behind_mm, options_.before_mm, found),
            "check the seat's point and outward, the scan's place and unit", out_.view.origin, "scan"};
    }

    /// From every cell to the nearest one that is not in `set`, mm; exact.
    std::vector<float> depth_in(const std::vector<unsigned char>& set) const {
        const int n = out_.n;
        std::vector<int> column(cells_);  // cells to the nearest one outside along y
        for (int i = 0; i < n; ++i) {
            int far = 4 * n;
            for (int j = 0; j < n; ++j) column[cell(i, j)] = far = set[cell(i, j)] ? std::min(far + 1, 4 * n) : 0;
            far = 4 * n;
            for (int j = n - 1; j >= 0; --j) {
                far = set[cell(i, j)] ? std::min(far + 1, 4 * n) : 0;
                column[cell(i, j)] = std::min(column[cell(i, j)], far);
            }
        }
        std::vector<float> depth(cells_, 0.0f);
        for (int j = 0; j < n; ++j)
            for (int i = 0; i < n; ++i) {
                if (!set[cell(i, j)]) continue;
                int best = 16 * n * n;
                for (int k = 0; k < n; ++k) {
                    const int d = column[cell(k, j)];
                    best = std::min(best, (k - i) * (k - i) + d * d);
                }
                depth[cell(i, j)] = static_cast<float>(std::sqrt(best) * out_.step_mm);
            }
        return depth;
    }

    struct Missing {
        std::vector<std::size_t> cells;
        bool is_opening = false;
    };

    void find_gaps() {
        std::vector<unsigned char> empty(cells_, 0), seen(cells_, 0);
        for (std::size_t c = 0; c < cells_; ++c) empty[c] = !out_.scanned[c] || from_axis(c) < options_.inside_mm;
        const std::vector<float> depth = depth_in(empty);
        const double about_axis = std::max(options_.inside_mm, 1.5 * out_.step_mm);
        is_gap_.assign(cells_, 0);
        is_turned_in_.assign(cells_, 0);
        for (std::size_t c = 0; c < cells_; ++c) {
            if (!empty[c] || seen[c]) continue;
            Missing gap{spread(c, seen, [&](std::size_t, std::size_t b) { return empty[b] != 0; })};
            float deepest = 0.0f;
            for (const std::size_t m : gap.cells) {
                deepest = std::max(deepest, depth[m]);
                gap.is_opening = gap.is_opening || from_axis(m) <= about_axis;
            }
            if (static_cast<double>(deepest) < kChance * out_.step_mm) {
                for (const std::size_t m : gap.cells) out_.scanned[m] = 1;
                continue;
            }
            if (gap.is_opening) {
                // A rim turned in belongs to it.
                std::vector<unsigned char> taken(cells_, 0);
                for (const std::size_t m : gap.cells) taken[m] = 1;
                for (std::size_t at = 0; at < gap.cells.size(); ++at)
                    beside(gap.cells[at], [&](std::size_t b) {
                        if (taken[b] || std::isnan(mean_[b]) || normal_[b].z >= kTurnedIn) return;
                        taken[b] = seen[b] = is_turned_in_[b] = 1;
                        gap.cells.push_back(b);
                    });
            }
            for (const std::size_t m : gap.cells) is_gap_[m] = 1, out_.scanned[m] = 0;
            gaps_.push_back(std::move(gap));
        }
    }

    void draw_sheet() {
        std::vector<unsigned char> away(cells_);
        for (std::size_t c = 0; c < cells_; ++c) away[c] = !is_gap_[c];
        const std::vector<float> to_gap = depth_in(away);
        for (std::size_t c = 0; c < cells_; ++c) away[c] = !is_turned_in_[c];
        const std::vector<float> to_turned = depth_in(away);
        std::vector<unsigned char> part(cells_, 0);
        std::vector<float> known(cells_, 0.0f), weight(cells_, 0.0f);
        under_sheet_.assign(cells_, 0);
        for (std::size_t c = 0; c < cells_; ++c) {
            part[c] = static_cast<double>(to_gap[c]) <= kBand_mm;
            under_sheet_[c] = is_gap_[c] || static_cast<double>(to_turned[c]) <= kNotAsked_mm;
            if (part[c] && !under_sheet_[c] && out_.scanned[c] && !std::isnan(mean_[c]))
                known[c] = mean_[c], weight[c] = 1.0f;
        }
        const std::vector<float> sheet = internal::thin_plate(out_.n, part, known, weight, kStiffness);
        out_.mm.assign(cells_, std::numeric_limits<float>::quiet_NaN());
        for (std::size_t c = 0; c < cells_; ++c)
            out_.mm[c] = under_sheet_[c] ? sheet[c] : std::isnan(mean_[c]) ? top_[c] : mean_[c];
        // What chance left open takes the mean of its neighbours.
        for (bool is_left = true; is_left;) {
            is_left = false;
            std::vector<float> filled = out_.mm;
            bool is_any = false;
            for (std::size_t c = 0; c < cells_; ++c) {
                if (out_.mm[c] != kNone) continue;
                float sum = 0.0f;
                int count = 0;
                beside(c, [&](std::size_t b) {
                    if (out_.mm[b] != kNone) sum += out_.mm[b], ++count;
                });
                if (count > 0) filled[c] = sum / static_cast<float>(count), is_any = true;
                is_left = true;
            }
            if (!is_any) break;
            out_.mm = std::move(filled);
        }
    }

    /// Centre of the widest circle without samples of the face whose centre is in the gap and within reach.
    std::optional<Gap> widest_circle(const Missing& gap, const std::vector<float>& depth, double least_r) const {
        std::size_t centre = cells_;
        for (const std::size_t c : gap.cells)
            if (from_axis(c) < options_.reach_mm && from_axis(c) >= least_r &&
                (centre == cells_ || depth[c] > depth[centre]))
                centre = c;
        if (centre == cells_) return std::nullopt;
        const Point3 at = out_.view.to_local(place(centre, 0.0));
        double nearest = 1e300;
        for (const Local& s : local_) {
            const std::size_t c = own_cell(s);
            if (c != cells_ && !is_gap_[c]) nearest = std::min(nearest, std::hypot(s.at.x - at.x, s.at.y - at.y));
        }
        return Gap{place(centre, static_cast<double>(out_.mm[centre])), Length::mm(2.0 * nearest)};
    }

    Status judge_gaps() {
        const std::vector<float> depth = depth_in(is_gap_);
        std::vector<unsigned char> outside = is_gap_;  // what the bore alone does not explain
        for (std::size_t c = 0; c < cells_; ++c) outside[c] = outside[c] && from_axis(c) >= options_.inside_mm;
        const std::vector<float> depth_outside = depth_in(outside);
        const double most_r = options_.reach_mm - kLand_mm;
        for (const Missing& gap : gaps_) {
            if (gap.is_opening) {
                std::size_t beyond = cells_;  // the nearest of its cells that lies where the foot's rim stands
                bool is_missing = false;
                for (const std::size_t c : gap.cells) {
                    is_missing = is_missing || static_cast<double>(depth_outside[c]) >= kChance * out_.step_mm;
                    if (from_axis(c) > most_r && (beyond == cells_ || from_axis(c) < from_axis(beyond))) beyond = c;
                    out_.opening_reach_mm = std::max(out_.opening_reach_mm, from_axis(c));
                }
                if (beyond != cells_) {
                    const Point3 where = place(beyond, static_cast<double>(out_.mm[beyond]));
                    return Fault{
                        FaultCode::BadScan,
                        fmt::format(
                            "scan: the opening about the axis reaches {:.0f} mm from it near ({:.0f}, {:.0f}, {:.0f}), "
                            "where the foot's rim has to stand; wanted scanned face at {:.0f} mm and beyond all round",
                            from_axis(beyond), where.x, where.y, where.z, most_r),
                        "a larger outside diameter, another seat point, or a scan of that place", where, "scan"};
                }
                if (is_missing) out_.opening = widest_circle(gap, depth, 0.0);
                if (!is_missing) out_.opening_reach_mm = 0.0;
                continue;
            }
            const auto widest = widest_circle(gap, depth, options_.inside_mm);
            if (!widest) continue;
            if (widest->width > options_.bridge) {
                const Point3 where = widest->place;
                return Fault{
                    FaultCode::BadScan,
                    fmt::format("scan: the face under the foot has a gap {:.0f} mm wide near ({:.0f}, {:.0f}, {:.0f}), "
                                "wanted scanned face or gaps of at most {:.0f} mm",
                                widest->width.mm(), where.x, where.y, where.z, options_.bridge.mm()),
                    "scan that place, close holes of the scan, or move the seat away from it", where, "scan"};
            }
            out_.bridged.push_back(*widest);
        }
        std::sort(out_.bridged.begin(), out_.bridged.end(),
                  [](const Gap& a, const Gap& b) { return a.width > b.width; });
        return Done{};
    }

    void close() {
        Surface& to = out_.closed;
        to = Surface{};
        to.spacing_mm = surface_.spacing_mm, to.noise_mm = surface_.noise_mm;
        to.bound_mm = surface_.bound_mm, to.edge_bound_mm = surface_.edge_bound_mm;
        to.raw_points = surface_.raw_points, to.from_mesh = surface_.from_mesh;
        to.layered = surface_.layered, to.holes = surface_.holes;
        const auto put = [&](Point3 p, Vec3 n, double radius) {
            to.points.push_back(p), to.normals.push_back(n), to.radius_mm.push_back(static_cast<float>(radius));
            to.box.grow(p);
        };
        for (const Local& s : local_) {
            const std::size_t c = own_cell(s);
            if (c != cells_ && s.at.z < static_cast<double>(out_.mm[c]) -
                                            (is_gap_[c] ? kBehind_mm : kBehind_mm + kSteepest * out_.step_mm))
                continue;
            put(surface_.points[s.index], out_.view.dir_to_parent(s.normal), s.radius);
            if (s.index < surface_.layer_mm.size()) to.layer_mm.push_back(surface_.layer_mm[s.index]);
            if (s.index < surface_.edge_begin) to.edge_begin = to.points.size();
            if (s.index < surface_.edge_end) to.edge_end = to.points.size();
        }
        const double near = std::max(3.0 * surface_.noise_mm, 0.4);
        for (int j = 0; j < out_.n; ++j)
            for (int i = 0; i < out_.n; ++i) {
                const std::size_t c = cell(i, j);
                const auto height = static_cast<double>(out_.mm[c]);
                if (!under_sheet_[c] || static_cast<double>(top_[c]) > height - near) continue;
                const double h = out_.step_mm, x = along(i), y = along(j);
                const Vec3 n = unit(Vec3{-(out_.at(x + h, y) - out_.at(x - h, y)) / (2.0 * h),
                                         -(out_.at(x, y + h) - out_.at(x, y - h)) / (2.0 * h), 1.0});
                put(place(c, height), out_.view.dir_to_parent(n), 0.9 * h);
            }
    }

    const Surface& surface_;
    const ReliefOptions& options_;
    Relief out_;
    std::size_t cells_ = 0;
    std::vector<Local> local_;
    std::vector<double> all_heights_;
    std::vector<float> top_, mean_;
    std::vector<Vec3> normal_;
    std::vector<unsigned char> is_gap_, is_turned_in_, under_sheet_;
    std::vector<Missing> gaps_;
};

}  // namespace

double Relief::at(double x, double y) const {
    const auto clamped = [&](double v) { return std::clamp((v - lo_mm) / step_mm, 0.0, n - 1.000001); };
    const double u = clamped(x), v = clamped(y);
    const auto i = static_cast<std::size_t>(u), j = static_cast<std::size_t>(v);
    const double fu = u - static_cast<double>(i), fv = v - static_cast<double>(j);
    const auto mm_at = [&](std::size_t a, std::size_t b) {
        return static_cast<double>(mm[b * static_cast<std::size_t>(n) + a]);
    };
    return (1.0 - fv) * ((1.0 - fu) * mm_at(i, j) + fu * mm_at(i + 1, j)) +
           fv * ((1.0 - fu) * mm_at(i, j + 1) + fu * mm_at(i + 1, j + 1));
}

bool Relief::is_scanned(double x, double y) const {
    const long i = std::lround((x - lo_mm) / step_mm), j = std::lround((y - lo_mm) / step_mm);
    return i >= 0 && j >= 0 && i < n && j < n && scanned[static_cast<std::size_t>(j * n + i)] != 0;
}

Result<Relief> relief_of(const Surface& surface, const ReliefOptions& options, const Context& context) {
    EXPECTS(surface.points.size() == surface.normals.size() && surface.points.size() == surface.radius_mm.size());
    EXPECTS(options.half_mm >= options.reach_mm && options.reach_mm > 0.0 && options.inside_mm >= 0.0);
    return Builder(surface, options).build(context);
}

RawScan cropped(const RawScan& raw, const Frame& view, const Aabb& box) {
    RawScan out;
    out.not_finite = raw.not_finite, out.files = raw.files;
    const auto is_in = [&](Point3 p) {
        const Point3 q = view.to_local(p);
        for (std::size_t a = 0; a < 3; ++a)
            if (q[a] < box.lo[a] || q[a] > box.hi[a]) return false;
        return true;
    };
    std::vector<unsigned char> keep(raw.points.size());
    for (std::size_t q = 0; q < keep.size(); ++q) keep[q] = is_in(raw.points[q]);
    if (!raw.triangles.empty()) {
        // A triangle with a corner inside stays whole.
        std::vector<unsigned char> used(keep.size(), 0);
        for (const auto& t : raw.triangles)
            if (keep[t[0]] || keep[t[1]] || keep[t[2]])
                for (const std::uint32_t v : t) used[v] = 1;
        keep = std::move(used);
    }
    std::vector<std::uint32_t> number(keep.size(), 0);
    for (std::size_t q = 0; q < keep.size(); ++q) {
        if (!keep[q]) continue;
        number[q] = static_cast<std::uint32_t>(out.points.size());
        out.points.push_back(raw.points[q]);
        if (!raw.normals.empty()) out.normals.push_back(raw.normals[q]);
    }
    for (const auto& t : raw.triangles)
        if (keep[t[0]] && keep[t[1]] && keep[t[2]]) out.triangles.push_back({number[t[0]], number[t[1]], number[t[2]]});
    return out;
}

}  // namespace geom::scan

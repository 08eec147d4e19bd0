// A cloud goes through five steps, each in its own file: neighbours (point_index), what is believed (clean), noise and
// levelling (level), and before them thinning when it is large. One neighbour search serves all steps after the
// thinning. A mesh goes through one: even samples (mesh_samples), taken as they are.
#include "geom/scan/surface.h"

#include "geom/core/parallel.h"
#include "geom/scan/holes.h"
#include "geom/scan/internal/clean.h"
#include "geom/scan/internal/layered_parts.h"
#include "geom/scan/internal/level.h"
#include "geom/scan/internal/mesh_samples.h"
#include "geom/scan/internal/point_index.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <new>
#include <optional>

namespace geom::scan {
namespace {

using internal::PointIndex;

/// The most neighbours any step asks for.
constexpr int kNeighbours = 60;
/// Clouds above this are thinned.
constexpr std::size_t kThinAbove = 500000;
constexpr std::size_t kMostMeshSamples = 900000;
/// Fewer points than this have no neighbourhoods to fit.
constexpr std::size_t kLeastPoints = 24;

/// One mean point per cell of `cell_mm`, in the order of the cells, and how many points each is the mean of.
struct Thinned {
    std::vector<Point3> points;
    std::vector<float> weight;
};
Thinned thinned(const std::vector<Point3>& points, double cell_mm) {
    Aabb box;
    for (const Point3& p : points) box.grow(p);
    struct Key {
        std::uint64_t cell;
        std::uint32_t index;
    };
    std::vector<Key> keys(points.size());
    parallel_for(points.size(), 1 << 14, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) {
            const Vec3 d = (points[i] - box.lo) / cell_mm;
            const auto whole = [](double v) {
                return std::min<std::uint64_t>(static_cast<std::uint64_t>(v), 0x1FFFFF);
            };
            keys[i] = {whole(d.x) | whole(d.y) << 21 | whole(d.z) << 42, static_cast<std::uint32_t>(i)};
        }
    });
    std::sort(keys.begin(), keys.end(),
              [](const Key& a, const Key& b) { return a.cell != b.cell ? a.cell < b.cell : a.index < b.index; });
    Thinned out;
    for (std::size_t i = 0; i < keys.size();) {
        // About the cell's first point, so that far from the origin nothing is lost.
        const Point3 first = points[keys[i].index];
        Vec3 sum;
        std::size_t j = i;
        for (; j < keys.size() && keys[j].cell == keys[i].cell; ++j) sum += points[keys[j].index] - first;
        out.points.push_back(first + sum / static_cast<double>(j - i));
        out.weight.push_back(static_cast<float>(j - i));
        i = j;
    }
    return out;
}

/// Points written twice (scans joined, a scanner that got stuck) would look like points twice as dense.
/// `normals`: of the points, or empty; `given` becomes those of the places.
std::unique_ptr<PointIndex> index_without_repeats(const std::vector<Point3>& points, const std::vector<Vec3>& normals,
                                                  std::vector<Vec3>& given) {
    auto index = std::make_unique<PointIndex>(points);
    std::vector<Point3> once;
    once.reserve(points.size());
    for (std::size_t i = 0; i < index->size(); ++i) {
        if (index->repeats()[i]) continue;
        once.push_back(index->points()[i]);
        if (!normals.empty()) given.push_back(normals[index->order()[i]]);
    }
    if (once.size() == points.size()) return index;
    index = std::make_unique<PointIndex>(once);
    std::vector<Vec3> sorted;
    for (std::size_t i = 0; i < given.size(); ++i) sorted.push_back(given[index->order()[i]]);
    given = std::move(sorted);
    return index;
}

/// Noise of a large cloud, from a part of it that lies about as wide apart as clouds that are not thinned.
double noise_of_large(const std::vector<Point3>& points) {
    const std::size_t stride = points.size() / (kThinAbove / 2) + 1;
    std::vector<Point3> some;
    some.reserve(points.size() / stride + 1);
    for (std::size_t i = 0; i < points.size(); i += stride) some.push_back(points[i]);
    std::vector<Vec3> none;
    const std::unique_ptr<PointIndex> index = index_without_repeats(some, {}, none);
    return internal::estimate_noise(*index, index->all_nearest(24), 24, {}, {}, 0.0).median_mm;
}

Fault nothing_left(const Surface& surface, std::size_t points, double spacing_mm) {
    std::string most;
    if (!surface.dropped.empty()) most = fmt::format("; most of them as \"{}\"", surface.dropped.front().reason);
    return {
        FaultCode::BadScan,
        fmt::format("nothing is left of the scan's {} points after dropping outliers and floating clusters{}, wanted a "
                    "surface (median spacing {:.3g} mm)",
                    points, most, spacing_mm),
        "check length_unit; scan the gap denser; or lower least_cluster when the scanned patches are small",
        {},
        {}};
}

/// Neighbours, planes and samples of one thinned point, measured on 5 million.
constexpr double kBytesPerPoint = 550.0;

std::optional<Fault> too_much(const std::vector<Point3>& points, double cell_mm, const SurfaceOptions& options) {
    const auto need = [](std::size_t count) { return static_cast<double>(count) * kBytesPerPoint; };
    if (need(points.size()) <= options.memory_limit_bytes) return std::nullopt;
    double fitting_mm = cell_mm;
    for (std::size_t left = points.size(); need(left) > options.memory_limit_bytes && fitting_mm < 1e4;) {
        fitting_mm = std::ceil(fitting_mm * 12.0) / 10.0;
        left = thinned(points, fitting_mm).points.size();
    }
    return Fault{
        FaultCode::MemoryLimit,
        fmt::format("the scan's surface: {} points at {:.3g} mm take {:.0f} MB, {:.0f} MB are allowed", points.size(),
                    cell_mm, need(points.size()) / 1e6, options.memory_limit_bytes / 1e6),
        fmt::format("check length_unit; cut away what lies far from the gap; or set [scan] thin = \"{:.1f} mm\"",
                    fitting_mm),
        {},
        {}};
}

/// What Surface::bound_mm and edge_bound_mm state, and why: levelled distances scatter by a quarter of the noise, of
/// which four to five spreads count; gaps between random points and bends leave a part of the spacing, edges more of
/// it. Of two layers that could not be told apart the told surface may be the farther: twice the spread, which is half
/// their distance, and noise. Where some of their samples were told apart and others not: the whole step besides.
void state_bounds(const internal::Noise& noise, const internal::Levelled& levelled, Surface& surface) {
    constexpr double kMostDoubtful = 0.02;
    const double noise_mm = noise.high_mm, spacing_mm = std::max(surface.spacing_mm, levelled.layer_spacing_mm);
    surface.bound_mm = std::hypot((noise.is_layered ? 2.3 : 1.15) * noise_mm, 0.15 * spacing_mm);
    if (noise.step_mm > 0.0 && std::max(noise.doubtful_part, levelled.unsplit_part) > kMostDoubtful)
        surface.bound_mm = std::max(surface.bound_mm, std::hypot(1.15 * noise_mm, 0.15 * spacing_mm) + noise.step_mm);
    surface.edge_bound_mm = surface.bound_mm;
    if (surface.edge_end > surface.edge_begin) surface.edge_bound_mm += 0.3 * (surface.spacing_mm + noise_mm);
}

}  // namespace

Result<Surface> estimate_surface(RawScan raw, const SurfaceOptions& options, const Context& context) try {
    const Stage stage(context, "scan/surface");
    Surface out;
    out.raw_points = raw.points.size();
    if (raw.points.empty())
        return Fault{FaultCode::BadScan, "the scan holds no point, wanted a surface", "read another scan", {}, {}};

    if (!raw.triangles.empty()) {
        internal::MeshSamples samples = internal::sample_mesh(raw, kMostMeshSamples);
        if (samples.points.empty())
            return Fault{
                FaultCode::BadScan,
                fmt::format("all {} triangles of the scan have no area, wanted a surface", raw.triangles.size()),
                "export the mesh again",
                raw.points.front(),
                {}};
        out.from_mesh = true;
        out.points = std::move(samples.points);
        out.normals = std::move(samples.normals);
        out.radius_mm = std::move(samples.radius_mm);
        out.spacing_mm = samples.spacing_mm;
        out.bound_mm = out.edge_bound_mm = 0.05 * samples.spacing_mm;
        out.edge_begin = out.edge_end = out.points.size();
        if (options.close_holes.mm() > 0.0) close_holes(out, options.close_holes);
        for (const Point3& p : out.points) out.box.grow(p);
        out.raw = std::move(raw.points);
        return out;
    }

    if (raw.points.size() < kLeastPoints)
        return Fault{FaultCode::BadScan,
                     fmt::format("the scan holds {} points, wanted a surface of {} at the very least",
                                 raw.points.size(), kLeastPoints),
                     "scan the gap again, with a point every 1 to 3 mm",
                     raw.points.front(),
                     {}};
    Thinned cloud;
    double cell_mm = 0.0;
    const bool is_large = raw.points.size() > kThinAbove;
    if (is_large) {
        const Stage thin_stage(context, "scan/thin");
        out.noise_mm = noise_of_large(raw.points);
        cell_mm = options.thin.mm() > 0.0 ? options.thin.mm() : std::clamp(2.5 * out.noise_mm, 1.5, 2.0);
        cloud = thinned(raw.points, cell_mm);
        if (const auto fault = too_much(cloud.points, cell_mm, options)) return *fault;
    }
    if (context.is_cancelled()) return Context::interrupted();

    std::unique_ptr<PointIndex> index;
    std::vector<std::uint32_t> neighbours;
    std::vector<float> weight;
    std::vector<Vec3> given;
    {
        const Stage neighbour_stage(context, "scan/neighbours");
        index = is_large ? std::make_unique<PointIndex>(cloud.points)
                         : index_without_repeats(raw.points, raw.normals, given);
        if (is_large) {  // in the order of the index
            weight.reserve(cloud.points.size());
            for (const std::uint32_t i : index->order()) weight.push_back(cloud.weight[i]);
        }
        neighbours = index->all_nearest(kNeighbours);
    }
    if (context.is_cancelled()) return Context::interrupted();

    internal::Cleaned cleaned;
    {
        const Stage clean_stage(context, "scan/clean");
        cleaned = internal::clean(*index, neighbours, kNeighbours, weight, options.least_cluster);
        out.dropped = std::move(cleaned.dropped);
    }
    if (context.is_cancelled()) return Context::interrupted();

    const Stage level_stage(context, "scan/level");
    const internal::Noise noise =
        internal::estimate_noise(*index, neighbours, kNeighbours, cleaned.kept, given, cell_mm);
    if (!is_large) out.noise_mm = noise.median_mm;
    internal::Levelled levelled =
        internal::level(*index, neighbours, kNeighbours, cleaned.kept, weight, given, noise, cleaned.spacing_mm);
    if (!levelled.moved_too_far.empty()) {
        Aabb box;
        for (const std::uint32_t p : levelled.moved_too_far) box.grow(index->points()[p]);
        internal::add_dropped(out.dropped, {(box.lo + box.hi) / 2.0, levelled.moved_too_far.size(),
                                            Length::mm(norm(box.size())), "levelling moved it too far"});
    }
    out.spacing_mm = cleaned.spacing_mm;
    if (levelled.points.empty()) return nothing_left(out, raw.points.size(), cleaned.spacing_mm);
    out.points = std::move(levelled.points);
    out.normals = std::move(levelled.normals);
    out.radius_mm = std::move(levelled.radius_mm);
    out.layer_mm = std::move(levelled.layer_mm);
    out.edge_end = out.points.size();
    out.edge_begin = out.edge_end - levelled.edge_samples;
    out.layered = internal::layered_parts(out);
    state_bounds(noise, levelled, out);
    if (options.close_holes.mm() > 0.0) close_holes(out, options.close_holes);
    for (const Point3& p : out.points) out.box.grow(p);
    out.raw = std::move(raw.points);
    return out;
} catch (const std::bad_alloc&) {
    return Fault{FaultCode::MemoryLimit,
                 "the scan's surface: more points than this machine's memory holds",
                 "thin the scan before, to some millions of points",
                 {},
                 {}};
}

}  // namespace geom::scan

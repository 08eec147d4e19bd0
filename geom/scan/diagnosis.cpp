// The files are read once, as if in millimetres, and scaled when the unit is known: the guess needs their numbers only.
// Files that bring their own unit are read in it whatever is asked.
//
// Spacing and repeats come from one index of all points. What is not believed is found from the surface: a kept point
// has its own levelled sample beside it, so a point without a sample nearby was dropped. That counts raw points also
// where the cloud was thinned before cleaning.
#include "geom/scan/diagnosis.h"

#include "geom/core/parallel.h"
#include "geom/scan/holes.h"
#include "geom/scan/internal/point_index.h"

#include <algorithm>
#include <cmath>
#include <new>
#include <numbers>

namespace geom::scan {
namespace {

using internal::PointIndex;

/// Spacing is taken at no more than this many places.
constexpr std::size_t kMostPlaces = 200000;
constexpr int kEighth = 8;

Spacing quantiles(std::vector<float> lengths) {
    if (lengths.empty()) return {};
    const auto at = [&](double share) {
        const auto place =
            lengths.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(lengths.size() - 1));
        std::nth_element(lengths.begin(), place, lengths.end());
        return static_cast<double>(*place);
    };
    return {at(0.5), at(0.95)};
}

Spacing edge_lengths(const RawScan& mesh) {
    std::vector<float> lengths;
    const std::size_t stride = mesh.triangles.size() / kMostPlaces + 1;
    for (std::size_t t = 0; t < mesh.triangles.size(); t += stride)
        for (std::size_t k = 0; k < 3; ++k)
            lengths.push_back(static_cast<float>(
                distance(mesh.points[mesh.triangles[t][k]], mesh.points[mesh.triangles[t][(k + 1) % 3]])));
    return quantiles(std::move(lengths));
}

/// Distance to the eighth neighbour, turned into the step of a square grid of that density: the mean square of it over
/// points strewn by chance is 8 / (pi times the density).
Spacing point_spacing(const PointIndex& index) {
    if (index.size() < 2) return {};
    const auto k = static_cast<int>(std::min<std::size_t>(kEighth, index.size() - 1));
    const std::size_t stride = index.size() / kMostPlaces + 1;
    std::vector<std::uint32_t> places;
    for (std::size_t i = 0; i < index.size(); i += stride) places.push_back(static_cast<std::uint32_t>(i));
    const std::vector<std::uint32_t> near = index.nearest_of(places, k);
    std::vector<float> steps;
    for (std::size_t i = 0; i < places.size(); ++i) {
        const std::uint32_t farthest = near[(i + 1) * static_cast<std::size_t>(k) - 1];
        if (farthest == PointIndex::kNone) continue;
        const double reach = distance(index.points()[places[i]], index.points()[farthest]);
        steps.push_back(static_cast<float>(reach * std::sqrt(std::numbers::pi / k)));
    }
    return quantiles(std::move(steps));
}

struct Once {
    std::vector<Point3> points;
    std::size_t repeated = 0;
};

/// Equal points are neighbours in the order of the index.
Once without_repeats(const PointIndex& index) {
    Once once;
    once.points.reserve(index.size());
    std::size_t run_begin = 0;  // in once.points: of those that share a finest cell
    for (std::size_t i = 0; i < index.size(); ++i) {
        if (!index.repeats()[i]) run_begin = once.points.size();
        const auto from = once.points.begin() + static_cast<std::ptrdiff_t>(run_begin);
        if (std::find(from, once.points.end(), index.points()[i]) != once.points.end())
            ++once.repeated;
        else
            once.points.push_back(index.points()[i]);
    }
    return once;
}

struct Density {
    Spacing spacing;
    std::size_t repeated = 0;
};

Density density_of(const RawScan& scan) {
    Density density;
    const PointIndex index(scan.points);
    const Once once = without_repeats(index);
    density.repeated = once.repeated;
    if (!scan.triangles.empty())
        density.spacing = edge_lengths(scan);
    else
        density.spacing = once.repeated == 0 ? point_spacing(index) : point_spacing(PointIndex(once.points));
    return density;
}

void scale(RawScan& scan, double factor) {
    for (Point3& p : scan.points) p = p * factor;
}

/// How far from its levelled sample a kept point can lie: thinning moves it within a cell of 2 mm, levelling by some
/// spreads of the noise.
double reach_of_kept(const Surface& surface) {
    return std::max({2.0 * surface.spacing_mm, 6.0 * surface.noise_mm, 0.5});
}

std::vector<Point3> strays_of(const std::vector<Point3>& points, const Surface& surface) {
    const SurfaceDistance distance(surface);
    const double reach_mm = reach_of_kept(surface);
    std::vector<char> is_stray(points.size(), 0);
    parallel_for(points.size(), 4096, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) is_stray[i] = distance.nearest(points[i]) > reach_mm;
    });
    std::vector<Point3> strays;
    for (std::size_t i = 0; i < points.size(); ++i)
        if (is_stray[i]) strays.push_back(points[i]);
    return strays;
}

/// Clusters as the cleaning told them, their points counted among the strays: it may have seen thinned ones.
void sort_strays(Diagnosis& d) {
    for (const Dropped& dropped : d.surface->dropped)
        if (dropped.reason == "floating cluster") d.clusters.push_back(dropped);
    std::vector<std::size_t> count(d.clusters.size(), 0);
    for (const Point3& p : d.strays) {
        std::size_t best = count.size();
        double least = 1.0;  // in reaches of the cluster
        for (std::size_t c = 0; c < d.clusters.size(); ++c) {
            const double reach = 0.75 * d.clusters[c].size.mm() + 1.0;
            if (const double r = distance(p, d.clusters[c].place) / reach; r < least) least = r, best = c;
        }
        if (best < count.size())
            ++count[best];
        else
            ++d.outliers;
    }
    for (std::size_t c = 0; c < count.size(); ++c) d.clusters[c].points = std::max(d.clusters[c].points, count[c]);
    std::stable_sort(d.clusters.begin(), d.clusters.end(),
                     [](const Dropped& a, const Dropped& b) { return a.points > b.points; });
}

/// The unit that the files' remarks agree on, if it is plausible.
std::optional<FileUnit> said_by(const std::vector<FileRead>& files, const UnitGuess& guess) {
    std::optional<FileUnit> said;
    for (const FileRead& file : files) {
        if (file.own_unit) continue;
        if (!file.said_unit || (said && *said != *file.said_unit)) return std::nullopt;
        said = file.said_unit;
    }
    if (!said || !guess.all[static_cast<std::size_t>(*said)].plausible) return std::nullopt;
    return said;
}

}  // namespace

Spacing spacing_of(const RawScan& scan) {
    return density_of(scan).spacing;
}

Result<ReadInUnit> read_in_likeliest_unit(const std::vector<std::filesystem::path>& files,
                                          std::optional<FileUnit> stated, const Context& context) {
    ReadOptions options;
    options.any_extent = true;
    // By extent alone: a scan from the street has points 60 mm apart, and a mesh may have two triangles a plate, so
    // that spacing misleads more often than it helps.
    const auto guess_of = [](const RawScan& scan) { return likely_units(middle_box(scan.points).size()); };
    GAPWRIGHT_TRY(scan, read_scans(files, options, context));
    std::vector<std::filesystem::path> without_unit;
    for (const FileRead& file : scan.files)
        if (!file.own_unit) without_unit.push_back(file.path);
    TakenUnit taken;
    if (without_unit.empty() && !scan.files.empty()) {
        taken.unit = *scan.files.front().own_unit;
        taken.by = UnitBy::Files;
        taken.guess = guess_of(scan);
        return ReadInUnit{std::move(scan), std::move(taken)};
    }
    const bool mixed = without_unit.size() < scan.files.size();
    if (mixed) {
        GAPWRIGHT_TRY(some, read_scans(without_unit, options, context));
        taken.guess = guess_of(some);
    } else {
        taken.guess = guess_of(scan);
    }
    if (stated) {
        taken.unit = *stated;
        taken.by = UnitBy::Statement;
    } else if (const auto said = said_by(scan.files, taken.guess)) {
        taken.unit = *said;
        taken.by = UnitBy::Remark;
    } else if (!taken.guess.plausible.empty()) {
        taken.unit = taken.guess.plausible.front().unit;
        taken.by = taken.guess.likeliest ? UnitBy::Likelihood : UnitBy::Habit;
    }
    if (mixed && taken.unit != FileUnit::Millimetre) {
        options.unit = taken.unit;
        GAPWRIGHT_TRY(again, read_scans(files, options, context));
        return ReadInUnit{std::move(again), std::move(taken)};
    }
    if (!mixed) scale(scan, one(taken.unit).mm());
    return ReadInUnit{std::move(scan), std::move(taken)};
}

Result<Diagnosis> diagnose(const RawScan& scan, const Context& context) try {
    EXPECTS(!scan.points.empty());
    Diagnosis d;
    d.points = scan.points.size();
    d.triangles = scan.triangles.size();
    d.not_finite = scan.not_finite;
    for (const FileRead& file : scan.files) {
        d.has_normals = d.has_normals || file.has_normals;
        d.has_colours = d.has_colours || file.has_colours;
    }
    for (const Point3& p : scan.points) d.box.grow(p);
    d.middle = middle_box(scan.points);
    {
        const Stage stage(context, "scan/density");
        const Density density = density_of(scan);
        d.spacing = density.spacing;
        d.repeated = density.repeated;
    }
    if (context.is_cancelled()) return Context::interrupted();
    Result<Surface> surface = estimate_surface(scan, {}, context);
    if (!surface) {
        if (surface.error().code == FaultCode::Interrupted || surface.error().code == FaultCode::MemoryLimit)
            return std::move(surface).error();
        d.no_surface = std::move(surface).error();
        return d;
    }
    d.surface = std::move(*surface);
    d.surface->raw = {};  // the caller has them
    if (context.is_cancelled()) return Context::interrupted();
    if (!d.surface->from_mesh) {
        const Stage stage(context, "scan/strays");
        d.strays = strays_of(scan.points, *d.surface);
        sort_strays(d);
    }
    if (context.is_cancelled()) return Context::interrupted();
    const Stage stage(context, "scan/holes");
    d.holes = find_holes(*d.surface);
    return d;
} catch (const std::bad_alloc&) {
    return Fault{FaultCode::MemoryLimit,
                 "the scan: more points than this machine's memory holds",
                 "thin the scan before, to some millions of points",
                 {},
                 {}};
}

}  // namespace geom::scan

// The scan is held against the places once for each unit: its box scaled, and for points on the surface the distance to
// the nearest sample or triangle. The distances are asked for only when something makes the unit doubtful.
#include "geom/scan/on_scan.h"

#include "geom/core/parallel.h"
#include "geom/core/triangle.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

namespace geom::scan {
namespace {

constexpr double kFar_mm = 50.0, kNear_mm = 25.0;

bool is_point(const Aabb& box) {
    return box.lo == box.hi;
}

/// How far the nearest place of `a` is from `b`; 0 when they touch.
double gap_between(const Aabb& a, const Aabb& b) {
    Vec3 gap;
    for (std::size_t k = 0; k < 3; ++k) gap[k] = std::max({0.0, a.lo[k] - b.hi[k], b.lo[k] - a.hi[k]});
    return norm(gap);
}

bool is_off(const NamedPlace& place, const Aabb& scan) {
    const Vec3 size = scan.size();
    const double longest = std::max({size.x, size.y, size.z});
    return gap_between(place.box, scan) > (is_point(place.box) ? 0.15 * longest + 50.0 : 0.5 * longest + 100.0);
}

/// Distance of `p` from the nearest point or triangle.
double distance_from(const RawScan& scan, Point3 p) {
    const std::size_t count = scan.triangles.empty() ? scan.points.size() : scan.triangles.size();
    constexpr std::size_t kGrain = 1 << 15;
    std::vector<double> least(count / kGrain + 1, std::numeric_limits<double>::infinity());
    parallel_for(count, kGrain, [&](std::size_t begin, std::size_t end) {
        double here = std::numeric_limits<double>::infinity();
        for (std::size_t i = begin; i < end; ++i) {
            if (scan.triangles.empty()) {
                here = std::min(here, norm2(scan.points[i] - p));
            } else {
                const auto& t = scan.triangles[i];
                here = std::min(
                    here, norm2(closest_on_triangle(p, scan.points[t[0]], scan.points[t[1]], scan.points[t[2]]) - p));
            }
        }
        least[begin / kGrain] = here;
    });
    return std::sqrt(*std::min_element(least.begin(), least.end()));
}

std::string text_of(Point3 p) {
    return fmt::format("({:.4g}, {:.4g}, {:.4g})", p.x, p.y, p.z);
}

Aabb scaled(const Aabb& box, double by) {
    return {box.lo * by, box.hi * by};
}

class Judge {
public:
    Judge(const RawScan& scan, FileUnit stated, const std::vector<NamedPlace>& places)
        : scan_(scan), stated_(stated), places_(places), box_(middle_box(scan.points)) {}

    /// The first place off the box of the scan, if there is one.
    const NamedPlace* off_box() const {
        for (const NamedPlace& place : places_)
            if (is_off(place, box_)) return &place;
        return nullptr;
    }
    /// The first place on the surface that is far from it, if there is one.
    const NamedPlace* off_surface() const {
        for (const NamedPlace& place : places_)
            if (place.on_surface && distance_from(scan_, place.box.lo) > kFar_mm) return &place;
        return nullptr;
    }
    /// Units in which all places lie on the scan.
    std::vector<FileUnit> fitting() const {
        std::vector<FileUnit> units;
        for (const FileUnit unit : kFileUnits) {
            if (unit == stated_) continue;
            const double by = one(unit) / one(stated_);
            const Aabb box = scaled(box_, by);
            const Vec3 size = box.size();
            if (!is_plausible_extent(Length::mm(std::max({size.x, size.y, size.z})))) continue;
            const bool all = std::none_of(places_.begin(), places_.end(), [&](const NamedPlace& place) {
                return is_off(place, box) ||
                       (place.on_surface && distance_from(scan_, place.box.lo / by) * by > kNear_mm);
            });
            if (all) units.push_back(unit);
        }
        return units;
    }
    const Aabb& box() const { return box_; }

    /// "set [scan] length_unit = "cm" (..): then all 3 places of the job lie on the scan"
    std::string hint(const std::vector<FileUnit>& fitting) const {
        std::string units;
        for (const FileUnit unit : fitting) {
            const Vec3 size = scaled(box_, one(unit) / one(stated_)).size();
            units += fmt::format("{}\"{}\" ({:.4g} x {:.4g} x {:.4g} mm)", units.empty() ? "" : " or ", name_of(unit),
                                 size.x, size.y, size.z);
        }
        const std::string then = places_.size() == 1
                                     ? "then the place of the job lies on the scan"
                                     : fmt::format("then all {} places of the job lie on the scan", places_.size());
        const bool own = std::any_of(scan_.files.begin(), scan_.files.end(),
                                     [](const FileRead& file) { return file.own_unit.has_value(); });
        if (!own) return fmt::format("set [scan] length_unit = {}: {}", units, then);
        return fmt::format(
            "glTF is in metres; if this one breaks that, save it as PLY and set [scan] length_unit = "
            "{}: {}",
            units, then);
    }

private:
    const RawScan& scan_;
    FileUnit stated_;
    const std::vector<NamedPlace>& places_;
    Aabb box_;
};

/// The unit the numbers were read in: the files' own where all have one.
FileUnit taken_unit(const RawScan& scan, FileUnit stated) {
    const bool own = !scan.files.empty() && std::all_of(scan.files.begin(), scan.files.end(),
                                                        [](const FileRead& file) { return file.own_unit.has_value(); });
    return own ? *scan.files.front().own_unit : stated;
}

}  // namespace

Status check_on_scan(const RawScan& scan, FileUnit stated, const std::vector<NamedPlace>& places) {
    if (scan.points.empty()) return Done{};
    stated = taken_unit(scan, stated);
    const Judge judge(scan, stated, places);
    if (Status extent = check_extent(scan, stated); !extent) {
        if (places.empty()) return extent;
        const std::vector<FileUnit> fitting = judge.fitting();
        if (fitting.empty()) return extent;
        Fault fault = std::move(extent).error();
        fault.hint = judge.hint(fitting);
        return fault;
    }
    const NamedPlace* off = judge.off_box();
    const bool by_box = off != nullptr;
    if (!by_box) off = judge.off_surface();
    if (off == nullptr) return Done{};
    const std::vector<FileUnit> fitting = judge.fitting();
    if (!by_box && fitting.empty()) return Done{};

    const Point3 at = (off->box.lo + off->box.hi) / 2.0;
    const Aabb& box = judge.box();
    const double away_mm = by_box ? gap_between(off->box, box) : distance_from(scan, off->box.lo);
    const std::string what =
        fmt::format("{} at {} lies {:.4g} mm off the scan, which in {} reaches from {} to {} mm", off->name,
                    text_of(at), away_mm, name_of(stated), text_of(box.lo), text_of(box.hi));
    if (fitting.empty())
        return Fault{
            FaultCode::BadJob,
            what,
            fmt::format("check {} and [scan] place: all numbers of a job are in the vehicle frame; in no unit of "
                        "the scan would all places lie on it",
                        off->name),
            at,
            {}};
    return Fault{FaultCode::WrongUnit, what, judge.hint(fitting), at, {}};
}

}  // namespace geom::scan

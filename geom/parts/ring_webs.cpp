// Between cylinders every web is a distance of two segments less two radii, or the outside's radius less the farthest
// that a circle lies from the axis: along a straight line that distance is convex, so it is greatest at an end. Other
// walls are triangles; the distance of a segment to them is exact, and the chord is taken off.
#include "geom/parts/internal/ring_webs.h"

#include "geom/core/text.h"
#include "geom/measure/brep_measure.h"
#include "geom/parts/internal/site.h"

#include <fmt/format.h>
#include <BRepPrimAPI_MakeCone.hxx>

#include <algorithm>
#include <cmath>

namespace geom::parts {
namespace {

constexpr double kSame_mm = 1e-9;  // what is asked to the bit is kept
constexpr double kChord_mm = 0.01;
constexpr double kInPlane_mm = 1e-4;

/// The triangles that do not lie in one of the planes, and their corners.
TriMesh without_planes(const TriMesh& closed, const std::vector<Plane>& planes) {
    TriMesh wall;
    constexpr std::uint32_t kNone = 0xffffffffu;
    std::vector<std::uint32_t> kept(closed.vertices.size(), kNone);
    for (auto t : closed.triangles) {
        const bool is_flat = std::any_of(planes.begin(), planes.end(), [&](const Plane& plane) {
            return std::all_of(t.begin(), t.end(), [&](std::uint32_t v) {
                return std::abs(plane.height(closed.vertices[v])) < kInPlane_mm;
            });
        });
        if (is_flat) continue;
        for (std::uint32_t& v : t) {
            if (kept[v] == kNone) {
                kept[v] = static_cast<std::uint32_t>(wall.vertices.size());
                wall.vertices.push_back(closed.vertices[v]);
            }
            v = kept[v];
        }
        wall.triangles.push_back(t);
    }
    return wall;
}

}  // namespace

TopoDS_Shape tool_of(const RingCut& cut) {
    if (!cut.is_cone()) return prism(cut.line, cut.radius_mm, cut.tool_from_mm, cut.tool_to_mm);
    // The cone's flank is carried on past the faces.
    const double slope = (cut.radius_mm - cut.cone_mm) / (cut.to_mm - cut.from_mm);
    const double r0 = cut.cone_mm + slope * (cut.tool_from_mm - cut.from_mm);
    const double r1 = cut.cone_mm + slope * (cut.tool_to_mm - cut.from_mm);
    const gp_Ax2 ax(to_occt(cut.line.at(cut.tool_from_mm)), to_occt_dir(cut.line.up), to_occt_dir(cut.line.along));
    return BRepPrimAPI_MakeCone(ax, std::max(r0, 0.0), r1, cut.tool_to_mm - cut.tool_from_mm).Shape();
}

Segment axis_of(const RingCut& cut) {
    return {cut.line.at(cut.tool_from_mm), cut.line.at(cut.tool_to_mm)};
}

/// The squared distance is convex in both, so its least is that of the lines, or lies on an end.
Nearness nearest(const Segment& a, const Segment& b) {
    Nearness best{1e300, {}};
    const auto take = [&](Point3 p, Point3 q) {
        if (const double d = distance(p, q); d < best.mm) best = {d, (p + q) * 0.5};
    };
    const auto end_to = [&](Point3 p, const Segment& s) {
        const Vec3 d = s.to - s.from;
        take(p, s.from + d * std::clamp(dot(p - s.from, d) / norm2(d), 0.0, 1.0));
    };
    end_to(a.from, b);
    end_to(a.to, b);
    end_to(b.from, a);
    end_to(b.to, a);
    const Vec3 u = a.to - a.from, v = b.to - b.from, w = a.from - b.from;
    const double uu = norm2(u), vv = norm2(v), uv = dot(u, v), det = uu * vv - uv * uv;
    if (det > 1e-12 * uu * vv) {
        const double s = (uv * dot(v, w) - vv * dot(u, w)) / det, t = (uu * dot(v, w) - uv * dot(u, w)) / det;
        if (s >= 0.0 && s <= 1.0 && t >= 0.0 && t <= 1.0) take(a.from + u * s, b.from + v * t);
    }
    return best;
}

RingSide RingSide::cylinder(const BoltLine& axis, double radius_mm, bool is_outside) {
    RingSide side;
    side.axis_ = axis;
    side.radius_mm_ = radius_mm;
    side.is_outside_ = is_outside;
    return side;
}

Result<RingSide> RingSide::of(const TopoDS_Shape& closed, const std::vector<Plane>& no_wall, bool is_outside,
                              const Context& context) {
    GAPWRIGHT_TRY(mesh, measure::tessellate(to_brep(closed), Length::mm(kChord_mm), context));
    RingSide side;
    side.is_outside_ = is_outside;
    side.wall_ = without_planes(mesh, no_wall);
    side.closed_ = std::make_shared<measure::TriangleTree>(mesh);
    side.tree_ = std::make_shared<measure::TriangleTree>(side.wall_);
    return side;
}

Nearness RingSide::left(const RingCut& hole) const {
    const Segment axis = axis_of(hole);
    if (!is_cylinder()) {
        const Point3 middle = hole.line.at((hole.from_mm + hole.to_mm) / 2.0);
        const auto near = tree_->nearest_to_segment(axis.from, axis.to, 1e9);
        const bool is_right = room(middle) >= 0.0;
        return {(is_right ? near.distance_mm : -near.distance_mm) - kChord_mm - hole.radius_mm, near.at};
    }
    if (!is_outside_) {
        const double reach = 1e4;  // the bore goes through
        const Nearness near = nearest(axis, {axis_.at(-reach), axis_.at(reach)});
        return {near.mm - radius_mm_ - hole.radius_mm, near.at};
    }
    // A circle square to any axis reaches no farther out than its radius.
    const double a = axis_.beside(axis.from), b = axis_.beside(axis.to);
    return {radius_mm_ - std::max(a, b) - hole.radius_mm, a > b ? axis.from : axis.to};
}

double RingSide::distance_to(Point3 p) const {
    return is_cylinder() ? std::abs(radius_mm_ - axis_.beside(p)) : tree_->nearest(p).distance_mm;
}

double RingSide::room(Point3 p) const {
    if (is_cylinder()) return (is_outside_ ? 1.0 : -1.0) * (radius_mm_ - axis_.beside(p));
    const bool is_within = closed_->crossings(p, unit(Vec3{0.437, 0.271, 0.861})) % 2 == 1;
    return (is_within == is_outside_ ? 1.0 : -1.0) * tree_->nearest(p).distance_mm;
}

// Two sets of triangles come nearest at an edge of one and a triangle of the other, or at a corner of the other and a
// triangle of the one. In a cylinder the distance to its wall is concave, so over a triangle it is least at a corner.
Nearness wall_between(const RingSide& bore, const RingSide& outside) {
    EXPECTS(!bore.is_cylinder());
    Nearness least{1e9, {}};
    const auto take = [&](double distance, Point3 at) {
        if (distance < least.mm) least = {distance, at};
    };
    const TriMesh& wall = bore.wall_;
    for (const Point3 p : wall.vertices) take(outside.distance_to(p), p);
    if (!outside.is_cylinder()) {
        for (const auto& t : wall.triangles)
            for (std::size_t k = 0; k < 3; ++k) {
                const auto near =
                    outside.tree_->nearest_to_segment(wall.vertices[t[k]], wall.vertices[t[(k + 1) % 3]], least.mm);
                if (near.is_found()) take(near.distance_mm, near.at);
            }
        for (const Point3 p : outside.wall_.vertices) {
            const auto near = bore.tree_->nearest(p, least.mm);
            if (near.is_found()) take(near.distance_mm, near.at);
        }
    }
    return {least.mm - 2.0 * kChord_mm, least.at};
}

Status Webs::keep(std::string between, double left_mm, double wanted_mm, Point3 at, const std::string& hint) {
    if (left_mm < wanted_mm - kSame_mm)
        return impossible(fmt::format("ring: {} {}, wanted {} mm", between,
                                      left_mm >= 0.0 ? fmt::format("leave {:.2f} mm between them", left_mm)
                                                     : fmt::format("run {:.2f} mm into each other", -left_mm),
                                      plain_number(wanted_mm)),
                          hint, at);
    kept.push_back({std::move(between), left_mm, wanted_mm, at});
    return Done{};
}

Status Webs::keep(const RingCut& a, const RingCut& b, double wanted_mm, const std::string& hint) {
    const Nearness near = nearest(axis_of(a), axis_of(b));
    return keep(a.name + " and " + b.name, near.mm - a.radius_mm - b.radius_mm, wanted_mm, near.at, hint);
}

Status Webs::keep(const RingCut& hole, const RingSide& side, const char* what, double wanted_mm,
                  const std::string& hint) {
    const Nearness near = side.left(hole);
    return keep(hole.name + " and " + what, near.mm, wanted_mm, near.at, hint);
}

}  // namespace geom::parts

// A flare's faces are swept one by one, sides by prisms and corners about their own axes, and then given common edges.
#include "geom/parts/internal/duct_faces.h"

#include <BRepAdaptor_Curve.hxx>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepBuilderAPI_Sewing.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <BRepPrimAPI_MakeRevol.hxx>
#include <GC_MakeArcOfCircle.hxx>
#include <Geom_TrimmedCurve.hxx>
#include <TopTools_ListOfShape.hxx>
#include <TopoDS.hxx>
#include <gp_Circ.hxx>

#include <array>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kNoLength_mm = 1e-9;
constexpr double kJoined_mm = 1e-6;  // edges of neighbours lie on one another but for rounding

/// The section's corners and own axes in the vehicle's frame, at a place of the path.
struct Corners {
    std::array<Point3, 4> middle;  ///< of the corners' circles
    Vec3 wide, high, along;
    double radius_mm = 0.0;

    Corners(const DuctPath::Place& place, const DuctSection& s)
        : wide(place.right * std::cos(s.turn_rad) + place.up * std::sin(s.turn_rad)),
          high(place.up * std::cos(s.turn_rad) - place.right * std::sin(s.turn_rad)),
          along(place.along),
          radius_mm(s.corner_mm) {
        const Vec3 w = wide * (s.half_width_mm - s.corner_mm), h = high * (s.half_height_mm - s.corner_mm);
        middle = {place.at + w - h, place.at + w + h, place.at - w + h, place.at - w - h};
    }
    /// The way out at the beginning of corner i; that of i + 1 is at its end.
    Vec3 out(std::size_t i) const {
        const std::array<Vec3, 4> ways{-high, wide, high, -wide};
        return ways[i % 4];
    }
};

TopoDS_Edge line(Point3 a, Point3 b) {
    return BRepBuilderAPI_MakeEdge(to_occt(a), to_occt(b)).Edge();
}

TopoDS_Edge arc(Point3 middle, double radius, Vec3 from, Vec3 to) {
    const GC_MakeArcOfCircle circle(to_occt(middle + from * radius), to_occt(middle + unit(from + to) * radius),
                                    to_occt(middle + to * radius));
    return BRepBuilderAPI_MakeEdge(circle.Value()).Edge();
}

/// The quarter circle from the mouth's plane in, at a place of the section's border whose way out is `out`.
TopoDS_Edge profile(Point3 border, Vec3 out, Vec3 along, double radius) {
    const Point3 middle = border + (out + along) * radius;
    return arc(middle, radius, -along, -out);
}

/// The free edges of sewn faces whose ends lie in the plane through `at`, as one wire.
TopoDS_Wire free_wire(const BRepBuilderAPI_Sewing& sewing, Point3 at, Vec3 along) {
    TopTools_ListOfShape edges;
    for (int i = 1; i <= sewing.NbFreeEdges(); ++i) {
        const BRepAdaptor_Curve curve(sewing.FreeEdge(i));
        const Point3 middle = from_occt(curve.Value((curve.FirstParameter() + curve.LastParameter()) / 2.0));
        if (std::abs(dot(middle - at, along)) < kJoined_mm) edges.Append(sewing.FreeEdge(i));
    }
    BRepBuilderAPI_MakeWire wire;
    wire.Add(edges);
    return wire.Wire();
}

}  // namespace

TopoDS_Wire border_wire(const DuctPath& path, const DuctSection& section, double station_mm) {
    const DuctPath::Place place = path.at(station_mm);
    if (section.is_round()) return circle({place.at, -place.along}, section.half_width_mm);
    const Corners c(place, section);
    BRepBuilderAPI_MakeWire wire;
    for (std::size_t i = 0; i < 4; ++i) {
        if (c.radius_mm > kNoLength_mm) wire.Add(arc(c.middle[i], c.radius_mm, c.out(i), c.out(i + 1)));
        const Point3 next = c.middle[(i + 1) % 4];
        if (distance(c.middle[i], next) > kNoLength_mm)
            wire.Add(line(c.middle[i] + c.out(i + 1) * c.radius_mm, next + c.out(i + 1) * c.radius_mm));
    }
    return wire.Wire();
}

Swept swept(const DuctPath& path, const TopoDS_Wire& wire, double from_mm, double to_mm) {
    Swept made{.from = wire, .to = wire, .faces = {}};
    const auto straight = [&](double from, double to) {
        if (to - from < kNoLength_mm) return;
        const Wall piece = wall(made.to, path.at(to).at - path.at(from).at);
        made.faces.insert(made.faces.end(), piece.faces.begin(), piece.faces.end());
        made.to = piece.to;
    };
    if (path.is_straight()) {
        straight(from_mm, to_mm);
        return made;
    }
    straight(from_mm, path.before_mm);
    const gp_Ax1 axis(to_occt(path.start + path.along * path.before_mm + path.towards * path.radius_mm),
                      to_occt_dir(cross(path.along, path.towards)));
    BRepPrimAPI_MakeRevol bend(made.to, axis, path.angle_rad, false);
    const std::vector<TopoDS_Face> faces = faces_of(bend.Shape());
    made.faces.insert(made.faces.end(), faces.begin(), faces.end());
    made.to = TopoDS::Wire(bend.LastShape());
    straight(path.bend_end_mm(), to_mm);
    return made;
}

Result<Swept> flare(const DuctPath& path, const DuctSection& section, double radius_mm) {
    EXPECTS(radius_mm > 0.0 && section.corner_mm > 0.0);
    return guard_occt("port", [&]() -> Result<Swept> {
        const Corners c(path.at(radius_mm), section);
        const Vec3 back = c.along * -radius_mm;
        BRepBuilderAPI_Sewing sewing(kJoined_mm);
        const auto corner = [&](std::size_t i, double angle) {
            const TopoDS_Edge edge = profile(c.middle[i] + c.out(i) * c.radius_mm + back, c.out(i), c.along, radius_mm);
            const gp_Ax1 axis(to_occt(c.middle[i]), to_occt_dir(cross(c.out(i), c.out(i + 1))));
            sewing.Add(BRepPrimAPI_MakeRevol(edge, axis, angle).Shape());
        };
        if (section.is_round()) {
            corner(0, 2.0 * kPi);
        } else {
            for (std::size_t i = 0; i < 4; ++i) {
                corner(i, kPi / 2.0);
                const Vec3 side = c.middle[(i + 1) % 4] - c.middle[i];
                if (norm(side) <= kNoLength_mm) continue;
                const TopoDS_Edge edge =
                    profile(c.middle[i] + c.out(i + 1) * c.radius_mm + back, c.out(i + 1), c.along, radius_mm);
                sewing.Add(BRepPrimAPI_MakePrism(edge, to_occt_vec(side)).Shape());
            }
        }
        sewing.Perform();
        return Swept{.from = free_wire(sewing, path.start, c.along),
                     .to = free_wire(sewing, path.at(radius_mm).at, c.along),
                     .faces = faces_of(sewing.SewedShape())};
    });
}

}  // namespace geom::parts

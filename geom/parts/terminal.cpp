// The nearest wall is looked for along 600 directions spread evenly over the sphere (golden-angle spiral), each
// marched through the outer field to where it leaves the body; the best place is pulled onto the zero set along the
// gradient, which is turned to the mean over the hole's rim. The wall's depth is measured on the B-rep: lines along the
// axis against the air's skin. Volume of the hole: with mean height m over the rim and height c on the axis, the mean
// over the disc of any quadratic surface is (m + c) / 2.
#include "geom/parts/internal/terminal.h"

#include "geom/core/text.h"

#include <fmt/format.h>
#include <BRepAdaptor_Surface.hxx>
#include <BRepBndLib.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRep_Builder.hxx>
#include <BRep_Tool.hxx>
#include <Bnd_Box.hxx>
#include <IntCurvesFace_ShapeIntersector.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Compound.hxx>
#include <gp_Cylinder.hxx>
#include <gp_Lin.hxx>

#include <numbers>

namespace geom::parts {
namespace {

constexpr int kDirections = 600;
constexpr int kRim = 12;
constexpr double kBeyond_mm = 1.5;     // of the tool past both skins
constexpr double kMostBend_rel = 0.3;  // of the hole's radius: a gland or cup must seal on the wall
constexpr double kUnderCap_mm = 0.05;  // the cap lies this far under the rim's lowest point

Vec3 direction(int i) {
    const double z = 1.0 - 2.0 * (i + 0.5) / kDirections, r = std::sqrt(1.0 - z * z);
    const double turn = i * std::numbers::pi * (3.0 - std::sqrt(5.0));
    return {r * std::cos(turn), r * std::sin(turn), z};
}

Vec3 normal_at(const Site& site, Point3 p) {
    const Frame& box = site.room.outer.grid.vehicle_from_box;
    return unit(box.dir_to_parent(site.room.outer.gradient_box(box.to_local(p))));
}

Point3 on_skin(const Site& site, Point3 p) {
    for (int i = 0; i < 8; ++i) p = p - normal_at(site, p) * std::clamp(site.room.outer.at(p), -2.0, 2.0);
    return p;
}

/// The place on the outer skin nearest to `asked`; none when no way out leads through a wall at least so deep.
std::optional<Point3> nearest_wall(const Site& site, Point3 asked, double least_depth_mm) {
    const double step = site.room.outer.grid.h_mm / 2.0;
    const bool starts_inside = site.body_mm(asked) < 0.0;
    double nearest = 1e300;
    Point3 at;
    for (int i = 0; i < kDirections; ++i) {
        const Vec3 way = direction(i);
        for (double s = 0.0; s < std::min(nearest, 1500.0); s += step) {
            const Point3 p = asked + way * s;
            if ((site.body_mm(p) < 0.0) == starts_inside) continue;
            // Out through the baffle is no wall.
            if (-site.depth(p) > site.room.outer.at(p) - step || site.depth(p) < least_depth_mm) break;
            nearest = s;
            at = p;
            break;
        }
    }
    if (nearest > 1e299) return std::nullopt;
    // From the best of the directions to the foot point: along the skin towards the asked place.
    at = on_skin(site, at);
    for (int i = 0; i < 20; ++i) {
        const Vec3 n = normal_at(site, at), way = asked - at;
        at = on_skin(site, at + (way - n * dot(way, n)) * 0.5);
    }
    return at;
}

/// The faces of a solid that come near the hole, made ready once for many lines.
class NearSkin {
public:
    NearSkin(const TopoDS_Solid& solid, Point3 at, double reach) {
        const Bnd_Box near(to_occt(at - Vec3{reach, reach, reach}), to_occt(at + Vec3{reach, reach, reach}));
        BRep_Builder builder;
        TopoDS_Compound faces;
        builder.MakeCompound(faces);
        for (const TopoDS_Face& face : faces_of(solid)) {
            Bnd_Box box;
            BRepBndLib::Add(face, box);
            if (!box.IsOut(near)) builder.Add(faces, face);
        }
        lines_.Load(faces, 1e-5);
    }
    /// Way from `from` to the first face met along `way`; none when the line misses them.
    std::optional<double> depth(Point3 from, Vec3 way) {
        lines_.Perform(gp_Lin(to_occt(from), to_occt_dir(way)), -1e-6, 1e4);
        std::optional<double> least;
        for (int i = 1; i <= lines_.NbPnt(); ++i)
            if (!least || lines_.WParameter(i) < *least) least = lines_.WParameter(i);
        return least;
    }

private:
    IntCurvesFace_ShapeIntersector lines_;
};

}  // namespace

Result<TerminalPlan> plan_terminal(const Site& site, const TopoDS_Solid& air, double least_depth_mm) {
    EXPECTS(site.request.terminal.has_value());
    const Terminal& terminal = *site.request.terminal;
    const double r = terminal.diameter.mm() / 2.0;
    TerminalPlan plan;
    // A place before the baffle, or so near behind it that the hole would meet it, is taken straight back first.
    std::optional<Point3> found;
    for (double depth = std::max(site.depth(terminal.at), least_depth_mm + r + 1.0), back = 0.0; back < 30.0;
         back += 3.0) {
        const Point3 asked = terminal.at - site.outward() * (depth + back - site.depth(terminal.at));
        found = nearest_wall(site, asked, least_depth_mm + r);
        if (!found || site.depth(*found) >= least_depth_mm + r) break;
        found.reset();
    }
    if (!found)
        return impossible(
            fmt::format("terminal: no wall of the box is near {}, wanted one for a hole of {} mm behind the baffle",
                        place_text(terminal.at), plain_number(2.0 * r)),
            "move [enclosure] terminal.at to a place inside the box, near the wall wanted", terminal.at);
    plan.at = *found;
    plan.outward = normal_at(site, plan.at);
    plan.radius_mm = r;
    for (int round = 0; round < 2; ++round) {
        const Vec3 across = any_perpendicular(plan.outward), up = cross(plan.outward, across);
        Vec3 sum = plan.outward;
        for (int i = 0; i < kRim; ++i) {
            const double a = 2.0 * std::numbers::pi * i / kRim;
            sum += normal_at(site, on_skin(site, plan.at + (across * std::cos(a) + up * std::sin(a)) * r));
        }
        plan.outward = unit(sum);
    }
    return guard_occt("terminal", [&]() -> Result<TerminalPlan> {
        const double most_wall = 3.0 * site.request.wall.mm() + 2.0 * r;
        NearSkin inner(air, plan.at, most_wall + r);
        const Vec3 across = any_perpendicular(plan.outward), up = cross(plan.outward, across);
        plan.wall_mm = inner.depth(plan.at, -plan.outward).value_or(1e300);
        plan.deepest_mm = plan.wall_mm;
        double lowest = 0.0;
        for (int i = 0; i < kRim && plan.deepest_mm < most_wall; ++i) {
            const double a = 2.0 * std::numbers::pi * i / kRim;
            const Point3 rim = plan.at + (across * std::cos(a) + up * std::sin(a)) * r;
            plan.deepest_mm =
                std::max(plan.deepest_mm, inner.depth(rim + plan.outward * r, -plan.outward).value_or(1e300) - r);
            // The outer skin over the rim: along the axis, by the field.
            double high = 0.0;
            for (int k = 0; k < 8; ++k) high -= std::clamp(site.room.outer.at(rim + plan.outward * high), -2.0, 2.0);
            plan.highest_mm = std::max(plan.highest_mm, high);
            lowest = std::min(lowest, high);
        }
        if (plan.deepest_mm >= most_wall)
            return impossible(
                fmt::format("terminal: at {} a hole of {} mm does not come out in the cavity, wanted a wall "
                            "with air behind all of it",
                            place_text(plan.at), plain_number(2.0 * r)),
                "move [enclosure] terminal.at to a flatter part of the wall, or take a smaller diameter", plan.at);
        if (const double bend = std::max(plan.deepest_mm - plan.wall_mm, plan.highest_mm - lowest);
            bend > kMostBend_rel * r)
            return impossible(
                fmt::format("terminal: the wall at {} bends by {:.1f} mm across a hole of {} mm, wanted at most {}",
                            place_text(plan.at), bend, plain_number(2.0 * r), plain_number(kMostBend_rel * r)),
                "move [enclosure] terminal.at to a flatter part of the wall, or take a smaller diameter", plan.at);
        return plan;
    });
}

Result<TerminalMade> cut_terminal(const TerminalPlan& plan, const TopoDS_Solid& shell) {
    return guard_occt("terminal", [&]() -> Result<TerminalMade> {
        const double inside = plan.deepest_mm + kBeyond_mm, outside = plan.highest_mm + kBeyond_mm;
        TopTools_ListOfShape tools;
        tools.Append(
            BRepPrimAPI_MakeCylinder(gp_Ax2(to_occt(plan.at - plan.outward * inside), to_occt_dir(plan.outward)),
                                     plan.radius_mm, inside + outside)
                .Solid());
        const double area = std::numbers::pi * plan.radius_mm * plan.radius_mm;
        GAPWRIGHT_TRY(made, cut("terminal", shell, tools, 0.5 * area * plan.wall_mm,
                                1.05 * area * (plan.deepest_mm + plan.highest_mm)));
        // The rims of the hole, as the boolean left them.
        double sum_inner = 0.0, lowest_outer = 1e300;
        int inner_points = 0;
        for (const TopoDS_Face& face : faces_of(made.solid)) {
            const BRepAdaptor_Surface surface(face, false);
            if (surface.GetType() != GeomAbs_Cylinder || std::abs(surface.Cylinder().Radius() - plan.radius_mm) > 1e-6)
                continue;
            const gp_Cylinder cylinder = surface.Cylinder();
            if (gp_Lin(cylinder.Axis()).Distance(to_occt(plan.at)) > 1e-5) continue;
            // Heights of the two rims by rulings of the cylinder: from the middle of the wall to each side.
            for (TopExp_Explorer e(face, TopAbs_EDGE); e.More(); e.Next()) {
                const TopoDS_Edge& edge = TopoDS::Edge(e.Current());
                if (BRep_Tool::IsClosed(edge, face)) continue;  // the seam
                double first = 0.0, last = 0.0;
                const Handle(Geom_Curve) curve = BRep_Tool::Curve(edge, first, last);
                if (curve.IsNull()) continue;
                for (int i = 0; i < 32; ++i) {
                    const Point3 p = from_occt(curve->Value(first + (last - first) * (i + 0.5) / 32));
                    const double height = dot(p - plan.at, plan.outward);
                    if (height > -plan.wall_mm / 2.0)
                        lowest_outer = std::min(lowest_outer, height);
                    else
                        sum_inner += height, ++inner_points;
                }
            }
        }
        if (inner_points == 0 || lowest_outer > 1e299)
            return Fault{FaultCode::Internal, "terminal: the hole's rims were not found", {}, plan.at, "part"};
        TerminalMade done{.solid = made.solid, .cap = {}, .hole_mm3 = 0.0};
        const double cap_height = lowest_outer - kUnderCap_mm;
        done.cap = {plan.at + plan.outward * cap_height, plan.outward};
        done.hole_mm3 = area * (cap_height - (sum_inner / inner_points - plan.wall_mm) / 2.0);
        return done;
    });
}

}  // namespace geom::parts

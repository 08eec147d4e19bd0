// The pad is a disc about the hole that stands on the vehicle's face; the arm is a bar that keeps the clearance from
// that face and is as deep as twice the wall. Where the arm makes the pad higher than it need be, the bolt's seat is let
// in again by the access the socket wants.
//
// Of 72 directions about the bolt the one with the shortest way to the body is taken: the way until every corner of
// the bar's section lies inside. The bar ends there: it is fused to the filled outer body, the air is not touched.
#include "geom/parts/internal/foot.h"

#include "geom/core/text.h"
#include "geom/fixings/threads.h"

#include <BRepAlgoAPI_Common.hxx>
#include <BRepAlgoAPI_Cut.hxx>
#include <BRepAlgoAPI_Fuse.hxx>
#include <BRepBndLib.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepGProp.hxx>
#include <BRepPrimAPI_MakeBox.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <Bnd_Box.hxx>
#include <GProp_GProps.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <fmt/format.h>
#include <gp_Ax2.hxx>
#include <gp_Pln.hxx>

#include <numbers>

namespace geom::parts {
namespace {

constexpr int kDirections = 72;
constexpr double kOver_mm = 0.5;          // of width and depth over the least section
constexpr double kPadOverWeb_mm = 0.3;    // so that no two faces fall together
constexpr double kRootDepth_mm = 1.0;     // of every corner of the arm's end inside the body
constexpr double kAccessHeight_mm = 40.0; // straight room for a socket with its ratchet head [common practice]
constexpr double kStep_mm = 0.5;
constexpr double kLongestArm_d = 12.0;    // longer arms are not made: bolt diameters

Point3 at(const FootPlan& foot, double along, double across, double up) {
    return foot.point + foot.along * along + foot.across * across + foot.up * up;
}

/// The bar's section as sample points: across and up.
std::vector<std::pair<double, double>> section_points(const FootPlan& foot) {
    std::vector<std::pair<double, double>> points;
    for (const double a : {-0.5, -0.25, 0.0, 0.25, 0.5})
        for (const double u : {0.0, 0.5, 1.0})
            points.emplace_back(a * foot.web_width_mm, foot.web_from_mm + u * (foot.web_to_mm - foot.web_from_mm));
    return points;
}

/// Tries the direction in foot.along; true when the arm ends well inside the body.
bool reach(const Site& site, FootPlan& foot, double least_depth_mm, double longest_mm) {
    const auto body = [&](double s, double a, double u) {
        const Point3 p = at(foot, s, a, u);
        return std::max(site.body_mm(p), least_depth_mm - site.depth(p));
    };
    const auto points = section_points(foot);
    foot.skin_mm = 1e300;
    foot.root_mm = 0.0;
    for (const auto& [a, u] : points) {
        double s = 0.0;
        while (s < longest_mm && body(s, a, u) > 0.0) s += std::max(kStep_mm, std::min(body(s, a, u), 5.0));
        foot.skin_mm = std::min(foot.skin_mm, s);
        while (s < longest_mm && body(s, a, u) > -kRootDepth_mm) s += kStep_mm;
        if (s >= longest_mm) return false;
        foot.root_mm = std::max(foot.root_mm, s);
    }
    for (const auto& [a, u] : points)
        if (body(foot.root_mm, a, u) > -0.5 * kRootDepth_mm) return false;
    return true;
}

gp_Ax2 axes(const FootPlan& foot, double height) {
    return {to_occt(foot.point + foot.up * height), to_occt_dir(foot.up), to_occt_dir(foot.along)};
}

/// Pad and arm with the hole and the let-in seat, as one solid that knows nothing of the box.
Result<TopoDS_Shape> model(const FootPlan& foot) {
    return guard_occt("foot", [&]() -> Result<TopoDS_Shape> {
        const double top = std::max(foot.pad_mm, foot.web_to_mm + kPadOverWeb_mm);
        const TopoDS_Shape pad = BRepPrimAPI_MakeCylinder(axes(foot, 0.0), foot.pad_radius_mm, top).Solid();
        const gp_Ax2 corner(to_occt(at(foot, 0.0, -foot.web_width_mm / 2.0, foot.web_from_mm)), to_occt_dir(foot.up),
                            to_occt_dir(foot.along));
        const TopoDS_Shape arm = BRepPrimAPI_MakeBox(corner, foot.root_mm, foot.web_width_mm, foot.web_to_mm - foot.web_from_mm).Solid();
        BRepAlgoAPI_Fuse both(pad, arm);
        TopTools_ListOfShape first, tools;
        first.Append(both.Shape());
        tools.Append(BRepPrimAPI_MakeCylinder(axes(foot, -1.0), foot.hole_radius_mm, top + 2.0).Solid());
        if (top > foot.pad_mm + 1e-6)
            tools.Append(BRepPrimAPI_MakeCylinder(axes(foot, foot.pad_mm), foot.access_radius_mm, top - foot.pad_mm + 1.0).Solid());
        BRepAlgoAPI_Cut cut;
        cut.SetArguments(first);
        cut.SetTools(tools);
        cut.Build();
        const std::string name = "fixing \"" + foot.name + "\"";
        if (both.HasErrors() || cut.HasErrors())
            return Fault{FaultCode::Internal, name + ": pad and arm could not be joined", {}, foot.point, "part"};
        TopExp_Explorer solid(cut.Shape(), TopAbs_SOLID);
        if (!solid.More()) return Fault{FaultCode::Internal, name + ": nothing is left of the foot", {}, foot.point, "part"};
        const TopoDS_Shape made = solid.Current();
        GAPWRIGHT_CHECK(check_solid(name, made));
        return made;
    });
}

}  // namespace

Result<FootPlan> plan_foot(const Site& site, const Foot& foot, double least_depth_mm) {
    const EnclosureRequest& request = site.request;
    GAPWRIGHT_TRY(thread, fixings::find_thread(foot.thread));
    const std::string name = "fixing \"" + foot.name + "\"";
    const double wall = request.wall.mm();
    const double clear = request.room.clearance.mm() + request.room.covering.mm();
    FootPlan plan{.name = foot.name, .thread = foot.thread, .point = foot.point, .up = -unit(foot.axis), .along = {}, .across = {}};
    plan.hole_radius_mm = thread.hole_medium_mm / 2.0;
    plan.edge_wanted_mm = fixings::least_edge_distance(thread, request.material.is_metal).mm();
    plan.pad_radius_mm = plan.edge_wanted_mm + kOver_mm;
    plan.pad_mm = std::max(1.2 * thread.d_mm, wall);
    plan.access_radius_mm = (std::max(thread.washer_outside_mm, thread.socket_outside_mm) + 2.0) / 2.0;
    plan.web_from_mm = clear;
    plan.web_width_mm = 3.0 * thread.d_mm + kOver_mm;
    plan.web_to_mm = plan.web_from_mm + 2.0 * wall + kOver_mm;
    plan.web_wanted_mm2 = 3.0 * thread.d_mm * 2.0 * wall;

    if (const double inside = -site.body_mm(plan.point); inside > 0.0)
        return impossible(fmt::format("{}: the point lies {:.1f} mm inside the box, wanted on the vehicle's face outside it",
                                      name, inside),
                          "check the fixing's point", plan.point);
    // The bolt's own way: pad, washer, socket.
    const Vec3 side = any_perpendicular(plan.up), other = cross(plan.up, side);
    for (double height = 0.0; height <= plan.pad_mm + kAccessHeight_mm; height += 2.0)
        for (int i = 0; i <= 12; ++i) {
            const double a = 2.0 * std::numbers::pi * i / 12, r = i == 12 ? 0.0 : plan.access_radius_mm;
            const Point3 p = plan.point + plan.up * height + (side * std::cos(a) + other * std::sin(a)) * r;
            if (site.body_mm(p) > 0.2) continue;
            return impossible(fmt::format("{}: the box stands in the bolt's way {:.0f} mm above the face, wanted {} mm of "
                                          "straight room {} mm wide for washer and socket", name, height,
                                          plain_number(plan.pad_mm + kAccessHeight_mm), plain_number(2.0 * plan.access_radius_mm)),
                              "move the point away from the box, or keep the room over it free with a keep_out", p);
        }
    const double longest = kLongestArm_d * thread.d_mm;
    FootPlan best = plan;
    best.root_mm = 1e300;
    double nearest_body = 1e300;
    for (int i = 0; i < kDirections; ++i) {
        const double a = 2.0 * std::numbers::pi * i / kDirections;
        FootPlan tried = plan;
        tried.along = side * std::cos(a) + other * std::sin(a);
        tried.across = cross(tried.up, tried.along);
        for (double s = 0.0; s < 600.0 && s < nearest_body; s += 1.0)
            if (site.body_mm(at(tried, s, 0.0, (plan.web_from_mm + plan.web_to_mm) / 2.0)) < 0.0) nearest_body = s;
        if (reach(site, tried, least_depth_mm, longest) && tried.root_mm < best.root_mm - 1e-6) best = tried;
    }
    if (best.root_mm > 1e299) {
        const std::string how = nearest_body > 599.0 ? "there is no box beside it within 600 mm"
                                : nearest_body > longest
                                    ? fmt::format("the box is {:.0f} mm away, wanted at most {}", nearest_body, plain_number(longest))
                                    : fmt::format("an arm {} by {} mm does not end inside the box, {:.0f} mm away",
                                                  plain_number(plan.web_width_mm), plain_number(plan.web_to_mm - plan.web_from_mm), nearest_body);
        return impossible(fmt::format("{}: cannot reach its point: {}", name, how),
                          "move the point nearer to the box, or give the box more room beside it", plan.point);
    }
    return best;
}

Result<TopoDS_Solid> fuse_feet(const std::vector<FootPlan>& feet, const TopoDS_Solid& outer) {
    if (feet.empty()) return outer;
    TopTools_ListOfShape tools;
    double whole_mm3 = 0.0;
    std::string names;
    for (const FootPlan& foot : feet) {
        GAPWRIGHT_TRY(solid, model(foot));
        tools.Append(solid);
        whole_mm3 += std::numbers::pi * foot.pad_radius_mm * foot.pad_radius_mm * std::max(foot.pad_mm, foot.web_to_mm + 1.0) +
                     foot.root_mm * foot.web_width_mm * (foot.web_to_mm - foot.web_from_mm);
        names += (names.empty() ? "" : ", ") + foot.name;
    }
    GAPWRIGHT_TRY(made, fuse("fixings " + names, outer, tools, 1.0, whole_mm3));
    return made.solid;
}

Result<std::vector<FixingMade>> measure_feet(const std::vector<FootPlan>& feet, const TopoDS_Solid& solid) {
    return guard_occt("fixings", [&]() -> Result<std::vector<FixingMade>> {
        std::vector<FixingMade> made;
        for (const FootPlan& foot : feet) {
            FixingMade fixing{.name = foot.name, .thread = foot.thread, .point = foot.point, .axis = -foot.up,
                              .hole_mm = 2.0 * foot.hole_radius_mm, .edge_distance_mm = foot.pad_radius_mm,
                              .edge_wanted_mm = foot.edge_wanted_mm, .web_section_mm2 = 1e300,
                              .web_wanted_mm2 = foot.web_wanted_mm2};
            // From the edge of the socket's access to where the arm meets the shell.
            const double from = foot.access_radius_mm + 0.2, to = std::max(from, foot.skin_mm);
            TopTools_ListOfShape first, tools;
            constexpr int kCuts = 4;
            for (int i = 0; i < kCuts; ++i) {
                const double s = from + (to - from) * i / (kCuts - 1);
                const gp_Ax3 frame(to_occt(at(foot, s, 0.0, (foot.web_from_mm + foot.web_to_mm) / 2.0)),
                                   to_occt_dir(foot.along), to_occt_dir(foot.across));
                const double half_width = foot.web_width_mm / 2.0 + 1.0;
                const double half_height = (foot.web_to_mm - foot.web_from_mm) / 2.0 + 0.15;
                TopTools_ListOfShape one, body;
                one.Append(BRepBuilderAPI_MakeFace(gp_Pln(frame), -half_width, half_width, -half_height, half_height).Face());
                body.Append(solid);
                BRepAlgoAPI_Common common;
                common.SetArguments(one);
                common.SetTools(body);
                common.Build();
                if (common.HasErrors())
                    return Fault{FaultCode::Internal, "fixing \"" + foot.name + "\": its arm could not be cut", {}, foot.point, "part"};
                GProp_GProps props;
                BRepGProp::SurfaceProperties(common.Shape(), props);
                fixing.web_section_mm2 = std::min(fixing.web_section_mm2, props.Mass());
                if (to <= from) break;
            }
            made.push_back(fixing);
        }
        return made;
    });
}

}  // namespace geom::parts

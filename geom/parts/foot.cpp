// The pad is a disc about the hole that stands on the vehicle's face; the arm is a bar that keeps the clearance from
// that face and is as deep as twice the wall. Where the arm makes the pad higher than it need be, the bolt's seat is
// let in again by the access the socket wants.
//
// Of 72 directions about the bolt the one with the shortest way to the body is taken: the way until every corner of
// the bar's section lies inside. The bar ends there: it is fused to the filled outer body, the air is not touched.
#include "geom/parts/internal/foot.h"

#include "geom/parts/internal/vehicle_face.h"

#include "geom/core/text.h"
#include "geom/fixings/threads.h"

#include <fmt/format.h>
#include <BRepAlgoAPI_Common.hxx>
#include <BRepAlgoAPI_Cut.hxx>
#include <BRepAlgoAPI_Fuse.hxx>
#include <BRepBndLib.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepGProp.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <Bnd_Box.hxx>
#include <GProp_GProps.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <gp_Ax2.hxx>
#include <gp_Pln.hxx>

#include <numbers>

namespace geom::parts {
namespace {

constexpr int kDirections = 72;
constexpr double kOver_mm = 0.5;           // of width and depth over the least section
constexpr double kPadOverWeb_mm = 0.3;     // so that no two faces fall together
constexpr double kRootDepth_mm = 1.0;      // of every corner of the arm's end inside the body
constexpr double kAccessHeight_mm = 40.0;  // straight room for a socket with its ratchet head [common practice]
constexpr double kStep_mm = 0.5;
constexpr double kMostLift_mm = 24.0;   // of the arm above its clearance from the face, where the body begins higher
constexpr double kLongestArm_d = 12.0;  // longer arms are not made: bolt diameters
// Nearer than asked by less is no fault, where nothing better is found: noise of the samples under a face that is
// itself the clearance away.
constexpr double kBound_mm = 0.3;
constexpr double kBesidePlate_mm = 1.0;    // a foot keeps that far from a separate plate
constexpr double kBeforeDriver_mm = 60.0;  // straight room before the driver's flange
constexpr int kCuts = 5;                   // along each arm
constexpr double kCutOff_mm = 0.2;         // from the ends of the arm, and past its sides

Point3 at(const FootPlan& foot, double along, double across, double up) {
    return foot.point + foot.along * along + foot.across * across + foot.up * up;
}

double pad_top_mm(const FootPlan& foot) {
    return foot.riser_mm > 0.0 ? foot.pad_mm : std::max(foot.pad_mm, foot.web_to_mm + kPadOverWeb_mm);
}

/// Lets the arm stand on the pad, from beside the washer to within its disc, when that joint is no weaker than the arm.
/// It begins as far out as that allows, so that what is left beside the socket's access is no thin fin.
void stand_on_pad(FootPlan& foot) {
    const double half = foot.web_width_mm / 2.0, square = foot.pad_radius_mm * foot.pad_radius_mm - half * half;
    const double reach = square > 0.0 ? std::sqrt(square) - kPadOverWeb_mm : 0.0, r = foot.access_radius_mm;
    if (reach <= r) return;
    for (const double part : {0.6, 0.4, 0.2, 0.0}) {
        const double from = part * r;
        const double segment = r * r * std::acos(part) - from * std::sqrt(r * r - from * from);
        if ((reach - from) * foot.web_width_mm - segment < 1.05 * foot.web_wanted_mm2) continue;
        foot.riser_mm = reach;
        foot.arm_from_mm = from;
        return;
    }
}

/// The bar's section as sample points: across and up.
std::vector<std::pair<double, double>> section_points(const FootPlan& foot) {
    std::vector<std::pair<double, double>> points;
    for (const double a : {-0.5, -0.25, 0.0, 0.25, 0.5})
        for (const double u : {0.0, 0.5, 1.0})
            points.emplace_back(a * foot.web_width_mm, foot.web_from_mm + u * (foot.web_to_mm - foot.web_from_mm));
    return points;
}

/// Places on the foot's outside, pad and arm up to the shell.
std::vector<Point3> outside_points(const FootPlan& foot) {
    std::vector<Point3> points;
    for (int i = 0; i < 24; ++i) {
        const double a = 2.0 * std::numbers::pi * i / 24;
        for (const double u : {0.0, 0.5, 1.0})
            points.push_back(
                at(foot, foot.pad_radius_mm * std::cos(a), foot.pad_radius_mm * std::sin(a), u * pad_top_mm(foot)));
    }
    for (double s = 0.0; s <= foot.covered_mm; s += 4.0)
        for (const auto& [a, u] : section_points(foot)) points.push_back(at(foot, s, a, u));
    return points;
}

/// Tries the direction in foot.along; true when the arm ends well inside the body. `meets_plate`: it would have, but
/// would hold a separate plate too.
bool reach(const Site& site, FootPlan& foot, double least_depth_mm, double longest_mm, bool& meets_plate) {
    const bool is_separate = site.request.baffle.separate;
    const auto body = [&](double s, double a, double u) {
        const Point3 p = at(foot, s, a, u);
        return std::max(site.body_mm(p), least_depth_mm - site.depth(p));
    };
    const auto points = section_points(foot);
    foot.skin_mm = 1e300;
    foot.covered_mm = foot.root_mm = 0.0;
    for (const auto& [a, u] : points) {
        double s = 0.0;
        const auto bare = [&] { return site.body_mm(at(foot, s, a, u)); };
        while (s < longest_mm && bare() > 0.0) s += std::max(kStep_mm, std::min(bare(), 5.0));
        if (s >= longest_mm) return false;
        if (is_separate && site.depth(at(foot, s, a, u)) < least_depth_mm) {
            meets_plate = true;
            return false;
        }
        foot.skin_mm = std::min(foot.skin_mm, s);
        foot.covered_mm = std::max(foot.covered_mm, s);
        while (s < longest_mm && body(s, a, u) > -kRootDepth_mm) s += kStep_mm;
        if (s >= longest_mm) return false;
        foot.root_mm = std::max(foot.root_mm, s);
    }
    for (const auto& [a, u] : points)
        if (body(foot.root_mm, a, u) > -0.5 * kRootDepth_mm) return false;
    if (is_separate)
        for (const Point3& p : outside_points(foot))
            if (site.depth(p) < least_depth_mm && site.body_mm(p) < kBesidePlate_mm) {
                meets_plate = true;
                return false;
            }
    return true;
}

/// Whether any of the foot stands straight before the driver.
bool is_before_driver(const Site& site, const FootPlan& foot) {
    if (!site.request.driver) return false;
    const Point2 centre = site.flat(site.request.driver->centre);
    const double radius = site.request.driver->driver.flange_diameter.mm() / 2.0;
    for (const Point3& p : outside_points(foot))
        if (site.depth(p) < 0.0 && site.depth(p) > -kBeforeDriver_mm && distance(site.flat(p), centre) < radius)
            return true;
    return false;
}

/// The bolt's own way: pad, washer, socket.
Status check_access(const Site& site, const std::string& name, const FootPlan& foot) {
    if (const double inside = -site.body_mm(foot.point); inside > 0.0)
        return impossible(
            fmt::format("{}: the point lies {:.1f} mm inside the box, wanted on the vehicle's face outside it", name,
                        inside),
            "check the fixing's point", foot.point);
    const Vec3 side = any_perpendicular(foot.up), other = cross(foot.up, side);
    for (double height = 0.0; height <= foot.pad_mm + kAccessHeight_mm; height += 2.0)
        for (int i = 0; i <= 12; ++i) {
            const double a = 2.0 * std::numbers::pi * i / 12, r = i == 12 ? 0.0 : foot.access_radius_mm;
            const Point3 p = foot.point + foot.up * height + (side * std::cos(a) + other * std::sin(a)) * r;
            if (site.body_mm(p) > 0.2) continue;
            return impossible(
                fmt::format(
                    "{}: the box stands in the bolt's way {:.0f} mm above the face, wanted {} mm of straight room "
                    "{} mm wide for washer and socket",
                    name, height, plain_number(foot.pad_mm + kAccessHeight_mm),
                    plain_number(2.0 * foot.access_radius_mm)),
                "move the point away from the box, or keep the room over it free with a keep_out", p);
        }
    return Done{};
}

gp_Ax2 axes(const FootPlan& foot, double height) {
    return {to_occt(foot.point + foot.up * height), to_occt_dir(foot.up), to_occt_dir(foot.along)};
}

/// Pad and arm with the hole and the let-in seat, as one solid that knows nothing of the box.
Result<TopoDS_Shape> model(const FootPlan& foot) {
    return guard_occt("foot", [&]() -> Result<TopoDS_Shape> {
        const std::string name = "fixing \"" + foot.name + "\"";
        const double top = pad_top_mm(foot);
        const TopoDS_Shape pad = BRepPrimAPI_MakeCylinder(axes(foot, 0.0), foot.pad_radius_mm, top).Solid();
        // The arm from the side: a bar, and under it what stands on the pad.
        BRepBuilderAPI_MakePolygon side;
        const auto corner = [&](double along, double up) {
            side.Add(to_occt(at(foot, along, -foot.web_width_mm / 2.0, up)));
        };
        const double foot_of_riser = foot.pad_mm / 2.0;
        if (foot.riser_mm > 0.0 && foot_of_riser < foot.web_from_mm - 1e-3) {
            corner(foot.arm_from_mm, foot_of_riser);
            corner(foot.riser_mm, foot_of_riser);
            corner(foot.riser_mm, foot.web_from_mm);
        } else {
            corner(foot.arm_from_mm, foot.web_from_mm);
        }
        corner(foot.root_mm, foot.web_from_mm);
        corner(foot.root_mm, foot.web_to_mm);
        corner(foot.arm_from_mm, foot.web_to_mm);
        side.Close();
        TopoDS_Shape arm = BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(side.Wire(), true).Face(),
                                                 to_occt_vec(foot.across * foot.web_width_mm))
                               .Shape();
        TopTools_ListOfShape first, tools;
        tools.Append(BRepPrimAPI_MakeCylinder(axes(foot, -1.0), foot.hole_radius_mm, top + 2.0).Solid());
        if (foot.riser_mm > 0.0) {
            // The access is cut from the arm alone, so that its end and the pad's top do not fall together.
            const double from = std::min(foot_of_riser, foot.web_from_mm) - 1.0;
            BRepAlgoAPI_Cut free(
                arm,
                BRepPrimAPI_MakeCylinder(axes(foot, from), foot.access_radius_mm, foot.web_to_mm + 1.0 - from).Solid());
            if (free.HasErrors())
                return Fault{
                    FaultCode::Internal, name + ": its socket's access could not be cut", {}, foot.point, "part"};
            arm = free.Shape();
        } else if (top > foot.pad_mm + 1e-6) {
            tools.Append(
                BRepPrimAPI_MakeCylinder(axes(foot, foot.pad_mm), foot.access_radius_mm, top - foot.pad_mm + 1.0)
                    .Solid());
        }
        BRepAlgoAPI_Fuse both(pad, arm);
        first.Append(both.Shape());
        BRepAlgoAPI_Cut cut;
        cut.SetArguments(first);
        cut.SetTools(tools);
        cut.Build();
        if (both.HasErrors() || cut.HasErrors())
            return Fault{FaultCode::Internal, name + ": pad and arm could not be joined", {}, foot.point, "part"};
        TopExp_Explorer solid(cut.Shape(), TopAbs_SOLID);
        if (!solid.More())
            return Fault{FaultCode::Internal, name + ": nothing is left of the foot", {}, foot.point, "part"};
        const TopoDS_Shape made = solid.Current();
        GAPWRIGHT_CHECK(check_solid(name, made));
        return made;
    });
}

Result<TopoDS_Solid> fuse_once(const std::vector<FootPlan>& feet, const TopoDS_Solid& outer) {
    TopTools_ListOfShape tools;
    double whole_mm3 = 0.0;
    std::string names;
    for (const FootPlan& foot : feet) {
        GAPWRIGHT_TRY(solid, model(foot));
        tools.Append(solid);
        whole_mm3 += volume_mm3(solid);
        names += (names.empty() ? "\"" : ", \"") + foot.name + "\"";
    }
    GAPWRIGHT_TRY(made, fuse("fixings " + names, outer, tools, 1.0, whole_mm3));
    return made.solid;
}

}  // namespace

double distance_to(const FootPlan& foot, Point3 p) {
    const Vec3 d = p - foot.point;
    const double up = dot(d, foot.up), along = dot(d, foot.along), across = dot(d, foot.across);
    // Signed distance of a body from how far a place lies beyond each of its sides.
    const auto signed_distance = [](double a, double b, double c) {
        return norm(Vec3{std::max(a, 0.0), std::max(b, 0.0), std::max(c, 0.0)}) + std::min(std::max({a, b, c}), 0.0);
    };
    const auto beyond = [](double v, double lo, double hi) { return std::max(lo - v, v - hi); };
    const double pad =
        signed_distance(std::hypot(along, across) - foot.pad_radius_mm, beyond(up, 0.0, pad_top_mm(foot)), -1e300);
    const double arm = signed_distance(beyond(along, 0.0, foot.covered_mm),
                                       beyond(across, -foot.web_width_mm / 2.0, foot.web_width_mm / 2.0),
                                       beyond(up, foot.web_from_mm, foot.web_to_mm));
    const double riser = signed_distance(beyond(along, 0.0, foot.riser_mm),
                                         beyond(across, -foot.web_width_mm / 2.0, foot.web_width_mm / 2.0),
                                         beyond(up, 0.0, foot.web_from_mm));
    return std::min({pad, arm, foot.riser_mm > 0.0 ? riser : 1e300});
}

Result<FootPlan> plan_foot(const Site& site, const Foot& foot, double least_depth_mm) {
    const EnclosureRequest& request = site.request;
    GAPWRIGHT_TRY(thread, fixings::find_thread(foot.thread, request.own_threads));
    const std::string name = "fixing \"" + foot.name + "\"";
    const double wall = request.wall.mm(), clear = request.room.clearance.mm() + request.room.covering.mm();
    FootPlan plan{.name = foot.name,
                  .thread = foot.thread,
                  .point = foot.point,
                  .up = -unit(foot.axis),
                  .along = {},
                  .across = {}};
    plan.hole_radius_mm = thread.hole_medium_mm / 2.0;
    plan.edge_wanted_mm = fixings::least_edge_distance(thread, request.material.is_metal).mm();
    plan.pad_radius_mm = plan.edge_wanted_mm + kOver_mm;
    plan.pad_mm = std::max(1.2 * thread.d_mm, wall);
    plan.access_radius_mm = (std::max(thread.washer_outside_mm, thread.socket_outside_mm) + 2.0) / 2.0;
    plan.web_width_mm = 3.0 * thread.d_mm + kOver_mm;
    plan.web_wanted_mm2 = 3.0 * thread.d_mm * 2.0 * wall;
    stand_on_pad(plan);
    const double longest = kLongestArm_d * thread.d_mm;

    GAPWRIGHT_CHECK(check_access(site, name, plan));
    const std::vector<Point3> samples = samples_near(site, plan.point, longest + plan.web_width_mm + clear);
    const StandingSeat seat{plan.point, plan.up, plan.pad_radius_mm};
    GAPWRIGHT_CHECK(check_face(name, seat, samples, clear));

    const Vec3 side = any_perpendicular(plan.up), other = cross(plan.up, side);
    std::optional<FootPlan> best;
    double nearest_body = 1e300;
    std::optional<Tightest> in_the_way;
    bool is_driver_in_the_way = false, meets_plate = false;
    for (const double least_spare_mm : {0.0, -kBound_mm})
        for (double lift = 0.0; lift <= kMostLift_mm && !best; lift += 0.5)
            for (int i = 0; i < kDirections; ++i) {
                const double a = 2.0 * std::numbers::pi * i / kDirections;
                FootPlan tried = plan;
                tried.web_from_mm = clear + lift;
                tried.web_to_mm = tried.web_from_mm + 2.0 * wall + kOver_mm;
                tried.along = side * std::cos(a) + other * std::sin(a);
                tried.across = cross(tried.up, tried.along);
                for (double s = 0.0; s < 600.0 && s < nearest_body; s += 1.0)
                    if (site.body_mm(at(tried, s, 0.0, (tried.web_from_mm + tried.web_to_mm) / 2.0)) < 1e-3)
                        nearest_body = s;
                if (!reach(site, tried, least_depth_mm, longest, meets_plate)) continue;
                if (best && tried.root_mm > best->root_mm - 1e-6) continue;
                const Tightest room = tightest(
                    site, samples, [&](Point3 p) { return distance_to(tried, p); }, outside_points(tried), &seat);
                if (room.spare_mm < least_spare_mm) {
                    if (!in_the_way || room.spare_mm > in_the_way->spare_mm) in_the_way = room;
                    continue;
                }
                if (is_before_driver(site, tried)) {
                    is_driver_in_the_way = true;
                    continue;
                }
                best = tried;
            }
    if (best) return *best;
    const std::string move = "move the point nearer to the box, or give the box more room beside it";
    if (in_the_way)
        return impossible(
            fmt::format("{}: {} stands in the way of its pad or arm by {:.1f} mm, wanted {} mm clear of it", name,
                        in_the_way->what, -in_the_way->spare_mm, plain_number(clear)),
            "move the point, or take a smaller thread", in_the_way->where);
    if (is_driver_in_the_way)
        return impossible(name + ": its pad or arm stands before the driver, wanted beside it",
                          "move the point or the driver", plan.point);
    if (meets_plate && nearest_body <= longest)
        return impossible(name + ": its arm would hold the separate baffle too, wanted an arm to the shell behind it",
                          "move the point farther back, or make the baffle integral", plan.point);
    const std::string how =
        nearest_body > 599.0 ? "there is no box beside it within 600 mm"
        : nearest_body > longest
            ? fmt::format("the box is {:.0f} mm away, wanted at most {}", nearest_body, plain_number(longest))
            : fmt::format("an arm {} by {} mm does not end inside the box, {:.0f} mm away",
                          plain_number(plan.web_width_mm), plain_number(2.0 * wall + kOver_mm), nearest_body);
    return impossible(fmt::format("{}: cannot reach its point: {}", name, how), move, plan.point);
}

Result<TopoDS_Solid> fuse_feet(std::vector<FootPlan>& feet, const TopoDS_Solid& outer) {
    if (feet.empty()) return outer;
    // Now and then a face of the arm touches the skin just so that the kernel fails: a little more of everything helps.
    std::vector<FootPlan> tried = feet;
    for (int attempt = 0;; ++attempt) {
        auto made = fuse_once(tried, outer);
        if (made || attempt == 3) {
            if (made) feet = tried;
            return made;
        }
        for (FootPlan& foot : tried) {
            foot.pad_radius_mm += 0.17;
            foot.web_width_mm += 0.23;
            foot.web_to_mm += 0.11;
            foot.root_mm += 0.31;
        }
    }
}

Result<std::vector<FixingMade>> measure_feet(const std::vector<FootPlan>& feet, const TopoDS_Solid& solid) {
    if (feet.empty()) return std::vector<FixingMade>{};
    return guard_occt("fixings", [&]() -> Result<std::vector<FixingMade>> {
        // All cuts of all arms in one intersection; the pieces of each are asked for afterwards.
        std::vector<std::vector<TopoDS_Face>> cuts(feet.size());
        BRepAlgoAPI_Common common;
        TopTools_ListOfShape planes, body;
        body.Append(solid);
        for (std::size_t f = 0; f < feet.size(); ++f) {
            const FootPlan& foot = feet[f];
            // From the edge of the socket's access to where the arm meets the shell.
            const double from = foot.access_radius_mm + kCutOff_mm, to = foot.skin_mm - kCutOff_mm;
            const int n = to > from ? kCuts : 1;
            for (int i = 0; i < n; ++i) {
                const double s = n == 1 ? from : from + (to - from) * i / (n - 1);
                const gp_Ax3 frame(to_occt(at(foot, s, 0.0, (foot.web_from_mm + foot.web_to_mm) / 2.0)),
                                   to_occt_dir(foot.along), to_occt_dir(foot.across));
                const double half_width = foot.web_width_mm / 2.0 + kCutOff_mm;
                const double half_height = (foot.web_to_mm - foot.web_from_mm) / 2.0 + kCutOff_mm;
                cuts[f].push_back(
                    BRepBuilderAPI_MakeFace(gp_Pln(frame), -half_width, half_width, -half_height, half_height).Face());
                planes.Append(cuts[f].back());
            }
            // Where the arm stands on the pad: level, just over it.
            if (foot.riser_mm > 0.0 && foot.web_from_mm > foot.pad_mm + 2.0 * kCutOff_mm) {
                const gp_Ax3 frame(to_occt(at(foot, foot.riser_mm / 2.0, 0.0, foot.pad_mm + kCutOff_mm)),
                                   to_occt_dir(foot.up), to_occt_dir(foot.across));
                const double half_width = foot.web_width_mm / 2.0 + kCutOff_mm,
                             half_length = foot.riser_mm / 2.0 + kCutOff_mm;
                cuts[f].push_back(
                    BRepBuilderAPI_MakeFace(gp_Pln(frame), -half_width, half_width, -half_length, half_length).Face());
                planes.Append(cuts[f].back());
            }
        }
        common.SetArguments(planes);
        common.SetTools(body);
        common.SetRunParallel(false);
        common.Build();
        if (common.HasErrors())
            return Fault{FaultCode::Internal, "fixings: their arms could not be cut", {}, {}, "part"};
        std::vector<FixingMade> made;
        for (std::size_t f = 0; f < feet.size(); ++f) {
            const FootPlan& foot = feet[f];
            FixingMade fixing{.name = foot.name,
                              .thread = foot.thread,
                              .point = foot.point,
                              .axis = -foot.up,
                              .hole_mm = 2.0 * foot.hole_radius_mm,
                              .edge_distance_mm = foot.pad_radius_mm,
                              .edge_wanted_mm = foot.edge_wanted_mm,
                              .web_section_mm2 = 1e300,
                              .web_wanted_mm2 = foot.web_wanted_mm2};
            for (const TopoDS_Face& cut : cuts[f]) {
                double area = 0.0;
                const auto add = [&](const TopoDS_Shape& piece) {
                    GProp_GProps props;
                    BRepGProp::SurfaceProperties(piece, props);
                    area += props.Mass();
                };
                const TopTools_ListOfShape& pieces = common.Modified(cut);
                for (const TopoDS_Shape& piece : pieces) add(piece);
                if (pieces.IsEmpty() && !common.IsDeleted(cut)) add(cut);  // all of it in the material
                fixing.web_section_mm2 = std::min(fixing.web_section_mm2, area);
            }
            made.push_back(fixing);
        }
        return made;
    });
}

}  // namespace geom::parts

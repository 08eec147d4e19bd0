// The solids of sleeves: tools of one piece each, made of cylinders that run past one another so that no two faces fall
// together, then one boolean on the outer body for all pads and one for all bores.
#include "geom/parts/internal/sleeve.h"

#include <fmt/format.h>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <gp_Circ.hxx>
#include <gp_Pln.hxx>

#include <numbers>

namespace geom::parts {
namespace {

constexpr double kPast_mm = 1.0;  // of a tool past what it cuts

/// The bore with its countersink and the recess over the seat.
Result<TopoDS_Shape> seat_tool(const SleevePlan& plan) {
    const std::string name = "fixing \"" + plan.name + "\"";
    GAPWRIGHT_TRY(bore, bore_tool(name, plan.line, plan.bore, plan.seat_mm,
                                  std::max(plan.recess_to_mm, plan.air_to_mm) + kPast_mm));
    std::vector<TopoDS_Shape> pieces{bore};
    if (plan.recess_radius_mm > 0.0)
        pieces.push_back(prism(plan.line, plan.recess_radius_mm, plan.seat_mm, plan.recess_to_mm));
    return joined(name, pieces);
}

/// Round the line where it faces away from the wall, straight on to within the wall.
TopoDS_Shape fill_tool(const SleevePlan& plan) {
    const SleeveFill& fill = *plan.fill;
    const Vec3 up = plan.line.up;
    const Point3 centre = plan.line.at(fill.from_mm);
    const std::vector<Vec3> offsets = corners_of(fill, up);
    std::vector<Point3> corners;
    for (const Vec3& offset : offsets) corners.push_back(centre + offset);
    BRepBuilderAPI_MakeWire wire;
    for (std::size_t i = 0; i + 1 < corners.size(); ++i)
        wire.Add(BRepBuilderAPI_MakeEdge(to_occt(corners[i]), to_occt(corners[i + 1])).Edge());
    // Back round the line.
    const gp_Circ circle(gp_Ax2(to_occt(centre), to_occt_dir(up), to_occt_dir(unit(offsets.back()))), fill.radius_mm);
    wire.Add(BRepBuilderAPI_MakeEdge(circle, to_occt(corners.back()), to_occt(corners.front())).Edge());
    const gp_Pln plane(to_occt(centre), to_occt_dir(up));
    return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(plane, wire.Wire(), true).Face(),
                                 to_occt_vec(up * (fill.to_mm - fill.from_mm)))
        .Shape();
}

Result<TopoDS_Solid> drill_once(const std::vector<SleevePlan>& sleeves, const TopoDS_Solid& outer) {
    TopTools_ListOfShape pads, bores;
    double pads_mm3 = 0.0, least_mm3 = 0.0, most_mm3 = 0.0;
    std::string names;
    for (const SleevePlan& sleeve : sleeves) {
        pads.Append(prism(sleeve.line, sleeve.pad_radius_mm, 0.0, sleeve.pad_top_mm));
        pads_mm3 += volume_mm3(pads.Last());
        GAPWRIGHT_TRY(bore, seat_tool(sleeve));
        bores.Append(bore);
        least_mm3 += volume_mm3(prism(sleeve.line, 0.9 * sleeve.bore.radius_mm, 0.0, sleeve.seat_bottom_mm()));
        most_mm3 += volume_mm3(bore);
        names += (names.empty() ? "\"" : ", \"") + sleeve.name + "\"";
    }
    GAPWRIGHT_TRY(padded, fuse("fixings " + names, outer, pads, 1.0, pads_mm3));
    GAPWRIGHT_TRY(drilled, cut("fixings " + names, padded.solid, bores, least_mm3, most_mm3));
    return drilled.solid;
}

}  // namespace

std::vector<Vec3> corners_of(const SleeveFill& fill, Vec3 up) {
    const Vec3 before = -cross(up, fill.first) * fill.radius_mm, after = cross(up, fill.last) * fill.radius_mm;
    std::vector<Vec3> corners{before, before + fill.first * fill.first_mm};
    if (norm(cross(fill.first, fill.last)) > 1e-6) {
        // Where the two ends meet: first_mm out along `first`, last_mm along `last`.
        const double c = dot(fill.first, fill.last), s2 = 1.0 - c * c;
        const double x = (fill.first_mm - c * fill.last_mm) / s2, y = (fill.last_mm - c * fill.first_mm) / s2;
        corners.push_back(fill.first * x + fill.last * y);
    }
    corners.push_back(after + fill.last * fill.last_mm);
    corners.push_back(after);
    return corners;
}

Result<TopoDS_Solid> drill_sleeves(std::vector<SleevePlan>& sleeves, const TopoDS_Solid& outer) {
    if (sleeves.empty()) return outer;
    return guard_occt("fixings", [&]() -> Result<TopoDS_Solid> {
        // Now and then a pad touches the skin just so that the kernel fails: a little more of it helps.
        std::vector<SleevePlan> tried = sleeves;
        for (int attempt = 0;; ++attempt) {
            auto made = drill_once(tried, outer);
            if (made || attempt == 3) {
                if (made) sleeves = tried;
                return made;
            }
            for (SleevePlan& sleeve : tried) {
                sleeve.pad_radius_mm += 0.17;
                sleeve.pad_top_mm += 0.31;
            }
        }
    });
}

Result<TopoDS_Shape> air_tool(const SleevePlan& plan) {
    return guard_occt("fixings", [&]() -> Result<TopoDS_Shape> {
        std::vector<TopoDS_Shape> pieces{prism(plan.line, plan.tube_radius_mm, 0.0, plan.air_to_mm)};
        if (plan.step_radius_mm > 0.0)
            pieces.push_back(prism(plan.line, plan.step_radius_mm, plan.step_from_mm, plan.air_to_mm + kPast_mm));
        if (plan.fill) pieces.push_back(fill_tool(plan));
        return joined("fixing \"" + plan.name + "\"", pieces);
    });
}

}  // namespace geom::parts

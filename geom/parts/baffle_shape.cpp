// The dish's back is its front moved by the baffle's thickness t square to the surface: planes go back by t, and the
// flank, leaning by f from the axis, goes out by t (1 - sin f) / cos f at equal distance behind its end. Both corners
// are mitred, so that no place is thinner than t; the flank is just as thick.
#include "geom/parts/internal/baffle_shape.h"

#include "geom/core/text.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/clearance.h"

#include <fmt/format.h>
#include <BRepAdaptor_Curve.hxx>
#include <BRepBuilderAPI_Copy.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepPrimAPI_MakeRevol.hxx>
#include <TopExp.hxx>
#include <TopTools_IndexedDataMapOfShapeListOfShape.hxx>
#include <TopoDS.hxx>
#include <gp_Circ.hxx>

#include <algorithm>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kRecessFit_mm = 1.0;  // on the diameter: a flange goes in by hand, paint or cloth included
constexpr double kLip_mm = 2.0;        // beside the pocket of a recess
constexpr double kHand_mm = 1.0;       // between flange and flank, beside the flange of a sunk driver
constexpr double kBossGap_mm = 2.0;    // air round the dish's back
constexpr double kOnFront_mm = 0.05;   // what lies no deeper is the inner face itself

/// Distance to the dish's back as a filled body, in the half-plane of radius and depth; negative inside.
double distance_to(const Profile& back, double r, double depth) {
    const ProfilePoint foot = back.front(), rim = back.back();
    const double dr = rim.radius_mm - foot.radius_mm, dd = rim.depth_mm - foot.depth_mm;
    const auto to_segment = [&](double ar, double ad, double br, double bd) {
        const double lr = br - ar, ld = bd - ad, length2 = lr * lr + ld * ld;
        const double s = length2 > 0.0 ? std::clamp(((r - ar) * lr + (depth - ad) * ld) / length2, 0.0, 1.0) : 0.0;
        return std::hypot(r - ar - s * lr, depth - ad - s * ld);
    };
    const double nearest = std::min(to_segment(foot.radius_mm, foot.depth_mm, rim.radius_mm, rim.depth_mm),
                                    to_segment(rim.radius_mm, rim.depth_mm, 0.0, rim.depth_mm));
    const bool is_inside = depth < rim.depth_mm && (r - foot.radius_mm) * dd < dr * (depth - foot.depth_mm);
    return is_inside ? -nearest : nearest;
}

Result<BaffleForm> ring_form(const EnclosureRequest& request, BaffleForm form, double cutout, double needed) {
    const RaisedRing& ring = request.baffle.ring;
    const double height = ring.height.mm(), edge = ring.edge.mm();
    if (edge >= height)
        return impossible(fmt::format("ring: an edge of {} mm on a height of {} mm, wanted less than the height",
                                      plain_number(edge), plain_number(height)),
                          "give [enclosure] baffle.ring a smaller edge", request.baffle.plane.point);
    const double least = needed + edge - cutout, width = ring.width ? ring.width->mm() : least;
    if (width < least - 1e-9)
        return impossible(fmt::format("ring: a width of {} mm is {} mm too little for what sits on its top, wanted at "
                                      "least {} mm",
                                      plain_number(width), plain_number(least - width), plain_number(least)),
                          "leave [enclosure] baffle.ring width out", request.baffle.plane.point);
    const double foot = cutout + width;
    form.face_mm = -height;
    form.face_radius_mm = foot - edge;
    form.front = {{foot, 0.0}};
    if (edge > 0.0) form.front.push_back({foot, edge - height});
    form.front.push_back({foot - edge, -height});
    return form;
}

Result<BaffleForm> dish_form(const EnclosureRequest& request, BaffleForm form, double cutout, double needed) {
    const SunkDish& dish = request.baffle.dish;
    const double depth = dish.depth.mm(), thickness = request.baffle.thickness.mm(), lean = dish.flank.rad();
    const double least = needed - cutout, width = dish.width ? dish.width->mm() : least;
    if (width < least - 1e-9)
        return impossible(
            fmt::format("dish: a width of {} mm is {} mm too little for what sits on its floor, wanted at "
                        "least {} mm",
                        plain_number(width), plain_number(least - width), plain_number(least)),
            "leave [enclosure] baffle.dish width out", request.baffle.plane.point);
    const double floor = cutout + width, mouth = floor + depth * std::tan(lean);
    const double out = thickness * (1.0 - std::sin(lean)) / std::cos(lean);
    form.face_mm = depth;
    form.face_radius_mm = floor;
    form.back_mm = thickness + depth;
    form.front = {{mouth, 0.0}, {floor, depth}};
    form.back = {{mouth + out, thickness}, {floor + out, thickness + depth}};
    return form;
}

}  // namespace

double BaffleForm::boss_mm3() const {
    if (back.empty()) return 0.0;
    const double a = back.front().radius_mm, b = back.back().radius_mm;
    return std::numbers::pi / 3.0 * (back.back().depth_mm - back.front().depth_mm) * (a * a + a * b + b * b);
}

double recess_radius_mm(const DriverMount& mount) {
    const bool has_recess = !mount.from_behind && mount.driver.recess && mount.driver.recess->mm() > 0.0;
    return has_recess ? (mount.driver.flange_diameter.mm() + kRecessFit_mm) / 2.0 : 0.0;
}

double seat_depth_mm(const DriverMount& mount, const BaffleForm& form) {
    if (mount.from_behind) return form.back_mm;
    return form.face_mm + (recess_radius_mm(mount) > 0.0 ? mount.driver.recess->mm() : 0.0);
}

double front_radius_mm(const DriverMount& mount, const BaffleForm& form) {
    if (mount.from_behind) return mount.driver.cutout_diameter.mm() / 2.0;
    return std::max({mount.driver.flange_diameter.mm() / 2.0, recess_radius_mm(mount), form.foot_radius_mm()});
}

double back_radius_mm(const DriverMount& mount, const BaffleForm& form) {
    const Length widest = mount.from_behind ? mount.driver.flange_diameter : mount.driver.cutout_diameter;
    return std::max(widest.mm() / 2.0, form.boss_radius_mm());
}

Result<BaffleForm> baffle_form(const EnclosureRequest& request) {
    const Baffle& baffle = request.baffle;
    BaffleForm form;
    form.back_mm = baffle.thickness.mm();
    if (baffle.shape == BaffleShape::Flat) return form;
    const bool is_ring = baffle.shape == BaffleShape::Ring;
    if (!request.driver)
        return Fault{FaultCode::BadJob,
                     fmt::format("{}: stands without a driver, wanted a [driver] that sits {} it",
                                 is_ring ? "ring" : "dish", is_ring ? "on" : "in"),
                     "add a [driver], or give [enclosure] baffle shape = \"flat\"", baffle.plane.point, "part"};
    const sound::Driver& driver = request.driver->driver;
    const double cutout = driver.cutout_diameter.mm() / 2.0, flange = driver.flange_diameter.mm() / 2.0;
    const double pocket = recess_radius_mm(*request.driver);
    if (is_ring) return ring_form(request, form, cutout, pocket > 0.0 ? pocket + kLip_mm : flange);
    return dish_form(request, form, cutout, pocket > 0.0 ? pocket + kLip_mm : flange + kHand_mm);
}

BaffleForm baffle_form_or_flat(const EnclosureRequest& request) {
    const auto form = baffle_form(request);
    if (form) return *form;
    BaffleForm flat;
    flat.back_mm = request.baffle.thickness.mm();
    return flat;
}

Status check_boss_room(const Site& site, const BaffleForm& form, Point2 centre, const TopoDS_Solid& air) {
    if (form.back.empty()) return Done{};
    // A copy: meshing writes to the shape.
    const TopoDS_Shape copy = BRepBuilderAPI_Copy(air).Shape();
    GAPWRIGHT_TRY(mesh, measure::tessellate(to_brep(copy), Length::mm(0.1), site.context));
    const double front_mm = form.back.front().depth_mm;
    std::erase_if(mesh.triangles, [&](const auto& t) {
        return std::all_of(t.begin(), t.end(),
                           [&](std::uint32_t v) { return site.depth(mesh.vertices[v]) < front_mm + kOnFront_mm; });
    });
    const measure::LeastOnMesh least = measure::least_on_mesh(
        mesh, [&](Point3 p) { return distance_to(form.back, distance(site.flat(p), centre), site.depth(p)); });
    if (least.value < kBossGap_mm)
        return impossible(fmt::format("dish: its back leaves {:.1f} mm to the inner wall, wanted at least {}",
                                      least.value, plain_number(kBossGap_mm)),
                          "make the dish less deep or its flank steeper, or move the driver", least.at);
    return Done{};
}

Turned turned(const Site& site, Point2 centre, const Profile& profile) {
    BRepBuilderAPI_MakePolygon line;
    for (const ProfilePoint& p : profile) line.Add(to_occt(site.at(centre + Point2{p.radius_mm, 0.0}, p.depth_mm)));
    return turned(site, centre, line.Wire(), profile.front().depth_mm, profile.back().depth_mm);
}

Turned turned(const Site& site, Point2 centre, const TopoDS_Wire& line, double from_mm, double to_mm) {
    const gp_Ax1 axis(to_occt(site.at(centre, 0.0)), to_occt_dir(site.outward()));
    const TopoDS_Shape swept = BRepPrimAPI_MakeRevol(line, axis).Shape();
    Turned made{.from = {}, .to = {}, .faces = faces_of(swept)};
    // The circles at the two ends are those that only one face has.
    TopTools_IndexedDataMapOfShapeListOfShape faces_at;
    TopExp::MapShapesAndAncestors(swept, TopAbs_EDGE, TopAbs_FACE, faces_at);
    for (int i = 1; i <= faces_at.Extent(); ++i) {
        const TopoDS_Edge edge = TopoDS::Edge(faces_at.FindKey(i));
        const BRepAdaptor_Curve curve(edge);
        if (curve.GetType() != GeomAbs_Circle || faces_at(i).Extent() != 1) continue;
        const double depth = site.depth(from_occt(curve.Circle().Location()));
        const bool is_first = std::abs(depth - from_mm) < std::abs(depth - to_mm);
        (is_first ? made.from : made.to) = BRepBuilderAPI_MakeWire(edge).Wire();
    }
    return made;
}

Result<TopoDS_Solid> shaped(const std::string& feature, const Site& site, Point2 centre, const Profile& profile,
                            const TopoDS_Solid& solid, const TopoDS_Face& face) {
    return guard_occt(feature.c_str(), [&]() -> Result<TopoDS_Solid> {
        const Turned side = turned(site, centre, profile);
        std::vector<TopoDS_Face> faces = replaced(faces_of(solid), face, with_holes(face, {side.from}));
        faces.insert(faces.end(), side.faces.begin(), side.faces.end());
        faces.push_back(disc(site.plane(profile.back().depth_mm, centre), side.to));
        return solid_of_faces(feature, faces);
    });
}

}  // namespace geom::parts

// One split by a plane. Air and pad share the face in it, and the split leaves all others as they were, so that the
// shell's inside behind a pad of its own is the pad's faces without its cap: no second boolean.
#include "geom/parts/internal/pad.h"

#include "geom/core/text.h"

#include <fmt/format.h>
#include <BRepBndLib.hxx>
#include <BRepBuilderAPI_Transform.hxx>
#include <Bnd_Box.hxx>
#include <TopExp_Explorer.hxx>
#include <gp_Ax3.hxx>
#include <gp_Trsf.hxx>

#include <algorithm>

namespace geom::parts {
namespace {

/// The pad's box, seen from the front.
struct Extent {
    Point2 lo{1e300, 1e300}, hi{-1e300, -1e300};
};
Extent extent_of(const Site& site, const Pad& pad) {
    gp_Trsf to_front;
    to_front.SetTransformation(
        gp_Ax3(to_occt(site.frame.origin), to_occt_dir(site.frame.z), to_occt_dir(site.frame.x)));
    Extent extent;
    for (const TopoDS_Solid& solid : pad.solids) {
        Bnd_Box box;
        BRepBndLib::AddOptimal(BRepBuilderAPI_Transform(solid, to_front).Shape(), box, false, false);
        const Point3 lo = from_occt(box.CornerMin()), hi = from_occt(box.CornerMax());
        extent.lo = {std::min(extent.lo.x, lo.x), std::min(extent.lo.y, lo.z)};
        extent.hi = {std::max(extent.hi.x, hi.x), std::max(extent.hi.y, hi.z)};
    }
    return extent;
}

}  // namespace

Result<AirAndPad> part_pad(const Site& site, const TopoDS_Solid& air, const Plane& plane) {
    GAPWRIGHT_TRY(pieces, pieces_at("filler pad", air, plane));
    if (pieces.behind.size() != 1 || pieces.front.empty())
        return impossible(
            fmt::format("filler pad: its plane leaves {} pieces of air before it, wanted one", pieces.behind.size()),
            "let adjust move the baffle, a limit or the wall instead", plane.point);
    AirAndPad made{.air = pieces.behind.front(), .pad = {}};
    made.pad.solids = pieces.front;
    made.pad.from_mm = site.depth(plane.point);
    for (const TopoDS_Solid& solid : pieces.front) {
        made.pad.mm3 += volume_mm3(solid);
        for (const TopoDS_Face& face : faces_of(solid))
            for (const TopoDS_Face& own : faces_of(made.air))
                if (face.IsSame(own)) made.pad.caps.push_back(face);
    }
    if (site.request.adjust.fill == Adjust::Fill::Separate && !site.request.baffle.separate) {
        const Extent extent = extent_of(site, made.pad);
        const double across = norm(extent.hi - extent.lo);
        const double hole = site.request.driver ? site.request.driver->driver.cutout_diameter.mm() : 0.0;
        if (across > hole)
            return Fault{
                FaultCode::MethodRefused,
                fmt::format("filler pad: a piece of its own of {:.0f} x {:.0f} mm does not come into a closed shell {}",
                            extent.hi.x - extent.lo.x, extent.hi.y - extent.lo.y,
                            hole > 0.0 ? fmt::format("through a cut-out of {} mm", plain_number(hole))
                                       : std::string("without a cut-out")),
                "set [enclosure] fill.made = \"integral\" or \"told\", or baffle.made = \"separate\"", plane.point,
                "part"};
    }
    return made;
}

std::vector<TopoDS_Face> beyond_pad(const std::vector<TopoDS_Face>& faces, const Pad& pad) {
    const auto is_cap = [&](const TopoDS_Face& face) {
        return std::any_of(pad.caps.begin(), pad.caps.end(), [&](const TopoDS_Face& cap) { return cap.IsSame(face); });
    };
    std::vector<TopoDS_Face> beyond = faces;
    std::erase_if(beyond, is_cap);
    for (const TopoDS_Solid& solid : pad.solids)
        for (const TopoDS_Face& face : faces_of(solid))
            if (!is_cap(face)) beyond.push_back(face);
    return beyond;
}

std::string way_in_text(const Site& site, const Pad& pad, const Outline& mouth) {
    const Extent extent = extent_of(site, pad);
    double inside = 1e300;
    for (const Point2 corner :
         {extent.lo, extent.hi, Point2{extent.lo.x, extent.hi.y}, Point2{extent.hi.x, extent.lo.y}})
        inside = std::min(inside, mouth.depth(corner));
    const std::string size =
        fmt::format("pad: {:.0f} x {:.0f} mm", extent.hi.x - extent.lo.x, extent.hi.y - extent.lo.y);
    return inside > 0.0 ? size + ", goes in straight through the shell's mouth"
                        : size +
                              ", larger than the shell's mouth: saw it into pieces that go through, glue them in; its "
                              "volume stays";
}

}  // namespace geom::parts

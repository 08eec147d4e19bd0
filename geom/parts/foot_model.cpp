// Feet as solids: pad and arm with the hole and the let-in seat, a gusset where the arm is long, a bar between two pads
// that nearly touch. All are fused to the filled outer body at once; the air is not touched.
#include "geom/parts/internal/foot.h"

#include "geom/core/text.h"

#include <fmt/format.h>
#include <BRepAlgoAPI_Common.hxx>
#include <BRepAlgoAPI_Cut.hxx>
#include <BRepAlgoAPI_Fuse.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <gp_Ax2.hxx>

namespace geom::parts {
namespace {

constexpr double kLess_mm = 0.11;        // three times that stay within what is over the least section
constexpr double kBarUnderPad_mm = 0.4;  // so that no two faces fall together

gp_Ax2 axes(const FootPlan& foot, double height) {
    return {to_occt(foot.point + foot.up * height), to_occt_dir(foot.up), to_occt_dir(foot.along)};
}

/// The arm and, above it, its gusset.
TopoDS_Shape with_gusset(const FootPlan& foot, const TopoDS_Shape& arm) {
    const Gusset& g = *foot.gusset;
    BRepBuilderAPI_MakePolygon side;
    for (const auto& [along, up] : g.corners()) side.Add(to_occt(at(foot, along, -g.width_mm / 2.0, up)));
    side.Close();
    const TopoDS_Shape rib =
        BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(side.Wire(), true).Face(), to_occt_vec(foot.across * g.width_mm))
            .Shape();
    return BRepAlgoAPI_Fuse(arm, rib).Shape();
}

/// What carries an arm that is too deep to stand on the pad by its own width.
TopoDS_Shape block(const FootPlan& foot, double from_mm) {
    const double to = block_top_mm(foot), edge = block_radius_mm(foot), half = foot.block_half_mm;
    BRepBuilderAPI_MakePolygon outline;
    for (const auto& [along, across] :
         std::array<std::pair<double, double>, 4>{{{0.0, -half}, {edge + 1.0, -half}, {edge + 1.0, half}, {0.0, half}}})
        outline.Add(to_occt(at(foot, along, across, from_mm - 1.0)));
    outline.Close();
    const TopoDS_Shape slab = BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(outline.Wire(), true).Face(),
                                                    to_occt_vec(foot.up * (to - from_mm + 2.0)))
                                  .Shape();
    return BRepAlgoAPI_Common(BRepPrimAPI_MakeCylinder(axes(foot, from_mm), edge, to - from_mm).Solid(), slab).Shape();
}

/// A bar from pad to pad, both holes left free. It is narrower and lower than the pads, so that no faces fall together.
TopoDS_Shape bar_between(const FootPlan& a, const FootPlan& b) {
    const double half = 0.75 * std::min(a.pad_radius_mm, b.pad_radius_mm),
                 height = std::min(a.pad_mm, b.pad_mm) - kBarUnderPad_mm;
    const Vec3 way = b.point - a.point, across = unit(cross(a.up, way));
    BRepBuilderAPI_MakePolygon outline;
    for (const Point3 p :
         {a.point - across * half, b.point - across * half, b.point + across * half, a.point + across * half})
        outline.Add(to_occt(p));
    outline.Close();
    TopoDS_Shape bar =
        BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(outline.Wire(), true).Face(), to_occt_vec(a.up * height)).Shape();
    TopTools_ListOfShape first, holes;
    first.Append(bar);
    for (const FootPlan* foot : {&a, &b}) holes.Append(prism(foot->line, foot->bore.radius_mm, -1.0, height + 1.0));
    BRepAlgoAPI_Cut cut;
    cut.SetArguments(first);
    cut.SetTools(holes);
    cut.Build();
    return cut.Shape();
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
        if (foot.riser_mm > 0.0 && foot.block_half_mm == 0.0 && foot_of_riser < foot.web_from_mm - 1e-3) {
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
        GAPWRIGHT_TRY(bore, bore_tool(name, foot.line, foot.bore, foot.pad_mm, top + 1.0));
        tools.Append(bore);
        if (foot.riser_mm > 0.0) {
            // The access is cut from the arm alone, so that its end and the pad's top do not fall together.
            const double from = std::min(foot_of_riser, foot.web_from_mm) - 1.0;
            if (foot.block_half_mm > 0.0) arm = BRepAlgoAPI_Fuse(arm, block(foot, foot_of_riser)).Shape();
            BRepAlgoAPI_Cut free(
                arm, BRepPrimAPI_MakeCylinder(axes(foot, from), foot.access_radius_mm, block_top_mm(foot) + 1.0 - from)
                         .Solid());
            if (free.HasErrors())
                return Fault{
                    FaultCode::Internal, name + ": its socket's access could not be cut", {}, foot.point, "part"};
            arm = free.Shape();
        } else if (top > foot.pad_mm + 1e-6) {
            tools.Append(
                BRepPrimAPI_MakeCylinder(axes(foot, foot.pad_mm), foot.access_radius_mm, top - foot.pad_mm + 1.0)
                    .Solid());
        }
        BRepAlgoAPI_Fuse both(pad, foot.gusset ? with_gusset(foot, arm) : arm);
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
    for (std::size_t i = 0; i < feet.size(); ++i) {
        const FootPlan& foot = feet[i];
        GAPWRIGHT_TRY(solid, model(foot));
        tools.Append(solid);
        whole_mm3 += volume_mm3(solid);
        names += (names.empty() ? "\"" : ", \"") + foot.name + "\"";
        for (std::size_t j = 0; j < i; ++j)
            if (are_joined(foot, feet[j])) {
                GAPWRIGHT_TRY(
                    bar, guard_occt("fixings", [&]() -> Result<TopoDS_Shape> { return bar_between(foot, feet[j]); }));
                tools.Append(bar);
                whole_mm3 += volume_mm3(bar);
            }
    }
    GAPWRIGHT_TRY(made, fuse("fixings " + names, outer, tools, 1.0, whole_mm3));
    return made.solid;
}

}  // namespace

Result<TopoDS_Solid> fuse_feet(std::vector<FootPlan>& feet, const TopoDS_Solid& outer) {
    if (feet.empty()) return outer;
    // Now and then a face of the arm touches the skin just so that the kernel fails: a little less of everything helps,
    // out of what it is over its least section, so that it comes no nearer to anything.
    std::vector<FootPlan> tried = feet;
    for (int attempt = 0;; ++attempt) {
        auto made = fuse_once(tried, outer);
        if (made || attempt == 3) {
            if (made) feet = tried;
            return made;
        }
        for (FootPlan& foot : tried) {
            foot.pad_radius_mm -= kLess_mm;
            foot.web_width_mm -= kLess_mm;
            foot.web_to_mm -= kLess_mm;
            if (foot.riser_mm > 0.0) foot.riser_mm -= kLess_mm;
            if (foot.block_half_mm > 0.0) foot.block_half_mm -= 0.5 * kLess_mm;
            foot.root_mm += 0.31;
        }
    }
}

}  // namespace geom::parts

// Each tool's share is the volume of what it has in common with the air; that the shares add up to what the air lost is
// checked by the air's own volume before and after.
#include "geom/parts/internal/air_cut.h"

#include "geom/parts/internal/site.h"

#include <fmt/format.h>
#include <BOPAlgo_PaveFiller.hxx>
#include <BRepAlgoAPI_Common.hxx>
#include <BRepAlgoAPI_Cut.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>

#include <cmath>

namespace geom::parts {
namespace {

constexpr double kAgree_rel = 1e-7;  // of the air: volumes before and after against the shares

std::vector<TopoDS_Shape> solids_in(const TopoDS_Shape& shape) {
    std::vector<TopoDS_Shape> solids;
    for (TopExp_Explorer e(shape, TopAbs_SOLID); e.More(); e.Next()) solids.push_back(e.Current());
    return solids;
}

}  // namespace

Result<AirCut> cut_air(const TopoDS_Solid& air, const std::vector<AirTool>& tools) {
    if (tools.empty()) return AirCut{.air = air, .mm3 = {}, .pieces = {}};
    return guard_occt("solids in the air", [&]() -> Result<AirCut> {
        std::string names;
        TopTools_ListOfShape all, body, list;
        body.Append(air);
        all.Append(air);
        for (const AirTool& tool : tools) {
            all.Append(tool.shape);
            list.Append(tool.shape);
            names += (names.empty() ? "" : ", ") + tool.name;
        }
        const auto failed = [&](const std::string& what) {
            return Fault{FaultCode::Internal, names + ": " + what, {}, {}, "part"};
        };
        BOPAlgo_PaveFiller filler;
        filler.SetArguments(all);
        filler.SetRunParallel(false);
        filler.SetNonDestructive(true);
        filler.Perform();
        if (filler.HasErrors()) return failed("the intersection with the air failed");
        const auto build = [&](BRepAlgoAPI_BooleanOperation& op) {
            op.SetArguments(body);
            op.SetTools(list);
            op.SetRunParallel(false);
            op.Build();
            return !op.HasErrors();
        };
        BRepAlgoAPI_Common common(filler);
        BRepAlgoAPI_Cut cutting(filler);
        if (!build(common) || !build(cutting)) return failed("the boolean with the air failed");
        const std::vector<TopoDS_Shape> left = solids_in(cutting.Shape());
        if (left.size() != 1)
            return impossible(fmt::format("{}: the air falls into {} pieces, wanted one", names, left.size()),
                              "move what stands across a narrow place of the air", std::nullopt);
        AirCut made{.air = TopoDS::Solid(left.front()), .mm3 = {}, .pieces = {}};
        GAPWRIGHT_CHECK(check_solid(names, made.air));
        double sum_mm3 = 0.0;
        for (const AirTool& tool : tools) {
            std::vector<TopoDS_Shape> pieces;
            double mm3 = 0.0;
            for (const TopoDS_Shape& piece : common.Modified(tool.shape))
                for (const TopoDS_Shape& solid : solids_in(piece)) pieces.push_back(solid);
            if (pieces.empty() && !common.IsDeleted(tool.shape)) pieces.push_back(tool.shape);
            for (const TopoDS_Shape& piece : pieces) mm3 += std::abs(volume_mm3(piece));
            sum_mm3 += mm3;
            made.mm3.push_back(mm3);
            made.pieces.push_back(pieces);
        }
        const double before = volume_mm3(air), after = volume_mm3(made.air);
        if (std::abs(before - after - sum_mm3) > kAgree_rel * before)
            return failed(
                fmt::format("the air lost {:.1f} mm3, what was put in it holds {:.1f}", before - after, sum_mm3));
        return made;
    });
}

}  // namespace geom::parts

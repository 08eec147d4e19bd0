#include "geom/measure/internal/brep_validity.h"

#include <BRepCheck_Analyzer.hxx>
#include <BRep_Tool.hxx>
#include <NCollection_DataMap.hxx>
#include <TopExp_Explorer.hxx>
#include <TopTools_ShapeMapHasher.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Vertex.hxx>

#include <algorithm>

namespace geom::measure::internal {

bool passes_analyser(const TopoDS_Shape& shape) {
    return BRepCheck_Analyzer(shape, true).IsValid();
}

bool is_closed(const TopoDS_Shape& shape) {
    struct Uses {
        int forward = 0, reversed = 0;
    };
    bool any = false;
    for (TopExp_Explorer shell(shape, TopAbs_SHELL); shell.More(); shell.Next()) {
        NCollection_DataMap<TopoDS_Shape, Uses, TopTools_ShapeMapHasher> uses;
        for (TopExp_Explorer e(shell.Current(), TopAbs_EDGE); e.More(); e.Next()) {
            const TopoDS_Edge edge = TopoDS::Edge(e.Current());
            if (BRep_Tool::Degenerated(edge)) continue;
            if (!uses.IsBound(edge)) uses.Bind(edge, Uses{});
            Uses& u = uses.ChangeFind(edge);
            if (edge.Orientation() == TopAbs_FORWARD) ++u.forward;
            if (edge.Orientation() == TopAbs_REVERSED) ++u.reversed;
        }
        for (NCollection_DataMap<TopoDS_Shape, Uses, TopTools_ShapeMapHasher>::Iterator it(uses); it.More(); it.Next())
            if (it.Value().forward != 1 || it.Value().reversed != 1) return false;
        any = true;
    }
    return any;
}

double largest_tolerance(const TopoDS_Shape& shape) {
    double most = 0.0;
    for (TopExp_Explorer it(shape, TopAbs_FACE); it.More(); it.Next())
        most = std::max(most, BRep_Tool::Tolerance(TopoDS::Face(it.Current())));
    for (TopExp_Explorer it(shape, TopAbs_EDGE); it.More(); it.Next())
        most = std::max(most, BRep_Tool::Tolerance(TopoDS::Edge(it.Current())));
    for (TopExp_Explorer it(shape, TopAbs_VERTEX); it.More(); it.Next())
        most = std::max(most, BRep_Tool::Tolerance(TopoDS::Vertex(it.Current())));
    return most;
}

}  // namespace geom::measure::internal

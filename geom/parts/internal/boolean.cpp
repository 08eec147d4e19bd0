// One intersection a boolean: the pave filler is run once and both the result and the piece in common are built from
// it, so that the change of volume is measured on small faces and not as a difference of two large numbers.
//
// Where a hole meets plane faces only, no boolean is needed: the faces get the hole's circle as an inner wire and
// share it with the hole's wall. solid_of_faces() then only has to orient what is already joined.
#include "geom/parts/internal/boolean.h"

#include "geom/core/parallel.h"
#include "geom/measure/internal/surface_integral.h"

#include <fmt/format.h>
#include <BOPAlgo_PaveFiller.hxx>
#include <BRepAdaptor_Curve.hxx>
#include <BRepAdaptor_Surface.hxx>
#include <BRepAlgoAPI_Common.hxx>
#include <BRepAlgoAPI_Cut.hxx>
#include <BRepAlgoAPI_Fuse.hxx>
#include <BRepAlgoAPI_Splitter.hxx>
#include <BRepBndLib.hxx>
#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <BRepCheck_Analyzer.hxx>
#include <BRepGProp.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <BRepTools_WireExplorer.hxx>
#include <BRep_Builder.hxx>
#include <BRep_Tool.hxx>
#include <Bnd_Box.hxx>
#include <GCPnts_TangentialDeflection.hxx>
#include <GProp_GProps.hxx>
#include <ShapeAnalysis_ShapeTolerance.hxx>
#include <TopExp_Explorer.hxx>
#include <TopTools_IndexedMapOfShape.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Iterator.hxx>
#include <gp_Circ.hxx>
#include <gp_Pln.hxx>

namespace geom::parts {
namespace {

Fault failed(const std::string& feature, const std::string& what) {
    return {FaultCode::Internal, feature + ": " + what, {}, {}, "part"};
}

std::vector<TopoDS_Solid> solids_of(const TopoDS_Shape& shape) {
    std::vector<TopoDS_Solid> solids;
    for (TopExp_Explorer e(shape, TopAbs_SOLID); e.More(); e.Next()) solids.push_back(TopoDS::Solid(e.Current()));
    return solids;
}

enum class Kind { Cut, Fuse };

Result<BooleanResult> combine(Kind kind, const std::string& feature, const TopoDS_Shape& solid,
                              const TopTools_ListOfShape& tools, double least_mm3, double most_mm3) {
    return guard_occt(feature.c_str(), [&]() -> Result<BooleanResult> {
        TopTools_ListOfShape all;
        all.Append(solid);
        for (const TopoDS_Shape& tool : tools) all.Append(tool);
        BOPAlgo_PaveFiller filler;
        filler.SetArguments(all);
        filler.SetRunParallel(false);
        filler.SetNonDestructive(true);
        filler.Perform();
        if (filler.HasErrors()) return failed(feature, "the intersection with the body failed");

        TopTools_ListOfShape first;
        first.Append(solid);
        const auto build = [&](BRepAlgoAPI_BooleanOperation& op) {
            op.SetArguments(first);
            op.SetTools(tools);
            op.SetRunParallel(false);
            op.Build();
            return !op.HasErrors();
        };
        BRepAlgoAPI_Common common(filler);
        if (!build(common)) return failed(feature, "the piece in common with the body could not be built");
        BRepAlgoAPI_Cut cutting(filler);
        BRepAlgoAPI_Fuse fusing(filler);
        BRepAlgoAPI_BooleanOperation& op = kind == Kind::Cut ? static_cast<BRepAlgoAPI_BooleanOperation&>(cutting)
                                                             : static_cast<BRepAlgoAPI_BooleanOperation&>(fusing);
        if (!build(op)) return failed(feature, "the boolean with the body failed");
        const std::vector<TopoDS_Solid> solids = solids_of(op.Shape());
        if (solids.size() != 1)
            return failed(feature, fmt::format("the boolean left {} solids, wanted 1", solids.size()));
        BooleanResult result{.solid = solids.front(), .common_mm3 = volume_mm3(common.Shape()), .tolerance_mm = 0.0};
        if (!(result.common_mm3 >= least_mm3 && result.common_mm3 <= most_mm3))
            return failed(feature, fmt::format("meets the body in {:.1f} mm3, wanted {:.1f} to {:.1f}",
                                               result.common_mm3, least_mm3, most_mm3));
        GAPWRIGHT_CHECK(check_solid(feature, result.solid, &result.tolerance_mm));
        return result;
    });
}

/// Signed area of a wire as its edges run, in the plane of the face taken forward.
double area_in(const gp_Pln& plane, const TopoDS_Wire& wire) {
    double twice = 0.0;
    gp_Pnt2d before, first;
    bool begun = false;
    const auto add = [&](const gp_Pnt& p) {
        const gp_Vec d(plane.Location(), p);
        const gp_Pnt2d q(d.Dot(gp_Vec(plane.XAxis().Direction())), d.Dot(gp_Vec(plane.YAxis().Direction())));
        if (begun)
            twice += before.X() * q.Y() - before.Y() * q.X();
        else
            first = q;
        begun = true;
        before = q;
    };
    for (BRepTools_WireExplorer e(wire); e.More(); e.Next()) {
        const BRepAdaptor_Curve curve(e.Current());
        GCPnts_TangentialDeflection points(curve, 0.3, 1.0, 8);
        const bool is_forward = e.Current().Orientation() == TopAbs_FORWARD;  // right for loops of one edge too
        for (int i = 1; i <= points.NbPoints(); ++i) add(points.Value(is_forward ? i : points.NbPoints() + 1 - i));
    }
    twice += before.X() * first.Y() - before.Y() * first.X();
    const bool is_right_handed = plane.Direct();
    return (is_right_handed ? 0.5 : -0.5) * twice;
}

}  // namespace

Result<BooleanResult> cut(const std::string& feature, const TopoDS_Shape& solid, const TopTools_ListOfShape& tools,
                          double least_mm3, double most_mm3) {
    return combine(Kind::Cut, feature, solid, tools, least_mm3, most_mm3);
}

Result<BooleanResult> fuse(const std::string& feature, const TopoDS_Shape& solid, const TopTools_ListOfShape& tools,
                           double least_mm3, double most_mm3) {
    return combine(Kind::Fuse, feature, solid, tools, least_mm3, most_mm3);
}

Result<Pieces> pieces_at(const std::string& feature, const TopoDS_Shape& solid, const Plane& plane) {
    return guard_occt(feature.c_str(), [&]() -> Result<Pieces> {
        Bnd_Box box;
        BRepBndLib::Add(solid, box);
        const gp_Pln pln(to_occt(plane.point), to_occt_dir(plane.outward));
        const double reach =
            2.0 * std::sqrt(box.SquareExtent()) + box.Distance(Bnd_Box(to_occt(plane.point), to_occt(plane.point)));
        TopTools_ListOfShape arguments, tools;
        arguments.Append(solid);
        tools.Append(BRepBuilderAPI_MakeFace(pln, -reach, reach, -reach, reach).Face());
        BRepAlgoAPI_Splitter op;
        op.SetArguments(arguments);
        op.SetTools(tools);
        op.SetRunParallel(false);
        op.SetNonDestructive(true);
        op.Build();
        if (op.HasErrors()) return failed(feature, "the body could not be split at the plane");
        Pieces pieces;
        for (const TopoDS_Solid& piece : solids_of(op.Shape())) {
            // The vertex farthest from the plane tells the side.
            double farthest = 0.0;
            for (TopExp_Explorer v(piece, TopAbs_VERTEX); v.More(); v.Next()) {
                const double h = plane.height(from_occt(BRep_Tool::Pnt(TopoDS::Vertex(v.Current()))));
                if (std::abs(h) > std::abs(farthest)) farthest = h;
            }
            GAPWRIGHT_CHECK(check_solid(feature, piece));
            (farthest > 0.0 ? pieces.front : pieces.behind).push_back(piece);
        }
        return pieces;
    });
}

Result<Halves> split(const std::string& feature, const TopoDS_Shape& solid, const Plane& plane) {
    GAPWRIGHT_TRY(pieces, pieces_at(feature, solid, plane));
    if (pieces.front.size() != 1 || pieces.behind.size() != 1)
        return failed(feature, fmt::format("the plane leaves {} and {} pieces, wanted one on each side",
                                           pieces.front.size(), pieces.behind.size()));
    return Halves{pieces.front.front(), pieces.behind.front()};
}

Result<TopoDS_Solid> solid_of_faces(const std::string& feature, const std::vector<TopoDS_Face>& faces) {
    return guard_occt(feature.c_str(), [&]() -> Result<TopoDS_Solid> {
        // Who uses each edge, and which way: two faces of an oriented surface run along it in opposite directions.
        struct Use {
            std::size_t face = 0;
            bool is_forward = true;
        };
        TopTools_IndexedMapOfShape edges;
        std::vector<std::vector<Use>> uses;
        std::vector<std::vector<std::size_t>> edges_of(faces.size());
        for (std::size_t f = 0; f < faces.size(); ++f)
            for (TopExp_Explorer e(faces[f], TopAbs_EDGE); e.More(); e.Next()) {
                if (BRep_Tool::Degenerated(TopoDS::Edge(e.Current()))) continue;
                const std::size_t edge = static_cast<std::size_t>(edges.Add(e.Current())) - 1;
                if (edge >= uses.size()) uses.resize(edge + 1);
                uses[edge].push_back({f, e.Current().Orientation() == TopAbs_FORWARD});
                edges_of[f].push_back(edge);
            }
        for (const auto& use : uses)
            if (use.size() != 2) return failed(feature, fmt::format("an edge is used {} times, wanted 2", use.size()));
        std::vector<int> turn(faces.size(), -1);  // -1: not reached; 0: as given; 1: reversed
        std::vector<std::size_t> reached{0};
        turn[0] = 0;
        for (std::size_t i = 0; i < reached.size(); ++i)
            for (const std::size_t edge : edges_of[reached[i]]) {
                const Use &a = uses[edge][0], &b = uses[edge][1];
                if (a.face == b.face) continue;  // a seam
                const Use &here = a.face == reached[i] ? a : b, &there = a.face == reached[i] ? b : a;
                const int wanted = (here.is_forward == there.is_forward ? 1 : 0) ^ turn[here.face];
                if (turn[there.face] == -1) {
                    turn[there.face] = wanted;
                    reached.push_back(there.face);
                } else if (turn[there.face] != wanted) {
                    return failed(feature, "the faces cannot be oriented alike");
                }
            }
        if (reached.size() != faces.size()) return failed(feature, "the faces do not hang together");
        BRep_Builder builder;
        TopoDS_Shell shell;
        builder.MakeShell(shell);
        for (std::size_t f = 0; f < faces.size(); ++f)
            builder.Add(shell, turn[f] == 1 ? faces[f].Reversed() : TopoDS_Shape(faces[f]));
        shell.Closed(true);
        TopoDS_Solid solid;
        builder.MakeSolid(solid);
        builder.Add(solid, shell);
        return solid;
    });
}

TopoDS_Solid solid_with_void(const TopoDS_Solid& outer, const TopoDS_Solid& inside) {
    BRep_Builder builder;
    TopoDS_Solid solid;
    builder.MakeSolid(solid);
    for (TopExp_Explorer e(outer, TopAbs_SHELL); e.More(); e.Next()) builder.Add(solid, e.Current());
    for (TopExp_Explorer e(inside, TopAbs_SHELL); e.More(); e.Next()) builder.Add(solid, e.Current().Reversed());
    return solid;
}

std::vector<TopoDS_Face> faces_of(const TopoDS_Shape& shape) {
    std::vector<TopoDS_Face> faces;
    for (TopExp_Explorer e(shape, TopAbs_FACE); e.More(); e.Next()) faces.push_back(TopoDS::Face(e.Current()));
    return faces;
}

Result<TopoDS_Face> face_in_plane(const std::string& feature, const TopoDS_Shape& solid, const Plane& plane) {
    return guard_occt(feature.c_str(), [&]() -> Result<TopoDS_Face> {
        TopoDS_Face found;
        double most_mm2 = 0.0;
        for (const TopoDS_Face& face : faces_of(solid)) {
            const BRepAdaptor_Surface surface(face, false);
            if (surface.GetType() != GeomAbs_Plane) continue;
            gp_Dir normal = surface.Plane().Axis().Direction();
            if (!surface.Plane().Direct()) normal.Reverse();
            if (face.Orientation() == TopAbs_REVERSED) normal.Reverse();
            if (dot(from_occt(normal), plane.outward) < 1.0 - 1e-9) continue;
            if (std::abs(plane.height(from_occt(surface.Plane().Location()))) > 1e-4) continue;
            GProp_GProps props;
            BRepGProp::SurfaceProperties(face, props);
            if (props.Mass() > most_mm2) {
                most_mm2 = props.Mass();
                found = face;
            }
        }
        if (found.IsNull()) return failed(feature, "the body has no plane face at the wanted plane");
        return found;
    });
}

std::vector<TopoDS_Face> replaced(std::vector<TopoDS_Face> faces, const TopoDS_Face& old_face,
                                  const TopoDS_Face& new_face) {
    for (TopoDS_Face& face : faces)
        if (face.IsSame(old_face)) face = new_face;
    return faces;
}

TopoDS_Face with_holes(const TopoDS_Face& face, const std::vector<TopoDS_Wire>& holes) {
    const TopAbs_Orientation orientation = face.Orientation();
    const TopoDS_Face forward = TopoDS::Face(face.Oriented(TopAbs_FORWARD));
    const gp_Pln plane = BRepAdaptor_Surface(forward, false).Plane();
    BRep_Builder builder;
    TopoDS_Face made = TopoDS::Face(forward.EmptyCopied());
    made.Orientation(TopAbs_FORWARD);
    for (TopoDS_Iterator wires(forward); wires.More(); wires.Next()) builder.Add(made, wires.Value());
    for (const TopoDS_Wire& hole : holes)
        builder.Add(made, area_in(plane, hole) < 0.0 ? hole : TopoDS::Wire(hole.Reversed()));
    made.Orientation(orientation);
    return made;
}

TopoDS_Face disc(const Plane& plane, const TopoDS_Wire& wire) {
    const gp_Pln pln(to_occt(plane.point), to_occt_dir(plane.outward));
    return BRepBuilderAPI_MakeFace(pln, area_in(pln, wire) > 0.0 ? wire : TopoDS::Wire(wire.Reversed()), true).Face();
}

TopoDS_Wire circle(const Plane& plane, double radius_mm) {
    const gp_Ax2 axes(to_occt(plane.point), to_occt_dir(plane.outward), to_occt_dir(any_perpendicular(plane.outward)));
    return BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(gp_Circ(axes, radius_mm)).Edge()).Wire();
}

Wall wall(const TopoDS_Wire& wire, Vec3 by) {
    BRepPrimAPI_MakePrism prism(wire, to_occt_vec(by), false, true);
    Wall made{.from = wire, .to = TopoDS::Wire(prism.LastShape()), .faces = faces_of(prism.Shape())};
    return made;
}

double volume_mm3(const TopoDS_Shape& solid) {
    Bnd_Box box;
    BRepBndLib::Add(solid, box);
    const Point3 origin = box.IsVoid() ? Point3{} : (from_occt(box.CornerMin()) + from_occt(box.CornerMax())) * 0.5;
    const std::vector<TopoDS_Face> faces = faces_of(solid);
    std::vector<double> parts(faces.size(), 0.0);
    std::vector<std::string> failures(faces.size());  // the kernel's exceptions must not cross the threads' border
    parallel_for(faces.size(), 1, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) {
            try {
                parts[i] = measure::internal::integrate_face(faces[i], origin).volume_mm3;
            } catch (const Standard_Failure& failure) {
                failures[i] = std::string("face ") + std::to_string(i) + " " + failure.GetMessageString();
            }
        }
    });
    double sum = 0.0;
    for (std::size_t i = 0; i < faces.size(); ++i) {
        if (!failures[i].empty()) throw Standard_Failure(failures[i].c_str());
        sum += parts[i];
    }
    return sum;
}

Status check_solid(const std::string& feature, const TopoDS_Shape& solid, double* tolerance_mm) {
    return guard_occt(feature.c_str(), [&]() -> Status {
        if (solid.IsNull() || solid.ShapeType() != TopAbs_SOLID) return failed(feature, "left no solid");
        if (!BRepCheck_Analyzer(solid).IsValid()) return failed(feature, "left a solid that is not valid");
        ShapeAnalysis_ShapeTolerance tolerance;
        const double most = tolerance.Tolerance(solid, 1);
        if (tolerance_mm != nullptr) *tolerance_mm = most;
        if (most > kMostTolerance_mm)
            return failed(feature,
                          fmt::format("left a tolerance of {:.4f} mm, wanted at most {:g}", most, kMostTolerance_mm));
        return Done{};
    });
}

}  // namespace geom::parts

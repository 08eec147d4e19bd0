// The air of a B-rep by its faces: those that look at the air are gathered from the place nearest to it, over edges
// that are no opening's; a face that an opening is cut in is integrated without that hole, which closes it with the
// face's own surface.
#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/shape_air.h"
#include "geom/skin/internal/occt.h"

#include <fmt/format.h>
#include <BRepAdaptor_Curve.hxx>
#include <BRepBndLib.hxx>
#include <BRepBuilderAPI_MakeVertex.hxx>
#include <BRepExtrema_DistShapeShape.hxx>
#include <BRepTools.hxx>
#include <BRep_Builder.hxx>
#include <BRep_Tool.hxx>
#include <Bnd_Box.hxx>
#include <GeomAPI_ProjectPointOnSurf.hxx>
#include <GeomAdaptor_Surface.hxx>
#include <TopExp.hxx>
#include <TopExp_Explorer.hxx>
#include <TopTools_IndexedDataMapOfShapeListOfShape.hxx>
#include <TopTools_MapOfShape.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Compound.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Iterator.hxx>
#include <TopoDS_Shell.hxx>
#include <TopoDS_Wire.hxx>

#include <algorithm>
#include <cmath>

namespace geom::measure {

namespace {

const char* kind_of(const TopoDS_Face& face) {
    switch (GeomAdaptor_Surface(BRep_Tool::Surface(face)).GetType()) {
        case GeomAbs_Plane:
            return "plane";
        case GeomAbs_Cylinder:
            return "cylinder";
        case GeomAbs_Cone:
            return "cone";
        case GeomAbs_Sphere:
            return "sphere";
        case GeomAbs_Torus:
            return "torus";
        default:
            return "free-form surface";
    }
}

/// A hole in a face, near an asked opening.
struct Hole {
    TopoDS_Wire wire;
    TopoDS_Face face;
    std::size_t asked = 0;
    Point3 middle;  ///< of its length
    double width_mm = 0.0;
};

void outline(const TopoDS_Wire& wire, Point3& middle, double& width) {
    constexpr int kParts = 32;
    std::vector<Point3> points;
    Vec3 sum;
    double length = 0.0;
    for (TopExp_Explorer it(wire, TopAbs_EDGE); it.More(); it.Next()) {
        const TopoDS_Edge& edge = TopoDS::Edge(it.Current());
        if (BRep_Tool::Degenerated(edge)) continue;
        const BRepAdaptor_Curve curve(edge);
        const double a = curve.FirstParameter(), b = curve.LastParameter();
        Point3 last = from_occt(curve.Value(a));
        for (int i = 1; i <= kParts; ++i) {
            const Point3 p = from_occt(curve.Value(a + (b - a) * i / kParts));
            const double piece = distance(p, last);
            sum += (p + last) * (0.5 * piece);
            length += piece;
            points.push_back(last = p);
        }
    }
    middle = length > 0.0 ? sum / length : Point3{};
    width = 0.0;
    for (const Point3& p : points) width = std::max(width, 2.0 * distance(p, middle));
}

std::vector<Hole> holes_of(const std::vector<TopoDS_Face>& faces) {
    std::vector<Hole> out;
    for (const TopoDS_Face& face : faces) {
        const TopoDS_Wire outer = BRepTools::OuterWire(face);
        for (TopoDS_Iterator it(face); it.More(); it.Next()) {
            if (it.Value().ShapeType() != TopAbs_WIRE || it.Value().IsSame(outer)) continue;
            Hole hole{TopoDS::Wire(it.Value()), face, 0, {}, 0.0};
            outline(hole.wire, hole.middle, hole.width_mm);
            out.push_back(std::move(hole));
        }
    }
    return out;
}

std::vector<Hole> holes_near(const std::vector<TopoDS_Face>& faces, const std::vector<AskedOpening>& openings) {
    std::vector<Hole> out;
    for (Hole& hole : holes_of(faces)) {
        double nearest = 1e300;
        for (std::size_t i = 0; i < openings.size(); ++i) {
            const double off = distance(hole.middle, openings[i].at);
            if (off > openings[i].width_mm || hole.width_mm > 1.25 * openings[i].width_mm || off >= nearest) continue;
            hole.asked = i;
            nearest = off;
        }
        if (nearest < 1e300) out.push_back(std::move(hole));
    }
    return out;
}

/// The face without some of its wires.
TopoDS_Face without(const TopoDS_Face& face, const TopTools_MapOfShape& wires) {
    const TopoDS_Shape forward = face.Oriented(TopAbs_FORWARD);
    TopoDS_Shape out = forward.EmptyCopied();
    BRep_Builder builder;
    for (TopoDS_Iterator it(forward); it.More(); it.Next())
        if (it.Value().ShapeType() != TopAbs_WIRE || !wires.Contains(it.Value())) builder.Add(out, it.Value());
    return TopoDS::Face(out.Oriented(face.Orientation()));
}

/// Away from the material, at the place of the face nearest to p.
Vec3 outward(const TopoDS_Face& face, Point3 p) {
    const GeomAPI_ProjectPointOnSurf foot(to_occt(p), BRep_Tool::Surface(face));
    if (foot.NbPoints() == 0) return {};
    double u = 0.0, v = 0.0;
    foot.LowerDistanceParameters(u, v);
    gp_Pnt at;
    gp_Vec du, dv;
    BRep_Tool::Surface(face)->D1(u, v, at, du, dv);
    const Vec3 n = from_occt(du.Crossed(dv));
    if (!(norm(n) > 0.0)) return {};
    return face.Orientation() == TopAbs_REVERSED ? -unit(n) : unit(n);
}

class BrepAir {
public:
    explicit BrepAir(const std::vector<NamedBrep>& shapes) {
        BRep_Builder builder;
        builder.MakeCompound(all_);
        for (const NamedBrep& s : shapes) builder.Add(all_, to_occt(s.shape));
        // With the orientation that they have in their solid.
        for (TopExp_Explorer it(all_, TopAbs_FACE); it.More(); it.Next()) faces_.push_back(TopoDS::Face(it.Current()));
        TopExp::MapShapesAndAncestors(all_, TopAbs_EDGE, TopAbs_FACE, faces_of_edge_);
    }

    Result<std::optional<ShapeAir>> air(Point3 inside, const std::vector<AskedOpening>& openings, Length chord,
                                        const Context& context) const;
    /// Holes through which the air round a point meets the outside, each in a face that looks at the air.
    std::vector<AskedOpening> openings(Point3 inside) const;

private:
    /// Index in faces_ of the face nearest to the point.
    std::optional<std::size_t> nearest(Point3 p) const;
    /// Faces joined to the seed over edges that are not shut; those of `walls` are never entered.
    std::vector<char> gathered(std::size_t seed, const TopTools_MapOfShape& shut,
                               const std::vector<char>& walls = {}) const;
    /// Whether each face reaches the end of all there is along x: then it is outside.
    std::vector<char> outermost() const;
    /// Faces on the other side of a hole's edges.
    std::vector<std::size_t> behind(const Hole& hole) const;

    TopoDS_Compound all_;
    std::vector<TopoDS_Face> faces_;
    TopTools_IndexedDataMapOfShapeListOfShape faces_of_edge_;
};

std::optional<std::size_t> BrepAir::nearest(Point3 p) const {
    const TopoDS_Shape vertex = BRepBuilderAPI_MakeVertex(to_occt(p)).Shape();
    std::optional<std::size_t> best;
    double least = 1e300;
    for (std::size_t i = 0; i < faces_.size(); ++i) {
        const BRepExtrema_DistShapeShape off(vertex, faces_[i]);
        if (!off.IsDone() || off.Value() >= least) continue;
        least = off.Value();
        best = i;
    }
    return best;
}

std::vector<char> BrepAir::gathered(std::size_t seed, const TopTools_MapOfShape& shut,
                                    const std::vector<char>& walls) const {
    std::vector<char> in(faces_.size(), 0);
    std::vector<std::size_t> way{seed};
    in[seed] = 1;
    while (!way.empty()) {
        const TopoDS_Face& face = faces_[way.back()];
        way.pop_back();
        for (TopExp_Explorer edge(face, TopAbs_EDGE); edge.More(); edge.Next()) {
            if (shut.Contains(edge.Current())) continue;
            for (const TopoDS_Shape& next : faces_of_edge_.FindFromKey(edge.Current()))
                for (std::size_t i = 0; i < faces_.size(); ++i)
                    if (in[i] == 0 && (walls.empty() || walls[i] == 0) && faces_[i].IsSame(next))
                        in[i] = 1, way.push_back(i);
        }
    }
    return in;
}

std::vector<char> BrepAir::outermost() const {
    constexpr double kSame_mm = 1e-6;
    std::vector<double> ends;
    for (const TopoDS_Face& face : faces_) {
        Bnd_Box box;
        BRepBndLib::AddOptimal(face, box, false, false);
        ends.push_back(box.IsVoid() ? -1e300 : box.CornerMax().X());
    }
    const double most = ends.empty() ? 0.0 : *std::max_element(ends.begin(), ends.end());
    std::vector<char> is(faces_.size(), 0);
    for (std::size_t i = 0; i < ends.size(); ++i) is[i] = ends[i] >= most - kSame_mm ? 1 : 0;
    return is;
}

std::vector<std::size_t> BrepAir::behind(const Hole& hole) const {
    std::vector<std::size_t> out;
    for (TopExp_Explorer edge(hole.wire, TopAbs_EDGE); edge.More(); edge.Next())
        for (const TopoDS_Shape& next : faces_of_edge_.FindFromKey(edge.Current()))
            for (std::size_t i = 0; i < faces_.size(); ++i)
                if (faces_[i].IsSame(next) && !next.IsSame(hole.face)) out.push_back(i);
    return out;
}

std::vector<AskedOpening> BrepAir::openings(Point3 inside) const {
    std::vector<AskedOpening> found;
    const std::optional<std::size_t> seed = nearest(inside);
    if (!seed) return found;
    std::vector<Hole> holes = holes_of(faces_);
    TopTools_MapOfShape shut;
    for (const Hole& hole : holes)
        for (TopExp_Explorer edge(hole.wire, TopAbs_EDGE); edge.More(); edge.Next()) shut.Add(edge.Current());
    std::vector<char> in = gathered(*seed, shut);
    const std::vector<char> outside = outermost();
    const auto is_outside = [&](const std::vector<char>& faces) {
        for (std::size_t i = 0; i < faces.size(); ++i)
            if (faces[i] != 0 && outside[i] != 0) return true;
        return false;
    };
    if (is_outside(in)) return found;  // the point lies in no hollow
    // What lies behind a hole is a pocket of the air, or the outside.
    for (bool grows = true; grows;) {
        grows = false;
        for (std::size_t h = 0; h < holes.size(); ++h) {
            const auto face = std::find_if(faces_.begin(), faces_.end(),
                                           [&](const TopoDS_Face& f) { return f.IsSame(holes[h].face); });
            if (in[static_cast<std::size_t>(face - faces_.begin())] == 0) continue;
            std::vector<char> pocket(faces_.size(), 0);
            for (const std::size_t i : behind(holes[h]))
                if (in[i] == 0 && pocket[i] == 0) {
                    const std::vector<char> more = gathered(i, {}, in);
                    for (std::size_t k = 0; k < more.size(); ++k) pocket[k] = pocket[k] != 0 || more[k] != 0 ? 1 : 0;
                }
            if (is_outside(pocket)) {
                found.push_back({holes[h].middle, holes[h].width_mm});
            } else {
                for (std::size_t k = 0; k < pocket.size(); ++k) grows = grows || (pocket[k] != 0 && in[k] == 0);
                for (std::size_t k = 0; k < pocket.size(); ++k) in[k] = in[k] != 0 || pocket[k] != 0 ? 1 : 0;
            }
            holes.erase(holes.begin() + static_cast<std::ptrdiff_t>(h--));
        }
    }
    return found;
}

Result<std::optional<ShapeAir>> BrepAir::air(Point3 inside, const std::vector<AskedOpening>& openings, Length chord,
                                             const Context& context) const {
    const auto none = [] { return std::optional<ShapeAir>(); };
    const std::optional<std::size_t> seed = nearest(inside);
    if (!seed) return none();
    TopTools_MapOfShape shut;
    const std::vector<Hole> holes = holes_near(faces_, openings);
    for (const Hole& hole : holes)
        for (TopExp_Explorer edge(hole.wire, TopAbs_EDGE); edge.More(); edge.Next()) shut.Add(edge.Current());
    const std::vector<char> in = gathered(*seed, shut);
    // A hole closes the air where its face looks at the air and what lies behind the hole's edges does not.
    ShapeAir out;
    TopTools_MapOfShape closed_wires;
    std::vector<char> used(openings.size(), 0);
    for (const Hole& hole : holes) {
        const auto is_in = [&](const TopoDS_Shape& face) {
            for (std::size_t i = 0; i < faces_.size(); ++i)
                if (faces_[i].IsSame(face)) return in[i] != 0;
            return false;
        };
        if (!is_in(hole.face)) continue;
        bool goes_on = false;
        for (TopExp_Explorer edge(hole.wire, TopAbs_EDGE); edge.More(); edge.Next())
            for (const TopoDS_Shape& next : faces_of_edge_.FindFromKey(edge.Current()))
                goes_on = goes_on || (!next.IsSame(hole.face) && is_in(next));
        if (goes_on) continue;
        closed_wires.Add(hole.wire);
        used[hole.asked] = 1;
        TopTools_MapOfShape this_one;
        this_one.Add(hole.wire);
        GAPWRIGHT_TRY(with, measure_solid(to_brep(hole.face), context));
        GAPWRIGHT_TRY(closed, measure_solid(to_brep(without(hole.face, this_one)), context));
        out.closed.push_back({openings[hole.asked].at,
                              {hole.middle, -outward(hole.face, hole.middle)},
                              (closed.area - with.area).mm2(),
                              hole.width_mm,
                              fmt::format("by the inner face's own {} continued", kind_of(hole.face))});
        out.wall = out.wall - (closed.area - with.area);
    }
    if (std::find(used.begin(), used.end(), 0) != used.end()) return none();
    TopoDS_Shell air;
    BRep_Builder builder;
    builder.MakeShell(air);
    for (std::size_t i = 0; i < faces_.size(); ++i)
        if (in[i] != 0) builder.Add(air, without(faces_[i], closed_wires));
    GAPWRIGHT_TRY(m, measure_solid(to_brep(air), context));
    // Seen from the material it is turned in.
    if (!m.closed || m.volume.mm3() >= 0.0) return none();
    auto mesh = tessellate(to_brep(air), chord, context);
    if (!mesh)
        return mesh.error().code == FaultCode::Interrupted ? Result<std::optional<ShapeAir>>(mesh.error()) : none();
    if (winding_number(*mesh, inside) > -0.5) return none();
    out.volume = -m.volume;
    out.by_lids = Volume::mm3(-signed_volume_mm3(*mesh));
    out.bound = Volume::mm3(m.area.mm2() * chord.mm());
    out.uncertainty = Volume::mm3(m.area.mm2() * m.max_tolerance_mm);
    out.wall += m.area;
    out.method = "integrals over the faces that look at the air, those with an opening without its hole";
    out.other = fmt::format("the same faces' triangles, within {:.3g} mm", chord.mm());
    if (std::abs((out.by_lids - out.volume).mm3()) > out.bound.mm3()) return none();
    return std::optional(std::move(out));
}

}  // namespace

Result<std::optional<ShapeAir>> air_of_breps(const std::vector<NamedBrep>& shapes, Point3 inside,
                                             const std::vector<AskedOpening>& openings, Length chord,
                                             const Context& context) {
    EXPECTS(is_finite(inside) && chord.mm() > 0.0);
    const Stage stage(context, "volume/air");
    return guard_occt("volume", [&]() -> Result<std::optional<ShapeAir>> {
        const BrepAir solids(shapes);
        return solids.air(inside, openings.empty() ? solids.openings(inside) : openings, chord, context);
    });
}

}  // namespace geom::measure

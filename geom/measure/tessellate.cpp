// Our own mesher first (internal/own_mesher.h); the kernel's where that one gives up or its mesh is not closed.
// The kernel meshes each face; what it leaves apart (one vertex a face along shared edges) is joined by the edges'
// own polygons, whose nodes run in step in both faces. Positions are then rounded to single precision, the precision
// of the STL format, so that the file holds exactly this mesh; nodes that fall together by that are joined as well.
// Triangles with a repeated corner (poles, seams) are dropped: the two neighbours then share an edge.
#include "geom/measure/brep_measure.h"

#include "geom/measure/internal/own_mesher.h"
#include "geom/measure/mesh_measure.h"
#include "geom/skin/internal/occt.h"

#include <BRepMesh_IncrementalMesh.hxx>
#include <BRep_Tool.hxx>
#include <IMeshTools_Parameters.hxx>
#include <Poly_PolygonOnTriangulation.hxx>
#include <Poly_Triangulation.hxx>
#include <TopExp.hxx>
#include <TopExp_Explorer.hxx>
#include <TopTools_IndexedMapOfShape.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Iterator.hxx>
#include <TopoDS_Vertex.hxx>

#include <mutex>
#include <numeric>

namespace geom::measure {

namespace {

constexpr double kAngle_rad = 0.3;

class Joined {
public:
    explicit Joined(std::size_t n) : parent_(n) { std::iota(parent_.begin(), parent_.end(), 0u); }
    std::uint32_t root(std::uint32_t i) {
        while (parent_[i] != i) i = parent_[i] = parent_[parent_[i]];
        return i;
    }
    /// The lower number leads, so that the result does not depend on the order of joining.
    void join(std::uint32_t a, std::uint32_t b) {
        a = root(a);
        b = root(b);
        if (a < b) parent_[b] = a;
        if (b < a) parent_[a] = b;
    }

private:
    std::vector<std::uint32_t> parent_;
};

struct MeshedFace {
    TopoDS_Face face;
    Handle(Poly_Triangulation) triangulation;
    TopLoc_Location place;
    std::uint32_t first = 0;  // node 1 of the face is vertex `first`
};

/// Nodes of the edge in the face, one list or (a seam) two.
std::vector<std::vector<std::uint32_t>> nodes_on(const TopoDS_Edge& edge, const MeshedFace& f) {
    std::vector<std::vector<std::uint32_t>> lists;
    for (const TopAbs_Orientation o : {TopAbs_FORWARD, TopAbs_REVERSED}) {
        const Handle(Poly_PolygonOnTriangulation) polygon =
            BRep_Tool::PolygonOnTriangulation(TopoDS::Edge(edge.Oriented(o)), f.triangulation, f.place);
        if (polygon.IsNull()) continue;
        std::vector<std::uint32_t> list;
        for (int i = 1; i <= polygon->NbNodes(); ++i)
            list.push_back(f.first + static_cast<std::uint32_t>(polygon->Node(i) - 1));
        if (lists.empty() || lists.front() != list) lists.push_back(std::move(list));
    }
    return lists;
}

Result<TriMesh> join_faces(const TopoDS_Shape& shape) {
    std::vector<MeshedFace> faces;
    std::uint32_t nodes = 0;
    for (TopExp_Explorer it(shape, TopAbs_FACE); it.More(); it.Next()) {
        MeshedFace f;
        f.face = TopoDS::Face(it.Current());
        f.triangulation = BRep_Tool::Triangulation(f.face, f.place);
        if (f.triangulation.IsNull())
            return Fault{FaultCode::Internal,
                         "tessellate: the kernel left face " + std::to_string(faces.size() + 1) + " without triangles",
                         "change the chord error",
                         {},
                         "measure"};
        f.first = nodes;
        nodes += static_cast<std::uint32_t>(f.triangulation->NbNodes());
        faces.push_back(std::move(f));
    }

    Joined joined(nodes);
    TopTools_IndexedMapOfShape edges, corners;
    TopExp::MapShapes(shape, TopAbs_EDGE, edges);
    TopExp::MapShapes(shape, TopAbs_VERTEX, corners);
    constexpr std::uint32_t kNone = ~0u;
    std::vector<std::vector<std::uint32_t>> on_edge(static_cast<std::size_t>(edges.Extent()) + 1);
    std::vector<std::uint32_t> on_corner(static_cast<std::size_t>(corners.Extent()) + 1, kNone);
    const auto join_corner = [&](const TopoDS_Vertex& v, std::uint32_t node) {
        if (v.IsNull()) return;
        std::uint32_t& known = on_corner[static_cast<std::size_t>(corners.FindIndex(v))];
        if (known == kNone)
            known = node;
        else
            joined.join(known, node);
    };
    for (const MeshedFace& f : faces) {
        for (TopExp_Explorer it(f.face, TopAbs_EDGE); it.More(); it.Next()) {
            const TopoDS_Edge edge = TopoDS::Edge(it.Current().Oriented(TopAbs_FORWARD));
            std::vector<std::uint32_t>& known = on_edge[static_cast<std::size_t>(edges.FindIndex(edge))];
            TopoDS_Vertex from, to;
            TopExp::Vertices(edge, from, to);
            for (const std::vector<std::uint32_t>& list : nodes_on(edge, f)) {
                if (list.empty()) continue;
                if (BRep_Tool::Degenerated(edge)) {
                    for (const std::uint32_t n : list) joined.join(list.front(), n);
                } else if (known.empty()) {
                    known = list;
                } else if (known.size() != list.size()) {
                    return Fault{FaultCode::Internal,
                                 "tessellate: an edge is split differently in its two faces",
                                 "change the chord error",
                                 {},
                                 "measure"};
                } else {
                    for (std::size_t i = 0; i < list.size(); ++i) joined.join(known[i], list[i]);
                }
                join_corner(from, list.front());
                join_corner(to, list.back());
            }
        }
    }

    TriMesh mesh;
    mesh.vertices.resize(nodes);
    for (const MeshedFace& f : faces) {
        const gp_Trsf to_shape = f.place.Transformation();
        for (int i = 1; i <= f.triangulation->NbNodes(); ++i) {
            const std::uint32_t n = f.first + static_cast<std::uint32_t>(i - 1);
            if (joined.root(n) == n) mesh.vertices[n] = from_occt(f.triangulation->Node(i).Transformed(to_shape));
        }
        for (int i = 1; i <= f.triangulation->NbTriangles(); ++i) {
            int a = 0, b = 0, c = 0;
            f.triangulation->Triangle(i).Get(a, b, c);
            // A mirrored place turns the triangles over as well as a reversed face does.
            if ((f.face.Orientation() == TopAbs_REVERSED) != to_shape.IsNegative()) std::swap(b, c);
            const auto at = [&](int node) { return joined.root(f.first + static_cast<std::uint32_t>(node - 1)); };
            mesh.triangles.push_back({at(a), at(b), at(c)});
        }
    }
    return in_single_precision(mesh);
}

}  // namespace

Result<TriMesh> tessellate(const Brep& shape, Length chord, const Context& context) {
    EXPECTS(!shape.is_null());
    EXPECTS(chord.mm() > 0.0);
    return guard_occt("tessellate", [&]() -> Result<TriMesh> {
        if (std::optional<TriMesh> own = internal::own_mesh(to_occt(shape), chord.mm(), kAngle_rad)) {
            TriMesh mesh = in_single_precision(*own);
            const MeshMeasure m = measure_mesh(mesh);
            if (m.closed && m.oriented && m.degenerate == 0) return mesh;
        }
        if (context.is_cancelled()) return Context::interrupted();
        // Triangles are kept by the kernel on the shape itself, and faces are shared between shapes.
        static std::mutex one_at_a_time;
        const std::lock_guard lock(one_at_a_time);
        IMeshTools_Parameters parameters;
        parameters.Deflection = chord.mm();
        parameters.DeflectionInterior = chord.mm();
        parameters.Angle = kAngle_rad;
        parameters.AngleInterior = kAngle_rad;
        parameters.Relative = false;
        parameters.InParallel = true;
        const BRepMesh_IncrementalMesh mesher(to_occt(shape), parameters);
        if (context.is_cancelled()) return Context::interrupted();
        return join_faces(to_occt(shape));
    });
}

}  // namespace geom::measure

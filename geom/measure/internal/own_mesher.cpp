// Edges first: each is split once, by chord and angle on its curve in space, and both its faces take those nodes.
// A face is then sampled between its knots; the sag, the sideways bend within the face and the turn of the normal
// between samples say how many steps it wants along u and along v (the most over the other parameter), and steps are
// laid so that each carries the same share. In coordinates that count steps the grid is a unit grid: there the outline
// and the grid's inner points are triangulated (constrained Delaunay), so that triangles are long where the face is
// straight. Points nearer than half a step to the outline are left out. What comes out is held against the surface at
// the middles of triangles and sides; where the chord error is missed, or a triangle lies on its back, a place there
// becomes a point more and the face is triangulated again.
#include "geom/measure/internal/own_mesher.h"

#include "geom/core/parallel.h"
#include "geom/measure/internal/delaunay.h"
#include "geom/measure/internal/surface_rows.h"
#include "geom/skin/internal/occt.h"

#include <BRepAdaptor_Curve.hxx>
#include <BRepTools.hxx>
#include <BRep_Tool.hxx>
#include <GCPnts_TangentialDeflection.hxx>
#include <Geom2d_Curve.hxx>
#include <TopExp.hxx>
#include <TopExp_Explorer.hxx>
#include <TopTools_IndexedMapOfShape.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Vertex.hxx>

#include <algorithm>
#include <cmath>

namespace geom::measure::internal {

namespace {

/// Of the chord error, for the sag of a step along one parameter; the other parameter's comes on top. The second is
/// tried where the first leaves a face that does not come within the chord error.
constexpr double kStepShares[] = {0.6, 0.35};
constexpr double kEdgeShare = 0.6;
/// How many times as far a step may leave its parameter line within the surface as off it.
constexpr double kSideways = 10.0;
/// Places are tried, not proved: what is tried must stay below the chord error by this much.
constexpr double kMissShare = 0.9;
constexpr int kRounds = 10;
/// A triangle lower than this over its longest side may come to lie on its back in the digits of an STL file.
constexpr double kLeastHeight_mm = 1e-4;
constexpr int kSamplesPerSpan = 2;

struct SplitEdge {
    std::vector<double> t;
    std::vector<std::uint32_t> node;  // global vertex numbers, one for each t
};

struct FaceMesh {
    bool done = false;
    std::vector<Point3> inner;                            // new vertices of this face
    std::vector<std::array<std::uint32_t, 3>> triangles;  // global numbers; kInner + k for inner[k]
};
constexpr std::uint32_t kInner = 0x80000000u;

/// Steps along one parameter: line k lies at line[k]; count(t) tells how many steps t lies from the start, at(count)
/// the way back.
struct Steps {
    std::vector<double> line;
    double count(double t) const {
        const auto it = std::upper_bound(line.begin() + 1, line.end() - 1, t);
        const auto k = static_cast<std::size_t>(it - line.begin()) - 1;
        return static_cast<double>(k) + (t - line[k]) / (line[k + 1] - line[k]);
    }
    double at(double count) const {
        const auto k = std::min(static_cast<std::size_t>(std::max(0.0, count)), line.size() - 2);
        return line[k] + (line[k + 1] - line[k]) * (count - static_cast<double>(k));
    }
};

std::vector<double> sample_parameters(const std::vector<double>& breaks, double lo, double hi) {
    std::vector<double> t{lo};
    const double least = 1e-9 * (hi - lo);
    for (std::size_t i = 0; i + 1 < breaks.size(); ++i)
        for (int k = 0; k < kSamplesPerSpan; ++k) {
            const double x = breaks[i] + (breaks[i + 1] - breaks[i]) * k / kSamplesPerSpan;
            if (x > t.back() + least && x < hi - least) t.push_back(x);
        }
    t.push_back(hi);
    return t;
}

/// At samples and at the middles between them: place and unit normal.
struct Table {
    std::vector<double> u, v;  // samples with middles between: odd places are middles
    std::vector<Point3> at;
    std::vector<Vec3> normal;
    std::size_t index(std::size_t i, std::size_t j) const { return j * u.size() + i; }
};

std::vector<double> with_middles(const std::vector<double>& t) {
    std::vector<double> out;
    for (std::size_t i = 0; i + 1 < t.size(); ++i) {
        out.push_back(t[i]);
        out.push_back(0.5 * (t[i] + t[i + 1]));
    }
    out.push_back(t.back());
    return out;
}

Table sampled(const SurfaceRows& rows, double u0, double u1, double v0, double v1) {
    Table table;
    table.u = with_middles(sample_parameters(rows.u_breaks, u0, u1));
    table.v = with_middles(sample_parameters(rows.v_breaks, v0, v1));
    table.at.resize(table.u.size() * table.v.size());
    table.normal.resize(table.at.size());
    std::vector<PatchPoint> points;
    for (std::size_t j = 0; j < table.v.size(); ++j) {
        rows.row(table.v[j], table.u, points);
        for (std::size_t i = 0; i < table.u.size(); ++i) {
            table.at[table.index(i, j)] = points[i].at;
            table.normal[table.index(i, j)] = unit(cross(points[i].du, points[i].dv));
        }
    }
    return table;
}

Steps steps_along(const Table& table, bool along_u, double sag_mm, double angle_rad) {
    const std::vector<double>& t = along_u ? table.u : table.v;
    const std::size_t across = along_u ? table.v.size() : table.u.size();
    const auto index = [&](std::size_t k, std::size_t other) {
        return along_u ? table.index(k, other) : table.index(other, k);
    };
    std::vector<double> sum{0.0};
    for (std::size_t k = 0; k + 2 < t.size(); k += 2) {
        double most = 0.0;
        for (std::size_t o = 0; o < across; ++o) {
            const std::size_t a = index(k, o), m = index(k + 1, o), b = index(k + 2, o);
            const Vec3 away = table.at[m] - (table.at[a] + table.at[b]) * 0.5;
            const double sag = std::abs(dot(table.normal[m], away));
            const double sideways = std::abs(dot(unit(cross(table.normal[m], table.at[b] - table.at[a])), away));
            const double turn = std::acos(std::clamp(dot(table.normal[a], table.normal[b]), -1.0, 1.0));
            most =
                std::max({most, std::sqrt(sag / sag_mm), std::sqrt(sideways / (kSideways * sag_mm)), turn / angle_rad});
        }
        sum.push_back(sum.back() + most);
    }
    const double whole = sum.back();
    const int n = std::clamp(static_cast<int>(std::ceil(whole - 1e-6)), 1, 4000);
    Steps steps;
    steps.line.push_back(t.front());
    for (int i = 1; i < n; ++i) {
        const double wanted = whole * i / n;
        std::size_t k = static_cast<std::size_t>(std::upper_bound(sum.begin(), sum.end(), wanted) - sum.begin()) - 1;
        k = std::min(k, sum.size() - 2);
        const double part = sum[k + 1] > sum[k] ? (wanted - sum[k]) / (sum[k + 1] - sum[k]) : 0.5;
        const double x = t[2 * k] + (t[2 * k + 2] - t[2 * k]) * part;
        if (x > steps.line.back()) steps.line.push_back(x);
    }
    if (t.back() > steps.line.back()) steps.line.push_back(t.back());
    return steps;
}

struct Outline {
    std::vector<FlatPoint> uv;                        // boundary nodes in the parameter plane
    std::vector<std::uint32_t> node;                  // their global numbers
    std::vector<std::array<std::uint32_t, 2>> sides;  // indices into uv
};

/// Where the outline crosses the grid's row j, in steps along u, rising.
std::vector<double> row_crossings(const std::vector<FlatPoint>& steps,
                                  const std::vector<std::array<std::uint32_t, 2>>& sides, double y) {
    std::vector<double> x;
    for (const auto& s : sides) {
        const FlatPoint &a = steps[s[0]], &b = steps[s[1]];
        if ((a.y > y) != (b.y > y)) x.push_back(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
    }
    std::sort(x.begin(), x.end());
    return x;
}

double distance_to_side(FlatPoint p, const FlatPoint& a, const FlatPoint& b) {
    const double dx = b.x - a.x, dy = b.y - a.y, l2 = dx * dx + dy * dy;
    const double t = l2 > 0.0 ? std::clamp(((p.x - a.x) * dx + (p.y - a.y) * dy) / l2, 0.0, 1.0) : 0.0;
    return std::hypot(p.x - a.x - t * dx, p.y - a.y - t * dy);
}

/// The points of a face as they grow from round to round, in steps; the outline's come first.
struct FacePoints {
    std::vector<FlatPoint> flat;
    std::size_t boundary = 0;
    std::vector<Point3> inner;  // of the points after the outline's
};

FacePoints grid_points(const SurfaceRows& rows, const Outline& outline, const Steps& in_u, const Steps& in_v) {
    const std::size_t nu = in_u.line.size(), nv = in_v.line.size();
    FacePoints out;
    out.boundary = outline.uv.size();
    for (const FlatPoint& p : outline.uv) out.flat.push_back({in_u.count(p.x), in_v.count(p.y)});
    std::vector<char> free(nu * nv, 0);
    for (std::size_t j = 1; j + 1 < nv; ++j) {
        const std::vector<double> x = row_crossings(out.flat, outline.sides, static_cast<double>(j));
        for (std::size_t k = 0; k + 1 < x.size(); k += 2)
            for (std::size_t i = static_cast<std::size_t>(std::max(1.0, std::ceil(x[k])));
                 i + 1 < nu && static_cast<double>(i) < x[k + 1]; ++i)
                free[j * nu + i] = 1;
    }
    for (const auto& s : outline.sides) {
        const FlatPoint &a = out.flat[s[0]], &b = out.flat[s[1]];
        const auto from = [](double t) { return static_cast<std::size_t>(std::max(0.0, std::ceil(t - 0.5))); };
        for (std::size_t j = from(std::min(a.y, b.y)); j < nv && static_cast<double>(j) <= std::max(a.y, b.y) + 0.5;
             ++j)
            for (std::size_t i = from(std::min(a.x, b.x)); i < nu && static_cast<double>(i) <= std::max(a.x, b.x) + 0.5;
                 ++i)
                if (free[j * nu + i] != 0 &&
                    distance_to_side({static_cast<double>(i), static_cast<double>(j)}, a, b) < 0.5)
                    free[j * nu + i] = 0;
    }
    std::vector<double> u;
    std::vector<PatchPoint> points;
    for (std::size_t j = 1; j + 1 < nv; ++j) {
        u.clear();
        for (std::size_t i = 1; i + 1 < nu; ++i)
            if (free[j * nu + i] != 0) {
                u.push_back(in_u.line[i]);
                out.flat.push_back({static_cast<double>(i), static_cast<double>(j)});
            }
        if (u.empty()) continue;
        rows.row(in_v.line[j], u, points);
        for (const PatchPoint& p : points) out.inner.push_back(p.at);
    }
    return out;
}

FlatPoint middle(FlatPoint a, FlatPoint b) {
    return {(a.x + b.x) / 2, (a.y + b.y) / 2};
}

double longest_side(Point3 a, Point3 b, Point3 c) {
    return std::max({distance(a, b), distance(b, c), distance(c, a)});
}

/// Places, in steps, where the triangles want another point. Where they miss the surface by more than the chord error:
/// the worst place of each such triangle. Where one lies on its back, the middle of its longest side: where the surface
/// is flat the chord error says nothing of parameter lines that bend within it, nor of steps that are uneven, and a
/// long chord then passes on the wrong side of the triangle's third corner. Once all triangles face outward, those of
/// one flat place cannot cover each other.
std::vector<FlatPoint> wanted_places(const SurfaceRows& rows, const FacePoints& points, const Steps& in_u,
                                     const Steps& in_v, const std::vector<std::array<std::uint32_t, 3>>& triangles,
                                     const Outline& outline, const std::vector<Point3>& global, double chord_mm) {
    const auto place = [&](std::uint32_t k) {
        return k < points.boundary ? global[outline.node[k]] : points.inner[k - points.boundary];
    };
    std::vector<std::array<std::uint32_t, 2>> sides = outline.sides;
    for (auto& s : sides) std::sort(s.begin(), s.end());
    std::sort(sides.begin(), sides.end());
    const auto is_side = [&](std::uint32_t a, std::uint32_t b) {
        return a < points.boundary && b < points.boundary &&
               std::binary_search(sides.begin(), sides.end(), std::array{std::min(a, b), std::max(a, b)});
    };
    std::vector<FlatPoint> wanted;
    std::vector<PatchPoint> one;
    for (const auto& t : triangles) {
        const Point3 a = place(t[0]), b = place(t[1]), c = place(t[2]);
        const Vec3 twice_area = cross(b - a, c - a), normal = unit(twice_area);
        const FlatPoint &p = points.flat[t[0]], &q = points.flat[t[1]], &r = points.flat[t[2]];
        const FlatPoint centre{(p.x + q.x + r.x) / 3, (p.y + q.y + r.y) / 3};
        double worst = chord_mm;
        FlatPoint at;
        // A side of the outline cannot be split here: the centre stands for it.
        const auto off = [&](FlatPoint x, bool may_split) {
            rows.row(in_v.at(x.y), {in_u.at(x.x)}, one);
            const double d = std::abs(dot(normal, one[0].at - a));
            if (d <= worst) return;
            worst = d;
            at = may_split ? x : centre;
        };
        off(centre, true);
        const Vec3 outward = unit(cross(one[0].du, one[0].dv));
        off(middle(p, q), !is_side(t[0], t[1]));
        off(middle(q, r), !is_side(t[1], t[2]));
        off(middle(r, p), !is_side(t[2], t[0]));
        if (worst > chord_mm) {
            wanted.push_back(at);
        } else if (dot(twice_area, outward) <= kLeastHeight_mm * longest_side(a, b, c)) {
            double longest = 0.0;
            at = centre;
            for (std::size_t k = 0; k < 3; ++k) {
                const std::uint32_t from = t[k], to = t[(k + 1) % 3];
                const double length = distance(place(from), place(to));
                if (length <= longest || is_side(from, to)) continue;
                longest = length;
                at = middle(points.flat[from], points.flat[to]);
            }
            wanted.push_back(at);
        }
    }
    const auto less = [](const FlatPoint& x, const FlatPoint& y) { return x.y < y.y || (x.y == y.y && x.x < y.x); };
    std::sort(wanted.begin(), wanted.end(), less);
    wanted.erase(std::unique(wanted.begin(), wanted.end(),
                             [](const FlatPoint& x, const FlatPoint& y) { return x.x == y.x && x.y == y.y; }),
                 wanted.end());
    return wanted;
}

/// Halves the steps of a curve whose sag is more than said.
void split_further(const BRepAdaptor_Curve& curve, double sag_mm, std::vector<double>& t) {
    for (std::size_t k = 0; k + 1 < t.size() && t.size() < 100000;) {
        const double middle = 0.5 * (t[k] + t[k + 1]);
        const Point3 a = from_occt(curve.Value(t[k])), b = from_occt(curve.Value(t[k + 1])),
                     m = from_occt(curve.Value(middle));
        const double length2 = norm2(b - a);
        const double part = length2 > 0.0 ? std::clamp(dot(m - a, b - a) / length2, 0.0, 1.0) : 0.0;
        if (distance(m, a + (b - a) * part) > sag_mm)
            t.insert(t.begin() + static_cast<std::ptrdiff_t>(k) + 1, middle);
        else
            ++k;
    }
}

/// The outline's nodes in the parameter plane; false when an edge has no curve there.
bool outline_of(const TopoDS_Face& face, const TopTools_IndexedMapOfShape& edges, const std::vector<SplitEdge>& split,
                Outline& out) {
    double u0, u1, v0, v1;
    BRepTools::UVBounds(face, u0, u1, v0, v1);
    const double near_u = 1e-4 * (u1 - u0), near_v = 1e-4 * (v1 - v0);
    std::vector<std::uint32_t> ends;  // indices into out.uv of nodes at edges' ends
    for (TopExp_Explorer it(face, TopAbs_EDGE); it.More(); it.Next()) {
        const TopoDS_Edge edge = TopoDS::Edge(it.Current());
        if (edge.Orientation() != TopAbs_FORWARD && edge.Orientation() != TopAbs_REVERSED) continue;
        double t0, t1;
        const Handle(Geom2d_Curve) curve = BRep_Tool::CurveOnSurface(edge, face, t0, t1);
        if (curve.IsNull()) return false;
        const SplitEdge& s = split[static_cast<std::size_t>(edges.FindIndex(edge))];
        std::uint32_t before = 0;
        for (std::size_t k = 0; k < s.t.size(); ++k) {
            const gp_Pnt2d p = curve->Value(std::clamp(s.t[k], t0, t1));
            std::uint32_t here = static_cast<std::uint32_t>(out.uv.size());
            if (k == 0 || k + 1 == s.t.size())
                for (const std::uint32_t e : ends)
                    if (out.node[e] == s.node[k] && std::abs(out.uv[e].x - p.X()) <= near_u &&
                        std::abs(out.uv[e].y - p.Y()) <= near_v)
                        here = e;
            if (here == out.uv.size()) {
                out.uv.push_back({p.X(), p.Y()});
                out.node.push_back(s.node[k]);
                if (k == 0 || k + 1 == s.t.size()) ends.push_back(here);
            }
            if (k > 0) out.sides.push_back({before, here});
            before = here;
        }
    }
    return !out.sides.empty();
}

FaceMesh mesh_face(const TopoDS_Face& given, const TopTools_IndexedMapOfShape& edges,
                   const std::vector<SplitEdge>& split, const std::vector<Point3>& global, double chord_mm,
                   double angle_rad, double step_share) {
    FaceMesh out;
    const TopoDS_Face face = TopoDS::Face(given.Oriented(TopAbs_FORWARD));
    Outline outline;
    if (!outline_of(face, edges, split, outline)) return out;
    double u0 = 1e300, u1 = -1e300, v0 = 1e300, v1 = -1e300;
    for (const FlatPoint& p : outline.uv) {
        u0 = std::min(u0, p.x);
        u1 = std::max(u1, p.x);
        v0 = std::min(v0, p.y);
        v1 = std::max(v1, p.y);
    }
    if (!(u1 > u0) || !(v1 > v0)) return out;
    const std::unique_ptr<SurfaceRows> rows = surface_rows(BRep_Tool::Surface(face), u0, u1, v0, v1);
    Steps in_u{{u0, u1}}, in_v{{v0, v1}};
    if (!rows->is_plane) {
        const Table table = sampled(*rows, u0, u1, v0, v1);
        in_u = steps_along(table, true, step_share * chord_mm, angle_rad);
        in_v = steps_along(table, false, step_share * chord_mm, angle_rad);
    }
    FacePoints points = grid_points(*rows, outline, in_u, in_v);
    for (int round = 0; round < kRounds && !out.done; ++round) {
        const auto triangles = triangulate(points.flat, outline.sides);
        if (!triangles) return out;
        const std::vector<FlatPoint> more = rows->is_plane ? std::vector<FlatPoint>{}
                                                           : wanted_places(*rows, points, in_u, in_v, *triangles,
                                                                           outline, global, kMissShare * chord_mm);
        std::vector<PatchPoint> one;
        for (const FlatPoint& p : more) {
            rows->row(in_v.at(p.y), {in_u.at(p.x)}, one);
            points.flat.push_back(p);
            points.inner.push_back(one[0].at);
        }
        if (!more.empty()) continue;
        out.done = true;
        out.inner = std::move(points.inner);
        for (const auto& t : *triangles) {
            std::array<std::uint32_t, 3> named{};
            for (std::size_t k = 0; k < 3; ++k)
                named[k] = t[k] < points.boundary ? outline.node[t[k]]
                                                  : kInner + (t[k] - static_cast<std::uint32_t>(points.boundary));
            if (named[0] != named[1] && named[1] != named[2] && named[2] != named[0]) out.triangles.push_back(named);
        }
    }
    if (given.Orientation() == TopAbs_REVERSED)
        for (auto& t : out.triangles) std::swap(t[1], t[2]);
    return out;
}

}  // namespace

std::optional<TriMesh> own_mesh(const TopoDS_Shape& shape, double chord_mm, double angle_rad) {
    TopTools_IndexedMapOfShape corners, edges;
    TopExp::MapShapes(shape, TopAbs_VERTEX, corners);
    TopExp::MapShapes(shape, TopAbs_EDGE, edges);
    std::vector<TopoDS_Face> faces;
    for (TopExp_Explorer it(shape, TopAbs_FACE); it.More(); it.Next()) faces.push_back(TopoDS::Face(it.Current()));

    TriMesh mesh;
    for (int i = 1; i <= corners.Extent(); ++i)
        mesh.vertices.push_back(from_occt(BRep_Tool::Pnt(TopoDS::Vertex(corners(i)))));
    std::vector<SplitEdge> split(static_cast<std::size_t>(edges.Extent()) + 1);
    for (int i = 1; i <= edges.Extent(); ++i) {
        const TopoDS_Edge edge = TopoDS::Edge(edges(i).Oriented(TopAbs_FORWARD));
        double t0, t1;
        if (BRep_Tool::Degenerated(edge) || !BRep_Tool::SameParameter(edge) || BRep_Tool::Curve(edge, t0, t1).IsNull())
            return std::nullopt;
        TopoDS_Vertex from, to;
        TopExp::Vertices(edge, from, to);
        if (from.IsNull() || to.IsNull()) return std::nullopt;
        const BRepAdaptor_Curve curve(edge);
        SplitEdge& s = split[static_cast<std::size_t>(i)];
        if (curve.GetType() == GeomAbs_Line) {
            s.t = {t0, t1};
        } else {
            const GCPnts_TangentialDeflection points(curve, angle_rad, kEdgeShare * chord_mm, from.IsSame(to) ? 4 : 2);
            for (int k = 1; k <= points.NbPoints(); ++k) s.t.push_back(points.Parameter(k));
            if (s.t.size() < 2) return std::nullopt;
            s.t.front() = t0;
            s.t.back() = t1;
            split_further(curve, kEdgeShare * chord_mm, s.t);
        }
        for (std::size_t k = 0; k < s.t.size(); ++k) {
            if (k == 0 || k + 1 == s.t.size()) {
                s.node.push_back(static_cast<std::uint32_t>(corners.FindIndex(k == 0 ? from : to) - 1));
                continue;
            }
            s.node.push_back(static_cast<std::uint32_t>(mesh.vertices.size()));
            mesh.vertices.push_back(from_occt(curve.Value(s.t[k])));
        }
    }

    std::vector<FaceMesh> made(faces.size());
    std::vector<char> failed(faces.size(), 0);
    parallel_for(faces.size(), 1, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) {
            try {
                for (const double share : kStepShares)
                    if (!made[i].done)
                        made[i] = mesh_face(faces[i], edges, split, mesh.vertices, chord_mm, angle_rad, share);
            } catch (const Standard_Failure&) {
                made[i].done = false;
            }
        }
    });
    for (const FaceMesh& m : made) {
        if (!m.done) return std::nullopt;
        const auto first = static_cast<std::uint32_t>(mesh.vertices.size());
        mesh.vertices.insert(mesh.vertices.end(), m.inner.begin(), m.inner.end());
        for (auto t : m.triangles) {
            for (std::uint32_t& v : t)
                if (v >= kInner) v = first + (v - kInner);
            mesh.triangles.push_back(t);
        }
    }
    return mesh;
}

}  // namespace geom::measure::internal

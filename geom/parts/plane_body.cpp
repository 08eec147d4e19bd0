#include "geom/parts/internal/plane_body.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/parts/internal/boolean.h"
#include "geom/parts/internal/site.h"

#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakeVertex.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <gp_Pln.hxx>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <tuple>

namespace geom::parts {
namespace {

constexpr double kLeastEdge_mm = 0.05;

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

/// The corners that planes cut out of `face`, in their order.
std::vector<Point3> cut_out(const Plane& face, const std::vector<Plane>& round) {
    std::vector<Point3> corners;
    for (std::size_t k = 0; k < round.size(); ++k)
        corners.push_back(meeting(face, round[k], round[(k + 1) % round.size()]));
    return corners;
}

/// Area with its direction.
Vec3 area_of(const std::vector<Point3>& loop) {
    Vec3 sum;
    for (std::size_t k = 1; k + 1 < loop.size(); ++k) sum += cross(loop[k] - loop[0], loop[k + 1] - loop[0]);
    return sum * 0.5;
}

/// Of a solid by its faces, corners counter-clockwise seen from outside; about a point near by, for the digits.
double volume_of(const std::vector<std::vector<Point3>>& faces) {
    const Point3 near = faces.front().front();
    double sum = 0.0;
    for (const auto& loop : faces) sum += dot(loop.front() - near, area_of(loop));
    return sum / 3.0;
}

/// x along the first edge, in the face.
struct FlatView {
    Point3 origin;
    Vec3 x, y;
    FlatView(const std::vector<Point3>& loop, Vec3 outward)
        : origin(loop.front()), x(unit(loop[1] - loop[0])), y(cross(outward, x)) {}
    Point2 operator()(Point3 p) const { return {dot(p - origin, x), dot(p - origin, y)}; }
};

bool crosses_itself(const std::vector<Point3>& loop, Vec3 outward) {
    const FlatView view(loop, outward);
    const std::size_t n = loop.size();
    const auto side = [](Point2 a, Point2 b, Point2 p) { return cross(b - a, p - a); };
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = i + 2; j < n; ++j) {
            if (i == 0 && j == n - 1) continue;
            const Point2 a = view(loop[i]), b = view(loop[i + 1]), c = view(loop[j]), d = view(loop[(j + 1) % n]);
            if (side(a, b, c) * side(a, b, d) <= 0.0 && side(c, d, a) * side(c, d, b) <= 0.0) return true;
        }
    return false;
}

/// Length and width of the smallest rectangle round points of a plane that has a side along one of the directions.
std::pair<double, double> smallest_rectangle(const std::vector<Point2>& points, const std::vector<Point2>& along) {
    std::pair<double, double> best{1e300, 1e300};
    for (const Point2 a : along) {
        const Point2 u = a * (1.0 / norm(a)), v{-u.y, u.x};
        double lo_u = 1e300, hi_u = -1e300, lo_v = 1e300, hi_v = -1e300;
        for (const Point2 p : points) {
            lo_u = std::min(lo_u, dot(p, u)), hi_u = std::max(hi_u, dot(p, u));
            lo_v = std::min(lo_v, dot(p, v)), hi_v = std::max(hi_v, dot(p, v));
        }
        const double du = hi_u - lo_u, dv = hi_v - lo_v;
        if (du * dv < best.first * best.second * (1.0 - 1e-9)) best = {std::max(du, dv), std::min(du, dv)};
    }
    return best;
}

/// How side `i` ends at its neighbour `j`: the plane of the cut.
Plane cut_between(const PlaneBody& body, int i, int j, Vec3 along_edge) {
    const PlaneSide &own = body.sides[at(i)], &other = body.sides[at(j)];
    const Vec3 into = cross(own.outer.outward, along_edge);  // into the face
    const bool is_convex = dot(other.outer.outward, into) < 0.0;
    if (own.rank != other.rank) return (own.rank < other.rank) == is_convex ? other.outer : other.inner();
    // A mitre: through the outer and the inner edge.
    const Plane square{{}, along_edge};
    const Point3 out = meeting(own.outer, other.outer, square), in = meeting(own.inner(), other.inner(), square);
    return {out, unit(cross(in - out, along_edge))};
}

Result<Brep> solid_of_loops(const std::string& what, const std::vector<std::vector<Point3>>& faces) {
    return guard_occt("part", [&]() -> Result<Brep> {
        // Corners that several faces share are told by their place: all come from the same planes.
        std::vector<std::pair<Point3, TopoDS_Vertex>> vertices;
        const auto vertex = [&](Point3 p) -> std::size_t {
            for (std::size_t i = 0; i < vertices.size(); ++i)
                if (distance(vertices[i].first, p) < kLeastEdge_mm * 1e-2) return i;
            vertices.emplace_back(p, BRepBuilderAPI_MakeVertex(to_occt(p)).Vertex());
            return vertices.size() - 1;
        };
        std::map<std::pair<std::size_t, std::size_t>, TopoDS_Edge> edges;
        std::vector<TopoDS_Face> made;
        for (const auto& loop : faces) {
            BRepBuilderAPI_MakeWire wire;
            for (std::size_t k = 0; k < loop.size(); ++k) {
                const std::size_t a = vertex(loop[k]), b = vertex(loop[(k + 1) % loop.size()]);
                auto [edge, is_new] = edges.try_emplace(std::minmax(a, b));
                if (is_new) edge->second = BRepBuilderAPI_MakeEdge(vertices[a].second, vertices[b].second).Edge();
                wire.Add(edge->second);
            }
            const Vec3 normal = unit(area_of(loop));
            const gp_Pln plane(to_occt(loop.front()), to_occt_dir(normal));
            made.push_back(BRepBuilderAPI_MakeFace(plane, wire.Wire(), true).Face());
        }
        GAPWRIGHT_TRY(solid, solid_of_faces(what, made));
        return to_brep(solid);
    });
}

std::vector<std::vector<Point3>> loops_of(const PlaneBody& body, bool is_inner) {
    std::vector<std::vector<Point3>> loops;
    for (int i = 0; i < static_cast<int>(body.sides.size()); ++i) loops.push_back(body.corners(i, is_inner));
    return loops;
}

Result<Board> board_of(const PlaneBody& body, int i, double from_mm, double to_mm, std::string name) {
    const PlaneSide& side = body.sides[at(i)];
    const std::vector<Point3> net = body.corners(i, false);
    const std::size_t n = side.next.size();
    std::vector<Plane> cuts;
    for (std::size_t k = 0; k < n; ++k)
        cuts.push_back(cut_between(body, i, side.next[k], unit(net[k] - net[(k + n - 1) % n])));

    Board board{.name = std::move(name), .side = side.name, .thickness_mm = to_mm - from_mm};
    const std::vector<Point3> outer = cut_out(side.plane(from_mm), cuts), inner = cut_out(side.plane(to_mm), cuts);
    std::vector<std::vector<Point3>> faces{outer, {inner.rbegin(), inner.rend()}};
    const FlatView view(outer, side.outer.outward);
    std::vector<Point2> points, ways;
    for (std::size_t k = 0; k < n; ++k) {
        const std::size_t before = (k + n - 1) % n, after = (k + 1) % n;
        const Vec3 way = outer[k] - outer[before], on = outer[after] - outer[k];
        // Out of the board, square to the edge: the cut leans from it by the bevel.
        const Vec3 out = cross(unit(way), side.outer.outward);
        const Vec3 down = inner[before] - outer[before];
        for (const Vec3 run : {way, inner[k] - inner[before]})
            if (dot(run, net[k] - net[before]) <= kLeastEdge_mm * norm(net[k] - net[before]))
                return impossible(fmt::format("box: the boards beside \"{}\" leave it no edge to \"{}\", wanted one",
                                              side.name, body.sides[at(side.next[k])].name),
                                  "let it run through ([box] through), or give joints = \"mitre\"", outer[k]);
        const double reach = dot(down, out);
        BoardEdge edge{.meets = body.sides[at(side.next[k])].name,
                       .outer_mm = norm(way),
                       .inner_mm = norm(inner[k] - inner[before])};
        edge.bevel_deg = Angle::rad(std::atan2(-reach, board.thickness_mm)).deg();
        edge.corner_deg = 180.0 - Angle::rad(std::atan2(dot(cross(way, on), side.outer.outward), dot(way, on))).deg();
        board.edges.push_back(edge);
        faces.push_back({outer[k], outer[before], inner[before], inner[k]});
        points.push_back(view(outer[k]));
        points.push_back(view(inner[k]));
        ways.push_back(view(outer[k]) - view(outer[before]));
    }
    std::tie(board.length_mm, board.width_mm) = smallest_rectangle(points, ways);
    board.face = side.plane(from_mm);
    board.outer = outer;
    board.inner = inner;
    board.outer_mm2 = norm(area_of(outer));
    board.inner_mm2 = norm(area_of(inner));
    board.volume_mm3 = volume_of(faces);
    GAPWRIGHT_TRY(solid, solid_of_loops("board \"" + board.name + "\"", faces));
    board.solid = solid;
    return board;
}

}  // namespace

Point3 meeting(const Plane& a, const Plane& b, const Plane& c) {
    // About a point of the first one, for the digits.
    const Vec3 bc = cross(b.outward, c.outward), ca = cross(c.outward, a.outward), ab = cross(a.outward, b.outward);
    const double det = dot(a.outward, bc);
    EXPECTS(std::abs(det) > 1e-9);
    const double hb = dot(b.point - a.point, b.outward), hc = dot(c.point - a.point, c.outward);
    return a.point + (ca * hb + ab * hc) / det;
}

std::vector<Point3> PlaneBody::corners(int i, bool is_inner) const {
    const PlaneSide& side = sides[at(i)];
    std::vector<Plane> round;
    for (const int j : side.next) round.push_back(is_inner ? sides[at(j)].inner() : sides[at(j)].outer);
    return cut_out(is_inner ? side.inner() : side.outer, round);
}

PlaneBody between_caps(std::vector<PlaneSide> sides) {
    EXPECTS(sides.size() >= 5);
    const int n = static_cast<int>(sides.size()) - 2;
    PlaneBody body{std::move(sides)};
    for (int i = 0; i < n; ++i) {
        body.sides[1].next.push_back(2 + i);
        body.sides[0].next.push_back(2 + n - 1 - i);
        body.sides[at(2 + i)].next = {0, 2 + (i + 1) % n, 1, 2 + (i + n - 1) % n};
    }
    return body;
}

double volume_mm3(const PlaneBody& body, bool is_inner) {
    return volume_of(loops_of(body, is_inner));
}

Status check_net(const PlaneBody& body) {
    for (int i = 0; i < static_cast<int>(body.sides.size()); ++i) {
        const PlaneSide& side = body.sides[at(i)];
        const std::vector<Point3> outer = body.corners(i, false), inner = body.corners(i, true);
        for (std::size_t k = 0; k < outer.size(); ++k) {
            const std::size_t before = (k + outer.size() - 1) % outer.size();
            const Vec3 way = outer[k] - outer[before];
            const std::string edge =
                fmt::format("the edge of \"{}\" to \"{}\"", side.name, body.sides[at(side.next[k])].name);
            if (norm(way) < kLeastEdge_mm)
                return impossible(fmt::format("box: {} has a length of {} mm, wanted more", edge, tenths(norm(way))),
                                  "give other sizes", outer[k]);
            if (const double in = dot(inner[k] - inner[before], unit(way)); in < kLeastEdge_mm)
                return impossible(
                    fmt::format("box: the walls leave {} inside {} mm, wanted more than 0", edge, tenths(in)),
                    "thinner walls, or a larger box", inner[k]);
        }
        for (const bool is_inner : {false, true})
            if (const auto& loop = is_inner ? inner : outer; crosses_itself(loop, side.outer.outward))
                return impossible(fmt::format("box: the {} face of \"{}\" crosses itself, wanted a plain outline",
                                              is_inner ? "inner" : "outer", side.name),
                                  is_inner ? "thinner walls, or a larger box" : "give other sizes", loop.front());
    }
    return Done{};
}

Result<Brep> solid_of(const PlaneBody& body, bool is_inner) {
    return solid_of_loops(is_inner ? "inside of the box" : "outside of the box", loops_of(body, is_inner));
}

Result<std::vector<Board>> boards_of(const PlaneBody& body) {
    std::vector<Board> boards;
    for (int i = 0; i < static_cast<int>(body.sides.size()); ++i) {
        const PlaneSide& side = body.sides[at(i)];
        double from_mm = 0.0;
        for (std::size_t l = 0; l < side.layers_mm.size(); ++l) {
            std::string name = side.name;
            if (side.layers_mm.size() > 1) name += fmt::format(" layer {}", l + 1);
            GAPWRIGHT_TRY(board, board_of(body, i, from_mm, from_mm + side.layers_mm[l], std::move(name)));
            boards.push_back(std::move(board));
            from_mm += side.layers_mm[l];
        }
    }
    return boards;
}

}  // namespace geom::parts

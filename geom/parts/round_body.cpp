// An outline's parallel: each piece moved along its normal, neighbours that no longer meet are cut with one another
// where that is nearest to the old corner.
#include "geom/parts/internal/round_body.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/parts/internal/boolean.h"
#include "geom/parts/internal/outline_pieces.h"
#include "geom/parts/internal/site.h"

#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepPrimAPI_MakeCone.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <TopExp_Explorer.hxx>
#include <gp_Ax2.hxx>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kSame_mm = 1e-7;
constexpr double kChord_mm = 0.005;  // how well a bent outline is followed where a distance is asked

/// A line or a whole circle that a piece lies on, moved.
struct Carrier {
    bool is_straight = true;
    Point2 point, way;  // of a line
    Point2 centre;      // of a circle
    double radius = 0.0;
    bool rises = true;  // counter-clockwise
    Point2 from, to;    // ends of the moved piece
};

std::optional<Carrier> moved(const OutlinePiece& piece, double in_mm) {
    Carrier c;
    c.is_straight = piece.is_straight();
    if (c.is_straight) {
        c.way = (piece.b - piece.a) * (1.0 / distance(piece.a, piece.b));
        const Point2 left{-c.way.y, c.way.x};
        c.point = c.from = piece.a + left * in_mm;
        c.to = piece.b + left * in_mm;
        return c;
    }
    c.centre = piece.centre;
    c.rises = piece.to > piece.from;
    c.radius = c.rises ? piece.rx - in_mm : piece.rx + in_mm;
    if (c.radius < 1e-6) return std::nullopt;
    c.from = c.centre + (piece.a - c.centre) * (c.radius / piece.rx);
    c.to = c.centre + (piece.b - c.centre) * (c.radius / piece.rx);
    return c;
}

std::vector<Point2> meets(const Carrier& a, const Carrier& b) {
    if (a.is_straight && b.is_straight) {
        const double det = cross(a.way, b.way);
        if (std::abs(det) < 1e-12) return {};
        return {a.point + a.way * (cross(b.point - a.point, b.way) / det)};
    }
    if (!a.is_straight && b.is_straight) return meets(b, a);
    if (a.is_straight) {
        const Point2 to_centre = b.centre - a.point;
        const double along = dot(to_centre, a.way), off = cross(a.way, to_centre);
        const double half2 = b.radius * b.radius - off * off;
        if (half2 < -1e-9) return {};
        const double half = std::sqrt(std::max(0.0, half2));
        return {a.point + a.way * (along - half), a.point + a.way * (along + half)};
    }
    const Point2 d = b.centre - a.centre;
    const double far = norm(d);
    if (far < 1e-12) return {};
    const double x = (far * far + a.radius * a.radius - b.radius * b.radius) / (2.0 * far);
    const double y2 = a.radius * a.radius - x * x;
    if (y2 < -1e-9) return {};
    const Point2 u = d * (1.0 / far), v{-u.y, u.x};
    const double y = std::sqrt(std::max(0.0, y2));
    return {a.centre + u * x - v * y, a.centre + u * x + v * y};
}

double angle_on(const Carrier& c, Point2 p) {
    return std::atan2(p.y - c.centre.y, p.x - c.centre.x);
}

Fault no_inside(const std::string& what) {
    return impossible("box: " + what, "thinner walls, or a larger box", {});
}

RingOutline scaled_path(const std::vector<Carrier>& carriers, const std::vector<Point2>& corners, bool& keeps_form) {
    RingOutline out{.kind = RingOutline::Kind::Path};
    keeps_form = true;
    for (std::size_t i = 0; i < carriers.size(); ++i) {
        const Carrier& c = carriers[i];
        const Point2 a = corners[i], b = corners[(i + 1) % carriers.size()];
        double bulge = 0.0;
        if (c.is_straight) {
            keeps_form = keeps_form && dot(b - a, c.way) > kSame_mm;
        } else {
            double sweep = angle_on(c, b) - angle_on(c, a);
            const double was = angle_on(c, c.to) - angle_on(c, c.from);
            const auto turned = [&](double s) {
                while (s <= 0.0) s += 2.0 * kPi;
                while (s > 2.0 * kPi) s -= 2.0 * kPi;
                return s;
            };
            sweep = c.rises ? turned(sweep) : -turned(-sweep);
            const double asked = c.rises ? turned(was) : -turned(-was);
            // What shrinks past nothing comes round from the other side.
            keeps_form = keeps_form && std::abs(sweep - asked) < kPi;
            bulge = bulge_of(sweep);
        }
        out.path.push_back({a.x, a.y, bulge});
    }
    return out;
}

Frame seen_from_inside(const RoundBody& body, double depth_mm) {
    Frame view = body.view;
    view.origin += view.y * depth_mm;
    return view;
}

double perimeter_mm(const RingOutline& outline) {
    if (outline.kind != RingOutline::Kind::Path) return kPi * outline.width.mm();
    return length_mm(FlatPath{.operation = Operation::Outline, .points = outline.path, .is_closed = true});
}

/// A slice of an outline between two depths.
TopoDS_Shape slice(const RoundBody& body, const RingOutline& outline, double from_mm, double to_mm) {
    const TopoDS_Face face =
        BRepBuilderAPI_MakeFace(wire_of(pieces_of(outline), seen_from_inside(body, from_mm)), true).Face();
    return BRepPrimAPI_MakePrism(face, to_occt_vec(body.view.y * (to_mm - from_mm))).Shape();
}

/// A slice of a cone between two depths.
TopoDS_Shape cone_slice(const RoundBody& body, bool is_inner, double from_mm, double to_mm) {
    const Frame view = seen_from_inside(body, from_mm);
    const gp_Ax2 axis(to_occt(view.origin), to_occt_dir(view.y), to_occt_dir(view.x));
    const double r0 = cone_radius_mm(body, from_mm, is_inner), r1 = cone_radius_mm(body, to_mm, is_inner);
    if (std::abs(r0 - r1) < 1e-9) return BRepPrimAPI_MakeCylinder(axis, r0, to_mm - from_mm).Shape();
    return BRepPrimAPI_MakeCone(axis, r0, r1, to_mm - from_mm).Shape();
}

TopoDS_Shape slice_of(const RoundBody& body, bool is_inner, double from_mm, double to_mm) {
    return body.is_cone ? cone_slice(body, is_inner, from_mm, to_mm)
                        : slice(body, is_inner ? body.inner : body.outer, from_mm, to_mm);
}

double slice_mm3(const RoundBody& body, bool is_inner, double from_mm, double to_mm) {
    if (!body.is_cone) return area_mm2(is_inner ? body.inner : body.outer) * (to_mm - from_mm);
    const double a = cone_radius_mm(body, from_mm, is_inner), b = cone_radius_mm(body, to_mm, is_inner);
    return kPi * (to_mm - from_mm) * (a * a + a * b + b * b) / 3.0;
}

double section_mm2(const RoundBody& body, bool is_inner, double depth_mm) {
    if (!body.is_cone) return area_mm2(is_inner ? body.inner : body.outer);
    const double r = cone_radius_mm(body, depth_mm, is_inner);
    return kPi * r * r;
}

double around_mm(const RoundBody& body, bool is_inner, double depth_mm) {
    return body.is_cone ? 2.0 * kPi * cone_radius_mm(body, depth_mm, is_inner)
                        : perimeter_mm(is_inner ? body.inner : body.outer);
}

Result<Brep> one_solid(const std::string& what, const TopoDS_Shape& shape) {
    for (TopExp_Explorer e(shape, TopAbs_SOLID); e.More(); e.Next()) return to_brep(e.Current());
    return Fault{FaultCode::Internal, what + ": the kernel made no solid", {}, {}, "part"};
}

/// One layer of a cap, from the first cap's side to the other's.
Result<Board> cap_board(const RoundBody& body, const RoundCap& cap, double from_mm, double to_mm, bool outer_is_first,
                        std::string name) {
    const bool is_inner = !cap.runs_through;
    Board board{.name = std::move(name), .side = cap.name, .thickness_mm = to_mm - from_mm};
    const double outer_mm = outer_is_first ? from_mm : to_mm, inner_mm = outer_is_first ? to_mm : from_mm;
    board.outer_mm2 = section_mm2(body, is_inner, outer_mm);
    board.inner_mm2 = section_mm2(body, is_inner, inner_mm);
    board.volume_mm3 = slice_mm3(body, is_inner, from_mm, to_mm);
    BoardEdge edge{.meets = body.side,
                   .outer_mm = around_mm(body, is_inner, outer_mm),
                   .inner_mm = around_mm(body, is_inner, inner_mm)};
    if (body.is_cone) {
        edge.bevel_deg = Angle::rad(cone_angle(body)).deg() * (outer_is_first ? 1.0 : -1.0);
        const double r = std::max(cone_radius_mm(body, from_mm, is_inner), cone_radius_mm(body, to_mm, is_inner));
        board.length_mm = board.width_mm = 2.0 * r;
    } else {
        const RingOutline& outline = is_inner ? body.inner : body.outer;
        board.length_mm = extent(outline, {1, 0}) + extent(outline, {-1, 0});
        board.width_mm = extent(outline, {0, 1}) + extent(outline, {0, -1});
        if (board.width_mm > board.length_mm) std::swap(board.width_mm, board.length_mm);
    }
    edge.corner_deg = 180.0;
    board.face = {body.view.origin + body.view.y * outer_mm, outer_is_first ? -body.view.y : body.view.y};
    board.edges.push_back(edge);
    GAPWRIGHT_TRY(solid, one_solid(board.name, slice_of(body, is_inner, from_mm, to_mm)));
    board.solid = solid;
    return board;
}

Status cap_boards(const RoundBody& body, bool is_first, std::vector<Board>& boards) {
    const RoundCap& cap = is_first ? body.first : body.second;
    double at_mm = is_first ? 0.0 : body.depth_mm;
    for (std::size_t l = 0; l < cap.layers_mm.size(); ++l) {
        const double next_mm = is_first ? at_mm + cap.layers_mm[l] : at_mm - cap.layers_mm[l];
        std::string name = cap.name;
        if (cap.layers_mm.size() > 1) name += fmt::format(" layer {}", l + 1);
        GAPWRIGHT_TRY(
            board, cap_board(body, cap, std::min(at_mm, next_mm), std::max(at_mm, next_mm), is_first, std::move(name)));
        boards.push_back(std::move(board));
        at_mm = next_mm;
    }
    return Done{};
}

}  // namespace

Result<RingOutline> parallel_outline(const RingOutline& outline, double in_mm) {
    if (outline.kind == RingOutline::Kind::Ellipse)
        return Fault{FaultCode::BadJob,
                     "box: the outline is an ellipse, wanted lines and circular arcs",
                     "draw it with arcs: the wall beside an ellipse is no ellipse",
                     {},
                     "part"};
    if (outline.kind == RingOutline::Kind::Round) {
        const double d = outline.width.mm() - 2.0 * in_mm;
        if (d < 1.0) return no_inside(fmt::format("the walls leave {} mm of the diameter", tenths(d)));
        return round_outline(Length::mm(d));
    }
    std::vector<Carrier> carriers;
    for (const OutlinePiece& piece : pieces_of(outline))
        if (const auto c = moved(piece, in_mm)) carriers.push_back(*c);
    const std::size_t n = carriers.size();
    if (n < 2) return no_inside("the walls leave nothing of the outline");
    std::vector<Point2> corners;
    for (std::size_t i = 0; i < n; ++i) {
        const Carrier &before = carriers[(i + n - 1) % n], &own = carriers[i];
        const Point2 near = (before.to + own.from) * 0.5;
        if (distance(before.to, own.from) < kSame_mm) {
            corners.push_back(near);
            continue;
        }
        const std::vector<Point2> all = meets(before, own);
        if (all.empty())
            return no_inside(
                fmt::format("the walls leave no corner near ({}, {}) of the outline", tenths(near.x), tenths(near.y)));
        corners.push_back(*std::min_element(all.begin(), all.end(),
                                            [&](Point2 a, Point2 b) { return distance(a, near) < distance(b, near); }));
    }
    bool keeps_form = true;
    RingOutline out = scaled_path(carriers, corners, keeps_form);
    if (!keeps_form) return no_inside("a side of the outline has no length left inside the walls");
    auto checked = path_outline(out.path);
    if (!checked || std::abs(area_mm2(*checked) - area_mm2(out)) > 1e-6 * std::abs(area_mm2(out)))
        return no_inside("the outline crosses itself inside the walls");
    return std::move(*checked);
}

double cone_angle(const RoundBody& body) {
    return std::atan2(body.radius_mm - body.far_radius_mm, body.depth_mm);
}

double cone_radius_mm(const RoundBody& body, double depth_mm, bool is_inner) {
    const double share = depth_mm / body.depth_mm;
    return body.radius_mm + (body.far_radius_mm - body.radius_mm) * share -
           (is_inner ? body.wall_mm / std::cos(cone_angle(body)) : 0.0);
}

Status check_round(const RoundBody& body) {
    const double left = body.depth_mm - body.first.thickness_mm() - body.second.thickness_mm();
    if (left < 1.0)
        return no_inside(fmt::format("the walls leave {} mm of the depth, wanted more than 1", tenths(left)));
    if (!body.is_cone) return Done{};
    for (const double depth : {0.0, body.depth_mm})
        if (const double r = cone_radius_mm(body, depth, true); r < 1.0)
            return no_inside(fmt::format("the walls leave a radius of {} mm, wanted more than 1", tenths(r)));
    return Done{};
}

double volume_mm3(const RoundBody& body, bool is_inner) {
    return is_inner ? slice_mm3(body, true, body.first.thickness_mm(), body.depth_mm - body.second.thickness_mm())
                    : slice_mm3(body, false, 0.0, body.depth_mm);
}

Result<Brep> solid_of(const RoundBody& body, bool is_inner) {
    return guard_occt("part", [&]() -> Result<Brep> {
        return one_solid("round box", is_inner ? slice_of(body, true, body.first.thickness_mm(),
                                                          body.depth_mm - body.second.thickness_mm())
                                               : slice_of(body, false, 0.0, body.depth_mm));
    });
}

Result<std::vector<Board>> boards_of(const RoundBody& body) {
    return guard_occt("part", [&]() -> Result<std::vector<Board>> {
        std::vector<Board> boards;
        GAPWRIGHT_CHECK(cap_boards(body, true, boards));
        GAPWRIGHT_CHECK(cap_boards(body, false, boards));
        const double from = body.first.runs_through ? body.first.thickness_mm() : 0.0;
        const double to = body.depth_mm - (body.second.runs_through ? body.second.thickness_mm() : 0.0);
        Board side{.name = body.side, .side = body.side, .thickness_mm = body.wall_mm};
        side.is_bent = true;
        side.outer_arc_mm = around_mm(body, false, from);
        side.inner_arc_mm = around_mm(body, true, from);
        const double slant = body.is_cone ? (to - from) / std::cos(cone_angle(body)) : to - from;
        side.width_mm = slant;
        side.length_mm = std::max(side.outer_arc_mm, around_mm(body, false, to));
        if (body.is_cone) {
            side.cone_deg = Angle::rad(cone_angle(body)).deg();
            side.bend_radius_mm = cone_radius_mm(body, from, false);
        } else if (body.outer.kind == RingOutline::Kind::Round) {
            side.bend_radius_mm = body.outer.width.mm() / 2.0;
        }
        const auto skin_mm2 = [&](bool is_inner) {
            return (around_mm(body, is_inner, from) + around_mm(body, is_inner, to)) / 2.0 * slant;
        };
        side.outer_mm2 = skin_mm2(false);
        side.inner_mm2 = skin_mm2(true);
        side.volume_mm3 = slice_mm3(body, false, from, to) - slice_mm3(body, true, from, to);
        TopTools_ListOfShape hole;
        hole.Append(slice_of(body, true, from - 1.0, to + 1.0));
        GAPWRIGHT_TRY(tube, cut(side.name, slice_of(body, false, from, to), hole, 0.0, 1e300));
        side.solid = to_brep(tube.solid);
        boards.push_back(std::move(side));
        return boards;
    });
}

std::function<double(Point3)> distance_to(const RoundBody& body, bool is_inner) {
    const double from = is_inner ? body.first.thickness_mm() : 0.0;
    const double to = body.depth_mm - (is_inner ? body.second.thickness_mm() : 0.0);
    std::function<double(Point2, double)> beside;
    if (body.is_cone) {
        beside = [body, is_inner](Point2 p, double depth) {
            return (norm(p) - cone_radius_mm(body, depth, is_inner)) * std::cos(cone_angle(body));
        };
    } else {
        const auto outline = std::make_shared<Outline>(loop_of(is_inner ? body.inner : body.outer, kChord_mm));
        beside = [outline](Point2 p, double) { return -outline->depth(p); };
    }
    return [view = body.view, from, to, beside](Point3 p) {
        const Point3 q = view.to_local(p);
        return std::max({beside({q.x, q.z}, q.y), from - q.y, q.y - to});
    };
}

}  // namespace geom::parts

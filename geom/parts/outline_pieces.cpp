#include "geom/parts/internal/outline_pieces.h"

#include "geom/core/checks.h"

#include <BRepBuilderAPI_MakeEdge.hxx>
#include <BRepBuilderAPI_MakeWire.hxx>
#include <gp_Circ.hxx>
#include <gp_Elips.hxx>

#include "geom/skin/internal/occt.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kTurn = 2.0 * std::numbers::pi;
constexpr double kSameAngle = 1e-9;

Point2 turned(Point2 p, double by) {
    return {p.x * std::cos(by) - p.y * std::sin(by), p.x * std::sin(by) + p.y * std::cos(by)};
}

OutlinePiece arc_of(const FlatPoint& p, const FlatPoint& q) {
    OutlinePiece piece{.a = {p.x, p.y}, .b = {q.x, q.y}};
    if (p.bulge == 0.0) return piece;
    const Point2 chord = piece.b - piece.a, middle = (piece.a + piece.b) * 0.5;
    const double sweep = 4.0 * std::atan(p.bulge), c = norm(chord), r = c / (2.0 * std::abs(std::sin(sweep / 2.0)));
    // The centre lies to the left of the chord where the arc turns left and is less than half a circle.
    const double off = c / 2.0 / std::tan(sweep / 2.0);
    piece.centre = middle + Point2{-chord.y, chord.x} * (off / c);
    piece.rx = piece.ry = r;
    piece.from = std::atan2(piece.a.y - piece.centre.y, piece.a.x - piece.centre.x);
    piece.to = piece.from + sweep;
    return piece;
}

double angle_of(Point2 p) {
    return std::atan2(p.y, p.x);
}

/// Where a piece has a polar angle, counted on from that of its beginning.
double share_at(const OutlinePiece& piece, double onward) {
    const double begin = angle_of(piece.at(0.0));
    double lo = 0.0, hi = 1.0;
    for (int round = 0; round < 60; ++round) {
        const double mid = 0.5 * (lo + hi);
        double gone = angle_of(piece.at(mid)) - begin;
        gone -= kTurn * std::floor(gone / kTurn);
        if (gone > kTurn - 1e-6) gone = 0.0;  // the beginning itself, by rounding
        // A whole circle comes back to where it began.
        (gone < onward ? lo : hi) = mid;
    }
    return 0.5 * (lo + hi);
}

/// Pieces with the polar angles they begin at, counted on from the first.
struct Fan {
    std::vector<OutlinePiece> pieces;
    std::vector<double> begin;  ///< and the end of the last: begin[0] + one turn

    explicit Fan(const RingOutline& outline) : pieces(pieces_of(outline)) {
        double angle = angle_of(pieces.front().at(0.0));
        for (const OutlinePiece& piece : pieces) {
            double step = angle_of(piece.at(0.0)) - angle;
            step -= kTurn * std::round(step / kTurn);
            angle += step;
            begin.push_back(angle);
        }
        // Steps of more than half a turn come out short by one: only a whole circle has one piece.
        begin.push_back(begin.front() + kTurn);
    }
    /// The part between two polar angles, within one piece.
    OutlinePiece part(double from, double to) const {
        double f = from - begin.front();
        f = begin.front() + f - kTurn * std::floor((f + kSameAngle) / kTurn);
        const double t = f + (to - from);
        std::size_t i = 0;
        while (i + 1 < pieces.size() && begin[i + 1] <= f + kSameAngle) ++i;
        const double s0 = f - begin[i] <= kSameAngle ? 0.0 : share_at(pieces[i], f - begin[i]);
        const double s1 = begin[i + 1] - t <= kSameAngle ? 1.0 : share_at(pieces[i], t - begin[i]);
        return pieces[i].part(s0, s1);
    }
};

bool is_conic(const RingOutline& outline) {
    return outline.kind != RingOutline::Kind::Path;
}

gp_Pnt place(Point2 p, const Frame& view) {
    return to_occt(view.to_parent({p.x, 0.0, p.y}));
}

}  // namespace

Point2 OutlinePiece::at(double share) const {
    if (is_straight()) return a + (b - a) * share;
    const double t = from + share * (to - from);
    return centre + turned({rx * std::cos(t), ry * std::sin(t)}, turn);
}

Point2 OutlinePiece::along(double share) const {
    if (is_straight()) return b - a;
    const double t = from + share * (to - from);
    return turned({-rx * std::sin(t), ry * std::cos(t)}, turn) * (to - from);
}

OutlinePiece OutlinePiece::part(double share0, double share1) const {
    OutlinePiece out = *this;
    out.a = share0 == 0.0 ? a : at(share0);
    out.b = share1 == 1.0 ? b : at(share1);
    out.from = from + share0 * (to - from);
    out.to = from + share1 * (to - from);
    return out;
}

std::vector<OutlinePiece> pieces_of(const RingOutline& outline) {
    std::vector<OutlinePiece> pieces;
    if (is_conic(outline)) {
        OutlinePiece piece{.rx = outline.width.mm() / 2.0,
                           .ry = outline.height.mm() / 2.0,
                           .turn = outline.turn.rad(),
                           .from = 0.0,
                           .to = kTurn};
        piece.a = piece.b = piece.at(0.0);
        pieces.push_back(piece);
        return pieces;
    }
    const auto& path = outline.path;
    for (std::size_t i = 0; i < path.size(); ++i) pieces.push_back(arc_of(path[i], path[(i + 1) % path.size()]));
    return pieces;
}

Loop loop_of(const RingOutline& outline, double chord_mm) {
    Loop loop;
    for (const OutlinePiece& piece : pieces_of(outline)) {
        int steps = 1;
        if (!piece.is_straight()) {
            // Sag of a step of an ellipse: at most that of a circle of its larger axis.
            const double r = std::max(piece.rx, piece.ry), step = 2.0 * std::acos(1.0 - std::min(chord_mm / r, 0.5));
            steps = std::max(2, static_cast<int>(std::ceil(std::abs(piece.to - piece.from) / step)));
        }
        for (int i = 0; i < steps; ++i) loop.push_back(piece.at(static_cast<double>(i) / steps));
    }
    return loop;
}

double reach(const RingOutline& outline, double chord_mm) {
    double most = 0.0;
    for (const Point2& p : loop_of(outline, chord_mm)) most = std::max(most, std::hypot(p.x, p.y));
    return most + chord_mm;
}

double extent(const RingOutline& outline, Point2 direction) {
    const Point2 d = direction * (1.0 / norm(direction));
    double most = -1e300;
    for (const OutlinePiece& piece : pieces_of(outline)) {
        most = std::max({most, dot(piece.a, d), dot(piece.b, d)});
        if (piece.is_straight()) continue;
        // Where the arc runs square to the direction.
        const Point2 own = turned(d, -piece.turn);
        const double t = std::atan2(piece.ry * own.y, piece.rx * own.x);
        const double lo = std::min(piece.from, piece.to), hi = std::max(piece.from, piece.to);
        const double in = t + kTurn * std::ceil((lo - t) / kTurn);
        if (in <= hi) most = std::max(most, dot(piece.at((in - piece.from) / (piece.to - piece.from)), d));
    }
    return most;
}

bool is_seen_from_origin(const RingOutline& outline) {
    constexpr int kPlaces = 64;
    for (const OutlinePiece& piece : pieces_of(outline))
        for (int i = 0; i <= kPlaces; ++i) {
            const double s = static_cast<double>(i) / kPlaces;
            const Point2 p = piece.at(s), along = piece.along(s);
            if (cross(p, along) <= 1e-3 * norm(p) * norm(along)) return false;
        }
    return true;
}

MatchedPieces matched(const RingOutline& one, const RingOutline& other) {
    MatchedPieces out;
    const bool is_round = one.kind == RingOutline::Kind::Round || other.kind == RingOutline::Kind::Round;
    if (is_conic(one) && is_conic(other) && (is_round || one.turn.rad() == other.turn.rad())) {
        // A circle has no axes of its own: it takes those of the other.
        RingOutline first = one, second = other;
        if (first.kind == RingOutline::Kind::Round) first.turn = other.turn;
        if (second.kind == RingOutline::Kind::Round) second.turn = one.turn;
        for (int i = 0; i < 4; ++i) {
            out.one.push_back(pieces_of(first).front().part(i / 4.0, (i + 1) / 4.0));
            out.other.push_back(pieces_of(second).front().part(i / 4.0, (i + 1) / 4.0));
        }
        return out;
    }
    const Fan a(one), b(other);
    // Corners of both, and every 22.5 degrees where a curve runs: there equal parameters are nearly equal angles.
    std::vector<double> at;
    const double start = a.begin.front();
    const auto add = [&](double angle) {
        double on = angle - start;
        on -= kTurn * std::floor((on + kSameAngle) / kTurn);
        at.push_back(on);
    };
    for (const Fan* fan : {&a, &b})
        for (std::size_t i = 0; i < fan->pieces.size(); ++i) {
            add(fan->begin[i]);
            const double span = fan->begin[i + 1] - fan->begin[i];
            const int parts =
                fan->pieces[i].is_straight() ? 1 : static_cast<int>(std::ceil(span / (kTurn / 16) - 1e-6));
            for (int k = 1; k < parts; ++k) add(fan->begin[i] + span * k / parts);
        }
    std::sort(at.begin(), at.end());
    at.erase(std::unique(at.begin(), at.end(), [](double p, double q) { return q - p < 1e-4; }), at.end());
    at.push_back(kTurn);
    for (std::size_t i = 0; i + 1 < at.size(); ++i) {
        out.one.push_back(a.part(start + at[i], start + at[i + 1]));
        out.other.push_back(b.part(start + at[i], start + at[i + 1]));
    }
    // Neighbours share their ends to the bit.
    for (auto* list : {&out.one, &out.other})
        for (std::size_t i = 0; i < list->size(); ++i) (*list)[i].b = (*list)[(i + 1) % list->size()].a;
    return out;
}

TopoDS_Edge edge_of(const OutlinePiece& piece, const Frame& view) {
    if (piece.is_straight()) return BRepBuilderAPI_MakeEdge(place(piece.a, view), place(piece.b, view)).Edge();
    const Vec3 along = view.x * std::cos(piece.turn) + view.z * std::sin(piece.turn);
    const bool rises = piece.to > piece.from, is_whole = std::abs(piece.to - piece.from) >= kTurn - kSameAngle;
    // Seen from the other side an arc that falls rises.
    const Vec3 axis = rises ? -view.y : view.y;
    double from = rises ? piece.from : -piece.from, to = rises ? piece.to : -piece.to;
    gp_Ax2 ax(place(piece.centre, view), to_occt_dir(axis), to_occt_dir(along));
    if (piece.rx == piece.ry) {
        const gp_Circ circle(ax, piece.rx);
        return is_whole ? BRepBuilderAPI_MakeEdge(circle).Edge() : BRepBuilderAPI_MakeEdge(circle, from, to).Edge();
    }
    double major = piece.rx, minor = piece.ry;
    if (minor > major) {
        std::swap(major, minor);
        ax.SetXDirection(ax.YDirection());
        from -= std::numbers::pi / 2.0;
        to -= std::numbers::pi / 2.0;
    }
    const gp_Elips ellipse(ax, major, minor);
    return is_whole ? BRepBuilderAPI_MakeEdge(ellipse).Edge() : BRepBuilderAPI_MakeEdge(ellipse, from, to).Edge();
}

TopoDS_Wire wire_of(const std::vector<OutlinePiece>& pieces, const Frame& view) {
    BRepBuilderAPI_MakeWire wire;
    for (const OutlinePiece& piece : pieces) wire.Add(edge_of(piece, view));
    ENSURES(wire.IsDone());
    return wire.Wire();
}

}  // namespace geom::parts

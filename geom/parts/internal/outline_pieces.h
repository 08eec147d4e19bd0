// A ring's outline as pieces of lines, circles and ellipses: places on them, their sizes, and the kernel's edges.
//
// Frame   Point2 is (right, up) in the outline's plane; angles counter-clockwise from the right.
#pragma once

#include "geom/core/vec.h"
#include "geom/parts/internal/contour.h"
#include "geom/parts/ring_outline.h"

#include <TopoDS_Edge.hxx>
#include <TopoDS_Wire.hxx>

#include <vector>

namespace geom::parts {

/// A straight piece has no radii. An arc runs from angle `from` to `to` of its own parameter, which may fall.
struct OutlinePiece {
    Point2 a{}, b{};  ///< its ends
    Point2 centre{};
    double rx = 0.0, ry = 0.0, turn = 0.0;
    double from = 0.0, to = 0.0;

    bool is_straight() const { return rx <= 0.0; }
    Point2 at(double share) const;
    Point2 along(double share) const;  ///< derivative by the share
    OutlinePiece part(double share0, double share1) const;
};

/// In order, counter-clockwise; a circle or an ellipse is one piece.
std::vector<OutlinePiece> pieces_of(const RingOutline& outline);

/// Within `chord_mm` of the outline, corners on it.
Loop loop_of(const RingOutline& outline, double chord_mm);

/// Greatest distance of a place from the origin; never told too small, too large by the chord at most.
double reach(const RingOutline& outline, double chord_mm);

/// Greatest extent along a direction, from the origin: exact.
double extent(const RingOutline& outline, Point2 direction);

/// Polar angle of every place rises along it, seen from the origin: nothing hides behind anything.
bool is_seen_from_origin(const RingOutline& outline);

/// Both outlines cut at the same polar angles, piece by piece: what a ruled surface between them joins. Two ellipses
/// or circles about the origin whose axes lie alike are joined by their own parameter, in quarters.
/// EXPECTS: both seen from their origins
struct MatchedPieces {
    std::vector<OutlinePiece> one, other;
};
MatchedPieces matched(const RingOutline& one, const RingOutline& other);

/// The frame of an outline in a plane, of box_frame(): x right, z up, y against the plane's outward.
TopoDS_Edge edge_of(const OutlinePiece& piece, const Frame& view);
TopoDS_Wire wire_of(const std::vector<OutlinePiece>& pieces, const Frame& view);

}  // namespace geom::parts

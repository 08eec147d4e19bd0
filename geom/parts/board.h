// A piece of the cut list of a box that is put together from boards. Boards fill the wall exactly: before their holes
// their volumes add up to the box's outside less its inside.
#pragma once

#include "geom/core/vec.h"
#include "geom/skin/brep.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::parts {

/// What a wall of a box from numbers is to be: its inner face, and how far that lies behind the outer one.
struct WallSide {
    std::string name;
    std::optional<Plane> inner;  ///< outward to the outside; none: bent
    double thickness_mm = 0.0;
};

/// An edge of a board, in the order of its outline.
struct BoardEdge {
    std::string meets;        ///< the side it lies against
    double outer_mm = 0.0;    ///< its length in the outer face
    double inner_mm = 0.0;    ///< and in the inner one
    double bevel_deg = 0.0;   ///< of the cut, from square; positive: the outer face is the larger there
    double corner_deg = 0.0;  ///< between this edge and the next one, inside the outer face
};

/// One piece of the cut list. A bent one is the side of a cylinder, a cone or an arc, told as it is unrolled.
struct Board {
    std::string name;  ///< "front", "front layer 1"
    std::string side;  ///< of the box
    double thickness_mm = 0.0;
    double length_mm = 0.0, width_mm = 0.0;   ///< of the smallest rectangle that it is cut from, bevels included
    double outer_mm2 = 0.0, inner_mm2 = 0.0;  ///< of its two faces, before holes
    double volume_mm3 = 0.0;                  ///< before holes
    Plane face{};                             ///< its outer face; says nothing of a bent one
    std::vector<Point3> outer{}, inner{};     ///< corners of its two faces, counter-clockwise from outside; none of a
                                              ///< round one. The k-th edge ends at the k-th corner
    std::vector<BoardEdge> edges{};           ///< one, all round, of a round one; none of a bent one
    bool is_bent = false;
    double bend_radius_mm = 0.0;                    ///< outside, of a cylinder or an arc; of a cone at its front
    double outer_arc_mm = 0.0, inner_arc_mm = 0.0;  ///< length round the bend of the two faces, at the front
    double cone_deg = 0.0;                          ///< half angle of a cone's side against its axis
    Brep solid{};                                   ///< before holes, then as finished
};

}  // namespace geom::parts

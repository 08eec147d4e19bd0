// The box from numbers: the everyday shapes, from outside or inside sizes and walls, finished by the same features as
// the enclosure that follows a scan.
//
// Frame   of the box, mm: x to the right, y to the back, z up for the listener who looks at its front; 0, 0, 0 is the
//         left lower front corner of the box round its outside.
// Boards  board.h: sides of one rank meet in a mitre, from outer to inner edge; of others the one with the lower rank
//         runs through and the other ends at it.
#pragma once

#include "geom/parts/enclosure.h"
#include "geom/parts/ring_outline.h"

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace geom::parts {

enum class BoxShape {
    Rectangular,  ///< width, height, depth
    Wedge,        ///< width, height, depth at the bottom; any of its four sides slope up to a smaller, level top
    NosedWedge,   ///< its front is upright up to the nose's height and slopes from there to the top's depth
    Cylinder,     ///< diameter and depth, its axis from front to back
    Frustum,      ///< of a cone: diameter of the front, back_diameter and depth
    Prism,        ///< a drawn outline, pushed along one axis
};

enum class BoxSize { Width, Height, Depth, TopWidth, TopDepth, Nose, Diameter, BackDiameter };
std::string name_of(BoxSize size);  ///< as a job names it: "top_depth"

/// Which way a drawn outline is pushed, and how it is seen then: from the front (x right, z up), from the right side
/// (the front to the left, z up), or from above (x right, the back up).
enum class PrismAlong { Depth, Width, Height };

struct BoxRequest {
    BoxShape shape = BoxShape::Rectangular;
    bool sizes_are_inside = false;    ///< otherwise of the outside
    std::map<BoxSize, Length> sizes;  ///< those of the shape; the open one may be missing
    std::optional<BoxSize> solve;     ///< the one that is found for the asked net volume; none: all stay as given
    double solve_lo_mm = 0.0, solve_hi_mm = 0.0;
    std::vector<std::string> sloping;    ///< of a wedge: "front", "back", "left", "right"
    std::optional<RingOutline> outline;  ///< of a prism: lines and circular arcs
    PrismAlong along = PrismAlong::Depth;

    /// Thickness of each side, outermost layer first: a doubled side has two. Sides not named have `enclosure.wall`.
    std::map<std::string, std::vector<Length>> walls{};
    /// Sides that run through at butt joints, the first over all others; sides not named rank alike after them. Empty:
    /// all joints are mitred.
    std::vector<std::string> through{};
    std::string baffle = "front";       ///< the side that carries the driver: plane
    std::optional<Point3> driver_at{};  ///< none: where the largest circle fits on the baffle

    /// Volume, wall, material, features and making. Its baffle's plane, thickness and travel come from the shape.
    EnclosureRequest enclosure;
};

/// The box before its features, and what of it has a closed form.
struct BareBox {
    Brep outer, air;
    Plane baffle;  ///< outer face of the side that carries the driver; its point: the middle of the largest circle that
                   ///< both its faces hold
    double baffle_mm = 0.0;  ///< its thickness, all layers
    Volume outside, inside;  ///< closed forms
    std::vector<Board> boards;
    std::vector<WallSide> sides;
    /// To the outside and to the inside: negative in it, exact there, and no more than true beyond.
    std::function<double(Point3)> distance_mm, air_mm;
    Aabb box;
};
/// Faults: BadJob      sizes that make no shape: which, what would do
///         Impossible  walls that leave no inside, or not the same sides inside as outside
Result<BareBox> bare_box(const BoxRequest& request);

/// The closed form of the inside alone.
/// Faults: those of bare_box()
Result<Volume> inside_of(const BoxRequest& request);

struct MadeBox {
    Made made;           ///< its room is the box's own outside
    BoxRequest request;  ///< with what was solved put in
};
/// Faults: those of bare_box() and add_features();
///         Impossible  no size within the asked range holds the volume: what the range holds
Result<MadeBox> make_box(const BoxRequest& request, const Context& context);

}  // namespace geom::parts

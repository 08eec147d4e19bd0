// From the scanned surface to the room a part may fill: clearance, covering, limits, keep-outs, the scan's own rim,
// leaks, the way in, and outside rounding, all acting on one field.
//
// Frame     all inputs in the vehicle frame, mm.
// Sign      of the field: field.h.
// Method    the project's field-method notes; see DEVELOPERS.md for where ours differs and why.
#pragma once

#include "geom/core/context.h"
#include "geom/scan/surface.h"
#include "geom/space/field.h"
#include "geom/space/motion.h"
#include "geom/space/way_in.h"

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace geom::space {

/// How the edges of a limit's plane come out: rounded like all others, sharp outside, or sharp outside and inside.
enum class LimitEdges { Rounded, SharpOutside, Sharp };

/// A named plane the part must stay behind.
struct Limit {
    std::string name;
    Plane plane;
    Length clearance = Length::mm(0);
    bool covering = true;  ///< the bare part stops short by the covering
    LimitEdges edges = LimitEdges::Rounded;
    std::vector<std::string> sharp_with{};  ///< names of limits: the edge in which this one meets each stays sharp
};

struct BoxShape {
    Point3 min, max;
};  ///< along the vehicle axes
struct CylinderShape {
    Point3 from, to;
    double radius_mm = 0.0;
};  ///< flat ends
struct SphereShape {
    Point3 centre;
    double radius_mm = 0.0;
};
using KeepOutShape = std::variant<BoxShape, CylinderShape, SphereShape, TriMesh>;

struct KeepOut {
    std::string name;
    KeepOutShape
        shape;  ///< a mesh that moves may be open: it is then a sheet without thickness, and the report says so
    Length clearance = Length::mm(0);
    bool covering = true;
    Motion motion{};                    ///< of the shape as drawn; the seated part keeps off all that the shape sweeps
    OnWayIn on_way_in = OnWayIn::From;  ///< where a moving one is while the part goes in
    bool blocks_tools = true;           ///< false: kept free for a tool or a hand, which may go there
};

/// A plane beyond which space is unscanned but free for the way in.
struct OpenPlane {
    std::string name;
    Plane plane;
};

struct RoomOptions {
    Point3 air;    ///< certainly in the air of the gap
    Plane baffle;  ///< bare outer face at t = 0; outward from the air to the listener
    double travel_lo_mm = 0.0, travel_hi_mm = 0.0;
    Vec3 up{0, 0, 1};
    Length clearance = Length::mm(4);
    Length covering = Length::mm(0);
    Length edge_radius = Length::mm(8);  ///< least outside rounding
    Length inner_radius =
        Length::mm(4);           ///< least inside rounding; here only for how far the body goes on past a sharp limit
    std::optional<Vec3> insert;  ///< direction of going in, unit; none: straight against outward
    std::vector<Move> moves;     ///< the way in as moves, in the order of going in; then `insert` does not count
    std::optional<Length> insert_clearance;  ///< defaults to clearance
    bool comes_in = true;                    ///< false: it need not come in at all; only to tell what the way in costs
    std::vector<Limit> limits;
    std::vector<KeepOut> keep_outs;
    std::vector<OpenPlane> open;       ///< none: the outermost baffle plane
    Length voxel = Length::mm(0);      ///< 0: chosen from wall, rounding and clearance
    Length wall = Length::mm(6);       ///< for the choice of the voxel, and how far the body goes on past the mouth
    std::optional<Length> least_wall;  ///< where the wall is still to be found: then `wall` is the most it may be
    double memory_limit_bytes = 900e6;
};

struct RoomReport {
    double voxel_mm = 0.0;
    double bound_mm = 0.0;  ///< the field may claim this much more room than there is, away from sharp edges and holes
    double edge_bound_mm = 0.0;   ///< the same at sharp edges that stand into the gap
    double field_bound_mm = 0.0;  ///< the part of both that the field adds to what the scan leaves open
    std::size_t nodes = 0;
    double widest_leak_mm = 0.0;  ///< radius of the widest remaining way out below the clearance (0: none)
    std::vector<std::string> notes;
};

/// The plane face of a limit whose edges stay sharp.
struct SharpCut {
    std::string name;
    Plane face;                 ///< bare outer face, vehicle frame
    bool is_inside_too = true;  ///< the air ends in a sharp plane too, a wall behind it
};

/// Along an edge, from its own zero.
struct Stretch {
    double from_mm = 0.0, to_mm = 0.0;
    double length_mm() const { return to_mm - from_mm; }
};
/// The edge in which two limits meet, asked to stay sharp while all else is rounded.
struct SharpEdge {
    std::string first, second;  ///< names of the limits
    Plane a, b;                 ///< their bare outer faces, vehicle frame
    Point3 at;                  ///< its zero: the place of the edge nearest to the air's own point
    Vec3 along;                 ///< unit
    std::vector<Stretch> free;  ///< where, before any rounding, nothing but the two planes bounds the room by it
};

struct Room {
    /// Signed distance to the largest body that keeps every rule, NOT cut by the baffle plane: it reaches past the
    /// outermost baffle place, so that any plane of the travel cuts it cleanly. Exact distance from -(wall + 6 h) to
    /// +4 h; beyond, the field saturates.
    Field outer;
    RoomReport report;
    /// With sharp limits: the same body before they cut it. It goes on past them, straight, as if they were not there,
    /// with all edges rounded; `outer` is this cut by `cuts`. Empty without sharp limits.
    Field beyond{};
    std::vector<SharpCut> cuts{};
    std::vector<SharpEdge> edges{};  ///< those asked for; `outer` has them rounded
};

/// Faults: Leak         a way out wider than the clearance: where, how wide, what to do
///         AirBlocked   `air` inside an obstacle, outside the scanned gap or in no room
///         Impossible   nothing is left of the room after insertion and rounding
///         MemoryLimit  the hint gives the finest voxel that fits
Result<Room> free_room(const scan::Surface& surface, const RoomOptions& options, const Context& context);

/// The air inside a wall: {outer < -wall}, opened by `inner_radius`. Same grid, exact distance near its zero set.
Result<Field> cavity(const Field& outer, Length wall, Length inner_radius, const Context& context);

/// The air of a room, sharp where its limits are.
struct Cavity {
    Field air;
    Field
        beyond;  ///< before the cuts that are sharp inside too, each a wall behind its face; empty when there are none
    std::vector<Plane> cuts;
};
Result<Cavity> cavity(const Room& room, Length wall, Length inner_radius, const Context& context);

/// Volume and section area of {field < 0, box y > y} for every y, in one pass (Kuhn tetrahedra, exact for the linear
/// interpolant), with the chord correction of the field-method notes.
class VolumeTable {
public:
    static VolumeTable of(const Field& field);
    /// Volume of the part of the body with box y greater than `y_mm`.
    Volume volume_behind(double y_mm) const;
    Area section_at(double y_mm) const;
    /// The y with volume_behind(y) == v; none when v is more than the whole body or not positive.
    std::optional<double> plane_for(Volume v) const;

    std::vector<double> volume_mm3, area_mm2;  ///< at knots lo + i h
    double lo_mm = 0.0, h_mm = 0.0;
};

}  // namespace geom::space

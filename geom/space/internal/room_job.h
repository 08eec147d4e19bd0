// A room's options in box numbers, the grid that suits them, and whether `air` can be in the air at all.
#pragma once

#include "geom/space/internal/keep_out.h"
#include "geom/space/internal/swept.h"
#include "geom/space/room.h"

#include <array>
#include <memory>
#include <string>
#include <vector>

namespace geom::space::internal {

/// A plane that closes the room: the body stays where value() <= 0. Box frame.
struct Closing {
    std::string name;
    Plane plane;
    double inset_mm = 0.0;
    bool is_open = false;  ///< closes the room, but not the way in
    LimitEdges edges = LimitEdges::Rounded;
    double value(Point3 box) const { return plane.height(box) + inset_mm; }
};

struct Obstacle {
    std::string name;
    std::unique_ptr<ShapeDistance> shape;
    double margin_mm = 0.0;  ///< clearance and covering
    Aabb box;                ///< of the shape, box frame

    /// One that moves: `shape` is all it sweeps, held on the room's grid; on the way in it may stand in one pose.
    std::unique_ptr<ShapeDistance> posed{};
    Aabb posed_box{};
    OnWayIn on_way_in = OnWayIn::Swept;
    std::unique_ptr<SweptGrid> on_grid{};

    /// What of it is in the way of the part coming in; none when it is out of the way.
    const ShapeDistance* in_way() const {
        return posed ? posed.get() : on_way_in == OnWayIn::None ? nullptr : shape.get();
    }
    const Aabb& box_in_way() const { return posed ? posed_box : box; }
};

enum class Stand { Seated, GoingIn };

struct RoomJob {
    Frame box;                      ///< vehicle_from_box
    double clearance_mm = 0.0;      ///< bare part to surface, standing
    double way_clearance_mm = 0.0;  ///< and on the way in
    double mouth_y_mm = 0.0;        ///< outermost baffle place
    double radius_mm = 0.0, wall_mm = 0.0;
    double inner_radius_mm = 0.0;
    Vec3 out;                      ///< direction of leaving, box axes; of moves, straight out of the mouth
    WayIn way;                     ///< the moves, if the way in is given as such, box frame
    Point3 air;                    ///< box frame
    std::vector<Closing> closing;  ///< limits, and open planes: nothing grows beyond
    std::vector<Plane> open;       ///< box frame; beyond them the way is free
    bool opens_at_mouth_alone = true;
    std::vector<Obstacle> obstacles;
    std::vector<std::string> notes;

    /// Takes the keep-outs that move to the nodes of a grid; has to be called before the rows of it are raised.
    void sweep_on(const GridSpec& grid);
    /// Whether some keep-out stands otherwise while the part goes in.
    bool moves_aside() const;
    bool is_beyond_open(Point3 p) const;
    /// Raises a row of nodes (mm, negative free) to what the planes forbid: all that close the room, or limits alone.
    void raise_to_planes(const GridSpec& grid, int j, int k, bool limits_alone, float* row) const;
    /// The same for the keep-outs: all they sweep, or as they stand while the part goes in.
    void raise_to_obstacles(const GridSpec& grid, int j, int k, Stand stand, float* row) const;
    /// Raises the whole field to what the convex keep-outs forbid all along the way in: exact, they have no noise.
    void raise_to_swept_obstacles(const GridSpec& grid, std::vector<float>& mm) const;
};

/// Faults: BadJob  a keep-out without sense
Result<RoomJob> resolved(const RoomOptions& options);

struct RoomGrid {
    GridSpec grid;
    int mouth = 0;              ///< index along y of the nodes in the outermost baffle place
    std::array<int, 3> seed{};  ///< node of `air`
    bool is_cut = false;        ///< to what a coarse flood from `air` reaches, not the whole scan
};

/// Lays the grid over the scan's box as far as the closing planes leave it; its planes of nodes follow the baffle.
///
/// A scan much larger than its gap is cut to what a coarse flood from `air` reaches, unless `whole` is asked for.
///
/// Faults: AirBlocked   `air` outside the scan, in front of the baffle, beyond a limit or in a keep-out
///         MemoryLimit  the hint names the finest voxel that fits
Result<RoomGrid> laid(const RoomJob& job, const RoomOptions& options, const scan::Surface& surface, bool whole = false);

/// How far the body goes on past a limit whose edges stay sharp, so that the rounding of its end stays beyond.
double past_sharp_mm(const RoomJob& job, double h_mm);

/// How many nodes the body goes on in front of the mouth.
int nodes_past_mouth(const RoomJob& job, double h_mm);

Fault space_fault(FaultCode code, std::string what, std::string hint, std::optional<Point3> where = {});

}  // namespace geom::space::internal

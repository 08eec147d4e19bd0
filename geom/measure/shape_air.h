// The air in a shape that others made: in a hollow with openings, and in a shape of which only the outside is drawn.
#pragma once

#include "geom/core/context.h"
#include "geom/core/tri_mesh.h"
#include "geom/core/units.h"
#include "geom/measure/shape_volume.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::measure {

/// An opening as asked for: a point in it, and how wide it is at most. mm.
struct AskedOpening {
    Point3 at;
    double width_mm = 0.0;
};

/// How it was closed.
struct ClosedOpening {
    Point3 asked;
    Plane plane;            ///< of the inner face round it, outward away from the air; of a border: through its middle
    double area_mm2 = 0.0;  ///< of the lid
    double width_mm = 0.0;  ///< twice the farthest point of its outline from the middle
    std::string how;        ///< "flush with the inner face", "lid over a border", "by the inner face continued ..."
};

struct ShapeAir {
    Volume volume;
    Volume by_lids;      ///< second method: the faces that look at the air, closed by lids over their borders
    Volume bound;        ///< on the difference of the two: rounding, and lids that are not flat
    Volume uncertainty;  ///< by how well curved faces could be continued
    std::string method = "the mesh cut flush with the inner face round each opening";
    std::string other = "lids over the borders of the faces that look at it";
    Area wall;  ///< of the faces that look at the air
    std::vector<ClosedOpening> closed;
};

/// `mesh`: tidied, outward (ShapeVolume::mesh). Walls with a thickness: each opening's sharp lip is closed by the face
/// continued over it; where all are plane the mesh is also cut flush with them (air_of_mesh()), which is the only way
/// for lips that are not sharp. A surface without thickness is closed by lids over its borders, or by the face
/// continued where a border lies within a bent one.
///
/// Faults: AirBlocked   an opening is not found, or others are left open, the text names a place; or `inside` lies in
///                      the material or outside
Result<ShapeAir> air_of_shape(const TriMesh& mesh, Point3 inside, const std::vector<AskedOpening>& openings,
                              const Context& context);

/// The air of solids by their faces, where each opening is a hole in one face that looks at the air: closed by the
/// face's own surface, so exact. Without openings asked for, every such hole that leads to the outside is one, and what
/// lies behind the others is a pocket of the air. Second method: triangles of the same faces. None where openings are
/// of another kind, or the air would run out: then air_of_shape() of the triangles tells what there is to tell.
/// Faults: Interrupted, Internal
Result<std::optional<ShapeAir>> air_of_breps(const std::vector<NamedBrep>& shapes, Point3 inside,
                                             const std::vector<AskedOpening>& openings, Length chord,
                                             const Context& context);

/// What lies deeper than `wall` in a closed mesh.
struct InsideOfWall {
    Volume inside;
    Volume wall;
    Volume uncertainty;  ///< of both, from two steps of the grid
    double step_mm = 0.0;
};

/// Method  boxes halved where the depth's surface may pass, down to `step`; there the surface counts as the plane
/// square
///         to the way to the nearest point. Uncertainty: twice the difference to boxes twice as large.
/// Faults: Interrupted
Result<InsideOfWall> inside_of_wall(const TriMesh& mesh, Length wall, const Context& context);

}  // namespace geom::measure

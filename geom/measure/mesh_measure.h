// What a triangle mesh is, judged as it stands: closed, oriented, self-crossing, its components, its volume; and the
// air inside a mesh with openings.
#pragma once

#include "geom/core/context.h"
#include "geom/core/tri_mesh.h"
#include "geom/core/units.h"

#include <filesystem>
#include <string>
#include <vector>

namespace geom::measure {

struct MeshMeasure {
    bool closed = false;         ///< every edge shared by exactly two triangles
    bool oriented = false;       ///< and run in opposite directions by them
    std::size_t degenerate = 0;  ///< a repeated corner, or three corners on a line
    int components = 0;          ///< joined by edges
    Volume volume;               ///< signed
    Area area;
    Aabb box;
    Point3 centre;  ///< of the enclosed volume; of the box where there is none
};
MeshMeasure measure_mesh(const TriMesh& mesh);

/// The component (0, 1, ... in order of first triangles) that each triangle belongs to, joined by edges.
std::vector<int> components_of(const TriMesh& mesh);

/// The mesh as an STL file would hold it: coordinates rounded to single precision, vertices that are then equal
/// joined, triangles with a repeated corner and vertices without a triangle dropped.
TriMesh in_single_precision(const TriMesh& mesh);

/// Pairs of triangles that cross (sharing a vertex or an edge is no crossing); at most `most` pairs are returned.
/// Two triangles on the same three vertices, and two that share an edge and lie folded on each other, do cross.
struct Crossing {
    std::size_t a = 0, b = 0;
    Point3 at;
};
Result<std::vector<Crossing>> self_crossings(const TriMesh& mesh, std::size_t most = 16);

/// Whether an edge of one triangle runs through the inside of the other, from one side to the other: what only touches,
/// or lies on one another, does not. Exact.
bool pierces(const TriMesh& mesh, std::size_t a, std::size_t b);

/// Reads a binary or ASCII STL, joining vertices that are equal to the bit; no repair of any kind.
Result<TriMesh> read_stl(const std::filesystem::path& file);

/// An opening to be closed flush with a plane before the air is measured.
struct Opening {
    std::string name;
    Plane plane;             ///< the cap lies here; outward away from the air
    double radius_mm = 0.0;  ///< the opening lies within this distance of plane.point (in the plane)
    bool joins = false;      ///< no cap: two products touch here, and the air goes on beyond the plane in the other one
    /// Of a narrow opening: it lies within half_width_mm of the line through plane.point along this, unit, too. 0:
    /// round.
    Vec3 along{};
    double half_width_mm = 0.0;
};

/// Volume of the air that holds `air` inside the mesh of a finished part, each opening capped at its plane.
///
/// `part` is one product's mesh, or several written one after the other with no vertices shared between them; where
/// two products touch at a plane (shell and separate baffle) give that plane as an opening with `joins`.
///
/// Method: the mesh is cut along each plane wherever the section has a closed loop inside the opening's radius, both
/// lips of the cut are capped, and what falls apart is a set of closed surfaces. The one that runs round `air` with
/// its solid outside is the air. Shares no code with the field or the B-rep integrals. Exact for the mesh.
/// The cut lies 0.005 mm behind the plane (holes usually start in a face of that plane, where a section means nothing),
/// or, where no loop is there, as much before it; the sliver between is made good as section area times that depth.
/// Faults: NotSound  an opening has no closed loop at its plane, or no component encloses `air`
Result<Volume> air_inside(const TriMesh& part, const std::vector<Opening>& openings, Point3 air);

/// The same, and the surfaces: what bounds the air (caps left out), seen from the solid.
struct AirOfMesh {
    Volume volume;
    TriMesh wall_side;      ///< triangles of the part that face the air
    std::size_t loops = 0;  ///< cut loops that were capped
};
Result<AirOfMesh> air_of_mesh(const TriMesh& part, const std::vector<Opening>& openings, Point3 air);

/// The meshes one after the other, no vertices shared.
TriMesh merged(const std::vector<TriMesh>& meshes);

/// How often the closed mesh runs round `p` (1 inside, 0 outside, -1 inside of one that is turned over); summed solid
/// angles, van Oosterom and Strackee 1983.
double winding_number(const TriMesh& mesh, Point3 p);

}  // namespace geom::measure

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
    bool closed = false;     ///< every edge shared by exactly two triangles
    bool oriented = false;   ///< and run in opposite directions by them
    std::size_t degenerate = 0;
    int components = 0;
    Volume volume;           ///< signed
    Area area;
    Aabb box;
    Point3 centre;
};
MeshMeasure measure_mesh(const TriMesh& mesh);

/// Pairs of triangles that cross (sharing a vertex or an edge is no crossing); at most `most` pairs are returned.
struct Crossing { std::size_t a = 0, b = 0; Point3 at; };
Result<std::vector<Crossing>> self_crossings(const TriMesh& mesh, std::size_t most = 16);

/// Reads a binary or ASCII STL, joining vertices that are equal to the bit; no repair of any kind.
Result<TriMesh> read_stl(const std::filesystem::path& file);

/// An opening to be closed flush with a plane before the air is measured.
struct Opening {
    std::string name;
    Plane plane;         ///< the cap lies here; outward away from the air
    double radius_mm = 0.0;  ///< the opening lies within this distance of plane.point (in the plane)
};

/// Volume of the air that holds `air` inside the mesh of a finished part, each opening capped at its plane.
/// Method: triangles are cut at each plane inside the opening's radius, the loops are capped, the component that
/// encloses `air` is taken. Shares no code with the field or the B-rep integrals.
/// Faults: NotSound  an opening has no closed loop at its plane, or no component encloses `air`
Result<Volume> air_inside(const TriMesh& part, const std::vector<Opening>& openings, Point3 air);

}  // namespace geom::measure

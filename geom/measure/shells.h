// A triangle mesh of unknown origin taken apart into shells, with what is wrong with it: what has to be known before
// its volume may be told.
//
// Closed    every edge is run as often one way as the other, so that the triangles have no border; then the enclosed
//           volume is exact, also where more than two triangles share an edge.
// Tidied    what changes no volume is put right first and counted: triangles with a repeated corner are dropped,
//           triangles on the same three vertices are left once (two that turn opposite ways: not at all), triangles
//           that turn against their neighbours are turned. Shells that cannot be turned evenly are told as such.
// Cost      linear in the triangles but for the sorting of each vertex's few edges.
#pragma once

#include "geom/core/tri_mesh.h"
#include "geom/core/units.h"

#include <cstddef>
#include <vector>

namespace geom::measure {

/// A closed way along border edges, and a fan of triangles from its middle that closes it.
struct BorderLoop {
    std::vector<std::uint32_t> vertices;  ///< in the order that the lid runs them
    Point3 middle;                        ///< of its length
    Vec3 normal;                          ///< of the lid, unit, outward where the shell's triangles are; 0: no area
    double length_mm = 0.0;
    double width_mm = 0.0;     ///< twice the farthest vertex from the middle
    double flatness_mm = 0.0;  ///< farthest vertex from the plane through the middle
    double lid_mm2 = 0.0;      ///< area of the fan
};

struct MeshShell {
    std::size_t first = 0, count = 0;  ///< triangles of Shells::mesh
    bool closed = false;
    bool two_sided = true;    ///< can be turned evenly
    std::size_t turned = 0;   ///< triangles turned to agree with the rest of the shell
    std::size_t crowded = 0;  ///< edges of more than two triangles
    std::vector<BorderLoop> loops;
    double volume_mm3 = 0.0;       ///< signed tetrahedra; of an open shell with its lids
    double by_sections_mm3 = 0.0;  ///< the sections' areas, integrated along z; lids as above
    double area_mm2 = 0.0;         ///< without lids
    Vec3 moment_mm4;               ///< of the volume, about the origin
    Aabb box;
};

struct Shells {
    TriMesh mesh;  ///< tidied, triangles in the order of the shells
    std::vector<MeshShell> shells;
    std::size_t collapsed = 0;  ///< triangles with a repeated corner, dropped
    std::size_t doubled = 0;    ///< triangles dropped because another one has the same three vertices
    std::size_t slivers = 0;    ///< triangles without area that were kept: three corners on a line

    TriMesh of_shell(std::size_t i) const;
    /// The lid of a loop as triangles of its own.
    TriMesh lid(const BorderLoop& loop) const;
};

/// Vertices that are equal to the bit must be one already.
Shells take_apart(TriMesh mesh);

/// The volume that closed triangles enclose by another path than signed tetrahedra: the area of each section square to
/// `axis` by Green's theorem, integrated along the axis exactly (a triangle gives a quadratic either side of its middle
/// vertex). Equal for closed meshes up to rounding; what differs was open.
double volume_by_sections_mm3(const TriMesh& mesh, int axis);

/// Vertices that are equal to the bit become one, vertices without a triangle go.
TriMesh join_equal(const TriMesh& mesh);

/// Of the named vertices, those nearer to one another than `within` are made one, chains included; the farthest that
/// one was moved.
double weld(TriMesh& mesh, std::vector<std::uint32_t> vertices, double within_mm);

}  // namespace geom::measure

// What a B-rep solid is: volume, area, centre, boxes, validity, faces, sections, tessellation.
//
// Volumes   untrimmed B-spline patches exactly per knot span (Gauss-Legendre of sufficient order), everything else by
//           the kernel's adaptive Gauss-Kronrod form; never by its default call, which is 0.3 % off on splines.
#pragma once

#include "geom/core/context.h"
#include "geom/core/tri_mesh.h"
#include "geom/core/units.h"
#include "geom/skin/brep.h"

#include <string>
#include <vector>

namespace geom::measure {

struct SolidMeasure {
    Volume volume;
    Area area;
    Point3 centre;        ///< centre of mass at even density
    Aabb box;             ///< tight
    bool valid = false;   ///< BRepCheck
    bool closed = false;  ///< every edge used twice, opposite ways
    int solids = 0, shells = 0, faces = 0, bspline_faces = 0, plane_faces = 0, cylinder_faces = 0;
    double max_tolerance_mm = 0.0;  ///< largest tolerance stored on a vertex, edge or face
};

Result<SolidMeasure> measure_solid(const Brep& solid, const Context& context);

/// Triangles of the shape within `chord` of it; degenerate facets dropped, shared vertices joined.
Result<TriMesh> tessellate(const Brep& shape, Length chord, const Context& context);

/// Area of the section of the solid's material by a plane, mm^2, and the loops' lengths.
struct Section {
    Area area;
    double least_thickness_mm = 0.0;  ///< smallest width of the section's largest piece (0 when empty)
};
Result<Section> section(const Brep& solid, const Plane& plane);

/// A STEP file read back: product names with their solids. Files of unknown origin must not be given here: a dangling
/// reference crashes the kernel's reader.
struct StepProduct {
    std::string name;
    Brep shape;
};
Result<std::vector<StepProduct>> read_step(const std::string& file);

}  // namespace geom::measure

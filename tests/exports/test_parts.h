// Finished parts made with the kernel's primitives: what the exports are tried on, with volumes known in closed form
// where they have one.
#pragma once

#include "geom/core/random.h"
#include "geom/parts/enclosure.h"
#include "geom/scan/surface.h"

namespace test_parts {

/// A rounded box with a rounded void, a driver cut-out, eight bolt holes and a terminal hole; the baffle looks along
/// -y.
geom::Brep hollow_box(double width_mm, double depth_mm, double height_mm, double wall_mm, double round_mm);
/// The sharp box without any feature: volume width x depth x height.
geom::Brep plain_box(double width_mm, double depth_mm, double height_mm);
/// Two sharp boxes, one the void of the other; volume outer - inner.
geom::Brep box_with_void(double width_mm, double depth_mm, double height_mm, double wall_mm);
/// A solid lofted through five turned and swollen sections, one smooth B-spline side, two plane ends, a cut-out.
geom::Brep loft();
/// A closed solid whose one B-spline face has n x n control points in a bumpy pattern: for sizes of files.
geom::Brep bumpy_solid(int n);

/// Closed mesh by the kernel's mesher, vertices joined by place.
geom::TriMesh mesh_of(const geom::Brep& shape, double chord_mm);

/// A gap round a part: two seat sides, a floor and a back wall, as points with normals.
geom::scan::Surface gap_round(const geom::Aabb& box, double clearance_mm, std::size_t points);

/// One product called "shell" (or shell and baffle), with its planes and figures filled in.
geom::parts::Made made_of(const geom::Brep& solid, const geom::Aabb& box);
geom::parts::EnclosureRequest request();

}  // namespace test_parts

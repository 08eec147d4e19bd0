// The solids of the reference's tables, with what is printed there and the formula behind it: as B-rep where a kernel
// has their faces, as triangles between two sure bounds where it has not.
#pragma once

#include "geom/core/tri_mesh.h"

#include <TopoDS_Shape.hxx>

#include <array>
#include <functional>
#include <vector>

namespace reference {

/// A number as printed; mm, mm^2, mm^3.
struct Printed {
    double value = 0.0;
    double last_digit = 0.0;  ///< one unit of it
};

/// Where the reference has the value from.
enum class Marker {
    Computed,         ///< by the classical formula
    VerifiedFormula,  ///< the formula was read in print
};

struct Solid {
    const char* name;
    const char* section;  ///< of the reference
    Marker marker;
    Printed volume;
    double formula_mm3;
    TopoDS_Shape shape;
    Printed area;  ///< of the whole surface; 0: not in the table
};
/// Sections 4, 5, 5.1, 5.2.
const std::vector<Solid>& solids();

/// A convex body whose section by (x, y) is a superellipse of exponent 2/e2, shrunk along z with exponent 2/e1:
/// ellipsoid (1, 1), Lame solids (e1 = e2), superellipsoids.
struct Superellipsoid {
    const char* name;
    double e1, e2;
    Marker marker;
    Printed volume;

    double formula_mm3() const;
    /// Farthest the body reaches along n: the norm that is dual to its own.
    double support(geom::Vec3 n) const;
    /// Vertices on its surface, n by 2n.
    geom::TriMesh mesh(int n) const;
    /// At least the body's volume: each tetrahedron from the middle over a triangle, stretched until its base lies
    /// outside. The mesh's own volume is at most the body's, since the body is convex.
    double upper_mm3(const geom::TriMesh& mesh) const;
};
/// Half axes 150, 100, 60.
constexpr std::array<double, 3> kHalfAxes{150.0, 100.0, 60.0};
const std::vector<Superellipsoid>& superellipsoids();

/// A cylinder of radius 50, height 100 by n sides and m bands, each turned by half a side against the last.
geom::TriMesh lantern(int n, int m);
/// A right prism over a polygon that goes round counter-clockwise.
geom::TriMesh prism(const std::vector<std::array<double, 2>>& outline, double height_mm);

}  // namespace reference

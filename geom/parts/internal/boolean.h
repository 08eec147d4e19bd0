// Booleans that are checked as they are made, and solids put together from faces without any.
//
// Checked   no error of the kernel, the wanted number of solids, BRepCheck valid, tolerances no larger than
//           kMostTolerance_mm, and the change of volume against the piece in common. A fault names the feature.
#pragma once

#include "geom/core/result.h"
#include "geom/skin/internal/occt.h"

#include <TopTools_ListOfShape.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Shell.hxx>
#include <TopoDS_Solid.hxx>
#include <TopoDS_Wire.hxx>

#include <string>
#include <vector>

namespace geom::parts {

/// Largest tolerance that a boolean may leave on a vertex, an edge or a face.
constexpr double kMostTolerance_mm = 0.02;

struct BooleanResult {
    TopoDS_Solid solid;
    double common_mm3 = 0.0;    ///< volume that solid and tools had in common
    double tolerance_mm = 0.0;  ///< largest stored on the result
};

/// solid minus all tools. Tools must not touch one another.
/// `least_mm3`, `most_mm3`: what the common volume may be.
Result<BooleanResult> cut(const std::string& feature, const TopoDS_Shape& solid, const TopTools_ListOfShape& tools,
                          double least_mm3, double most_mm3);
/// solid together with all tools, likewise.
Result<BooleanResult> fuse(const std::string& feature, const TopoDS_Shape& solid, const TopTools_ListOfShape& tools,
                           double least_mm3, double most_mm3);

/// What lies on the two sides of a plane, each piece checked: `front` is where it points. The pieces share the faces in
/// the plane, and each face that the plane does not meet is the solid's own.
struct Pieces {
    std::vector<TopoDS_Solid> front, behind;
};
Result<Pieces> pieces_at(const std::string& feature, const TopoDS_Shape& solid, const Plane& plane);

/// The two sides of a plane: `front` is where it points.
struct Halves {
    TopoDS_Solid front, behind;
};
/// Faults: Internal  unless each side is one solid
Result<Halves> split(const std::string& feature, const TopoDS_Shape& solid, const Plane& plane);

/// One solid of faces that share their edges; the first face keeps its orientation, which the others are given.
Result<TopoDS_Solid> solid_of_faces(const std::string& feature, const std::vector<TopoDS_Face>& faces);
/// Outer solid with the other one's shell as a void.
TopoDS_Solid solid_with_void(const TopoDS_Solid& outer, const TopoDS_Solid& inside);

/// The faces of a solid, and among them the plane one that lies in `plane` and looks along its outward.
std::vector<TopoDS_Face> faces_of(const TopoDS_Shape& shape);
Result<TopoDS_Face> face_in_plane(const std::string& feature, const TopoDS_Shape& solid, const Plane& plane);
/// `faces` with one of them replaced.
std::vector<TopoDS_Face> replaced(std::vector<TopoDS_Face> faces, const TopoDS_Face& old_face,
                                  const TopoDS_Face& new_face);

/// A plane face with holes more; each wire lies in its plane, inside it, away from the others.
TopoDS_Face with_holes(const TopoDS_Face& face, const std::vector<TopoDS_Wire>& holes);
/// The plane face within one wire.
TopoDS_Face disc(const Plane& plane, const TopoDS_Wire& wire);
/// A circle about the plane's outward.
TopoDS_Wire circle(const Plane& plane, double radius_mm);

/// The wall that a wire in a plane sweeps along `by`.
struct Wall {
    TopoDS_Wire from, to;  ///< `from` is the wire given, shared with the faces
    std::vector<TopoDS_Face> faces;
};
Wall wall(const TopoDS_Wire& wire, Vec3 by);

/// Exact per knot span on splines, trimmed or not (geom/measure); nothing else of the solid is looked at.
double volume_mm3(const TopoDS_Shape& solid);

/// BRepCheck, one solid, positive volume, tolerance: what every product is held to.
Status check_solid(const std::string& feature, const TopoDS_Shape& solid, double* tolerance_mm = nullptr);

}  // namespace geom::parts

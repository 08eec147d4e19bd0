// Plane faces of a solid as loops of lines and arcs.
#pragma once

#include "geom/parts/flat_drawing.h"
#include "geom/parts/internal/contour.h"
#include "geom/skin/internal/occt.h"

#include <TopoDS_Face.hxx>

#include <optional>
#include <vector>

namespace geom::parts {

/// How far arcs may lie off what is neither line nor circle.
struct LoopTolerance {
    double ellipse_mm = 0.005, spline_mm = 0.01;
};

/// A closed border: counter-clockwise, and its circle where it is one.
struct FlatLoop {
    FlatPath path;
    std::optional<FlatCircle> circle;

    double area_mm2() const;
    bool holds(Point2 p) const;  ///< by arcs cut into chords
    Loop chords(double within_mm) const;
};
struct FlatFace {
    FlatLoop outer;
    std::vector<FlatLoop> holes;
    bool looks_along = false;  ///< out of the solid is along z
};

/// z of the drawing outward: x to the right and y up for one who looks against it. `up` along it: some direction.
Frame drawing_frame(const Plane& plane, Vec3 up);

/// A plane face in a frame of its plane.
FlatFace flat_face(const TopoDS_Face& face, const Frame& frame, const LoopTolerance& tolerance = {});

/// The plane faces that lie in z = 0 of the frame, in the numbers of the frame; their sides do not count.
/// Throws what the kernel throws.
std::vector<FlatFace> faces_in(const TopoDS_Shape& shape, const Frame& frame, const LoopTolerance& tolerance = {});

/// As the circle that it is, or as a path.
void add(FlatDrawing& drawing, FlatLoop loop, Operation operation);

}  // namespace geom::parts

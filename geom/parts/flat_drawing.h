// What a flat piece looks like to the machine that cuts it: outlines of lines and arcs, holes, bend lines and words,
// each with the operation that makes it.
//
// Frame   of the piece, mm: x to the right and y up for one who looks at the face that is worked from.
#pragma once

#include <string>
#include <vector>

namespace geom::parts {

/// What the machine does; one layer each in a drawing. Reference: nothing, it is drawn for whoever finishes by hand.
enum class Operation { Outline, ThroughHole, Pocket, Countersink, BendLine, Text, Reference };

/// A corner of a path and how it goes on: straight, or by an arc. `bulge` is the tangent of a quarter of the arc's
/// angle, positive when it turns counter-clockwise.
struct FlatPoint {
    double x = 0.0, y = 0.0, bulge = 0.0;
};
/// Lines and arcs, closed or open; the last corner's bulge counts only when closed.
struct FlatPath {
    Operation operation = Operation::Outline;
    std::vector<FlatPoint> points;
    bool is_closed = true;
};
struct FlatCircle {
    Operation operation = Operation::ThroughHole;
    double x = 0.0, y = 0.0, radius_mm = 0.0;
};
struct FlatText {
    double x = 0.0, y = 0.0, height_mm = 4.0;
    std::string text;
};

struct FlatDrawing {
    std::string name;  ///< of the product
    double thickness_mm = 0.0;
    std::vector<FlatPath> paths;
    std::vector<FlatCircle> circles;
    std::vector<FlatText> texts;
};

/// Area within a closed path, positive when it runs counter-clockwise.
double area_mm2(const FlatPath& path);
double length_mm(const FlatPath& path);
/// Of the piece: the outline less holes that go through.
double area_mm2(const FlatDrawing& drawing);

/// A closed path's corners, run the other way round.
std::vector<FlatPoint> reversed(const std::vector<FlatPoint>& closed);

/// The bulge of an arc of so many radians, positive counter-clockwise.
double bulge_of(double radians);

}  // namespace geom::parts

// The straight room that a bolt's tool wants, and how far what stands round it leaves it free.
//
// Frame     vehicle, mm; heights count from the head's seat, against the way the bolt goes in.
// Measure   seen along the axis a triangle is a triangle again: what of it lies between the room's two heights is cut
//           out, and its distance to the axis is that of a polygon to a point of the plane. Exact, no sampling.
#pragma once

#include "geom/core/tri_mesh.h"

#include <limits>

namespace geom::check {

/// A solid cylinder with flat ends, from one height to the other.
struct StraightRoom {
    Point3 seat;  ///< on the axis, height 0
    Vec3 out;     ///< against the way the bolt goes in, unit
    double radius_mm = 0.0;
    double from_mm = 0.0, to_mm = 0.0;

    Point3 at(double height_mm) const { return seat + out * height_mm; }
};

/// What is met between the room's two heights; beyond them nothing counts.
struct RoomMet {
    double left_mm = std::numeric_limits<double>::infinity();  ///< beside the room; negative: reaches into it
    Point3 at;                                                 ///< where it is least
    /// Height from which something stands in the room; infinity: nothing does.
    double first_mm = std::numeric_limits<double>::infinity();

    bool is_met() const { return left_mm < std::numeric_limits<double>::infinity(); }
    void take(const RoomMet& other) {
        if (other.left_mm < left_mm) left_mm = other.left_mm, at = other.at;
        if (other.first_mm < first_mm) first_mm = other.first_mm;
    }
};

RoomMet met_by_point(const StraightRoom& room, Point3 p);
RoomMet met_by_triangle(const StraightRoom& room, Point3 a, Point3 b, Point3 c);
RoomMet met_by_ball(const StraightRoom& room, Point3 centre, double radius_mm);
/// The least over all triangles that may come within `look_mm` of the room; a surface only, its inside is not known.
RoomMet met_by_mesh(const StraightRoom& room, const TriMesh& mesh, double look_mm);

}  // namespace geom::check

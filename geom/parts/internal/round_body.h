// A box with a bent side: a drawn outline of lines and circular arcs pushed along one axis, or a cone; its two caps are
// plane. The bent side is one piece of the cut list.
//
// Frame   of the box, mm.
#pragma once

#include "geom/core/result.h"
#include "geom/parts/box.h"

#include <functional>
#include <string>
#include <vector>

namespace geom::parts {

/// The two caps: `first` is looked at by whoever sees the outline, or is the front of the cone.
struct RoundCap {
    std::string name;
    std::vector<double> layers_mm;  ///< outermost first
    bool runs_through = false;      ///< over the bent side's end; otherwise inside it

    double thickness_mm() const {
        double sum = 0.0;
        for (const double t : layers_mm) sum += t;
        return sum;
    }
};

/// What a round box is made from, sizes of the outside.
struct RoundBody {
    Frame view;  ///< in the first cap's outer face: x right, z up, y into the box
    double depth_mm = 0.0;
    RoundCap first, second;
    std::string side;  ///< name of the bent one
    double wall_mm = 0.0;
    RingOutline outer, inner;  ///< of a pushed outline
    /// Of a cone: outside, at the two outer faces. Then the outlines say nothing.
    double radius_mm = 0.0, far_radius_mm = 0.0;
    bool is_cone = false;
};

/// The outline a wall further in (negative: further out): lines and arcs moved along their normals and joined again; an
/// arc that has no radius left is dropped.
/// Faults: BadJob      an ellipse, whose parallel is none
///         Impossible  nothing, or another form, is left
Result<RingOutline> parallel_outline(const RingOutline& outline, double in_mm);

/// Half angle of a cone's side against its axis, positive when it narrows.
double cone_angle(const RoundBody& body);
/// Radius of the cone at a depth behind the first cap, outside or inside.
double cone_radius_mm(const RoundBody& body, double depth_mm, bool is_inner);

/// Faults: Impossible  walls that leave no inside
Status check_round(const RoundBody& body);
double volume_mm3(const RoundBody& body, bool is_inner);
Result<Brep> solid_of(const RoundBody& body, bool is_inner);
Result<std::vector<Board>> boards_of(const RoundBody& body);
/// To the outside or the inside; negative in it, exact there, no less than true beyond.
std::function<double(Point3)> distance_to(const RoundBody& body, bool is_inner);

}  // namespace geom::parts

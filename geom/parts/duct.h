// The form of a port's tube in numbers: one section carried along a path that runs straight, may turn once, and runs
// straight on.
//
// Section   a rectangle with rounded corners, about the path and turned about it; a circle is the one whose corners are
//           all of it. Coordinates along `right` and `up`, mm.
// Path      lies in a plane, and the section stands square to it: a prism, a piece of revolution and a prism. What the
//           duct holds is its section times the path's length (Pappus: the path runs through the section's middle).
// Distance  signed, negative inside: exact outside, inside the nearest of the border of the place's own section and the
//           planes of both ends. A place is taken back to the section that it lies in.
// Frame     vehicle, mm.
#pragma once

#include "geom/core/vec.h"

#include <array>
#include <vector>

namespace geom::parts {

struct DuctSection {
    double half_width_mm = 0.0, half_height_mm = 0.0;
    double corner_mm = 0.0;  ///< radius of the corners, at most the lesser half
    double turn_rad = 0.0;   ///< of the width away from `right`, towards `up`

    static DuctSection round(double diameter_mm);
    bool is_round() const { return corner_mm >= half_width_mm && corner_mm >= half_height_mm; }
    /// Everywhere this much further out.
    DuctSection grown(double by_mm) const;
    /// The same form, so many times as large.
    DuctSection scaled(double times) const;
    double area_mm2() const;
    double border_mm() const;
    /// Four areas over the border: a circle's diameter [hydraulic diameter].
    double hydraulic_mm() const;
    /// How far it comes along a direction (x along `right`, y along `up`, unit).
    double reach_mm(double x, double y) const;
    /// Radius of the circle round it.
    double farthest_mm() const;
    /// Signed distance of a place.
    double distance_to(double x, double y) const;
    /// Places of its border, counter-clockwise from `right` to `up`, no two farther apart than `step_mm`.
    std::vector<std::array<double, 2>> border(double step_mm) const;
};

struct DuctPath {
    Point3 start;            ///< middle of the outer end
    Vec3 along, right, up;   ///< unit, square to one another: the way in, and the section's axes there
    Vec3 towards;            ///< unit, square to `along`: where the bend's middle lies; unused when straight
    double before_mm = 0.0;  ///< from the outer end to the bend
    double radius_mm = 0.0;  ///< of the bend's centre line
    double angle_rad = 0.0;  ///< that it turns by, up to a quarter turn; 0: straight
    double length_mm = 0.0;  ///< along the centre line; it ends behind the bend

    struct Place {
        Point3 at;
        Vec3 along, right, up;
    };

    bool is_straight() const { return angle_rad <= 0.0; }
    double arc_mm() const { return radius_mm * angle_rad; }
    double bend_end_mm() const { return is_straight() ? 0.0 : before_mm + arc_mm(); }
    /// So far from the outer end; before and behind the path it goes on straight.
    Place at(double station_mm) const;
    Place end() const { return at(length_mm); }
    /// Straight on from the inner end.
    DuctPath way_on(double length_mm) const;

    /// To the duct between two stations, the first no farther than the bend's beginning, the second no nearer than its
    /// end.
    /// EXPECTS: from < to, and these; a bend's radius larger than what the section comes towards its middle
    double distance_to(const DuctSection& section, double from_mm, double to_mm, Point3 p) const;
};

}  // namespace geom::parts

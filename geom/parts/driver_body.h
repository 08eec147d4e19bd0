// What of a driver stands in the box, and what before it.
//
// The driver    a frustum from the basket at its flange's rear face to the magnet, then the magnet as a cylinder; its
//               flange where that stands in the box. Its distance to a place is that of the profile in the half-plane
//               of radius and depth.
// Turned round  the magnet stands before the box; in the box is what the cone needs to move in, as a cylinder.
#pragma once

#include "geom/parts/enclosure.h"

#include <array>
#include <optional>

namespace geom::parts {

/// Beside the body, so that nothing touches when the box bends [common practice].
constexpr double kBesideDriver_mm = 2.0;
/// Behind the magnet, for the vent in the pole piece [common practice].
constexpr double kBehindMagnet_mm = 10.0;

struct DriverBody {
    Point3 seat;                                     ///< on the axis; depths count from here
    Vec3 backward;                                   ///< the way that depths grow, unit
    double from_mm = 0.0;                            ///< depth at which the body leaves the baffle's hole
    std::array<std::array<double, 2>, 4> profile{};  ///< radius, depth: basket, magnet's front, magnet's rear, axis
    double flange_radius_mm = 0.0, flange_mm = 0.0;  ///< of a flange before the seat that stands free; 0: none
    bool is_cone = false;                            ///< room of the cone, no body

    /// Radius and depth of a place.
    std::array<double, 2> flat(Point3 p) const;
    /// Signed, negative inside.
    double distance_to(Point3 p) const;
    double magnet_radius_mm() const { return profile[2][0]; }
    double depth_mm() const { return profile[2][1]; }
    /// Air that it wants straight behind its end.
    double free_behind_mm() const { return is_cone ? 0.0 : kBehindMagnet_mm; }
};

/// In the box. `seat_plane`: where its flange rests, outward as the baffle. `back_mm`: depth behind that plane where
/// the cut-out comes out of the baffle; 0 of a driver from behind. None without a mounting depth;
/// of a driver that is turned none where its cone at full travel stays in the baffle's hole.
/// EXPECTS: a flange's thickness of a driver from behind or turned.
std::optional<DriverBody> driver_body(const DriverMount& mount, const Plane& seat_plane, double back_mm);

/// Before the box, of a driver that is turned round: depths grow outward. `front_mm`: how far the baffle's outer face
/// lies before the seat plane. None of others, and without a mounting depth.
std::optional<DriverBody> driver_before_box(const DriverMount& mount, const Plane& seat_plane, double front_mm);

/// From the plane on which its flange rests to its end in the box; none when the file does not say.
std::optional<double> depth_behind_seat_mm(const DriverMount& mount);

/// Where its mass is taken to be: the magnet's middle; without its length, at two thirds of the depth [common
/// practice].
Point3 mass_centre(const DriverMount& mount, const Plane& seat_plane);

/// Air of the box that a driver takes; negative where a cone that looks into the box gives more than its flange takes.
struct DriverAir {
    Volume taken;
    double spread_mm3 = 0.0;  ///< 0: given
    std::string how{};        ///< "displacement of 0.5 L estimated ..."; empty: as given
};
/// None when neither is it given nor the lengths that it is estimated of.
std::optional<DriverAir> driver_air(const DriverMount& mount);

}  // namespace geom::parts

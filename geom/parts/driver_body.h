// What of a driver stands in the box: a frustum from the basket at the seating plane to the magnet, then the magnet as
// a cylinder. Its distance to a place is that of the profile in the half-plane of radius and depth.
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
    Point3 seat;                                     ///< on the axis, in the seating plane
    Vec3 backward;                                   ///< into the box, unit
    double from_mm = 0.0;                            ///< depth at which the body leaves the baffle's hole
    std::array<std::array<double, 2>, 4> profile{};  ///< radius, depth: basket, magnet's front, magnet's rear, axis

    /// Radius and depth of a place.
    std::array<double, 2> flat(Point3 p) const;
    /// Signed, negative inside.
    double distance_to(Point3 p) const;
    double magnet_radius_mm() const { return profile[2][0]; }
    double depth_mm() const { return profile[2][1]; }
};

/// `back_mm`: depth behind the seating plane where the cut-out comes out of the baffle. None without a mounting depth.
std::optional<DriverBody> driver_body(const DriverMount& mount, const Plane& seat_plane, double back_mm);

}  // namespace geom::parts

// What of the vehicle a fixing stands on and stands beside: the scanned face under its seat, and what its pad and arm
// keep the clearance from.
#pragma once

#include "geom/parts/internal/site.h"

#include <functional>

namespace geom::parts {

/// Samples of the scan within `reach` of a place.
std::vector<Point3> samples_near(const Site& site, Point3 at, double reach);

/// A round seat on the vehicle's face; `up` points from the vehicle along the bolt.
struct StandingSeat {
    Point3 at;
    Vec3 up;
    double radius_mm = 0.0;

    /// Whether a place counts as the face under the seat, where no clearance is asked.
    bool covers(Point3 p, double clear) const {
        const Vec3 d = p - at;
        const double height = dot(d, up);
        return std::abs(height) <= clear + 1.0 && norm(d - up * height) <= radius_mm + clear + 1.0;
    }
};

/// The face under the seat, as the scan has it: whether the point lies on it and it is flat and square to the bolt.
/// What rises higher than the seat's own zone is an obstacle and not the face.
/// Faults: Impossible
Status check_face(const std::string& name, const StandingSeat& seat, const std::vector<Point3>& samples, double clear);

/// What of the vehicle is nearest: samples of the scan, limits, keep-outs. Less room than asked is negative.
struct Tightest {
    double spare_mm = 1e300;
    std::string what;
    Point3 where;
};
/// `distance_to` a body that stands outside the box, and places on its outside; what the seat covers does not count.
/// `seat` may be null.
Tightest tightest(const Site& site, const std::vector<Point3>& samples,
                  const std::function<double(Point3)>& distance_to, const std::vector<Point3>& outside,
                  const StandingSeat* seat);

}  // namespace geom::parts

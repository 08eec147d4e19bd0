// Analytic bodies for the tests of the features: a box with rounded edges, a tapered one, and one with bulging sides of
// splines. Each comes with the field that would have made it, so that feet and terminals find their way.
//
// Frame   baffle at y = 0 with outward (0, -1, 0); z up; the body runs to y = depth.
#pragma once

#include "geom/parts/features.h"

#include <functional>
#include <stdexcept>
#include <string>

namespace geom::parts::test {

struct Case {
    std::string name;
    EnclosureRequest request;
    BareBodies bodies;
    space::Room room;
};

/// Numbers of the box that all cases start from, mm.
struct Sizes {
    double half_width = 110.0, half_height = 105.0, depth = 160.0;
    double wall = 6.0, thickness = 12.0;
};

/// Box with edges rounded by 8 (outer) and 4 (air).
Case rounded_box(const Sizes& sizes = {});
/// The same, its sides drawn in by 4 degrees towards the back.
Case tapered_box(const Sizes& sizes = {});
/// A loft of splines: sides bulge and wave. The field is that of the loft's own sections.
Case bulging_loft(const Sizes& sizes = {});

/// A 165 mm class woofer that suits them.
sound::Driver woofer();
DriverMount mounted(const sound::Driver& driver, Point3 centre = {0, 0, 0});
/// A smaller one to the left, which leaves room for a port to the right.
DriverMount small_woofer();
/// Litres of the ledger's lines of that name.
double ledger(const Enclosure& made, const std::string& name);

/// Where a case lies otherwise: the same numbers seen from another vehicle frame.
Case moved(const Case& box, const Frame& to);

/// Cylinder faces of a B-rep, those that share radius and axis taken together.
struct Cylinder {
    double radius_mm = 0.0;
    Point3 at;  ///< on the axis, nearest to the vehicle's origin
    Vec3 axis;  ///< sign as the kernel has it
    double area_mm2 = 0.0;
};
std::vector<Cylinder> cylinders(const Brep& shape);
/// Those of one radius.
std::vector<Cylinder> cylinders(const Brep& shape, double radius_mm);

/// What every made enclosure is held to: solids valid, closed, one a product; their meshes closed and without
/// self-crossing; the ledger sums to the net volume; and the air that the products' own volumes leave agrees with it.
void check_sound(const Case& box, const Enclosure& made, int products);

template <class T>
T require(Result<T> result) {
    if (!result) throw std::runtime_error(result.error().what + " | " + result.error().hint);
    return std::move(result).value();
}

/// add_features() of a case that must be made, and the fault of one that must not.
Enclosure made(const Case& box, const scan::Surface* surface = nullptr);
Fault refused(const Case& box, const scan::Surface* surface = nullptr);
double volume_mm3(const Brep& solid);

}  // namespace geom::parts::test

// The dense grid of signed distance in a box frame whose axes follow the baffle.
//
// Box frame  y points from the baffle into the box (against the baffle's outward), z is `up` laid into the baffle
//            plane (or the vehicle axis nearest to it), x = y cross z. Millimetres.
// Sign       negative inside the space a part may fill, positive elsewhere.
#pragma once

#include "geom/core/units.h"
#include "geom/core/vec.h"

#include <cstddef>
#include <vector>

namespace geom::space {

struct GridSpec {
    Frame vehicle_from_box;  ///< origin and axes in vehicle numbers
    Point3 lo;               ///< box coordinates of node (0,0,0)
    double h_mm = 2.0;       ///< voxel edge
    int nx = 0, ny = 0, nz = 0;

    std::size_t count() const {
        return static_cast<std::size_t>(nx) * static_cast<std::size_t>(ny) * static_cast<std::size_t>(nz);
    }
    std::size_t index(int i, int j, int k) const {
        return (static_cast<std::size_t>(k) * static_cast<std::size_t>(ny) + static_cast<std::size_t>(j)) *
                   static_cast<std::size_t>(nx) +
               static_cast<std::size_t>(i);
    }
    Point3 node(int i, int j, int k) const { return {lo.x + i * h_mm, lo.y + j * h_mm, lo.z + k * h_mm}; }
};

struct Field {
    GridSpec grid;
    std::vector<float> mm;  ///< one value a node, x fastest

    /// Trilinear value at box coordinates; clamped to the grid.
    double at_box(Point3 box) const;
    /// The same at vehicle coordinates.
    double at(Point3 vehicle) const { return at_box(grid.vehicle_from_box.to_local(vehicle)); }
    /// Central-difference gradient of the trilinear field, box axes.
    Vec3 gradient_box(Point3 box) const;
};

/// The box frame for a baffle plane: origin at `baffle.point`.
Frame box_frame(const Plane& baffle, Vec3 up);

}  // namespace geom::space

// The distance to all that a body sweeps while it moves, and the same on a grid with a depth inside.
//
// Method    seen from the body, a place x of the vehicle runs backwards along an arc or a broken line; the distance to
//           the swept space is the least distance from that way to the body. The body's distance changes by no more
//           than the way gone, so the way is halved and cut until nothing lesser can be left: a certified least, no
//           snapshots.
// Accuracy  outside the swept space the distance is too great by at most the tolerance asked for, never too small. Far
//           off, where a swing brings the body no nearer over a long way, the certified lesser value is given instead.
//           Inside it is what some pose gives: less deep than the truth, and 0 for a sheet. SweptGrid gives a depth.
#pragma once

#include "geom/space/field.h"
#include "geom/space/internal/keep_out.h"

namespace geom::space::internal {

class SweptDistance final : public ShapeDistance {
public:
    static constexpr double kTolerance_mm = 0.02;

    /// EXPECTS: check_motion() finds no fault.
    SweptDistance(std::unique_ptr<ShapeDistance> body, const Motion& motion);

    struct Search {
        double tolerance_mm = kTolerance_mm;
        double far_mm = 1e300;      ///< greater distances need not be told apart
        double enough_mm = -1e300;  ///< nor lesser ones
        double try_first = -1.0;    ///< a run at which the least may lie; none when negative
    };
    struct Least {
        double mm = 1e300;      ///< at `run`; the least is this or less,
        double at_least = 0.0;  ///< and this or more
        double run = 0.0;
    };
    Least least(Point3 vehicle, const Search& search) const;

    double at(Point3 vehicle) const override { return least(vehicle, {}).mm; }
    double at_most(Point3 vehicle, double limit_mm) const override { return least(vehicle, {.far_mm = limit_mm}).mm; }
    Aabb box() const override { return box_; }
    bool is_convex() const override { return false; }
    bool is_sheet() const override { return body_->is_sheet(); }
    std::string pose_at(Point3 vehicle) const override { return pose_text(motion_, least(vehicle, {}).run); }

private:
    struct Piece {
        double from = 0.0, length = 0.0;  // of the run
        Vec3 start, way;                  // of a slide: shift at its start, unit direction
    };
    std::unique_ptr<ShapeDistance> body_;
    Motion motion_;
    std::vector<Piece> pieces_;
    double radius_mm_ = 0.0;  // of a swing: the body's farthest place from the axis
    Aabb box_;
};

/// A body in one pose of its motion.
class PosedDistance final : public ShapeDistance {
public:
    PosedDistance(std::unique_ptr<ShapeDistance> body, const Motion& motion, double run);
    double at(Point3 vehicle) const override { return body_->at(pose_.to_local(vehicle)); }
    double at_most(Point3 vehicle, double limit_mm) const override {
        return body_->at_most(pose_.to_local(vehicle), limit_mm);
    }
    Aabb box() const override { return box_; }
    bool is_convex() const override { return body_->is_convex(); }
    bool is_sheet() const override { return body_->is_sheet(); }

private:
    std::unique_ptr<ShapeDistance> body_;
    Frame pose_;  // vehicle_from_drawn
    Aabb box_;
};

/// The swept space on the nodes of a room's grid.
///
/// Outside, the distance to within 0.03 h (0.02 mm at least) up to `reach`; beyond, some greater value. Inside, the
/// depth as the free nodes round it show it: no less than the truth, exact where one of them lies straight out. What
/// linear interpolation makes of it misses the true swept space by less than half a voxel either way, away from edges
/// and corners that are sharp.
class SweptGrid {
public:
    /// `near` is the swept space's box in the grid's box frame. `beyond` asks for all of it, else it is cut to the
    /// grid.
    SweptGrid(const SweptDistance& swept, const GridSpec& grid, const Aabb& near, double reach_mm, bool beyond = false);

    /// Whether all that `grid` needs of the swept space is held, on nodes of its own.
    bool is_for(const GridSpec& grid) const;
    /// Raises a row of nodes of `grid` to margin - distance.
    void raise(const GridSpec& grid, int j, int k, double margin_mm, float* row) const;
    /// Distance at a node of the part of the grid that is held.
    double node(int i, int j, int k) const { return static_cast<double>(mm_[part_.index(i, j, k)]); }
    const GridSpec& part() const { return part_; }

private:
    void measure(const SweptDistance& swept);
    void measure_depths();

    GridSpec part_, made_for_;
    bool beyond_;
    double reach_mm_ = 0.0;
    std::vector<float> mm_;
};

}  // namespace geom::space::internal

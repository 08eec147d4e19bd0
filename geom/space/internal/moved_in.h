// The part of a room that a rigid body can come into by a list of moves without touching anything on the way.
//
// With W(p) what a place p of the way forbids (mm, negative free, changing by no more than the way gone) and T(s) the
// moves, v(x) = max over s of W(T(s) x): again such a function, and {v < 0} is what comes in.
#pragma once

#include "geom/scan/surface.h"
#include "geom/space/internal/standing.h"
#include "geom/space/way_in.h"

#include <string>
#include <vector>

namespace geom::space::internal {

/// Raises standing.phi behind the mouth to what the way forbids, right where the result is within +-2 h; what stands
/// out by less than `tolerance_mm` is taken for noise. `notes` tells when part of the body does not begin outside.
void take_moves_in(const RoomJob& job, Standing& standing, const scan::Surface& surface, double tolerance_mm);

/// What places of the way forbid, on a grid over all that the body passes and that is not surely free; box frame.
class WayField {
public:
    /// `passed` is what the body passes, its ends and what it passes on the way.
    WayField(const RoomJob& job, const Standing& standing, const scan::Surface& surface, Aabb passed);

    /// Trilinear, quick; a safe lower bound of freedom off the grid.
    float rough(Point3 p) const;
    /// Tricubic.
    float fine(Point3 p) const;
    double h_mm() const { return grid_.h_mm; }

private:
    float off_grid(Point3 p) const;
    void fill(const Standing& standing, const scan::Surface& surface);
    void deepen();

    const RoomJob& job_;
    GridSpec grid_;
    Aabb scan_;  ///< with the clearance: outside it nothing was scanned
    float solid_;
    std::vector<float> mm_;
};

}  // namespace geom::space::internal

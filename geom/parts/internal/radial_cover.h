// What plane faces cover, looked at along rays from the origin.
#pragma once

#include "geom/parts/internal/contour.h"

#include <optional>
#include <vector>

namespace geom::parts {

struct RaySpan {
    double from_mm = 0.0, to_mm = 0.0;
};

class RadialCover {
public:
    /// Outer border and holes of one face.
    void add(std::vector<Loop> borders) { faces_.push_back(std::move(borders)); }
    /// From where the first of the faces begins to where the last of them ends; what lies between counts as covered.
    std::optional<RaySpan> at(double angle) const;

private:
    std::vector<std::vector<Loop>> faces_;
};

/// From the origin to the farthest of a loop, this way; 0: it is not met.
double reach(const Loop& loop, double angle);

/// Angles all round, a quarter of a degree apart or less, and close to both sides of each corner.
std::vector<double> angles_round(const std::vector<Point2>& corners);

/// Borders of what a cover's spans take up, chords from angle to angle: an outline for each run of angles; where the
/// runs close, one outline and the opening within.
struct RadialBorders {
    std::vector<Loop> outlines;
    std::optional<Loop> opening;
};
RadialBorders borders_of(const std::vector<double>& angles, const std::vector<std::optional<RaySpan>>& spans);

}  // namespace geom::parts

// How near points come to a part that goes in by slides and turns.
//
// Method    seen from the part a point at rest travels back along the moves. Its path is cut into pieces that leave
// their
//           chords by no more than kSagitta_mm, and the least distance of each chord to the triangles is exact; whole
//           moves that pass farther off than what is of interest are settled by one question.
// Frame     that of the moves and of the part as it is seated; mm.
#pragma once

#include "geom/measure/clearance.h"
#include "geom/space/way_in.h"

namespace geom::measure {

constexpr double kSagitta_mm = 0.005;

struct MovingClearance {
    Clearance nearest;  ///< part_at as the part is seated
    std::size_t move = 0;
    double share = 1.0;  ///< of the move that is done then; below zero while a first slide is still carried on
    bool is_found() const { return nearest.least_mm < std::numeric_limits<double>::infinity(); }
};

/// One move as points see it from the part.
class MoveSeen {
public:
    MoveSeen(const space::WayIn& way, std::size_t move);
    /// The path of the point at rest `p`, from where the move ends back.
    space::PathBack path(Point3 p) const { return {back_, after_.to_local(p)}; }
    std::size_t move() const { return move_; }

private:
    space::Move back_;
    Frame after_;
    std::size_t move_;
};

/// Least distance of the path's first `length_mm` to the triangles, within kSagitta_mm and not farther than `within`;
/// where on the path in `at_mm`.
Nearest nearest_on_path(const TriangleTree& part, const space::PathBack& path, double length_mm, double within,
                        double* at_mm = nullptr);

/// Least distance from the points to the part during one move. `carried_on(p)` is how far (mm) a first slide goes on
/// back for the point p; `counts(i)` leaves points out. Distances of `bound_mm` and more are of no interest.
MovingClearance least_clearance_moving(const TriangleTree& part, const MoveSeen& move,
                                       const std::vector<Point3>& points, double bound_mm,
                                       const std::function<double(Point3)>& carried_on,
                                       const std::function<bool(std::size_t)>& counts = {});

}  // namespace geom::measure

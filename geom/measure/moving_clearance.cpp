#include "geom/measure/moving_clearance.h"

#include "geom/measure/internal/least_search.h"

#include <algorithm>
#include <cmath>
#include <variant>

namespace geom::measure {

namespace {

/// What each move looks like from the part: the same kind of move, the other way.
space::Move seen_back(const space::Move& move, const Frame& after) {
    if (const auto* slide = std::get_if<space::Slide>(&move)) return space::Slide{-after.dir_to_local(slide->by_mm)};
    const auto& turn = std::get<space::Turn>(move);
    return space::Turn{-turn.angle_rad, after.dir_to_local(turn.axis), after.to_local(turn.about)};
}

struct Searching {
    const TriangleTree& part;
    const space::PathBack& path;
    Nearest best;
    double within;
    double at_mm = 0.0;

    void piece(double from, double to) {
        const Point3 a = path.at(from), b = path.at(to);
        const double r = path.radius_mm();
        const double sagitta = path.is_straight() ? 0.0 : r * (1.0 - std::cos(std::min(0.5 * (to - from) / r, 3.0)));
        if (sagitta > kSagitta_mm) {
            if (!part.any_near_segment(a, b, within + sagitta)) return;
            const double middle = 0.5 * (from + to);
            piece(from, middle);
            piece(middle, to);
            return;
        }
        double share = 0.0;
        const Nearest near = part.nearest_to_segment(a, b, within, &share);
        if (!near.is_found() || (best.is_found() && near.distance_mm >= best.distance_mm)) return;
        best = near;
        within = near.distance_mm;
        at_mm = from + share * (to - from);
    }
};

}  // namespace

MoveSeen::MoveSeen(const space::WayIn& way, std::size_t move)
    : back_(seen_back(way.move(move), way.after(move))), after_(way.after(move)), move_(move) {}

Nearest nearest_on_path(const TriangleTree& part, const space::PathBack& path, double length_mm, double within,
                        double* at_mm) {
    Searching searching{part, path, {}, within};
    // No piece is longer than a third of a circle, so that its chord and sagitta hold it.
    const double most = path.is_straight() ? length_mm : 2.0 * path.radius_mm();
    const int pieces = length_mm > 0.0 ? std::max(1, static_cast<int>(std::ceil(length_mm / most))) : 1;
    for (int n = 0; n < pieces; ++n) searching.piece(length_mm * n / pieces, length_mm * (n + 1) / pieces);
    if (at_mm != nullptr) *at_mm = searching.at_mm;
    return searching.best;
}

MovingClearance least_clearance_moving(const TriangleTree& part, const MoveSeen& move,
                                       const std::vector<Point3>& points, double bound_mm,
                                       const std::function<double(Point3)>& carried_on,
                                       const std::function<bool(std::size_t)>& counts) {
    const auto ask = [&](Point3 p, double within, double* at_mm, double* length_mm) {
        const space::PathBack path = move.path(p);
        if (length_mm != nullptr) *length_mm = path.length_mm();
        return nearest_on_path(part, path, path.length_mm() + carried_on(p), within, at_mm);
    };
    MovingClearance least;
    least.move = move.move();
    least.nearest = internal::least_search(points, bound_mm, counts,
                                           [&](Point3 p, double within) { return ask(p, within, nullptr, nullptr); });
    if (!least.is_found()) return least;
    double at_mm = 0.0, length_mm = 0.0;
    ask(least.nearest.point, least.nearest.least_mm + kSagitta_mm, &at_mm, &length_mm);
    least.share = space::share_done(at_mm, length_mm);
    return least;
}

}  // namespace geom::measure

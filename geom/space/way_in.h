// The way in as a list of moves: slides and turns of a rigid part, in the order of going in, the last one ending
// seated.
//
// Frame     one for all, at rest: directions, axes and places are as they are while the move happens; mm, rad.
// Sign      turns follow the right-hand rule about their axis.
// Before    the first move the part is outside. A first slide goes on backwards until it is (kCarriedOn_mm).
#pragma once

#include "geom/core/vec.h"

#include <cstddef>
#include <string>
#include <variant>
#include <vector>

namespace geom::space {

struct Slide {
    Vec3 by_mm;
};
struct Turn {
    double angle_rad = 0.0;
    Vec3 axis{0, 0, 1};  ///< unit
    Point3 about;
};
using Move = std::variant<Slide, Turn>;

/// A first slide goes on backwards so far in front of the mouth (or of an open plane); what was scanned beyond is not
/// in the way.
constexpr double kCarriedOn_mm = 400.0;

/// How far a place that leaves `from` along the unit `back` is carried on, until it is that far beyond an open plane; 0
/// when it never comes beyond one.
double carried_on_mm(const std::vector<Plane>& open, Point3 from, Vec3 back);

/// "slide by (0, 120, 0) mm", "turn by 20 deg about (1, 0, 0) through (0, 10, 5)"
std::string text_of(const Move& move);

/// Where a place goes during one move: straight, or on a circle. `end` is where it is when the move is done; paths are
/// gone back, from there, as the seated part is what is known.
class PathBack {
public:
    PathBack(const Move& move, Point3 end);
    double length_mm() const { return length_mm_; }
    /// The place `s_mm` of path before the end; beyond the length a slide goes on.
    Point3 at(double s_mm) const;
    bool is_straight() const { return radius_mm_ <= 0.0; }
    /// Of the circle; 0 for a straight path and for a place on the axis.
    double radius_mm() const { return radius_mm_; }

private:
    Point3 centre_;        // or the end of a straight path
    Vec3 across_, along_;  // from the centre to the end, and at right angles to it, back; or the way back
    double radius_mm_ = 0.0, length_mm_ = 0.0;
};

/// The moves, and where they put the part. A pose is a frame: to_parent() takes places of the seated part to where they
/// are then.
class WayIn {
public:
    WayIn() = default;
    explicit WayIn(std::vector<Move> moves);

    std::size_t size() const { return moves_.size(); }
    bool is_empty() const { return moves_.empty(); }
    const Move& move(std::size_t i) const { return moves_[i]; }
    bool begins_with_slide() const { return !moves_.empty() && std::holds_alternative<Slide>(moves_.front()); }
    /// Where the part is once move i is done; the last is where it is seated.
    const Frame& after(std::size_t i) const { return after_[i]; }
    /// Where the part is when `share` of move i is done, 0 at its start; a slide may be asked for less.
    Frame during(std::size_t i, double share) const;
    /// The same way in the numbers of another frame, given in those of this one.
    WayIn seen_from(const Frame& frame) const;

private:
    std::vector<Move> moves_;
    std::vector<Frame> after_;
};

/// The part of move i that is done when it still has `s_mm` of path to go for a place whose whole path is `length_mm`.
inline double share_done(double s_mm, double length_mm) {
    return length_mm > 0.0 ? 1.0 - s_mm / length_mm : 1.0;
}

}  // namespace geom::space

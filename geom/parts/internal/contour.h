// Closed outlines in a plane, seen from the front: which side a point lies on, how far it is from the edge, where the
// largest circle fits, and the smooth loop on which a function of the plane has a given value.
//
// Frame   x to the right and y up for one who looks at the baffle from the front, millimetres.
#pragma once

#include <cmath>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace geom::parts {

struct Point2 {
    double x = 0.0, y = 0.0;

    friend Point2 operator+(Point2 a, Point2 b) { return {a.x + b.x, a.y + b.y}; }
    friend Point2 operator-(Point2 a, Point2 b) { return {a.x - b.x, a.y - b.y}; }
    friend Point2 operator*(Point2 a, double s) { return {a.x * s, a.y * s}; }
};
inline double dot(Point2 a, Point2 b) {
    return a.x * b.x + a.y * b.y;
}
inline double cross(Point2 a, Point2 b) {
    return a.x * b.y - a.y * b.x;
}
inline double norm(Point2 a) {
    return std::hypot(a.x, a.y);
}
inline double distance(Point2 a, Point2 b) {
    return norm(a - b);
}

/// Closed, the last point joined to the first, counter-clockwise.
using Loop = std::vector<Point2>;

double signed_area(const Loop& loop);
double length(const Loop& loop);

struct Nearest {
    double distance_mm = 0.0;
    Point2 at;
};

/// The region inside one loop.
class Outline {
public:
    /// EXPECTS: at least three points.
    explicit Outline(Loop loop);

    const Loop& loop() const { return loop_; }
    bool contains(Point2 p) const;
    Nearest nearest(Point2 p) const;
    /// Distance to the edge, positive inside.
    double depth(Point2 p) const;
    Point2 lo() const { return lo_; }
    Point2 hi() const { return hi_; }

private:
    struct Run {  // some consecutive segments and the circle round them
        std::size_t begin = 0, end = 0;
        Point2 centre;
        double radius = 0.0;
    };
    Loop loop_;
    std::vector<Run> runs_;
    Point2 lo_, hi_;
};

struct Best {
    Point2 at;
    double value = 0.0;
};
/// Where `value` (changing by at most 1 a millimetre) is greatest within the box, to about 0.05 mm.
Best greatest(const std::function<double(Point2)>& value, Point2 lo, Point2 hi);

/// The loop {value = level} that encloses the most area, traced on a grid of `cell` within the box; none when there is
/// none. Values above the level lie inside.
std::optional<Loop> level_loop(const std::function<double(Point2)>& value, double level, Point2 lo, Point2 hi,
                               double cell);

/// Points `step` apart (about) along the loop, after `rounds` of smoothing at that spacing.
Loop resampled(const Loop& loop, double step, int rounds);

/// "to the right", "up and to the left", ... for one who looks at the baffle from the front.
std::string direction_words(Point2 d);

}  // namespace geom::parts

// What stands round a convex solid, one thing at a time: limits, keep-outs standing and moving, samples of a scan,
// triangles.
//
// Frame     vehicle, mm.
// Method    a limit is met at the solid's farthest place; of keep-outs the least of the solid's signed distance over
//           their triangles (a sphere has its centre), and whether the solid lies in one as a whole. The least over a
//           straight slide is convex too, and found as such; a swing is marched. Of the scan its samples.
#pragma once

#include "geom/check/internal/convex.h"
#include "geom/check/internal/moving_keep_out.h"
#include "geom/measure/triangle_tree.h"
#include "geom/scan/surface.h"
#include "geom/space/room.h"

#include <algorithm>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace geom::check {

/// Where a thing comes nearest to a solid.
struct Met {
    double mm = 1e300;  ///< signed: negative where it reaches in
    Point3 at;
    std::string what;
    std::string pose;  ///< of a thing that moves: where on its way it is then
    /// As it is told: no more than 500.
    double told_mm() const { return std::min(mm, 500.0); }
    /// "at (1.0, 2.0, 3.0): limit \"lid\"", or "nothing within 500 mm".
    std::string where() const;
    void take(const Met& other) {
        if (other.mm < mm) *this = other;
    }
};

/// How far what is told may be off.
struct Care {
    double poses_mm = 0.25;   ///< a keep-out that swings may be told this much nearer than it is
    double slack_mm = 0.005;  ///< anything this much farther
};
constexpr Care kJudged{}, kTold{.poses_mm = 1.0}, kSought{.slack_mm = 0.05};

/// Made ready once, asked often. Keeps references to what it is made of.
class Standing {
public:
    explicit Standing(const space::Limit& limit);
    explicit Standing(const space::KeepOut& keep_out);
    /// Samples as far as `end`.
    Standing(const scan::Surface& surface, std::size_t end, double asked_mm = 0.0);
    Standing(TriMesh surface, std::string what);

    const std::string& what() const { return what_; }
    double asked_mm() const { return asked_mm_; }  ///< clearance from it
    bool is_scanned() const { return samples_ != nullptr; }
    Met to(const Convex& solid, Care care = kJudged) const;

private:
    Met to_shape(const Convex& solid, const Frame& pose, double slack_mm) const;
    LeastOfMotion over_slide(const Convex& solid, const space::Travel& slide, double slack_mm) const;
    Met to_samples(const Convex& solid) const;

    std::string what_;
    double asked_mm_ = 0.0;
    const space::Limit* limit_ = nullptr;
    const space::KeepOut* moving_ = nullptr;
    const std::vector<Point3>* samples_ = nullptr;
    std::size_t end_ = 0;
    TriMesh mesh_;  ///< as drawn
    std::optional<space::SphereShape> ball_;
    std::optional<measure::TriangleTree> tree_;  ///< of a closed mesh: to tell inside from outside
};

/// The least beyond what each thing asks for itself.
Met least_left(const std::vector<Standing>& round, const Convex& solid, Care care = kJudged);

/// The least way that `left(way)`, a room that no way lessens or adds to by more than itself, wants to be free (no less
/// than -0.01); none within `most_mm`.
std::optional<double> way_to_free(const std::function<double(double)>& left, double most_mm);

}  // namespace geom::check

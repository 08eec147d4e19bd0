// A driver's body as convex solids, one behind the other.
//
// Frame     vehicle, mm.
#pragma once

#include "geom/check/internal/convex.h"
#include "geom/check/internal/stands_round.h"
#include "geom/parts/driver_body.h"
#include "geom/parts/ring.h"

#include <memory>
#include <optional>
#include <vector>

namespace geom::check {

class DriverSolid {
public:
    /// It goes on as wide as its basket for `before_mm` before where the body begins; a flange that stands free is part
    /// of it.
    explicit DriverSolid(const parts::DriverBody& body, double before_mm = 0.0);
    /// Behind a plane in which its flange rests. None without a mounting depth.
    static std::optional<DriverSolid> of(const parts::RingRequest& request, const Plane& rest, double before_mm = 0.0);

    /// Least distance over the triangles, negative where they reach in.
    Met to(const TriMesh& mesh, double slack_mm) const;
    Met to(const Standing& thing, Care care = kJudged) const;
    /// Beyond what each asks for itself.
    Met least_left(const std::vector<Standing>& round, Care care = kJudged) const;

private:
    std::vector<std::shared_ptr<const Convex>> pieces_;
};

}  // namespace geom::check

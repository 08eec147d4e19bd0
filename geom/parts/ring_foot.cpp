#include "geom/parts/ring_foot.h"

#include "geom/parts/internal/outline_pieces.h"
#include "geom/parts/internal/ring_plan.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kChord_mm = 0.05;
constexpr double kUneven_mm = 10.0;  // the face is taken to lie within this of the seat plane, for the bore's place
constexpr double kPast_mm = 5.0;     // of the block past the ring's highest place
constexpr double kHead_mm = 6.0;     // about a bolt, where the foot is looked at for its head
constexpr int kRound = 12;
constexpr double kBehindDriver_mm = 30.0;

/// Of the circle about the origin that an outline holds.
double held_by(const RingOutline& outline) {
    return Outline(loop_of(outline, kChord_mm)).depth({0.0, 0.0}) - kChord_mm;
}

/// Of the circle about the ring's axis that is cut out at every height that the face may have.
double bored_mm(const RingRequest& request, const RingShape& shape) {
    double radius = shape.has_round_bore ? shape.bore.radius_mm : request.driver.cutout_diameter.mm() / 2.0;
    if (request.bore_outline) radius = held_by(*request.bore_outline);
    double off = 0.0;
    const double rise = std::max(0.1, dot(shape.bore.line.up, -shape.seat.z));
    for (const double height : {-kUneven_mm, kUneven_mm}) {
        const double along = (shape.seat.to_local(shape.bore.line.at(0.0)).z - height) / rise;
        const Point3 p = shape.seat.to_local(shape.bore.line.at(along));
        off = std::max(off, std::hypot(p.x, p.y));
    }
    double bored = radius - off;
    if (request.bore == RingRequest::Bore::Opening && request.seat.opening)
        bored = std::min(bored, held_by(*request.seat.opening));
    return std::max(0.0, bored);
}

}  // namespace

Result<ScanFootRequest> foot_under(const RingRequest& request, const RingFootOptions& options) {
    GAPWRIGHT_TRY(shape, plan_ring_shape(request));
    ScanFootRequest foot;
    foot.seat = {request.seat.plane.point, unit(request.seat.plane.outward)};
    foot.up = request.up;
    foot.reach_mm = reach(request.seat.outside, kChord_mm);
    if (request.front) {
        const Point3 centre = shape.seat.to_local(shape.front.point);
        foot.reach_mm = std::max(foot.reach_mm, std::hypot(centre.x, centre.y) + reach(*request.front, kChord_mm));
    }
    foot.bore_mm = bored_mm(request, shape);
    foot.front_mm = shape.most_mm + kPast_mm;
    foot.depth_mm = options.depth.mm();
    foot.gasket = options.gasket;
    foot.edge_radius = options.edge_radius;
    foot.bridge = options.bridge;
    return foot;
}

scan::RawScan scan_about(const RingRequest& request, const ScanFootRequest& foot, const scan::RawScan& raw) {
    ScanFootRequest wide = foot;
    // The driver's body swings aside by the tilt.
    const double depth = request.driver.mounting_depth.value_or(Length()).mm();
    wide.reach_mm = std::max(wide.reach_mm, norm(request.shift) + request.driver.flange_diameter.mm() / 2.0 +
                                                depth * std::sin(request.tilt.rad()));
    wide.depth_mm = std::max(wide.depth_mm, depth + kBehindDriver_mm);
    return cropped_for(wide, raw);
}

void stand_on(const ScanFoot& foot, const RingFootOptions& options, RingRequest& request) {
    request.foot = foot.block;
    request.foot_lowest_mm = foot.lowest_mm + options.gasket.mm();
    request.foot_highest_mm = foot.highest_mm + options.gasket.mm();
    for (RingBolt& bolt : request.bolts) {
        const Point3 at = foot.relief.view.to_local(bolt.point);
        double highest = foot.relief.at(at.x, at.y);
        for (int k = 0; k < kRound; ++k) {
            const double a = 2.0 * std::numbers::pi * k / kRound;
            highest = std::max(highest, foot.relief.at(at.x + kHead_mm * std::cos(a), at.y + kHead_mm * std::sin(a)));
        }
        bolt.foot_mm = highest + options.gasket.mm();
    }
}

}  // namespace geom::parts

// Feet and sleeves stand outside the room that keeps the clearance, so what they come near is looked at here: every
// sample of the scan within reach, and limits and keep-outs at places on their outside.
#include "geom/parts/internal/vehicle_face.h"

#include "geom/core/text.h"
#include "geom/space/keep_out_distance.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::parts {
namespace {

constexpr double kSeatFlat_mm = 1.5;  // by which the face under a pad may rise above the seat or lie below it

}  // namespace

std::vector<Point3> samples_near(const Site& site, Point3 at, double reach) {
    std::vector<Point3> near;
    if (site.surface == nullptr) return near;
    for (const Point3& p : site.surface->points)
        if (norm2(p - at) < reach * reach) near.push_back(p);
    return near;
}

Tightest tightest(const Site& site, const std::vector<Point3>& samples,
                  const std::function<double(Point3)>& distance_to, const std::vector<Point3>& outside,
                  const StandingSeat* seat) {
    const space::RoomOptions& room = site.request.room;
    const double covering = room.covering.mm(), clear = room.clearance.mm() + covering;
    Tightest least;
    const auto take = [&](double spare, const std::string& what, Point3 where) {
        if (spare < least.spare_mm) least = {spare, what, where};
    };
    const auto on_seat = [&](Point3 p) { return seat != nullptr && seat->covers(p, clear); };
    for (const Point3& p : samples)
        if (!on_seat(p)) take(distance_to(p) - clear, "the vehicle", p);
    if (room.limits.empty() && room.keep_outs.empty()) return least;
    std::vector<space::KeepOutDistance> keep_outs;
    for (const space::KeepOut& keep : room.keep_outs)
        if (auto distance = space::KeepOutDistance::of(keep)) keep_outs.push_back(std::move(*distance));
    INVARIANT(keep_outs.size() == room.keep_outs.size());  // the room was made with them
    for (const Point3& p : outside) {
        if (on_seat(p)) continue;
        for (const space::Limit& limit : room.limits)
            take(-limit.plane.height(p) - limit.clearance.mm() - (limit.covering ? covering : 0.0),
                 "limit \"" + limit.name + "\"", p);
        for (std::size_t i = 0; i < keep_outs.size(); ++i) {
            const space::KeepOut& keep = room.keep_outs[i];
            const double margin = keep.clearance.mm() + (keep.covering ? covering : 0.0);
            take(std::max(0.0, keep_outs[i].at_most(p, std::max(least.spare_mm + margin, 0.0) + 1.0)) - margin,
                 "keep-out \"" + keep.name + "\"", p);
        }
    }
    return least;
}

Status check_face(const std::string& name, const StandingSeat& seat, const std::vector<Point3>& samples, double clear) {
    std::vector<double> heights;
    double highest = -1e300;
    Point3 where;
    for (const Point3& p : samples) {
        const Vec3 d = p - seat.at;
        const double up = dot(d, seat.up);
        if (norm(d - seat.up * up) > seat.radius_mm || std::abs(up) > 25.0) continue;
        heights.push_back(up);
        if (up > highest && up <= clear + 1.0) {
            highest = up;
            where = p;
        }
    }
    if (heights.size() < 8) return Done{};  // not scanned there: nothing to judge by
    std::nth_element(heights.begin(), heights.begin() + static_cast<std::ptrdiff_t>(heights.size() / 2), heights.end());
    const double median = heights[heights.size() / 2];
    if (std::abs(median) > kSeatFlat_mm)
        return impossible(
            fmt::format("{}: the vehicle's face lies {:.1f} mm {} the point along the bolt, wanted within {}", name,
                        std::abs(median), median < 0.0 ? "behind" : "before", plain_number(kSeatFlat_mm)),
            fmt::format("set the point to {}, or check the axis", place_text(seat.at + seat.up * median)), seat.at);
    if (highest > 2.0 * kSeatFlat_mm)
        return impossible(
            fmt::format("{}: the face under its pad of {} mm rises {:.1f} mm over the seat, wanted at most {}", name,
                        plain_number(2.0 * seat.radius_mm), highest, plain_number(2.0 * kSeatFlat_mm)),
            "move the point to where the face is flat, turn the axis square to it, or take a smaller thread", where);
    return Done{};
}

}  // namespace geom::parts

// Of each sleeve and brace the way of its axis through the air, by the field alone; braces still to be placed are taken
// as long as the shorter of the box's two ways across through the air's own point.
#include "geom/parts/features.h"
#include "geom/parts/internal/bolt_line.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kStep_mm = 1.0, kFarthest_mm = 1500.0;

/// Way of a line through the air behind the front, both ways from `at`; all of it, in however many stretches.
double way_in_air_mm(const space::Field& air, double air_y_mm, Point3 at, Vec3 axis, double from, double to) {
    const Frame& box = air.grid.vehicle_from_box;
    double way = 0.0;
    for (double s = from; s <= to; s += kStep_mm) {
        const Point3 p = box.to_local(at + axis * s);
        const double outside = std::max(air.at_box(p), air_y_mm - p.y);
        way += kStep_mm * std::clamp(0.5 - outside / kStep_mm, 0.0, 1.0);
    }
    return way;
}

/// Area of the air's bounds behind the front, the front contained: nodes near the zero set by a smoothed step over it.
double bounds_mm2(const space::Field& air, double air_y_mm) {
    const space::GridSpec& grid = air.grid;
    const double h = grid.h_mm, over = 1.5 * h;
    double walls = 0.0, front = 0.0;
    for (int k = 0; k < grid.nz; ++k)
        for (int j = 0; j < grid.ny; ++j) {
            const double behind = grid.lo.y + j * h - air_y_mm;
            if (behind <= -0.5 * h) continue;
            const double share = std::min(1.0, 0.5 + behind / h);
            for (int i = 0; i < grid.nx; ++i) {
                const double mm = air.mm[grid.index(i, j, k)];
                if (std::abs(mm) < over) walls += share * (1.0 + std::cos(std::numbers::pi * mm / over)) / (2.0 * over);
                if (std::abs(behind) < 0.5 * h) front += std::clamp(0.5 - mm / h, 0.0, 1.0);
            }
        }
    return walls * h * h * h + front * h * h;
}

bool is_sheet(const EnclosureRequest& request) {
    return request.lining && request.lining->kind == Lining::Kind::Sheet;
}

}  // namespace

bool has_solids_in_air(const EnclosureRequest& request) {
    return request.baffle.separate || !request.sleeves.empty() || !request.braces.empty() ||
           request.braces_to_place > 0 || is_sheet(request);
}

Volume solids_in_air(const space::Field& air, double air_y_mm, const EnclosureRequest& request) {
    double mm3 = rim_flange_volume(air, air_y_mm, request).mm3();
    for (const Sleeve& sleeve : request.sleeves) {
        const auto thread = fixings::find_thread(sleeve.thread, request.own_threads);
        if (!thread) continue;  // refused when it is made
        const auto hole = fixings::hole_for(*thread, sleeve.use, false);
        if (!hole) continue;
        const double r = bore_of(*thread, sleeve.use, *hole, request.material).radius_mm +
                         sleeve.tube_wall.value_or(request.wall).mm();
        const double section = std::numbers::pi * r * r + 2.0 * r * hole->slot_mm;
        mm3 += section * way_in_air_mm(air, air_y_mm, sleeve.point, -unit(sleeve.axis), 0.0, kFarthest_mm);
    }
    const auto post_mm3 = [&](Length thickness, double way) {
        return std::numbers::pi / 4.0 * thickness.mm() * thickness.mm() * way;
    };
    for (const Brace& brace : request.braces)
        mm3 += post_mm3(brace.thickness,
                        way_in_air_mm(air, air_y_mm, brace.at, unit(brace.axis), -kFarthest_mm, kFarthest_mm));
    if (request.braces_to_place > 0) {
        double across = 1e300;
        for (const Vec3 axis : {air.grid.vehicle_from_box.x, air.grid.vehicle_from_box.z})
            across =
                std::min(across, way_in_air_mm(air, air_y_mm, request.room.air, axis, -kFarthest_mm, kFarthest_mm));
        mm3 += request.braces_to_place * post_mm3(Brace{}.thickness, across);
    }
    if (is_sheet(request)) mm3 += bounds_mm2(air, air_y_mm) * request.lining->thickness.mm();
    return Volume::mm3(mm3);
}

}  // namespace geom::parts

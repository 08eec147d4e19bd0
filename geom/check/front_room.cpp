#include "geom/check/internal/front_room.h"

#include "geom/check/internal/case.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::check {

namespace {

constexpr double kFarthest_mm = 500.0;  // free height is told up to here
constexpr double kHeight_mm = 0.02;     // within which it is found
// Of the cone, where the driver's file does not say [common practice]: how far surround and dust cap stand before the
// flange's seat, and its travel; and what stays between it and a grille.
constexpr double kRoll_rel = 0.05, kTravel_rel = 0.04, kBeforeCone_mm = 2.0;

double radius_of(const Turned& column) {
    return column.circles.front().radius_mm;
}
double height_of(const Turned& column) {
    return column.circles.back().height_mm;
}

}  // namespace

ConeNeeds cone_needs(const sound::Driver& driver) {
    const double front = driver.front_height ? driver.front_height->mm()
                                             : std::max(kRoll_rel * driver.flange_diameter.mm(),
                                                        driver.flange_thickness.value_or(Length::mm(0)).mm());
    const double travel = driver.xmax ? driver.xmax->mm() : kTravel_rel * driver.cutout_diameter.mm();
    std::string missing = driver.front_height ? "" : "front_height";
    if (!driver.xmax) missing += missing.empty() ? "xmax" : " and xmax";
    return {front + travel + kBeforeCone_mm,
            fmt::format("the front at rest {:.1f} mm before the seat, {:.1f} mm of travel, {:.1f} mm between{}", front,
                        travel, kBeforeCone_mm,
                        missing.empty() ? "" : "; " + missing + " not given: estimated of the diameters"),
            !missing.empty()};
}

Turned front_column(Point3 seat, Vec3 outward, const sound::Driver& driver,
                    const std::optional<parts::GrilleRoom>& asked) {
    const Length diameter = asked && asked->diameter ? *asked->diameter : driver.flange_diameter;
    const double radius = diameter.mm() / 2.0;
    return Turned::cylinder(seat, outward, radius, asked ? asked->height.mm() : cone_needs(driver).mm);
}

Met free_height(const std::vector<Standing>& round, const Turned& column) {
    const auto least = [&](double height) {
        return least_left(round, Turned::cylinder(column.base, column.out, radius_of(column), height), kTold);
    };
    Met met = least(kFarthest_mm);
    if (met.mm >= 0.0) return {kFarthest_mm, met.at, {}, {}};
    double lo = 0.0, hi = kFarthest_mm;
    while (hi - lo > kHeight_mm) {
        const double mid = (lo + hi) / 2.0;
        const Met here = least(mid);
        if (here.mm >= 0.0)
            lo = mid;
        else
            hi = mid, met = here;
    }
    return {lo, met.at, met.what, met.pose};
}

FrontFit told_front(const std::vector<Standing>& round, const Turned& column, const ConeNeeds& cone) {
    const Met free = free_height(round, column);
    FrontFit front;
    front.diameter_mm = 2.0 * radius_of(column);
    front.free_mm = free.mm;
    front.met = free.what;
    front.met_at = free.at;
    front.cone_needs_mm = cone.mm;
    front.cone_is_estimated = cone.is_estimated;
    return front;
}

CheckLine grille_room_line(const Turned& column, const Met& least, double scan_bound_mm) {
    CheckLine line = at_least(
        "grille room", Kind::Fit, least.mm, 0.0, "mm",
        fmt::format(
            "{}: {}; left beside a cylinder {:.1f} mm across and {:.1f} mm high on the driver's seat, beyond the "
            "clearance that limits and keep-outs ask for{}",
            place(least.at), least.what, 2.0 * radius_of(column), height_of(column),
            scan_bound_mm > 0.0 ? fmt::format("; samples of the scan with a stated bound of {:.2f} mm", scan_bound_mm)
                                : std::string()));
    if (!line.ok) line.place = least.at;
    return line;
}

CheckLine cone_travel_line(const Turned& column, const ConeNeeds& cone) {
    CheckLine travel = at_least("grille room, the cone's travel", Kind::Fit, height_of(column), cone.mm, "mm",
                                "height asked against what the cone needs: " + cone.how);
    if (cone.is_estimated) travel.ok = true, travel.note += "; not judged";
    return travel;
}

}  // namespace geom::check

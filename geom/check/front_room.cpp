#include "geom/check/internal/front_room.h"

#include "geom/check/internal/case.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::check {

namespace {

constexpr double kFarthest_mm = 500.0;  // free height is told up to here
constexpr double kHeight_mm = 0.02;     // within which it is found

double radius_of(const Turned& column) {
    return column.circles.front().radius_mm;
}
double height_of(const Turned& column) {
    return column.circles.back().height_mm;
}

}  // namespace

Turned front_column(Point3 seat, Vec3 outward, double needs_mm, Length across,
                    const std::optional<parts::GrilleRoom>& asked) {
    const Length diameter = asked && asked->diameter ? *asked->diameter : across;
    return Turned::cylinder(seat, outward, diameter.mm() / 2.0, asked ? asked->height.mm() : needs_mm);
}

Met free_height(const std::vector<Standing>& round, const Turned& column) {
    return free_height([&](double height) {
        return least_left(round, Turned::cylinder(column.base, column.out, radius_of(column), height), kTold);
    });
}

Met free_height(const std::function<Met(double)>& least) {
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

FrontFit told_front(const std::vector<Standing>& round, const Turned& column, const parts::ConeNeeds& needs) {
    const Met free = free_height(round, column);
    FrontFit front;
    front.diameter_mm = 2.0 * radius_of(column);
    front.free_mm = free.mm;
    front.met = free.what;
    front.met_at = free.at;
    front.cone_needs_mm = needs.mm;
    front.cone_is_estimated = needs.is_estimated;
    return front;
}

CheckLine grille_room_line(const Turned& column, const Met& least, double scan_bound_mm) {
    CheckLine line = at_least(
        "grille room", Kind::Fit, least.told_mm(), 0.0, "mm",
        fmt::format("{}; left beside a cylinder {:.1f} mm across and {:.1f} mm high on the driver's seat, beyond the "
                    "clearance that limits and keep-outs ask for{}",
                    least.where(), 2.0 * radius_of(column), height_of(column),
                    scan_bound_mm > 0.0
                        ? fmt::format("; samples of the scan with a stated bound of {:.2f} mm", scan_bound_mm)
                        : std::string()));
    if (!line.ok) line.place = least.at;
    return line;
}

CheckLine held_line(const std::string& what, const Turned& column, const parts::ConeNeeds& needs) {
    CheckLine line = at_least("grille room, " + what, Kind::Fit, height_of(column), needs.mm, "mm",
                              "height asked against what is needed: " + needs.how);
    if (needs.is_estimated) line.ok = true, line.is_judged = false, line.note += "; not judged";
    return line;
}

}  // namespace geom::check

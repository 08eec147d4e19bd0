// Lines along y of the box frame, spread over each section in rings, their field values read once; per place a walk
// along each from the baffle's inner face to the first sign change, which is placed linearly.
#include "geom/parts/driver_room.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/parts/internal/baffle_shape.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {

namespace {
constexpr int kRings = 8;
}

DriverRoom::DriverRoom(const space::Field& air, const EnclosureRequest& request) : air_(air), request_(request) {
    EXPECTS(air.mm.size() == air.grid.count());
    if (!request.driver) return;
    const sound::Driver& driver = request.driver->driver;
    seat_mm_ = seat_depth_mm(*request.driver, baffle_form_or_flat(request));
    basket_mm_ = driver.basket_diameter.value_or(driver.cutout_diameter - Length::mm(1)).mm() / 2.0;
    magnet_mm_ = driver.magnet_diameter ? driver.magnet_diameter->mm() / 2.0 : basket_mm_;
    if (request.driver->is_turned) magnet_mm_ = basket_mm_ = driver.cutout_diameter.mm() / 2.0;
    const Point3 centre = air.grid.vehicle_from_box.to_local(request.driver->centre);
    magnet_ = disc(centre, magnet_mm_);
    basket_ = disc(centre, basket_mm_);
}

DriverRoom::Line DriverRoom::line_at(double x_mm, double z_mm) const {
    const space::GridSpec& g = air_.grid;
    Line line;
    line.mm.reserve(static_cast<std::size_t>(g.ny));
    for (int j = 0; j < g.ny; ++j)
        line.mm.push_back(static_cast<float>(air_.at_box({x_mm, g.lo.y + j * g.h_mm, z_mm})));
    return line;
}

std::vector<DriverRoom::Line> DriverRoom::disc(Point3 centre, double radius_mm) const {
    std::vector<Line> lines{line_at(centre.x, centre.z)};
    for (int ring = 1; ring <= kRings; ++ring)
        for (int k = 0; k < 6 * ring; ++k) {
            const double angle = 2.0 * std::numbers::pi * k / (6 * ring), r = radius_mm * ring / kRings;
            lines.push_back(line_at(centre.x + r * std::cos(angle), centre.z + r * std::sin(angle)));
        }
    return lines;
}

double DriverRoom::end_of(const Line& line, double y_mm) const {
    const space::GridSpec& g = air_.grid;
    const double u = (y_mm - g.lo.y) / g.h_mm;
    if (u < 0.0 || u >= g.ny - 1) return y_mm;
    const auto first = static_cast<std::size_t>(u);
    const double share = u - static_cast<double>(first);
    double before =
        (1.0 - share) * static_cast<double>(line.mm[first]) + share * static_cast<double>(line.mm[first + 1]);
    if (!(before < 0.0)) return y_mm;
    double at = u;
    for (std::size_t j = first + 1; j < line.mm.size(); ++j) {
        const auto here = static_cast<double>(line.mm[j]);
        if (here >= 0.0) return g.lo.y + g.h_mm * (at + (static_cast<double>(j) - at) * before / (before - here));
        before = here;
        at = static_cast<double>(j);
    }
    return g.lo.y + g.h_mm * (g.ny - 1);
}

double DriverRoom::least_end(const std::vector<Line>& lines, double y_mm) const {
    double least = 1e300;
    for (const Line& line : lines) least = std::min(least, end_of(line, y_mm));
    return least;
}

DriverDepth DriverRoom::depth_at(double t_mm) const {
    const double outer_y = -t_mm, air_y = outer_y + request_.baffle.thickness.mm();
    if (request_.driver) {
        const auto depth = [&](const std::vector<Line>& lines) {
            const double end = least_end(lines, air_y);
            return end > air_y ? end - (outer_y + seat_mm_) : 0.0;
        };
        return {depth(magnet_), depth(basket_)};
    }
    // The middle: the centroid of the nodes of the section, or the node in the air nearest to it.
    const space::GridSpec& g = air_.grid;
    double x = 0.0, z = 0.0;
    std::vector<Vec3> inside;
    for (int k = 0; k < g.nz; ++k)
        for (int i = 0; i < g.nx; ++i) {
            const Point3 p{g.lo.x + i * g.h_mm, air_y, g.lo.z + k * g.h_mm};
            if (!(air_.at_box(p) < 0.0)) continue;
            inside.push_back(p);
            x += p.x, z += p.z;
        }
    if (inside.empty()) return {};
    const Point3 centroid{x / static_cast<double>(inside.size()), air_y, z / static_cast<double>(inside.size())};
    Point3 middle = centroid;
    if (!(air_.at_box(centroid) < 0.0))
        middle = *std::min_element(inside.begin(), inside.end(),
                                   [&](Point3 a, Point3 b) { return norm2(a - centroid) < norm2(b - centroid); });
    return {end_of(line_at(middle.x, middle.z), air_y) - outer_y, std::nullopt};
}

std::string DriverRoom::what() const {
    if (!request_.driver) return "behind the bare outer face, over the middle of the air's section; no driver is given";
    const bool has_magnet = request_.driver->driver.magnet_diameter.has_value();
    return fmt::format("behind {}seat plane, least over the {} section of {} mm",
                       request_.more_drivers.empty() ? "the " : "the first driver's ",
                       request_.driver->is_turned ? "cone's"
                       : has_magnet               ? "magnet's"
                                                  : "basket's",
                       plain_number(2.0 * magnet_mm_));
}

}  // namespace geom::parts

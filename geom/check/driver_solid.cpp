#include "geom/check/internal/driver_solid.h"

#include "geom/measure/clearance.h"

namespace geom::check {

DriverSolid::DriverSolid(const parts::DriverBody& body, double before_mm) {
    constexpr double kFlat_mm = 1e-6;
    const auto add = [&](std::vector<Turned::Circle> circles) {
        if (circles.back().height_mm - circles.front().height_mm > kFlat_mm)
            pieces_.push_back(std::make_shared<Turned>(body.seat, body.backward, std::move(circles)));
    };
    const auto circle = [&](std::size_t i) { return Turned::Circle{body.profile[i][1], body.profile[i][0]}; };
    const Turned::Circle basket = circle(0), magnet = circle(1);
    const Turned::Circle before{basket.height_mm - before_mm, basket.radius_mm};
    if (before_mm > 0.0 && magnet.radius_mm <= basket.radius_mm && magnet.height_mm - basket.height_mm > kFlat_mm) {
        add({before, basket, magnet});
    } else {
        add({before, basket});
        add({basket, magnet});
    }
    add({magnet, circle(2)});
    if (body.flange_radius_mm > 0.0) add({{-body.flange_mm, body.flange_radius_mm}, {0.0, body.flange_radius_mm}});
}

std::optional<DriverSolid> DriverSolid::of(const parts::RingRequest& request, const Plane& rest, double before_mm) {
    const auto body = parts::driver_body({.driver = request.driver, .centre = rest.point, .turn = {}}, rest, 0.0);
    if (!body) return std::nullopt;
    return DriverSolid(*body, before_mm);
}

Met DriverSolid::to(const TriMesh& mesh, double slack_mm) const {
    Met least;
    for (const auto& piece : pieces_) {
        const measure::LeastOnMesh met = measure::least_convex_on_mesh(
            mesh, [&](Point3 p) { return piece->at(p); }, slack_mm);
        least.take({met.value, met.at, {}, {}});
    }
    return least;
}

Met DriverSolid::to(const Standing& thing, Care care) const {
    Met least;
    for (const auto& piece : pieces_) least.take(thing.to(*piece, care));
    return least;
}

Met DriverSolid::least_left(const std::vector<Standing>& round, Care care) const {
    Met least;
    for (const auto& piece : pieces_) least.take(check::least_left(round, *piece, care));
    return least;
}

}  // namespace geom::check

// A ring with a driver of round numbers, and what its fit says.
#pragma once

#include "tests/measure/shapes.h"

#include "geom/check/internal/keep_out_distance.h"
#include "geom/check/ring_check.h"
#include "geom/check/ring_fit.h"
#include "geom/measure/brep_measure.h"

#include <string>

namespace shapes {

/// Outside 200, 20 high on z = 0, looking to +z. The driver's basket is 139 wide at the rest and narrows over 38 to a
/// magnet of 90, 28 long: level, that one lies about the z axis from z = -18 to -46.
inline geom::parts::RingRequest ring_request() {
    using geom::Length;
    geom::parts::RingRequest request;
    request.seat = {{{0, 0, 0}, {0, 0, 1}}, geom::parts::round_outline(Length::mm(200)), {}};
    request.up = {0, 1, 0};
    request.height = Length::mm(20);
    request.driver.cutout_diameter = Length::mm(140);
    request.driver.flange_diameter = Length::mm(170);
    request.driver.mounting_depth = Length::mm(66);
    request.driver.magnet_diameter = Length::mm(90);
    request.driver.magnet_depth = Length::mm(28);
    request.driver.front_height = Length::mm(5);
    request.driver.xmax = Length::mm(6);
    return request;
}

inline void tilt(geom::parts::RingRequest& request, double degrees) {
    request.tilt = geom::Angle::deg(degrees);
    request.tilt_towards = {1, 0, 0};
}

struct RingCase {
    geom::parts::RingRequest request;
    geom::parts::Ring ring;
    TriMesh mesh;

    explicit RingCase(geom::parts::RingRequest r) : request(std::move(r)) {
        auto made = geom::parts::make_ring(request, {});
        if (!made) FAIL(made.error().what << " | " << made.error().hint);
        ring = std::move(*made);
        mesh = require(geom::measure::tessellate(ring.product.solid, request.make.chord_error, {}));
    }
    geom::check::Verdict fit(const geom::check::RingSurroundings& around) const {
        geom::check::Verdict verdict;
        check_own_bore(ring, request, mesh, verdict);
        check_ring_fit(ring, request, mesh, around, verdict);
        return verdict;
    }
    /// Places on the driver's body, `step` apart, worked out here from the driver's numbers.
    std::vector<Point3> body_places(double step) const {
        const auto& d = request.driver;
        const double basket = d.basket_diameter.value_or(d.cutout_diameter - geom::Length::mm(1)).mm() / 2;
        const double magnet = d.magnet_diameter->mm() / 2, depth = d.mounting_depth->mm();
        const double slope = depth - d.magnet_depth->mm();
        const Vec3 x = any_perpendicular(ring.rest.outward), y = cross(ring.rest.outward, x);
        std::vector<Point3> places;
        const auto circle = [&](double r, double h) {
            const int n = std::max(1, static_cast<int>(2 * kPi * r / step));
            for (int i = 0; i < n; ++i) {
                const double a = 2 * kPi * i / n;
                places.push_back(ring.rest.point - ring.rest.outward * h + x * (r * std::cos(a)) +
                                 y * (r * std::sin(a)));
            }
        };
        const int rows = static_cast<int>(depth / step) + 1;
        for (int i = 0; i <= rows; ++i) {
            const double h = depth * i / rows;
            circle(h < slope ? basket + (magnet - basket) * h / slope : magnet, h);
        }
        for (double r = 0; r < magnet; r += step) circle(r, depth);
        circle(magnet, slope);
        return places;
    }
};

inline const geom::check::CheckLine& ring_line(const geom::check::Verdict& verdict, const std::string& name) {
    for (const auto& l : verdict.lines)
        if (l.name == name) return l;
    std::string names;
    for (const auto& l : verdict.lines) names += "\n" + l.name;
    FAIL("no line named " + name + " among" + names);
    return verdict.lines.front();
}

inline geom::space::KeepOut ring_keep_out(geom::space::KeepOutShape shape, double clearance = 0.0) {
    geom::space::KeepOut keep_out;
    keep_out.name = "gear";
    keep_out.shape = std::move(shape);
    keep_out.clearance = geom::Length::mm(clearance);
    return keep_out;
}

/// A window's pane, 600 x 400, four thick, its front at z = `front`; it slides up the door from below by 900.
inline geom::space::KeepOut pane(double front) {
    geom::space::KeepOut glass = ring_keep_out(geom::space::BoxShape{{-300, -600, front - 4}, {300, -200, front}});
    glass.name = "glass";
    glass.motion = geom::space::Travel{{{0, 0, 0}, {0, 900, 0}}};
    return glass;
}

}  // namespace shapes

// The port as made: its tuning by what its written triangles measure, the way before its inner end, what stands before
// its mouth, and how fast its air gets. Limits of ways and speeds are common practice.
#include "geom/check/internal/case.h"
#include "geom/check/internal/front_room.h"
#include "geom/parts/port.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::check {

namespace {

constexpr double kTuning_percent = 0.5;
constexpr double kNear_mm = 0.05;

/// Of the tube on the written triangles.
struct Measured {
    double length_mm = 0.0, bore_mm = 1e300;  ///< bore: a radius
};

/// By the rim of its inner end: triangles as wide as the tube's wall that look into the box.
Measured measured(const Case& c, const parts::PortMade& port) {
    const double bore = port.diameter_mm / 2.0;
    const auto flat = [&](std::uint32_t v) {
        const Vec3 d = c.part.vertices[v] - port.mouth;
        const double depth = dot(d, port.inward);
        return std::pair{norm(d - port.inward * depth), depth};
    };
    Measured found;
    for (const auto& t : c.part.triangles) {
        const bool is_wide = std::all_of(t.begin(), t.end(), [&](std::uint32_t v) {
            const double r = flat(v).first;
            return r > bore - kNear_mm && r < bore + port.wall_mm + kNear_mm;
        });
        const Point3 a = c.part.vertices[t[0]];
        const Vec3 out = cross(c.part.vertices[t[1]] - a, c.part.vertices[t[2]] - a);
        if (!is_wide || dot(out, port.inward) < 0.99 * norm(out)) continue;
        for (const std::uint32_t v : t) {
            found.bore_mm = std::min(found.bore_mm, flat(v).first);
            found.length_mm = std::max(found.length_mm, flat(v).second);
        }
    }
    return found;
}

void check_tuning(const Case& c, const parts::PortMade& port, Verdict& verdict) {
    const Measured found = measured(c, port);
    if (found.length_mm <= 0.0) {
        verdict.lines.push_back({"port, tuning", Kind::Fit, false, 0.0, kTuning_percent, "%",
                                 "its tube was not found in the written triangles"});
        return;
    }
    parts::EnclosureRequest as_measured = c.request;
    as_measured.port->diameter = Length::mm(2.0 * found.bore_mm);
    const double hz = parts::port_tuning_hz(as_measured, Length::mm(found.length_mm), c.enclosure().net_by_brep);
    const double wanted = port.asked_hz > 0.0 ? port.asked_hz : port.tuning_hz;
    verdict.lines.push_back(at_most(
        "port, tuning", Kind::Fit, 100.0 * std::abs(hz / wanted - 1.0), kTuning_percent, "%",
        fmt::format("{:.2f} Hz by {:.2f} mm of length and {:.2f} mm of bore, measured on the written triangles, "
                    "against {:.2f} Hz {}; a real box is off by some percent",
                    hz, found.length_mm, 2.0 * found.bore_mm, wanted,
                    port.asked_hz > 0.0 ? "asked" : "that its given length makes")));
}

void check_inner_end(const Case& c, const parts::PortMade& port, Verdict& verdict) {
    TriMesh walls{c.air_body.vertices, {}};
    for (const auto& t : c.air_body.triangles)
        if (std::any_of(t.begin(), t.end(), [&](std::uint32_t v) { return !c.is_on_baffle(c.air_body.vertices[v]); }))
            walls.triangles.push_back(t);
    if (walls.triangles.empty()) {
        verdict.lines.push_back({"port, way before its inner end", Kind::Fit, false, 0.0, port.free_way_mm, "mm",
                                 "no inner surface was kept to measure it on"});
        return;
    }
    std::vector<Standing> inside;
    inside.emplace_back(std::move(walls), "the inner wall, or what stands in the box");
    const Met met = free_height(inside, Turned::cylinder(port.mouth + port.inward * port.length_mm, port.inward,
                                                         port.diameter_mm / 2.0, port.free_way_mm));
    verdict.lines.push_back(at_least("port, way before its inner end", Kind::Fit, met.mm, port.free_way_mm, "mm",
                                     fmt::format("{}, straight on as wide as its bore, up to {}", place(met.at),
                                                 met.what.empty() ? "nothing" : met.what)));
}

void check_mouth(const Case& c, const parts::PortMade& port, Verdict& verdict) {
    std::vector<Standing> round = stands_before(c);
    if (TriMesh own = before_own_front(c); !own.triangles.empty())
        round.emplace_back(std::move(own), "the part itself");
    const Met met = free_height(
        round,
        Turned::cylinder(port.mouth, -port.inward, port.diameter_mm / 2.0 + port.mouth_radius_mm, port.diameter_mm));
    verdict.lines.push_back(
        at_least("port, way before its mouth", Kind::Fit, met.mm, port.diameter_mm, "mm",
                 fmt::format("{}, up to {}; a diameter is common practice", place(met.at),
                             met.what.empty() ? "nothing" : met.what + (met.pose.empty() ? "" : ", " + met.pose))));
    if (!verdict.lines.back().ok) verdict.lines.back().place = met.at;
}

void check_speed(const sound::BoxSound& heard, Verdict& verdict) {
    const sound::PortSpeedLimits limits;
    const char* const name = "port, fastest air";
    if (!heard.port_air || !heard.driver.power_w) {
        verdict.lines.push_back({name, Kind::Fit, true, heard.port_air ? heard.port_air->m_s : 0.0, limits.fail_m_s,
                                 "m/s",
                                 heard.port_air ? "not judged: the driver's power is not given; this is at 1 W"
                                                : "not judged: the driver's file lacks what it needs"});
        return;
    }
    const auto& air = *heard.port_air;
    verdict.lines.push_back(at_most(
        name, Kind::Fit, air.m_s, limits.fail_m_s, "m/s",
        fmt::format(
            "peak at {:.1f} Hz and {:.4g} W; heard above {:.0f} m/s, common practice; {:.0f} mm more of "
            "diameter would bring it there",
            air.at_hz, heard.watts, limits.warn_m_s,
            heard.port->port.section.width().mm() * std::max(0.0, std::sqrt(air.m_s / limits.warn_m_s) - 1.0))));
}

}  // namespace

void check_port(const Case& c, Verdict& verdict) {
    if (!c.enclosure().port) return;
    const parts::PortMade& port = *c.enclosure().port;
    check_tuning(c, port, verdict);
    check_inner_end(c, port, verdict);
    check_mouth(c, port, verdict);
    if (verdict.sound) check_speed(*verdict.sound, verdict);
}

}  // namespace geom::check

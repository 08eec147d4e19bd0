// The port as made: its tuning by what its written triangles measure, the way before its inner end, what stands before
// its mouth, and how fast its air gets. Limits of ways and speeds are common practice.
#include "geom/check/internal/case.h"
#include "geom/check/internal/front_room.h"
#include "geom/check/internal/port_measure.h"
#include "geom/check/internal/straight_column.h"
#include "geom/parts/port.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::check {

namespace {

constexpr double kTuning_percent = 0.5;
constexpr double kPi = std::numbers::pi;
constexpr double kNear_mm = 0.05;
constexpr double kBesideDriver_mm = 2.0 - 0.1;  // as planned, less what chords and searches may be off by

/// The request with its port's section as large as one that was measured.
parts::EnclosureRequest with_area(const Case& c, const parts::PortMade& port, double area_mm2) {
    parts::EnclosureRequest as_measured = c.request;
    as_measured.port = parts::scaled(*c.request.port, std::sqrt(area_mm2 / port.inside.area_mm2()));
    return as_measured;
}

void check_tuning(const Case& c, const parts::PortMade& port, Verdict& verdict) {
    const auto found = measure_port(c.part, port.mouth, port.inward, port.mouth_radius_mm);
    if (!found) {
        verdict.lines.push_back({"port, tuning", Kind::Fit, false, 0.0, kTuning_percent, "%",
                                 "its tube was not found in the written triangles"});
        return;
    }
    const double hz = parts::port_tuning_hz(with_area(c, port, found->area_mm2), Length::mm(found->length_mm),
                                            c.enclosure().net_by_brep);
    const double wanted = port.asked_hz > 0.0 ? port.asked_hz : port.tuning_hz;
    std::string of_section = port.inside.is_round()
                                 ? fmt::format("{:.2f} mm of bore", 2.0 * std::sqrt(found->area_mm2 / kPi))
                                 : fmt::format("{:.4g} cm2 of slot", found->area_mm2 / 100.0);
    if (!port.path.is_straight())
        of_section += fmt::format(", turned by {:.1f} degrees", Angle::rad(found->turned_rad).deg());
    verdict.lines.push_back(
        at_most("port, tuning", Kind::Fit, 100.0 * std::abs(hz / wanted - 1.0), kTuning_percent, "%",
                fmt::format("{:.2f} Hz by {:.2f} mm of length and {}, measured on the written triangles, "
                            "against {:.2f} Hz {}; a real box is off by some percent",
                            hz, found->length_mm, of_section, wanted,
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
    const Met met = free_height([&](double height) {
        return least_left(inside, StraightColumn::on(port.path.end(), port.inside, false, height), kTold);
    });
    verdict.lines.push_back(at_least("port, way before its inner end", Kind::Fit, met.mm, port.free_way_mm, "mm",
                                     fmt::format("{}, straight on as wide as its inside, up to {}", place(met.at),
                                                 met.what.empty() ? "nothing" : met.what)));
}

/// The tube's outside as it stands in the air that was kept, against what the drivers take.
void check_beside_drivers(const Case& c, const parts::PortMade& port, Verdict& verdict) {
    const auto bodies = bodies_in_box(c);
    if (std::none_of(bodies.begin(), bodies.end(), [](const auto& body) { return body.has_value(); })) return;
    const Plane& front = c.enclosure().baffle_plane;
    TriMesh tube{c.air_body.vertices, {}};
    for (const auto& t : c.air_body.triangles)
        if (std::all_of(t.begin(), t.end(), [&](std::uint32_t v) {
                const double off =
                    port.path.distance_to(port.inside.grown(port.wall_mm), 0.0, port.length_mm, c.air_body.vertices[v]);
                return std::abs(off) < kNear_mm;
            }))
            tube.triangles.push_back(t);
    std::erase_if(tube.triangles, [&](const auto& t) {
        return std::all_of(t.begin(), t.end(), [&](std::uint32_t v) {
            return -front.height(tube.vertices[v]) < c.request.baffle.thickness.mm() + kNear_mm;
        });
    });
    measure::LeastOnMesh least;
    for (const auto& body : bodies) {
        if (!body) continue;
        const auto here = measure::least_on_mesh(tube, [&](Point3 p) { return body->distance_to(p); });
        if (here.value < least.value) least = here;
    }
    if (tube.triangles.empty()) return;
    verdict.lines.push_back(at_least("port, beside the driver", Kind::Fit, least.value, kBesideDriver_mm, "mm",
                                     place(least.at) + "; the tube's outside against the driver's body"));
    if (!verdict.lines.back().ok) verdict.lines.back().place = least.at;
}

void check_mouth(const Case& c, const parts::PortMade& port, Verdict& verdict) {
    std::vector<Standing> round = stands_before(c);
    if (TriMesh own = before_own_front(c); !own.triangles.empty())
        round.emplace_back(std::move(own), "the part itself");
    const double wanted = port.inside.hydraulic_mm();
    const Met met = free_height([&](double height) {
        return least_left(
            round, StraightColumn::on(port.path.at(0.0), port.inside.grown(port.mouth_radius_mm), true, height), kTold);
    });
    verdict.lines.push_back(
        at_least("port, way before its mouth", Kind::Fit, met.mm, wanted, "mm",
                 fmt::format("{}, up to {}; {} is common practice", place(met.at),
                             met.what.empty() ? "nothing" : met.what + (met.pose.empty() ? "" : ", " + met.pose),
                             port.inside.is_round() ? "a diameter" : "four areas over the border")));
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
    // A slot is made wider, a circle larger all round.
    const sound::PortSection& section = heard.port->port.section;
    const double faster = air.m_s / limits.warn_m_s;
    const double wider_mm =
        section.width().mm() * std::max(0.0, (section.is_round() ? std::sqrt(faster) : faster) - 1.0);
    std::string note = fmt::format("peak at {:.1f} Hz and {:.4g} W; heard above {:.0f} m/s, common practice", air.at_hz,
                                   heard.watts, limits.warn_m_s);
    if (faster > 1.0)
        note += fmt::format("; {:.0f} mm more of {} would slow it to those {:.0f} m/s", std::ceil(wider_mm),
                            section.is_round() ? "diameter" : "width", limits.warn_m_s);
    verdict.lines.push_back(at_most(name, Kind::Fit, air.m_s, limits.fail_m_s, "m/s", std::move(note)));
}

}  // namespace

void check_port(const Case& c, Verdict& verdict) {
    if (!c.enclosure().port) return;
    const parts::PortMade& port = *c.enclosure().port;
    check_tuning(c, port, verdict);
    check_inner_end(c, port, verdict);
    check_beside_drivers(c, port, verdict);
    check_mouth(c, port, verdict);
    if (verdict.sound) check_speed(*verdict.sound, verdict);
}

}  // namespace geom::check

// Bases of the cautions: service precautions for restraint systems, UN R14 and R145 (anchorages), the prohibition to
// share their bolts [common practice]; cabin heat [common practice] against glass transition; wood dust limit Directive
// (EU) 2017/2398; REACH annex XVII entry 74 [memory]; standard gravity 9.80665 m/s^2. They are stated, not judged.
#include "geom/check/internal/case.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

namespace geom::check {

namespace {

constexpr double kGravity_m_s2 = 9.80665;
constexpr double kExample_g = 20.0;
constexpr double kCabin_c = 80.0, kNearGlass_c = 100.0;  // [common practice]

bool is_wood(const parts::Material& m) {
    std::string name = m.name;
    std::transform(name.begin(), name.end(), name.begin(),
                   [](unsigned char ch) { return static_cast<char>(std::tolower(ch)); });
    return name.find("mdf") != std::string::npos || name.find("plywood") != std::string::npos ||
           name.find("wood") != std::string::npos;
}

}  // namespace

Caution heat_caution(const parts::Material& m) {
    std::string text = fmt::format("A parked cabin gets hot: parts near glass reach {:.0f} to {:.0f} degrees Celsius. ",
                                   kCabin_c, kNearGlass_c);
    if (m.softens_c > 0.0 && m.softens_c <= kNearGlass_c)
        text += fmt::format(
            "{} softens at about {:.0f} degrees and can creep at its screws and feet there; keep it out of the sun or "
            "take a "
            "material that stands more.",
            m.name, m.softens_c);
    else if (m.softens_c > 0.0)
        text += fmt::format(
            "{} softens at about {:.0f} degrees, which leaves a margin of {:.0f} degrees; glue, foam and covering may "
            "have less.",
            m.name, m.softens_c, m.softens_c - kNearGlass_c);
    else
        text += fmt::format("The temperature at which {} softens is not known here; ask its maker.", m.name);
    return {"heat in a parked cabin", text};
}

std::vector<Caution> cautions(const parts::EnclosureRequest& request, const Verdict& verdict) {
    std::vector<Caution> out;
    out.push_back(
        {"airbags and sensors",
         "Keep the box, its cables and its covering out of the path of every airbag, those in seats and side panels "
         "included, and off "
         "seat occupancy sensors. Do not cut, splice or probe wiring of the restraint system. Before working near it: "
         "ignition off, "
         "battery lead off, and the wait that the vehicle's own manual gives (30 minutes when it is not known)."});
    out.push_back({"belt buckles and anchorages",
                   "Belt buckles, retractors, belt anchorages and child-seat anchorages near the gap must stay free to "
                   "reach, move and latch. Do not "
                   "share, move or shim their bolts, and do not fix the box to them."});
    out.push_back({"loose mass",
                   verdict.mass_kg > 0.0
                       ? fmt::format("A box that comes loose is a projectile. This one, {:.1f} kg with what is fitted "
                                     "in it as far as its mass is "
                                     "known, would pull with {:.2f} kN at {:.0f} g (an example of a hard stop, not a "
                                     "rating of its fixings).",
                                     verdict.mass_kg, verdict.mass_kg * kExample_g * kGravity_m_s2 / 1000.0, kExample_g)
                       : std::string("A box that comes loose is a projectile: fix it before the vehicle moves.")});
    if (const FrontFit& front = verdict.driver_fit.front;
        verdict.driver_fit.has_driver && front.asked_mm <= 0.0 && front.free_mm < front.cone_needs_mm)
        out.push_back(
            {front.is_magnet ? "room before the magnet" : "room before the cone",
             fmt::format("Before the driver's seat {:.1f} mm are free, up to {}; the {} about {:.1f} mm, "
                         "a grille more. Let the baffle travel farther in, or sink the driver in a dish; grille_room "
                         "has it checked.",
                         front.free_mm, front.met, front.is_magnet ? "magnet and its vent need" : "cone needs",
                         front.cone_needs_mm)});
    if (const auto& heard = verdict.sound; heard && heard->port_air && heard->driver.power_w &&
                                           sound::judged(heard->port_air->m_s) != sound::PortAir::Calm)
        out.push_back(
            {"air in the port",
             fmt::format("At {:.0f} Hz and the driver's {:.4g} W the air in the port reaches {:.1f} m/s; above "
                         "about {:.0f} m/s it is heard. Take a wider port, a rounded mouth, or less power.",
                         heard->port_air->at_hz, heard->watts, heard->port_air->m_s,
                         sound::PortSpeedLimits{}.warn_m_s)});
    if (request.feet.empty() && request.sleeves.empty() && request.plates.empty() && !request.panel_rim)
        out.push_back({"no fixings", "The job names no fixing: nothing in these files holds the box in place."});
    else
        out.push_back(
            {"a sum, not a crash test",
             fmt::format("The bolts were calculated for {:.0f} g forward and half of it rearward, sideways and upward, "
                         "on their proof load. That is a sum, not a crash test and no promise: the arms of the feet "
                         "follow rules of thumb, and the vehicle's own sheet, nuts and seat frames were not "
                         "calculated. Anchorages of belts and child seats are never used.",
                         request.deceleration_g)});
    out.push_back({"drilling",
                   "Before drilling into the vehicle look at the other side: fuel and brake lines, tanks, wiring, "
                   "high-voltage cables (orange: only "
                   "after the maker's power-down by a trained person). Use a depth stop, deburr and paint the hole, "
                   "keep wiring at least 25 mm from "
                   "brake lines and moving parts, and fuse the power cable near the battery."});
    out.push_back(heat_caution(request.material));
    if (request.make.method == parts::Method::Layup)
        out.push_back({"resins",
                       "Laying up glass and resin gives off styrene and handles peroxide hardener: ventilation, "
                       "gloves, goggles, no ignition source. "
                       "Trim and sand with extraction and a dust mask of at least FFP2. Two-part foams and paints with "
                       "isocyanates may be used only by "
                       "people trained for it where the law says so."});
    else if (request.make.method == parts::Method::Cnc || is_wood(request.material) ||
             (request.baffle.material && is_wood(*request.baffle.material)))
        out.push_back({"dust",
                       "Cutting and sanding wood boards makes dust that harms the lungs (EU limit for hardwood dust "
                       "and mixtures: 2 mg/m3): extract at "
                       "the source and wear at least an FFP2 mask."});
    else
        out.push_back(
            {"dust",
             "Sanding a print makes fine plastic dust: sand wet or with extraction, and wear at least an FFP2 mask."});
    if (request.make.method == parts::Method::Print && request.wall < Length::mm(4))
        out.push_back({"thin printed wall", fmt::format("A printed enclosure wall of {:.1f} mm is less than the 4 mm "
                                                        "that usually makes it tight and stiff; seal it inside.",
                                                        request.wall.mm())});
    out.push_back({"interior fire and edges",
                   "Materials and coverings near the cabin's air should be certified for their burn rate, which most "
                   "boards, foams, glues and prints "
                   "are not unless bought so; hard edges that a head or knee can reach need a radius of at least 2.5 "
                   "mm under the covering."});
    out.push_back({"local rules",
                   "Changes to a vehicle may need inspection or entry in its papers. Ask the local authority, the "
                   "insurer and a licensed workshop; "
                   "what they say goes before anything in these files."});
    return out;
}

}  // namespace geom::check

// The bolts of the vehicle under the job's deceleration: each in its worst direction, by the rule of
// fixings/restraint.h on proof load; the shank's bearing in the part; whether the joint stays closed under the preload
// that its seat bears. All of it is a sum, not a crash test, and says nothing of the vehicle's own sheet.
#include "geom/check/internal/case.h"

#include "geom/fixings/restraint.h"

#include <fmt/format.h>

#include <algorithm>
#include <numbers>

namespace geom::check {

namespace {

using parts::FixingMade;

/// What a wall bears beside a shank, MPa [common practice]: printed plastics half their strength across the layers,
/// boards pressed along their face, soft aluminium twice its yield.
double most_bearing_MPa(const parts::Material& material) {
    return material.is_metal ? 160.0 : material.is_board ? 10.0 : 20.0;
}

/// Of what stands on the vehicle's face: a plate's own, otherwise the shell's.
const parts::Material& material_of(const Case& c, const FixingMade& fixing) {
    for (const ReadBack& r : c.products)
        if (r.product->name == fixing.bolt.product) return r.product->material;
    return c.request.material;
}

}  // namespace

void check_restraint(const Case& c, Verdict& verdict) {
    RestraintFigures& figures = verdict.restraint;
    figures.deceleration_g = c.request.deceleration_g;
    figures.mass_kg = verdict.mass_kg;
    figures.driver_mass_is_known = !c.request.driver || driver_mass(c).has_value();

    std::vector<const FixingMade*> made;
    std::vector<fixings::Held> held;
    std::vector<fixings::Thread> threads;
    for (const FixingMade& f : c.enclosure().fixings) {
        const auto thread = fixings::find_thread(f.thread, c.request.own_threads);
        if (!thread) continue;  // refused long before
        made.push_back(&f);
        threads.push_back(*thread);
        held.push_back({.name = f.name,
                        .seat = f.point,
                        .axis = f.axis,
                        .proof_N = fixings::proof_N(*thread, f.use.grade),
                        .seat_radius_mm = f.seat_radius_mm});
    }
    if (held.empty()) return;

    figures.bolts.resize(held.size());
    double unheld = 0.0;
    std::string unheld_in;
    for (const fixings::LoadCase& load :
         fixings::load_cases(c.request.deceleration_g, c.request.up, c.request.forward)) {
        const fixings::Restraint r = fixings::restrain(verdict.mass_kg, verdict.centre_of_mass, held, load);
        if (r.unheld_N_mm > unheld) unheld = r.unheld_N_mm, unheld_in = load.name;
        for (std::size_t i = 0; i < held.size(); ++i) {
            BoltSum& sum = figures.bolts[i];
            sum.bearing_MPa = std::max(
                sum.bearing_MPa,
                fixings::bearing_MPa(r.bolts[i].shear_N, made[i]->has_metal_sleeve ? made[i]->hole_mm : threads[i].d_mm,
                                     std::max(made[i]->bears_mm, 0.1)));
            sum.most_tension_N = std::max(sum.most_tension_N, r.bolts[i].tension_N);
            if (r.bolts[i].use_rel < sum.use_rel) continue;
            sum.direction = load.name;
            sum.g = load.g;
            sum.tension_N = r.bolts[i].tension_N;
            sum.shear_N = r.bolts[i].shear_N;
            sum.use_rel = r.bolts[i].use_rel;
        }
    }
    verdict.lines.push_back(at_most(
        "restraint, twist that no bolt holds", Kind::Fit, unheld / 1000.0, 0.0, "N m",
        unheld > 0.0 ? fmt::format("{}; a second bolt beside the first holds it", unheld_in) : "in no direction"));

    const std::string sum_of =
        figures.driver_mass_is_known ? std::string() : "; the driver's mass is not known and not counted";
    for (std::size_t i = 0; i < held.size(); ++i) {
        const FixingMade& f = *made[i];
        BoltSum& sum = figures.bolts[i];
        sum.name = f.name;
        sum.thread = f.thread;
        sum.has_metal_sleeve = f.has_metal_sleeve;
        const parts::Material& material = material_of(c, f);
        sum.bearing_most_MPa = most_bearing_MPa(material);
        const fixings::Seat seat{f.bolt.hole.hole_mm > 0.0 ? f.bolt.hole.hole_mm : f.hole_mm,
                                 f.bolt.hole.seat_mm > 0.0 ? f.bolt.hole.seat_mm : threads[i].washer_outside_mm,
                                 material.is_metal ? 0.0 : fixings::most_seat_pressure_MPa(true, material.is_board)};
        const fixings::Preload preload = fixings::preload(threads[i], f.use.grade, seat, f.has_metal_sleeve);
        sum.preload_N = preload.force_N;
        sum.torque_N_m = preload.torque_N_m;
        sum.seat_most_MPa = f.has_metal_sleeve ? 0.0 : seat.most_MPa;
        sum.seat_MPa = f.has_metal_sleeve ? 0.0 : preload.wants_sleeve ? seat.most_MPa : preload.pressure_MPa;

        // Pulled up against the washer the part itself presses on the ring beside hole or metal sleeve.
        const double inside = std::max(f.hole_mm, seat.hole_mm);
        const double ring = std::numbers::pi / 4.0 * (seat.outside_mm * seat.outside_mm - inside * inside);
        sum.washer_MPa = ring > 0.0 ? sum.most_tension_N / ring : 0.0;

        const std::string who = "bolt of \"" + f.name + "\", ";
        verdict.lines.push_back(at_most(
            who + "proof load", Kind::Fit, 100.0 * sum.use_rel, 100.0, "%",
            fmt::format("worst {} at {:.0f} g: {:.0f} N tension, {:.0f} N shear; (T/Fp)^2 + (S/0.6 Fp)^2 <= 1/1.5^2 "
                        "(common practice) on Fp {:.0f} N, ISO 898-1{}",
                        sum.direction, sum.g, sum.tension_N, sum.shear_N, held[i].proof_N, sum_of)));
        verdict.lines.push_back(
            at_most(who + "bearing in the part", Kind::Fit, sum.bearing_MPa, sum.bearing_most_MPa, "MPa",
                    fmt::format("shear over {} by {:.1f} mm of {}; limit is common practice",
                                f.has_metal_sleeve ? "metal sleeve" : "bolt", f.bears_mm, material.name)));
        const std::string torque =
            fmt::format("tighten to {:.1f} N m (K = 0.2, dry) for {:.0f} N", sum.torque_N_m, sum.preload_N);
        const std::string why =
            f.has_metal_sleeve ? "the metal sleeve takes it"
            : preload.wants_sleeve
                ? fmt::format(
                      "no more, or the washer crushes the {} (most {:.0f} MPa, common practice); a metal sleeve "
                      "would take {:.1f} N m",
                      material.name, seat.most_MPa, fixings::preload(threads[i], f.use.grade, seat, true).torque_N_m)
                : "three quarters of the proof load";
        const std::string pressed =
            material.is_metal ? std::string()
                              : fmt::format(
                                    "; in that stop the {} is pressed with {:.0f} MPa under the washer (told, "
                                    "not judged): a larger washer spreads it",
                                    material.name, sum.washer_MPa);
        verdict.lines.push_back(at_most(who + "tension against its preload", Kind::Fit, sum.most_tension_N,
                                        sum.preload_N, "N", torque + ": " + why + pressed));
    }
}

}  // namespace geom::check

#include "geom/sound/mixed_drivers.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/sound/value_rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <string_view>

namespace geom::sound {

namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

std::vector<std::string> titles_of(const std::vector<SmallSignal>& each) {
    std::vector<std::string> titles;
    for (std::size_t i = 0; i < each.size(); ++i) {
        const auto same =
            std::count_if(each.begin(), each.end(), [&](const auto& d) { return d.name == each[i].name; });
        titles.push_back(each[i].name.empty() ? fmt::format("driver {}", i + 1)
                         : same > 1           ? fmt::format("{} ({})", each[i].name, i + 1)
                                              : each[i].name);
    }
    return titles;
}

/// What a driver lacks, of what its cone is made of.
std::vector<std::string> missing_of(const SmallSignal& d) {
    std::vector<std::string> missing;
    const auto want = [&](const char* name, bool is_there) {
        if (!is_there) missing.emplace_back(name);
    };
    want("fs", d.fs_hz.has_value()), want("qes", d.qes.has_value()), want("qms", d.qms.has_value());
    want("vas", d.vas.has_value()), want("sd", d.sd.has_value()), want("re", d.re_ohm.has_value());
    return missing;
}

Status check_whole(const MixedDrivers& drivers) {
    std::vector<std::string> lacking;
    for (std::size_t i = 0; i < drivers.each.size(); ++i)
        if (const auto missing = missing_of(drivers.each[i]); !missing.empty())
            lacking.push_back(fmt::format("driver \"{}\" lacks {}", drivers.titles[i], listed(missing)));
    if (lacking.empty()) return Done{};
    return Fault{FaultCode::BadJob,
                 fmt::format("unlike drivers in one box: {}, and no other value gives it; wanted fs, qes, qms, vas, sd "
                             "and re of each",
                             listed(lacking)),
                 "take them from its data sheet; mms, cms, rms, bl, sd and re give all of them too",
                 {},
                 ""};
}

/// EXPECTS: missing_of() is empty.
Cone cone_of(const SmallSignal& driver, const Air& air) {
    const auto v = circuit_values_in_baffle(driver);
    EXPECTS(v.has_value());
    const double w = kTwoPi * v->fs_hz, sd = square_metres(driver.sd->value);
    Cone c;
    c.sd_m2 = sd;
    c.stiffness_n_m = air.stiffness_Pa() * sd * sd / cubic_metres(driver.vas->value);
    c.mass_kg = c.stiffness_n_m / (w * w);
    c.resistance_kg_s = w * c.mass_kg / v->qms;
    c.re_ohm = driver.re_ohm->value;
    c.bl_tm = std::sqrt(w * c.mass_kg * c.re_ohm / v->qes);
    c.le_h = driver.le_h ? driver.le_h->value : 0.0;
    return c;
}

/// Of the box's air with its losses, which count at this frequency.
SharedAir shared_air(const Box& box, double at_hz, const Air& air) {
    const BoxLosses q = box.losses_used();
    const double w = kTwoPi * at_hz;
    SharedAir a;
    a.compliance_m3_pa = cubic_metres(box.apparent()) / air.stiffness_Pa();
    a.absorption_pa_s_m3 = 1.0 / (w * a.compliance_m3_pa * q.absorption);
    a.leak_m3_s_pa = w * a.compliance_m3_pa / q.leakage;
    if (box.has_port()) {
        a.port_mass_kg_m4 = 1.0 / (w * w * a.compliance_m3_pa);
        a.port_pa_s_m3 = w * a.port_mass_kg_m4 / q.port;
    }
    return a;
}

/// A box without end, for what hangs on the wiring alone.
SharedCircuit wired(const MixedDrivers& drivers) {
    return {drivers.cones, drivers.wiring, SharedAir{.compliance_m3_pa = 1.0}};
}

void put_together(MixedDrivers& drivers, const Air& air) {
    const SharedCircuit circuit = wired(drivers);
    SmallSignal& all = drivers.together;
    all.name = names_together(drivers.each);
    all.re_ohm = Told<double>{circuit.resistance_ohm(), false, "re of each as wired"};
    double sd_mm2 = 0.0, vas_mm3 = 0.0;
    bool has_power = true;
    Limit least{.watts = std::numeric_limits<double>::infinity()};
    for (std::size_t i = 0; i < drivers.each.size(); ++i) {
        const SmallSignal& d = drivers.each[i];
        sd_mm2 += d.sd->value.mm2(), vas_mm3 += d.vas->value.mm3();
        has_power = has_power && d.power_w.has_value();
        if (const double watts = d.power_w ? d.power_w->value / circuit.share_of(i) : least.watts; watts < least.watts)
            least = {watts, i};
        for (const std::string& note : d.notes) all.notes.push_back(fmt::format("{}: {}", drivers.titles[i], note));
    }
    all.sd = Told<Area>{Area::mm2(sd_mm2), false, "sd of each"};
    all.vas = Told<Volume>{Volume::mm3(vas_mm3), false, "vas of each"};
    if (has_power) {
        all.power_w = Told<double>{least.watts, false,
                                   fmt::format("the coils' shares; that of {} is the first", drivers.titles[least.by])};
        drivers.power_by = least.by;
    }
    const double per_volt = circuit.passband_m3_s2();
    const double eta = air.density_kg_m3 / (kTwoPi * air.speed_m_s) * per_volt * per_volt * circuit.resistance_ohm();
    const char* const from = "the motors, masses and sd of each";
    all.efficiency = Told<double>{eta, false, from};
    all.spl_1w_db = Told<double>{level_of_efficiency_db(eta, air), false, from};
    all.spl_sheet_db = Told<double>{
        all.spl_1w_db->value + 10.0 * std::log10(kSheetVolts * kSheetVolts / circuit.resistance_ohm()), false, from};
}

}  // namespace

bool are_alike(const std::vector<SmallSignal>& drivers) {
    if (drivers.empty()) return true;
    const std::vector<ValueRow> first = value_rows(drivers.front());
    return std::all_of(drivers.begin() + 1, drivers.end(), [&](const SmallSignal& d) {
        const std::vector<ValueRow> rows = value_rows(d);
        return std::equal(rows.begin(), rows.end(), first.begin(), first.end(), [](const auto& a, const auto& b) {
            return std::string_view(a.name) == b.name && a.value == b.value;
        });
    });
}

std::string names_together(const std::vector<SmallSignal>& drivers) {
    std::vector<std::pair<std::string, int>> counted;
    for (std::size_t i = 0; i < drivers.size(); ++i) {
        const std::string name = drivers[i].name.empty() ? fmt::format("driver {}", i + 1) : drivers[i].name;
        const auto at = std::find_if(counted.begin(), counted.end(), [&](const auto& c) { return c.first == name; });
        if (at == counted.end())
            counted.emplace_back(name, 1);
        else
            ++at->second;
    }
    std::string out;
    for (const auto& [name, count] : counted)
        out += (out.empty() ? "" : " + ") + (count > 1 ? fmt::format("{} x ", count) : "") + name;
    return out;
}

Result<MixedDrivers> mixed_drivers(std::vector<SmallSignal> each, const Wiring& wiring, const Air& air) {
    EXPECTS(wiring.in_series >= 1 && wiring.in_parallel >= 1);
    EXPECTS(each.size() == static_cast<std::size_t>(wiring.count()));
    MixedDrivers drivers;
    drivers.titles = titles_of(each);
    drivers.each = std::move(each);
    drivers.wiring = wiring;
    GAPWRIGHT_CHECK(check_whole(drivers));
    for (const SmallSignal& d : drivers.each) drivers.cones.push_back(cone_of(d, air));
    put_together(drivers, air);
    return drivers;
}

double losses_hz(const MixedDrivers& drivers, const Box& box, const Air& air) {
    if (box.has_port()) return box.fb_hz;
    // One pressure on all would move each by 1/M of its acoustic mass: w^2 = (sum 1/(M^2 C) + (sum 1/M)^2/Cbox)/sum
    // 1/M.
    double sum = 0.0, springs = 0.0;
    for (const Cone& c : drivers.cones) {
        const double ease = c.sd_m2 * c.sd_m2 / c.mass_kg;
        sum += ease;
        springs += ease * c.stiffness_n_m / c.mass_kg;
    }
    const double compliance = cubic_metres(box.apparent()) / air.stiffness_Pa();
    return std::sqrt(springs / sum + sum / compliance) / kTwoPi;
}

SharedCircuit shared_circuit(const MixedDrivers& drivers, const Box& box, const Air& air) {
    EXPECTS(box.net.mm3() > 0.0 && box.fb_hz >= 0.0);
    EXPECTS(box.lining_gain >= kLeastGain && box.lining_gain <= kMostGain);
    return {drivers.cones, drivers.wiring, shared_air(box, losses_hz(drivers, box, air), air)};
}

std::optional<Limit> within_xmax(const MixedDrivers& drivers, const SharedCircuit::State& state) {
    EXPECTS(state.excursion_m.size() == drivers.each.size());
    Limit least{.watts = std::numeric_limits<double>::infinity()};
    for (std::size_t i = 0; i < drivers.each.size(); ++i) {
        if (!drivers.each[i].xmax) return std::nullopt;
        const double ratio = metres(drivers.each[i].xmax->value) / std::abs(state.excursion_m[i]);
        // A peak is the root of two of the volts, and their square is watts times re.
        const double watts = 0.5 * ratio * ratio / drivers.together.re_ohm->value;
        if (watts < least.watts) least = {watts, i};
    }
    return least;
}

}  // namespace geom::sound

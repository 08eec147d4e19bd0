// Five relations over ten values. Each gives whichever of its values alone is missing; they are gone through in one
// order until nothing new is found, so that the same sheet always gives the same values. Then each relation is held
// against what stands: where a sheet says too much and contradicts itself, at least one of them does not come out.
#include "geom/sound/derived.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <functional>
#include <numbers>

namespace geom::sound {

namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

enum Id { Fs, Qts, Qes, Qms, Vas, Sd, Mms, Cms, Rms, Bl, Re, kCount };

/// How a value is written for people: its key, and its unit with the factor from SI.
struct Naming {
    const char* key;
    const char* unit;
    double factor;
};
constexpr std::array<Naming, kCount> kNaming{{{"fs", " Hz", 1.0},
                                              {"qts", "", 1.0},
                                              {"qes", "", 1.0},
                                              {"qms", "", 1.0},
                                              {"vas", " L", 1e3},
                                              {"sd", " cm2", 1e4},
                                              {"mms", " g", 1e3},
                                              {"cms", " mm/N", 1e3},
                                              {"rms", " kg/s", 1.0},
                                              {"bl", " T m", 1.0},
                                              {"re", " ohm", 1.0}}};

/// Three significant digits are what a sheet has.
std::string in_words(Id id, double si) {
    const Naming& n = kNaming[id];
    return fmt::format("{:.3g}{}", si * n.factor, n.unit);
}

using Values = std::array<std::optional<double>, kCount>;

/// A product of powers that is 1: value_i^power_i times a constant. Every relation but that of the Qs is one.
struct Relation {
    Id told;  ///< the value in which a disagreement is told
    std::vector<std::pair<Id, double>> powers;
    double constant = 1.0;
    bool is_of_qs = false;  ///< 1/qts = 1/qes + 1/qms instead

    /// The value of `id` that the others ask for. EXPECTS: the others are there.
    double solved(Id id, const Values& v) const {
        if (is_of_qs) {
            if (id == Qts) return 1.0 / (1.0 / *v[Qes] + 1.0 / *v[Qms]);
            return 1.0 / (1.0 / *v[Qts] - 1.0 / *v[id == Qes ? Qms : Qes]);
        }
        double product = constant, own = 1.0;
        for (const auto& [other, power] : powers) {
            if (other == id)
                own = power;
            else
                product *= std::pow(*v[other], power);
        }
        return std::pow(product, -1.0 / own);
    }
};

std::array<Relation, 5> relations(const Air& air) {
    return {{{Qts, {{Qts, 1}, {Qes, 1}, {Qms, 1}}, 1.0, true},
             {Vas, {{Vas, -1}, {Sd, 2}, {Cms, 1}}, air.stiffness_Pa(), false},
             {Fs, {{Fs, 2}, {Mms, 1}, {Cms, 1}}, kTwoPi * kTwoPi, false},
             {Qms, {{Qms, -1}, {Fs, 1}, {Mms, 1}, {Rms, -1}}, kTwoPi, false},
             {Qes, {{Qes, -1}, {Fs, 1}, {Mms, 1}, {Re, 1}, {Bl, -2}}, kTwoPi, false}}};
}

std::string others_in_words(const Relation& relation, Id id) {
    std::vector<std::string> words;
    for (const auto& each : relation.powers)
        if (each.first != id) words.emplace_back(kNaming[each.first].key);
    return listed(words);
}

struct Solved {
    Values values;
    std::array<std::string, kCount> from;
    std::vector<std::string> notes;
};

void complete(const std::array<Relation, 5>& all, Solved& s) {
    std::array<bool, 5> senseless{};
    for (bool found = true; found;) {
        found = false;
        for (std::size_t r = 0; r < all.size(); ++r) {
            int missing = 0;
            Id id = kCount;
            for (const auto& each : all[r].powers)
                if (!s.values[each.first]) ++missing, id = each.first;
            if (missing != 1 || senseless[r]) continue;
            const double value = all[r].solved(id, s.values);
            if (!(value > 0.0) || !std::isfinite(value)) {
                senseless[r] = true;
                const Id other = id == Qes ? Qms : Qes;
                s.notes.push_back(fmt::format("qts: {}, not less than {} of {}; wanted less, as other losses add to it",
                                              in_words(Qts, *s.values[Qts]), kNaming[other].key,
                                              in_words(other, *s.values[other])));
                continue;
            }
            s.values[id] = value;
            s.from[id] = others_in_words(all[r], id);
            found = true;
        }
    }
}

void note_disagreements(const std::array<Relation, 5>& all, Solved& s) {
    for (const Relation& relation : all) {
        bool is_whole = true;
        for (const auto& each : relation.powers) is_whole = is_whole && s.values[each.first].has_value();
        if (!is_whole) continue;
        const Id id = relation.told;
        const double stands = *s.values[id], asked = relation.solved(id, s.values);
        if (std::abs(asked / stands - 1.0) <= kAgree_rel) continue;
        const std::string how = s.from[id] == "given" ? "given as " : fmt::format("by {} ", s.from[id]);
        s.notes.push_back(fmt::format("{}: {}{}, but {} by {}", kNaming[id].key, how, in_words(id, stands),
                                      in_words(id, asked), others_in_words(relation, id)));
    }
}

std::optional<double> checked(const std::optional<double>& value) {
    EXPECTS(!value || (*value > 0.0 && std::isfinite(*value)));
    return value;
}

template <class T, class F>
std::optional<double> in_si(const std::optional<T>& value, F factor) {
    return checked(value ? std::optional<double>(factor(*value)) : std::nullopt);
}

template <class T>
std::optional<Told<T>> given(const std::optional<T>& value) {
    if (!value) return std::nullopt;
    return Told<T>{*value, true, "given"};
}

}  // namespace

double level_of_efficiency_db(double efficiency, const Air& air) {
    EXPECTS(efficiency > 0.0);
    // One watt over half a sphere of 1 m.
    const double pressure2 = efficiency * air.density_kg_m3 * air.speed_m_s / kTwoPi;
    return 10.0 * std::log10(pressure2 / (kReferencePressure_Pa * kReferencePressure_Pa));
}

SmallSignal derived(const Driver& driver, const Air& air) {
    Solved s;
    s.values[Fs] = checked(driver.fs_hz);
    s.values[Qts] = checked(driver.qts);
    s.values[Qes] = checked(driver.qes);
    s.values[Qms] = checked(driver.qms);
    s.values[Vas] = in_si(driver.vas, cubic_metres);
    s.values[Sd] = in_si(driver.sd, square_metres);
    s.values[Mms] = checked(driver.mms_kg);
    s.values[Cms] = checked(driver.cms_m_per_n);
    s.values[Rms] = checked(driver.rms_kg_per_s);
    s.values[Bl] = checked(driver.bl_tm);
    s.values[Re] = checked(driver.re_ohm);
    for (std::size_t i = 0; i < s.values.size(); ++i)
        if (s.values[i]) s.from[i] = "given";

    const auto all = relations(air);
    complete(all, s);
    note_disagreements(all, s);

    const auto told = [&](Id id) -> std::optional<Told<double>> {
        if (!s.values[id]) return std::nullopt;
        return Told<double>{*s.values[id], s.from[id] == "given", s.from[id]};
    };
    SmallSignal out;
    out.name = driver.name;
    out.fs_hz = told(Fs), out.qts = told(Qts), out.qes = told(Qes), out.qms = told(Qms);
    out.mms_kg = told(Mms), out.cms_m_per_n = told(Cms), out.rms_kg_per_s = told(Rms);
    out.bl_tm = told(Bl), out.re_ohm = told(Re);
    if (const auto vas = told(Vas)) out.vas = Told<Volume>{Volume::mm3(vas->value * 1e9), vas->is_given, vas->from};
    if (const auto sd = told(Sd)) out.sd = Told<Area>{Area::mm2(sd->value * 1e6), sd->is_given, sd->from};
    in_si(driver.xmax, metres);
    out.le_h = given(checked(driver.le_h));
    out.xmax = given(driver.xmax);
    out.power_w = given(checked(driver.power_w));
    if (out.sd && out.xmax) out.vd = Told<Volume>{out.sd->value * out.xmax->value, false, "sd and xmax"};
    if (out.fs_hz && out.vas && out.qes) {
        const double w = kTwoPi * out.fs_hz->value, c3 = std::pow(air.speed_m_s, 3);
        const double eta0 = w * w * out.fs_hz->value * cubic_metres(out.vas->value) / (c3 * out.qes->value);
        out.efficiency = Told<double>{eta0, false, "fs, vas and qes"};
        out.spl_1w_db = Told<double>{level_of_efficiency_db(eta0, air), false, "fs, vas and qes"};
        if (out.re_ohm)
            out.spl_sheet_db =
                Told<double>{out.spl_1w_db->value + 10.0 * std::log10(kSheetVolts * kSheetVolts / out.re_ohm->value),
                             false, "fs, vas, qes and re"};
    }
    out.notes = std::move(s.notes);
    return out;
}

}  // namespace geom::sound

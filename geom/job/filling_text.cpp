#include "geom/job/filling_text.h"

#include "geom/core/text.h"
#include "geom/job/quantity.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <map>

namespace geom::job {

namespace {

using measure::Filling;
using Clauses = std::map<std::string, std::string, std::less<>>;

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && std::isspace(static_cast<unsigned char>(text.front())) != 0) text.remove_prefix(1);
    while (!text.empty() && std::isspace(static_cast<unsigned char>(text.back())) != 0) text.remove_suffix(1);
    return text;
}

Fault bad(std::string_view option, std::string_view text, const std::string& what, std::string hint) {
    return {FaultCode::BadJob, fmt::format("{} \"{}\": {}", option, text, what), std::move(hint), {}, {}};
}

const char* const kGrainHint = "such as --fill \"mass 8.41 kg, bulk 0.672 kg/L\"";
const char* const kWaterHint = "such as --water \"12.4 L\", or \"mass 12.90 kg, empty 0.50 kg\"";

/// "mass 8.41 kg" apart into word and rest; a clause without a word has an empty one.
Result<Clauses> clauses_of(std::string_view option, std::string_view text, const std::vector<std::string>& known,
                           const char* hint) {
    Clauses out;
    for (std::size_t i = 1; i + 1 < text.size(); ++i)
        if (text[i] == ',' && std::isdigit(static_cast<unsigned char>(text[i - 1])) != 0 &&
            std::isdigit(static_cast<unsigned char>(text[i + 1])) != 0)
            return bad(option, text, "has a comma in a number; wanted a decimal point", hint);
    std::string_view rest = text;
    while (!rest.empty()) {
        const auto comma = rest.find(',');
        const std::string_view clause = trimmed(rest.substr(0, comma));
        rest = comma == std::string_view::npos ? std::string_view{} : rest.substr(comma + 1);
        std::size_t letters = 0;
        while (letters < clause.size() && std::isalpha(static_cast<unsigned char>(clause[letters])) != 0) ++letters;
        const std::string word(clause.substr(0, letters));
        if (!word.empty() && std::find(known.begin(), known.end(), word) == known.end()) {
            const std::string near = nearest_word(word, known);
            return bad(option, text, fmt::format("'{}' is not known; wanted {}", word, listed(known, "or")),
                       (near.empty() ? "" : fmt::format("did you mean '{}'? ", near)) + hint);
        }
        if (!out.emplace(word, std::string(trimmed(clause.substr(letters)))).second)
            return bad(option, text, fmt::format("says {} twice", word.empty() ? "a quantity" : "'" + word + "'"),
                       "give each weighing an option of its own");
    }
    return out;
}

struct Reading {
    double value = 0.0, off = 0.0;
};

Result<Reading> reading_of(std::string_view option, std::string_view text, const std::string& word,
                           const std::string& quantity, QuantityKind kind) {
    auto value = parse_quantity(quantity, kind);
    if (!value)
        return bad(option, text, fmt::format("{}{}", word.empty() ? "" : word + " ", value.error().what),
                   fmt::format("number and unit: {}", listed(unit_names(kind), "or")));
    if (*value <= 0.0)
        return bad(option, text, fmt::format("{}is {}; wanted more than 0", word.empty() ? "" : word + " ", quantity),
                   "a reading of the scale or the measure");
    const double number =
        *parse_quantity("1 " + quantity.substr(quantity.find_first_not_of("+-0123456789.eE \t")), kind);
    return Reading{*value, last_digit_of(quantity) * number};
}

Result<measure::Weighed> weighed(std::string_view option, std::string_view text, const std::string& word,
                                 const Clauses& clauses, const FillingRules& rules) {
    const auto it = clauses.find(word);
    if (it == clauses.end()) return measure::Weighed{};
    GAPWRIGHT_TRY(r, reading_of(option, text, word, it->second, QuantityKind::Mass));
    return measure::Weighed{r.value, rules.scale_off_kg.value_or(r.off)};
}

/// "0.672 kg/L", "1.344 kg in 2 L", both also "within 1 %".
Status read_bulk(std::string_view text, std::string bulk, const FillingRules& rules, Filling& out) {
    out.density_rel = rules.settling_rel.value_or(measure::kSettling_rel);
    if (const auto within = bulk.find("within"); within != std::string::npos) {
        std::string_view share = trimmed(std::string_view(bulk).substr(within + 6));
        const bool percent = share.ends_with('%');
        if (percent) share.remove_suffix(1);
        const auto value = parse_number(share);
        if (!percent || !value || *value < 0.0 || *value > 50.0)
            return bad("--fill", text, "'within' wants 0 to 50 %", "such as \"bulk 0.672 kg/L within 1 %\"");
        out.density_rel = *value / 100.0;
        bulk = std::string(trimmed(std::string_view(bulk).substr(0, within)));
    }
    const auto in = bulk.find(" in ");
    if (in == std::string::npos) {
        GAPWRIGHT_TRY(density, reading_of("--fill", text, "bulk", bulk, QuantityKind::Density));
        out.kg_per_litre = density.value;
        return Done{};
    }
    GAPWRIGHT_TRY(mass,
                  reading_of("--fill", text, "bulk", std::string(trimmed(bulk.substr(0, in))), QuantityKind::Mass));
    GAPWRIGHT_TRY(
        vessel, reading_of("--fill", text, "bulk in", std::string(trimmed(bulk.substr(in + 4))), QuantityKind::Volume));
    out.kg_per_litre = mass.value / (vessel.value / 1e6);
    // The scale's part; the vessel's mark is the user's to know.
    out.density_rel = std::hypot(out.density_rel, rules.scale_off_kg.value_or(mass.off) / mass.value);
    return Done{};
}

}  // namespace

Result<Filling> read_grain(std::string_view text, const FillingRules& rules) {
    GAPWRIGHT_TRY(clauses, clauses_of("--fill", text, {"mass", "empty", "bulk"}, kGrainHint));
    for (const char* word : {"mass", "bulk"})
        if (!clauses.contains(word)) return bad("--fill", text, fmt::format("does not say '{}'", word), kGrainHint);
    if (clauses.contains(""))
        return bad("--fill", text, fmt::format("'{}' stands without a word before it", clauses.at("")), kGrainHint);
    Filling out;
    out.told = std::string(text);
    GAPWRIGHT_TRY(full, weighed("--fill", text, "mass", clauses, rules));
    GAPWRIGHT_TRY(empty, weighed("--fill", text, "empty", clauses, rules));
    out.full = full;
    out.empty = empty;
    GAPWRIGHT_CHECK(read_bulk(text, clauses.at("bulk"), rules, out));
    return out;
}

Result<Filling> read_water(std::string_view text, const FillingRules& rules) {
    GAPWRIGHT_TRY(clauses, clauses_of("--water", text, {"mass", "empty"}, kWaterHint));
    Filling out;
    out.told = std::string(text);
    out.kg_per_litre = measure::kWater_kg_per_litre;
    out.density_rel = measure::kWater_rel;
    const bool alone = clauses.contains("");
    if (alone == clauses.contains("mass"))
        return bad("--water", text, alone ? "says a quantity and 'mass'" : "says no quantity", kWaterHint);
    if (alone && parse_quantity(clauses.at(""), QuantityKind::Mass)) {
        clauses.emplace("mass", clauses.at(""));
    } else if (alone) {
        if (clauses.contains("empty"))
            return bad("--water", text, "says 'empty' beside a volume",
                       "empty is what a scale showed without the water");
        GAPWRIGHT_TRY(volume, reading_of("--water", text, "", clauses.at(""), QuantityKind::Volume));
        out.matter = Filling::Matter::WaterByVolume;
        out.volume = {Volume::mm3(volume.value), Volume::mm3(volume.off)};
        return out;
    }
    out.matter = Filling::Matter::WaterByMass;
    GAPWRIGHT_TRY(full, weighed("--water", text, "mass", clauses, rules));
    GAPWRIGHT_TRY(empty, weighed("--water", text, "empty", clauses, rules));
    out.full = full;
    out.empty = empty;
    return out;
}

}  // namespace geom::job

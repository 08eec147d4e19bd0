// Lengths, areas, volumes, angles, masses and densities as a job file or an option writes them: a number and a unit,
// "1.75 in".
#pragma once

#include "geom/core/result.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace geom::job {

enum class QuantityKind { Length, Area, Volume, Angle, Mass, Density };

/// What one of the unit is in the base unit of its kind: mm, mm2, mm3, rad, kg, kg/L.
struct Unit {
    QuantityKind kind;
    std::string_view name;
    double in_base;
};

const std::vector<Unit>& units();
/// "mm, cm, m, in ..." of one kind, in order of the table.
std::vector<std::string> unit_names(QuantityKind kind);
/// None when no unit of that kind has this name.
std::optional<Unit> find_unit(std::string_view name, QuantityKind kind);

/// "a length", "an area" ...
std::string_view with_article(QuantityKind kind);
/// What a good value looks like: "\"12.5 L\"".
std::string_view example_of(QuantityKind kind);

/// A decimal number with a point, nothing after it; none when the text is anything else. Does not heed the locale.
std::optional<double> parse_number(std::string_view text);

/// "1.75 in" in the base unit of its kind. Blanks round number and unit do not count.
///
/// Faults: BadJob  no number, no unit, a unit of another kind, an unknown unit (known ones listed); `what` is the end
///                 of a sentence that begins with the key: "is \"9.5 gal\": unknown unit 'gal', wanted ..."
Result<double> parse_quantity(std::string_view text, QuantityKind kind);

/// One unit of the number's last digit: 0.01 of "8.41 kg". EXPECTS: it begins with a number.
double last_digit_of(std::string_view text);

/// The base unit's value as text with the unit reports use: "44.45 mm", "9.5 L", "220 cm2", "45 deg".
std::string quantity_text(double base, QuantityKind kind);

}  // namespace geom::job

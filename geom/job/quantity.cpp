#include "geom/job/quantity.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <numbers>

namespace geom::job {

const std::vector<Unit>& units() {
    using enum QuantityKind;
    static const std::vector<Unit> table = {
        {Length, "mm", 1.0},
        {Length, "cm", 10.0},
        {Length, "m", 1000.0},
        {Length, "in", 25.4},
        {Length, "inch", 25.4},
        {Length, "\"", 25.4},
        {Area, "cm2", 100.0},
        {Area, "mm2", 1.0},
        {Area, "m2", 1e6},
        {Area, "in2", 25.4 * 25.4},
        {Volume, "L", 1e6},
        {Volume, "l", 1e6},
        {Volume, "ml", 1e3},
        {Volume, "cm3", 1e3},
        {Volume, "m3", 1e9},
        {Volume, "ft3", 28316846.592},
        {Volume, "in3", 16387.064},
        {Angle, "deg", std::numbers::pi / 180.0},
        {Angle, "rad", 1.0},
        {Mass, "kg", 1.0},
        {Mass, "g", 1e-3},
        {Mass, "lb", 0.45359237},
        {Mass, "oz", 0.028349523125},
        {Density, "kg/L", 1.0},
        {Density, "kg/l", 1.0},
        {Density, "g/cm3", 1.0},
        {Density, "g/L", 1e-3},
        {Density, "kg/m3", 1e-3},
        {Density, "lb/ft3", 0.45359237 / 28.316846592},
    };
    return table;
}

std::vector<std::string> unit_names(QuantityKind kind) {
    std::vector<std::string> names;
    for (const Unit& unit : units())
        if (unit.kind == kind) names.emplace_back(unit.name);
    return names;
}

std::optional<Unit> find_unit(std::string_view name, QuantityKind kind) {
    for (const Unit& unit : units())
        if (unit.kind == kind && unit.name == name) return unit;
    return std::nullopt;
}

std::string_view with_article(QuantityKind kind) {
    switch (kind) {
        case QuantityKind::Length:
            return "a length";
        case QuantityKind::Area:
            return "an area";
        case QuantityKind::Volume:
            return "a volume";
        case QuantityKind::Angle:
            return "an angle";
        case QuantityKind::Mass:
            return "a mass";
        case QuantityKind::Density:
            return "a density";
    }
    return "";
}

std::string_view example_of(QuantityKind kind) {
    switch (kind) {
        case QuantityKind::Length:
            return "4 or \"1.75 in\"";
        case QuantityKind::Area:
            return "\"220 cm2\"";
        case QuantityKind::Volume:
            return "\"12.5 L\"";
        case QuantityKind::Angle:
            return "\"15 deg\"";
        case QuantityKind::Mass:
            return "\"8.41 kg\"";
        case QuantityKind::Density:
            return "\"0.672 kg/L\"";
    }
    return "";
}

namespace {

std::string_view trimmed(std::string_view text) {
    const auto first = text.find_first_not_of(" \t");
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

/// Reads the number at the start of `text` and takes it off.
std::optional<double> take_number(std::string_view& text) {
    std::string_view rest = text;
    if (!rest.empty() && rest.front() == '+') rest.remove_prefix(1);
    // from_chars also knows "inf" and "nan", which are words here and no numbers.
    const std::size_t digit = !rest.empty() && rest.front() == '-' ? 1 : 0;
    if (rest.size() <= digit || !(rest[digit] == '.' || (rest[digit] >= '0' && rest[digit] <= '9')))
        return std::nullopt;
    double value = 0.0;
    const auto [end, error] = std::from_chars(rest.data(), rest.data() + rest.size(), value);
    if (error != std::errc{} || !std::isfinite(value)) return std::nullopt;
    text = rest.substr(static_cast<std::size_t>(end - rest.data()));
    return value;
}

Fault not_so(std::string what) {
    return {FaultCode::BadJob, std::move(what), "", {}, {}};
}

}  // namespace

std::optional<double> parse_number(std::string_view text) {
    text = trimmed(text);
    const auto value = take_number(text);
    return text.empty() ? value : std::nullopt;
}

Result<double> parse_quantity(std::string_view text, QuantityKind kind) {
    const auto wanted = [&] { return fmt::format("wanted {} such as {}", with_article(kind), example_of(kind)); };
    std::string_view rest = trimmed(text);
    const auto number = take_number(rest);
    if (!number) return not_so(fmt::format("is \"{}\", which does not begin with a number; {}", text, wanted()));
    rest = trimmed(rest);
    if (rest.empty()) return not_so(fmt::format("is \"{}\" without a unit; {}", text, wanted()));
    if (const auto unit = find_unit(rest, kind)) return *number * unit->in_base;
    if (rest.front() == ',')
        return not_so(fmt::format("is \"{}\" with a comma; wanted a decimal point and a unit, such as {}", text,
                                  example_of(kind)));
    for (const Unit& other : units())
        if (other.name == rest)
            return not_so(fmt::format("is \"{}\", which is {}; {}", text, with_article(other.kind), wanted()));
    return not_so(fmt::format("is \"{}\": unknown unit '{}'; wanted {}", text, rest, listed(unit_names(kind), "or")));
}

double last_digit_of(std::string_view text) {
    std::string_view rest = trimmed(text);
    const std::string_view whole = rest;
    EXPECTS(take_number(rest).has_value());
    const std::string_view number = whole.substr(0, whole.size() - rest.size());
    const auto exponent = number.find_first_of("eE");
    const std::string_view mantissa = number.substr(0, exponent);
    const auto point = mantissa.find('.');
    double digit = point == std::string_view::npos ? 1.0 : std::pow(10.0, -double(mantissa.size() - point - 1));
    if (exponent != std::string_view::npos) digit *= std::pow(10.0, *parse_number(number.substr(exponent + 1)));
    return digit;
}

std::string quantity_text(double base, QuantityKind kind) {
    switch (kind) {
        case QuantityKind::Length:
            return plain_number(base) + " mm";
        case QuantityKind::Area:
            return plain_number(base / 100.0) + " cm2";
        case QuantityKind::Volume:
            return plain_number(base / 1e6) + " L";
        case QuantityKind::Angle:
            return plain_number(base * 180.0 / std::numbers::pi) + " deg";
        case QuantityKind::Mass:
            return plain_number(base) + " kg";
        case QuantityKind::Density:
            return plain_number(base) + " kg/L";
    }
    return "";
}

}  // namespace geom::job

// The widths are generous (a factor of three for the extent, of four for the spacing): a scan for a vehicle's part is a
// cup holder, a gap, a cabin. The weights of habit are our own: most scanners and their programs write millimetres,
// phones and depth cameras metres; centimetres and inches come from modelling programs and are rare.
#include "geom/scan/unit.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::scan {
namespace {

constexpr double kLeastExtent_mm = 50.0, kMostExtent_mm = 20000.0;
constexpr double kTypicalExtent_mm = 1500.0;
constexpr double kDecided = 0.9;
constexpr double kLeastSpacing_mm = 0.02, kMostSpacing_mm = 500.0;

double habit_of(FileUnit unit) {
    switch (unit) {
        case FileUnit::Millimetre:
            return 1.0;
        case FileUnit::Metre:
            return 0.6;
        case FileUnit::Centimetre:
        case FileUnit::Inch:
            return 0.12;
    }
    return 0.0;
}

/// 1 at `typical`, falling off on a logarithmic scale with the given factor as its spread.
double nearness(double value, double typical, double factor) {
    const double spreads = std::log(value / typical) / std::log(factor);
    return std::exp(-0.5 * spreads * spreads);
}

}  // namespace

Length one(FileUnit unit) {
    switch (unit) {
        case FileUnit::Millimetre:
            return Length::mm(1);
        case FileUnit::Centimetre:
            return Length::cm(1);
        case FileUnit::Metre:
            return Length::m(1);
        case FileUnit::Inch:
            return Length::inch(1);
    }
    return Length::mm(1);
}

const char* name_of(FileUnit unit) {
    switch (unit) {
        case FileUnit::Millimetre:
            return "mm";
        case FileUnit::Centimetre:
            return "cm";
        case FileUnit::Metre:
            return "m";
        case FileUnit::Inch:
            return "in";
    }
    return "mm";
}

std::optional<FileUnit> file_unit_named(std::string_view name) {
    for (const FileUnit unit : kFileUnits)
        if (name == name_of(unit)) return unit;
    return std::nullopt;
}

bool is_plausible_extent(Length largest) {
    return largest.mm() >= kLeastExtent_mm && largest.mm() <= kMostExtent_mm;
}

UnitGuess likely_units(Vec3 size, double spacing) {
    UnitGuess guess;
    double sum = 0.0;
    for (std::size_t i = 0; i < kFileUnits.size(); ++i) {
        UnitReading& reading = guess.all[i];
        const double one_mm = one(kFileUnits[i]).mm();
        reading.unit = kFileUnits[i];
        reading.size_mm = size * one_mm;
        reading.spacing_mm = spacing > 0.0 && std::isfinite(spacing) ? spacing * one_mm : 0.0;
        const double largest_mm = std::max({reading.size_mm.x, reading.size_mm.y, reading.size_mm.z});
        const bool spaced = reading.spacing_mm > 0.0;
        reading.plausible =
            is_plausible_extent(Length::mm(largest_mm)) &&
            (!spaced || (reading.spacing_mm >= kLeastSpacing_mm && reading.spacing_mm <= kMostSpacing_mm));
        if (!reading.plausible) continue;
        reading.share =
            nearness(largest_mm, kTypicalExtent_mm, 3.0) * (spaced ? nearness(reading.spacing_mm, 2.0, 4.0) : 1.0);
        sum += reading.share;
    }
    for (UnitReading& reading : guess.all) {
        if (!reading.plausible) continue;
        reading.share /= sum;
        guess.plausible.push_back(reading);
    }
    const auto worth = [](const UnitReading& reading) {
        return reading.share >= kDecided ? 2.0 : habit_of(reading.unit) * reading.share;
    };
    std::stable_sort(guess.plausible.begin(), guess.plausible.end(),
                     [&](const UnitReading& a, const UnitReading& b) { return worth(a) > worth(b); });
    if (!guess.plausible.empty() && guess.plausible.front().share >= kDecided)
        guess.likeliest = guess.plausible.front().unit;
    return guess;
}

std::string plausible_text(const UnitGuess& guess) {
    std::string text;
    for (const UnitReading& reading : guess.plausible)
        text += fmt::format("{}{} ({:.4g} x {:.4g} x {:.4g} mm)", text.empty() ? "" : ", ", name_of(reading.unit),
                            reading.size_mm.x, reading.size_mm.y, reading.size_mm.z);
    return text;
}

Aabb middle_box(const std::vector<Point3>& points) {
    Aabb box;
    if (points.size() < 200) {
        for (const Point3& p : points) box.grow(p);
        return box;
    }
    const std::size_t stride = points.size() / 100000 + 1;
    std::vector<double> v;
    v.reserve(points.size() / stride + 1);
    for (std::size_t axis = 0; axis < 3; ++axis) {
        v.clear();
        for (std::size_t i = 0; i < points.size(); i += stride) v.push_back(points[i][axis]);
        const auto lo = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 100);
        const auto hi = v.begin() + static_cast<std::ptrdiff_t>(v.size() - 1 - v.size() / 100);
        std::nth_element(v.begin(), hi, v.end());
        box.hi[axis] = *hi;
        std::nth_element(v.begin(), lo, hi);
        box.lo[axis] = *lo;
    }
    return box;
}

}  // namespace geom::scan

// An outline as a job gives it: a diameter, or a table with one of ellipse, rectangle, points or drawing.
#include "geom/core/text.h"
#include "geom/job/internal/sections.h"
#include "geom/job/outline_drawing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string_view>

namespace geom::job {
namespace {

const char* const kForms[] = {"ellipse", "rectangle", "points", "drawing"};

struct FormKeys {
    const char* form;
    std::vector<const char*> keys;
};
const std::vector<FormKeys>& keys_of_forms() {
    static const std::vector<FormKeys> all = {{"ellipse", {"turn"}},
                                              {"rectangle", {"corner_radius", "turn"}},
                                              {"points", {"corner_radius"}},
                                              {"drawing", {"layer", "origin", "length_unit"}}};
    return all;
}

/// Keys that do not go with the form are refused by name.
void judge_keys(const Table& table, const std::string& form) {
    for (const FormKeys& each : keys_of_forms())
        for (const char* key : each.keys) table.known(key);
    for (const FormKeys& each : keys_of_forms()) {
        if (each.form != form) continue;
        for (const FormKeys& other : keys_of_forms())
            for (const char* key : other.keys)
                if (table.has(key) && std::none_of(each.keys.begin(), each.keys.end(),
                                                   [&](const char* own) { return std::string_view(own) == key; }))
                    table.refuse(key, fmt::format("does not go with {}", form), "take one of the two out");
    }
}

/// Width and height.
std::optional<std::pair<double, double>> size_of(const Table& table, const char* key) {
    const std::vector<double> size = table.lengths(key, 2, "width and height, such as [230, 168]");
    if (size.size() != 2) return std::nullopt;
    if (size[0] > 0.0 && size[1] > 0.0) return std::pair{size[0], size[1]};
    table.refuse(key, "is not positive; wanted width and height");
    return std::nullopt;
}

std::optional<parts::RingOutline> polygon(const Table& table, const char* key,
                                          const std::vector<parts::FlatPoint>& corners) {
    const Length radius = table.length("corner_radius", Allowed::NotNegative, Length::mm(0));
    auto outline = parts::rounded_polygon(corners, radius);
    if (outline) return *std::move(outline);
    table.refuse(key, outline.error().what, outline.error().hint);
    return std::nullopt;
}

std::optional<parts::RingOutline> rectangle(const Table& table) {
    const auto size = size_of(table, "rectangle");
    const double turn = table.angle("turn", Angle::deg(0)).rad(), c = std::cos(turn), s = std::sin(turn);
    if (!size) return std::nullopt;
    std::vector<parts::FlatPoint> corners;
    for (const auto& [x, y] : {std::pair{-0.5, -0.5}, {0.5, -0.5}, {0.5, 0.5}, {-0.5, 0.5}}) {
        const double u = x * size->first, v = y * size->second;
        corners.push_back({u * c - v * s, u * s + v * c, 0.0});
    }
    return polygon(table, "rectangle", corners);
}

std::optional<parts::RingOutline> drawn(const Table& table, Job& job) {
    DrawingOptions options;
    options.layer = table.text("layer", "");
    options.unitless_mm = length_unit_of(table, "length_unit", std::string(table.file().length_unit().name)).in_base;
    if (table.has("origin")) {
        const std::vector<double> origin = table.lengths("origin", 2, "x and y in the drawing, such as [120, 85]");
        if (origin.size() == 2) options.x = origin[0], options.y = origin[1];
    } else {
        table.note("origin", "the drawing's own", true);
    }
    const std::filesystem::path file = table.file().folder() / table.text("drawing");
    if (file == table.file().folder()) return std::nullopt;
    auto outlines = read_drawing(file, options);
    if (!outlines) {
        table.refuse("drawing", outlines.error().what, outlines.error().hint, outlines.error().code);
        return std::nullopt;
    }
    job.input_files.push_back(file);
    if (outlines->size() == 1) return outlines->front();
    table.refuse("drawing", fmt::format("holds {} closed outlines; wanted one", outlines->size()),
                 "give layer = \"..\" of the one that is meant, or save it alone");
    return std::nullopt;
}

}  // namespace

std::optional<parts::RingOutline> outline_of(const Table& owner, const std::string& key, Job& job) {
    if (!owner.is_table(key)) {
        const Length diameter = owner.length(key, Allowed::Positive);
        return diameter.mm() > 0.0 ? std::optional(parts::round_outline(diameter)) : std::nullopt;
    }
    const Table table = owner.table(key);
    std::vector<std::string> found;
    for (const char* form : kForms) {
        table.known(form);
        if (table.has(form)) found.emplace_back(form);
    }
    if (found.size() != 1) {
        table.judge_no_keys();
        owner.refuse(key,
                     found.empty() ? "has no outline; wanted a diameter, or one of ellipse, rectangle, points, drawing"
                                   : fmt::format("has {} outlines ({}); wanted one", found.size(), listed(found)),
                     "{ ellipse = [230, 168] }, { rectangle = [220, 180], corner_radius = 30 }, { points = [[..], ..] "
                     "} or { drawing = \"seat.dxf\" }");
        return std::nullopt;
    }
    judge_keys(table, found.front());
    if (found.front() == "ellipse") {
        const auto size = size_of(table, "ellipse");
        const Angle turn = table.angle("turn", Angle::deg(0));
        if (!size) return std::nullopt;
        return parts::ellipse_outline(Length::mm(size->first), Length::mm(size->second), turn);
    }
    if (found.front() == "rectangle") return rectangle(table);
    if (found.front() == "drawing") return drawn(table, job);
    const auto points =
        table.flat_points("points", 3, 1000, "at least three corners, in order round, such as [[-60, -40], [60, -40]]");
    if (points.empty()) return std::nullopt;
    std::vector<parts::FlatPoint> corners;
    for (const Point3& p : points) corners.push_back({p.x, p.y, 0.0});
    return polygon(table, "points", corners);
}

std::optional<parts::RingOutline> maybe_outline(const Table& owner, const std::string& key, Job& job,
                                                const std::string& otherwise) {
    if (owner.has(key)) return outline_of(owner, key, job);
    owner.known(key);
    if (!otherwise.empty()) owner.note(key, otherwise, true);
    return std::nullopt;
}

}  // namespace geom::job

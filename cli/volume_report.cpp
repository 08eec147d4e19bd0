#include "cli/volume_report.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

namespace cli {

using geom::grouped;
using geom::Point3;
using geom::Volume;
using geom::measure::Body;
using geom::measure::FlawFound;
using geom::measure::SectionTable;
using geom::measure::ShapeUnitBy;
using geom::measure::ShapeVolume;

namespace {

/// As many digits as the bound leaves, nine at most.
std::string litres(Volume v, Volume bound) {
    const double of = std::abs(v.litres()), off = std::abs(bound.litres());
    int decimals = 9;
    if (off > 0.0) decimals = std::clamp(static_cast<int>(std::ceil(-std::log10(off))) + 1, 0, 9);
    if (of > 0.0) decimals = std::min(decimals, std::max(0, 9 - static_cast<int>(std::floor(std::log10(of)))));
    return fmt::format("{:.{}f} L", v.litres(), decimals);
}

/// "0.00034 L"
std::string small_litres(Volume v) {
    return fmt::format("{:.2g} L", v.litres());
}

std::string box_text(const geom::Aabb& box) {
    const auto s = box.size();
    return fmt::format("{:.6g} x {:.6g} x {:.6g} mm", s.x, s.y, s.z);
}

std::string place(Point3 p) {
    return fmt::format("{:.5g}, {:.5g}, {:.5g}", p.x, p.y, p.z);
}

class Lines {
public:
    void first(const std::string& name, const std::string& text) { text_ += fmt::format("  {:<13}{}\n", name, text); }
    void more(const std::string& text) { first("", text); }
    void plain(const std::string& text) { text_ += text + "\n"; }
    std::string take() { return std::move(text_); }

private:
    std::string text_;
};

std::string unit_text(const MeasuredShape& shape) {
    const char* name = geom::scan::name_of(shape.file.unit);
    if (!shape.volume.mesh.triangles.empty() && shape.file.format == "STEP") return "as the file says";
    switch (shape.file.unit_by) {
        case ShapeUnitBy::File:
            return fmt::format("{}, as the file says", name);
        case ShapeUnitBy::Statement:
            return fmt::format("{}, as stated", name);
        case ShapeUnitBy::Remark:
            return fmt::format("{}, by a remark in the file", name);
    }
    return name;
}

void tell_bodies(Lines& lines, const ShapeVolume& v) {
    constexpr std::size_t kMostListed = 12;
    std::size_t voids = 0;
    for (const Body& body : v.bodies) voids += body.is_void;
    lines.first("bodies", fmt::format("{} solid{}, {} void{}", v.bodies.size() - voids,
                                      v.bodies.size() - voids == 1 ? "" : "s", voids, voids == 1 ? "" : "s"));
    if (v.bodies.size() < 2) return;
    for (std::size_t i = 0; i < std::min(kMostListed, v.bodies.size()); ++i) {
        const Body& b = v.bodies[i];
        std::string kind = b.is_void ? (b.within >= 0 ? fmt::format("void in {}", b.within + 1) : "void") : "solid";
        lines.more(fmt::format("{:>3}  {:<11} {:>16}  {:>12.6g} cm2  {}{}{}", i + 1, kind,
                               fmt::format("{:.6f} L", b.volume.litres()), b.area.cm2(), box_text(b.box),
                               b.closed ? "" : ", not closed", b.name.empty() ? "" : "  " + b.name));
    }
    if (v.bodies.size() > kMostListed) lines.more(fmt::format("and {} more: --json", v.bodies.size() - kMostListed));
}

void tell_sections(Lines& lines, const SectionTable& table, Volume volume) {
    const char* axis = table.axis == 0 ? "x" : table.axis == 1 ? "y" : "z";
    lines.first("sections", fmt::format("{} slices along {}", table.rows.size() - 1, axis));
    for (std::size_t i = 0; i < table.rows.size(); ++i) {
        const auto& row = table.rows[i];
        const bool inner = i > 0 && i + 1 < table.rows.size();
        lines.more(fmt::format(
            "{} {:>12.4f} mm  {:>14.4f} cm2{}{}", axis, row.at_mm, row.area_mm2 / 100.0,
            i + 1 < table.rows.size() ? fmt::format("  {:>12.6f} L to the next", row.slice_mm3 / 1e6) : "",
            inner && row.jumps() ? fmt::format(", a step from {:.4f} cm2 below", row.below_mm2 / 100.0) : ""));
    }
    const auto against = [&](Volume v) {
        return fmt::format("{:.6f} L, {:+.3g} % of the volume", v.litres(),
                           volume.mm3() > 0.0 ? 100.0 * (v / volume - 1.0) : 0.0);
    };
    lines.more("trapezoids " + against(table.trapezoids));
    lines.more("Simpson    " + against(table.simpson));
}

void tell_inside(Lines& lines, const MeasuredShape& shape, const VolumeReport& report) {
    const auto& in = *shape.inside;
    lines.first("inside", fmt::format("{} behind a wall of {:.6g} mm, good to {}", litres(in.inside, in.uncertainty),
                                      shape.wall_mm, small_litres(in.uncertainty)));
    lines.more(fmt::format("the wall itself {}", litres(in.wall, in.uncertainty)));
    if (report.density_kg_m3)
        lines.more(fmt::format("{:.4g} kg of {}", in.wall.litres() * *report.density_kg_m3 / 1000.0, report.material));
    lines.more(fmt::format("by depth in boxes of {:.3g} mm", in.step_mm));
}

void tell_air(Lines& lines, const geom::measure::ShapeAir& air) {
    const Volume good_to = air.uncertainty.mm3() > 0.0 ? air.uncertainty : air.bound;
    lines.first("air", fmt::format("{}, good to {}", litres(air.volume, good_to), small_litres(good_to)));
    lines.more("by " + air.method);
    lines.more(fmt::format("{:+.2g} L by {} (may differ by {})", (air.by_lids - air.volume).litres(), air.other,
                           small_litres(air.bound)));
    lines.more(fmt::format("{:.6g} cm2 look at it", air.wall.cm2()));
    for (const auto& c : air.closed)
        lines.more(fmt::format("closed: {:.5g} cm2, {:.5g} mm wide, at {}, facing {}, {}", c.area_mm2 / 100.0,
                               c.width_mm, place(c.plane.point), place(c.plane.outward), c.how));
    if (air.closed.empty()) lines.more("closed: nothing, it is closed as drawn");
}

void tell(Lines& lines, const MeasuredShape& shape, const VolumeReport& report) {
    const ShapeVolume& v = shape.volume;
    lines.plain(shape.file.path.string());
    lines.first("read as", fmt::format("{}, unit {}", shape.file.format, unit_text(shape)));
    if (v.known) {
        const Volume bound = (v.high - v.low) * 0.5;
        if (v.exact)
            lines.first("volume", fmt::format("{}, good to {}", litres(v.volume, bound), small_litres(bound)));
        else
            lines.first("volume", fmt::format("not exact: {} to {}, likeliest {}", litres(v.low, bound * 0.1),
                                              litres(v.high, bound * 0.1), litres(v.volume, bound * 0.1)));
        lines.more("by " + v.method);
        for (const auto& other : v.others)
            lines.more(fmt::format("{:+.2g} L by {} (may differ by {})", (other.volume - v.volume).litres(),
                                   other.method, small_litres(other.bound)));
        if (!v.precision.empty() && v.exact)
            lines.more(fmt::format("numbers in {}: {}", v.precision, small_litres(v.rounding)));
        if (v.if_curved)
            lines.more(fmt::format("{:+.2g} L where the triangles stand for a smooth surface", v.if_curved->litres()));
        if (report.density_kg_m3) {
            const auto mass = [&](Volume of) { return of.litres() * *report.density_kg_m3 / 1000.0; };
            lines.first("mass", fmt::format("{:.4g} kg of {} ({:.4g} kg/m3)", mass(v.volume), report.material,
                                            *report.density_kg_m3));
            if (!v.exact) lines.more(fmt::format("{:.4g} to {:.4g} kg by the bounds", mass(v.low), mass(v.high)));
        }
    } else {
        lines.first("volume", "none");
    }
    if (shape.inside) tell_inside(lines, shape, report);
    if (shape.air) tell_air(lines, *shape.air);
    if (!v.bodies.empty()) tell_bodies(lines, v);
    if (!v.box.is_empty()) {
        lines.first("area", fmt::format("{:.6g} cm2", v.area.cm2()));
        lines.first("size", fmt::format("{}, from {}", box_text(v.box), place(v.box.lo)));
        if (v.known) lines.first("centre", place(v.centre) + " mm");
    }
    for (const Body& body : v.bodies)
        for (const auto& loop : body.loops)
            lines.first("lid", fmt::format("{:.5g} mm wide, {:.5g} cm2, at {}", loop.width_mm, loop.lid_mm2 / 100.0,
                                           place(loop.middle)));
    if (v.flaws.empty()) {
        lines.first("state", shape.file.format == "STEP"
                                 ? "closed, faces and edges agree, solids share no room (a face that crosses its "
                                   "own solid is not looked for)"
                                 : "closed, evenly oriented, crosses itself nowhere");
    } else {
        for (const FlawFound& flaw : v.flaws) {
            lines.first(&flaw == &v.flaws.front() ? "state" : "",
                        fmt::format("{}: {}{}", geom::measure::name_of(flaw.flaw), flaw.what,
                                    flaw.at ? ", at " + place(*flaw.at) : ""));
            if (!flaw.hint.empty()) lines.more("  try: " + flaw.hint);
        }
    }
    if (shape.sections) tell_sections(lines, *shape.sections, v.volume);
}

}  // namespace

std::string volume_text(const VolumeReport& report) {
    Lines lines;
    for (const MeasuredShape& shape : report.shapes) {
        if (&shape != &report.shapes.front()) lines.plain("");
        tell(lines, shape, report);
    }
    if (report.shapes.size() > 1) {
        Volume sum, low, high;
        bool all = true, exact = true;
        for (const MeasuredShape& shape : report.shapes) {
            sum += shape.volume.volume, low += shape.volume.low, high += shape.volume.high;
            all = all && shape.volume.known;
            exact = exact && shape.volume.exact;
        }
        lines.plain("");
        const Volume bound = (high - low) * 0.5;
        if (!all)
            lines.plain("together: unknown, since one of the files holds no volume");
        else if (exact)
            lines.plain(fmt::format("together: {}, good to {}", litres(sum, bound), small_litres(bound)));
        else
            lines.plain(fmt::format("together: {} to {}, likeliest {}", litres(low, bound * 0.1),
                                    litres(high, bound * 0.1), litres(sum, bound * 0.1)));
    }
    if (!report.written.empty()) {
        lines.plain("\nwritten");
        for (const auto& file : report.written) lines.plain("  " + file.string());
    }
    return lines.take();
}

// JSON --------------------------------------------------------------------------------------------------------------

namespace {

using Json = nlohmann::ordered_json;

double rounded(double v) {
    return geom::rounded(v, 6);
}
/// Cubic millimetres of a cubic millimetre: twelve decimals of a litre.
double in_litres(Volume v) {
    return geom::rounded(v.litres(), 12);
}
Json vector_of(geom::Vec3 v) {
    return {rounded(v.x), rounded(v.y), rounded(v.z)};
}
Json box_of(const geom::Aabb& box) {
    if (box.is_empty()) return nullptr;
    return {{"min", vector_of(box.lo)}, {"max", vector_of(box.hi)}, {"size", vector_of(box.size())}};
}

Json body_json(const Body& b, const std::optional<double>& density) {
    Json loops = Json::array();
    for (const auto& loop : b.loops)
        loops.push_back({{"middle_mm", vector_of(loop.middle)},
                         {"normal", vector_of(loop.normal)},
                         {"width_mm", rounded(loop.width_mm)},
                         {"length_mm", rounded(loop.length_mm)},
                         {"area_mm2", rounded(loop.lid_mm2)},
                         {"flatness_mm", rounded(loop.flatness_mm)}});
    Json out = {{"kind", b.is_void ? "void" : "solid"},
                {"name", b.name},
                {"within", b.within >= 0 ? Json(b.within) : Json(nullptr)},
                {"closed", b.closed},
                {"volume_litres", in_litres(b.volume)},
                {"area_mm2", rounded(b.area.mm2())},
                {"box_mm", box_of(b.box)},
                {"centre_mm", vector_of(b.centre)},
                {"triangles", b.triangles},
                {"faces", b.faces},
                {"lids", loops}};
    if (density && !b.is_void) out["mass_kg"] = rounded(b.volume.litres() * *density / 1000.0);
    return out;
}

}  // namespace

std::string volume_json(const VolumeReport& report) {
    Json all;
    all["shapes"] = Json::array();
    for (const MeasuredShape& shape : report.shapes) {
        const ShapeVolume& v = shape.volume;
        constexpr const char* by[] = {"file", "stated", "remark"};
        Json out;
        out["file"] = shape.file.path.string();
        out["format"] = shape.file.format;
        out["unit"] = {{"taken", geom::scan::name_of(shape.file.unit)},
                       {"by", by[static_cast<std::size_t>(shape.file.unit_by)]}};
        out["known"] = v.known;
        out["exact"] = v.exact;
        out["volume_litres"] = v.known ? Json(in_litres(v.volume)) : Json(nullptr);
        out["low_litres"] = v.known ? Json(in_litres(v.low)) : Json(nullptr);
        out["high_litres"] = v.known ? Json(in_litres(v.high)) : Json(nullptr);
        out["method"] = v.method;
        out["other_methods"] = Json::array();
        for (const auto& other : v.others)
            out["other_methods"].push_back({{"method", other.method},
                                            {"volume_litres", in_litres(other.volume)},
                                            {"bound_litres", other.bound.litres()}});
        out["precision"] = v.precision;
        out["rounding_litres"] = v.rounding.litres();
        out["if_curved_litres"] = v.if_curved ? Json(v.if_curved->litres()) : Json(nullptr);
        out["area_mm2"] = rounded(v.area.mm2());
        out["box_mm"] = box_of(v.box);
        out["centre_mm"] = v.known ? vector_of(v.centre) : Json(nullptr);
        if (report.density_kg_m3) {
            out["material"] = {{"name", report.material}, {"density_kg_m3", *report.density_kg_m3}};
            out["mass_kg"] =
                v.known ? Json(rounded(v.volume.litres() * *report.density_kg_m3 / 1000.0)) : Json(nullptr);
        }
        out["bodies"] = Json::array();
        for (const Body& body : v.bodies) out["bodies"].push_back(body_json(body, report.density_kg_m3));
        out["flaws"] = Json::array();
        for (const FlawFound& flaw : v.flaws)
            out["flaws"].push_back({{"kind", geom::measure::name_of(flaw.flaw)},
                                    {"count", flaw.count},
                                    {"doubt", geom::measure::leaves_doubt(flaw.flaw)},
                                    {"what", flaw.what},
                                    {"try", flaw.hint},
                                    {"at_mm", flaw.at ? vector_of(*flaw.at) : Json(nullptr)}});
        if (shape.inside)
            out["inside"] = {{"wall_mm", rounded(shape.wall_mm)},
                             {"volume_litres", in_litres(shape.inside->inside)},
                             {"wall_litres", in_litres(shape.inside->wall)},
                             {"uncertainty_litres", shape.inside->uncertainty.litres()},
                             {"step_mm", rounded(shape.inside->step_mm)}};
        if (shape.air) {
            Json closed = Json::array();
            for (const auto& c : shape.air->closed)
                closed.push_back({{"asked_mm", vector_of(c.asked)},
                                  {"at_mm", vector_of(c.plane.point)},
                                  {"outward", vector_of(c.plane.outward)},
                                  {"area_mm2", rounded(c.area_mm2)},
                                  {"width_mm", rounded(c.width_mm)},
                                  {"how", c.how}});
            out["air"] = {
                {"volume_litres", in_litres(shape.air->volume)},         {"method", shape.air->method},
                {"by_lids_litres", in_litres(shape.air->by_lids)},       {"second_method", shape.air->other},
                {"uncertainty_litres", shape.air->uncertainty.litres()}, {"bound_litres", shape.air->bound.litres()},
                {"wall_area_mm2", rounded(shape.air->wall.mm2())},       {"closed", closed}};
        }
        if (shape.sections) {
            Json rows = Json::array();
            for (const auto& row : shape.sections->rows)
                rows.push_back({{"at_mm", rounded(row.at_mm)},
                                {"area_mm2", rounded(row.area_mm2)},
                                {"area_below_mm2", rounded(row.below_mm2)},
                                {"litres_to_next", in_litres(Volume::mm3(row.slice_mm3))}});
            constexpr const char* axes[] = {"x", "y", "z"};
            out["sections"] = {{"axis", axes[shape.sections->axis]},
                               {"rows", rows},
                               {"trapezoids_litres", in_litres(shape.sections->trapezoids)},
                               {"simpson_litres", in_litres(shape.sections->simpson)},
                               {"exact_litres", in_litres(shape.sections->exact)}};
        }
        all["shapes"].push_back(std::move(out));
    }
    all["written"] = Json::array();
    for (const auto& file : report.written) all["written"].push_back(file.string());
    return all.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::string sections_csv(const SectionTable& table) {
    const char* axis = table.axis == 0 ? "x" : table.axis == 1 ? "y" : "z";
    std::string out = fmt::format("{}_mm,area_mm2,area_below_mm2,litres_to_next\n", axis);
    for (const auto& row : table.rows)
        out +=
            fmt::format("{:.6f},{:.6f},{:.6f},{:.9f}\n", row.at_mm, row.area_mm2, row.below_mm2, row.slice_mm3 / 1e6);
    return out;
}

}  // namespace cli

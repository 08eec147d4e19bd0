#include "cli/scan_report.h"

#include "geom/core/text.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/shells.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

namespace cli {

using geom::grouped;
using geom::Point3;
using geom::Vec3;
using geom::scan::FileUnit;
using geom::scan::UnitBy;

// Mesh --------------------------------------------------------------------------------------------------------------

namespace {

constexpr std::size_t kMostCrossings = 16;
/// Looking for crossings among more triangles than this takes longer than all else.
constexpr std::size_t kMostTriangles = 2000000;

void count_edges(MeshState& state) {
    std::vector<std::uint64_t> edges;
    edges.reserve(3 * state.mesh.triangles.size());
    for (const auto& t : state.mesh.triangles)
        for (std::size_t k = 0; k < 3; ++k) {
            const auto [lo, hi] = std::minmax(t[k], t[(k + 1) % 3]);
            edges.push_back(static_cast<std::uint64_t>(lo) << 32 | hi);
        }
    std::sort(edges.begin(), edges.end());
    for (std::size_t i = 0; i < edges.size();) {
        std::size_t j = i + 1;
        while (j < edges.size() && edges[j] == edges[i]) ++j;
        state.border_edges += j - i == 1;
        state.crowded_edges += j - i > 2;
        i = j;
    }
}

}  // namespace

geom::Result<MeshState> mesh_state(const geom::scan::RawScan& scan, const geom::Context& context) {
    EXPECTS(!scan.triangles.empty());
    const geom::Stage stage(context, "scan/mesh");
    MeshState state;
    state.mesh = geom::measure::join_equal({scan.points, scan.triangles});
    std::erase_if(state.mesh.triangles, [](const auto& t) { return t[0] == t[1] || t[1] == t[2] || t[2] == t[0]; });
    const geom::measure::MeshMeasure measure = geom::measure::measure_mesh(state.mesh);
    state.closed = measure.closed;
    state.oriented = measure.oriented;
    state.pieces = measure.components;
    state.degenerate = measure.degenerate + scan.triangles.size() - state.mesh.triangles.size();
    state.area_mm2 = measure.area.mm2();
    if (state.closed && state.oriented) state.volume_litres = measure.volume.litres();
    count_edges(state);
    if (context.is_cancelled()) return geom::Context::interrupted();
    state.crossings_known = state.mesh.triangles.size() <= kMostTriangles;
    if (!state.crossings_known || state.mesh.triangles.empty()) return state;
    GAPWRIGHT_TRY(crossings, geom::measure::self_crossings(state.mesh, kMostCrossings + 1));
    for (const auto& crossing : crossings) state.crossings.push_back(crossing.at);
    state.more_crossings = state.crossings.size() > kMostCrossings;
    if (state.more_crossings) state.crossings.resize(kMostCrossings);
    return state;
}

// Text --------------------------------------------------------------------------------------------------------------

namespace {

/// "1 hole", "2 holes"
std::string counted(std::size_t n, const char* one, const char* many) {
    return grouped(n) + " " + (n == 1 ? one : many);
}

std::string coordinates(Point3 p) {
    return fmt::format("{:.1f}, {:.1f}, {:.1f}", p.x, p.y, p.z);
}

std::string size_text(Vec3 s) {
    const double largest = std::max({s.x, s.y, s.z});
    const int digits = largest >= 1e5 ? 0 : largest >= 10.0 ? 1 : 4;
    return fmt::format("{:.{}f} x {:.{}f} x {:.{}f}", s.x, digits, s.y, digits, s.z, digits);
}

class Lines {
public:
    /// The first line of a subject; the others are indented like it.
    void first(const char* subject, const std::string& text) { out_ += fmt::format("{:<13}{}\n", subject, text); }
    void more(const std::string& text) { out_ += fmt::format("{:<13}{}\n", "", text); }
    void plain(const std::string& text) { out_ += text + "\n"; }
    std::string take() { return std::move(out_); }

private:
    std::string out_;
};

constexpr std::size_t kMostListed = 10;

void tell_files(Lines& lines, const ScanReport& r) {
    for (const auto& file : r.scan.files) {
        std::string what = file.triangles > 0
                               ? fmt::format("{} on {}", counted(file.triangles, "triangle", "triangles"),
                                             counted(file.points, "point", "points"))
                               : counted(file.points, "point", "points");
        what += file.has_normals ? ", normals" : ", no normals";
        what += file.has_colours ? ", colours" : ", no colours";
        lines.plain(fmt::format("{}: {}; {}", file.path.string(), file.format, what));
    }
    lines.plain("");
}

void tell_unit(Lines& lines, const ScanReport& r) {
    const std::string name = geom::scan::name_of(r.taken.unit);
    std::vector<std::string> others;
    for (const auto& reading : r.taken.guess.plausible)
        if (reading.unit != r.taken.unit) others.push_back(geom::scan::name_of(reading.unit));
    const bool fits = others.size() < r.taken.guess.plausible.size();
    const std::string also =
        others.empty() ? "no other unit makes sense of the size" : "also plausible: " + geom::listed(others, "and");
    switch (r.taken.by) {
        case UnitBy::Files:
            lines.first("unit", name + ", as the format says");
            break;
        case UnitBy::Statement:
            lines.first("unit", name + ", as stated; " +
                                    (fits ? also
                                          : "the size makes no sense in it" +
                                                (others.empty() ? ", nor in another"
                                                                : "; plausible: " + geom::listed(others, "and"))));
            break;
        case UnitBy::Likelihood:
            lines.first("unit", name + ", likeliest by its size; " + also);
            break;
        case UnitBy::Remark:
            lines.first("unit", name + ", as a remark in the file says; " + also);
            break;
        case UnitBy::Habit:
            lines.first("unit", "not decided by the size; taken as " + name + ", more common in scans; " + also);
            lines.more("state it with --unit");
            break;
        case UnitBy::Default:
            lines.first("unit", "taken as mm, but the size makes sense in no unit (50 mm to 20 m wanted)");
            break;
    }
    if (r.taken.by != UnitBy::Files)
        for (std::size_t i = 0; i < r.taken.guess.all.size(); ++i) {
            const auto& reading = r.taken.guess.all[i];
            lines.more(fmt::format("{} {:<3} {} mm{}", reading.unit == r.taken.unit ? ">" : " ",
                                   geom::scan::name_of(reading.unit), size_text(reading.size_mm),
                                   reading.unit == r.taken.guess.likeliest ? "  likeliest"
                                   : reading.plausible                     ? "  plausible"
                                                                           : ""));
        }
}

void tell_points(Lines& lines, const ScanReport& r) {
    const auto& d = r.diagnosis;
    lines.first("extent", size_text(d.box.size()) + " mm");
    lines.more(fmt::format("x {:.1f} to {:.1f}, y {:.1f} to {:.1f}, z {:.1f} to {:.1f}", d.box.lo.x, d.box.hi.x,
                           d.box.lo.y, d.box.hi.y, d.box.lo.z, d.box.hi.z));
    const Vec3 all = d.box.size(), middle = d.middle.size();
    if (std::max({all.x, all.y, all.z}) > 1.5 * std::max({middle.x, middle.y, middle.z}))
        lines.more(fmt::format("98 % of the points lie within {} mm", size_text(middle)));
    lines.first(d.triangles > 0 ? "edges" : "spacing",
                fmt::format("{:.3g} mm median, 95 % under {:.3g} mm", d.spacing.median_mm, d.spacing.p95_mm));
    if (d.surface && !d.surface->from_mesh) lines.first("noise", fmt::format("{:.2g} mm", d.surface->noise_mm));
    if (d.surface && !d.surface->from_mesh)
        lines.first("surface",
                    fmt::format("{} levelled samples, good to {:.2g} mm, at edges to {:.2g} mm",
                                grouped(d.surface->points.size()), d.surface->bound_mm, d.surface->edge_bound_mm));
    if (d.repeated > 0) lines.first("repeated", counted(d.repeated, "point", "points") + " on the place of another");
    if (d.not_finite > 0) lines.first("not finite", counted(d.not_finite, "point", "points") + " left out");
}

void tell_mesh(Lines& lines, const MeshState& m) {
    std::string text =
        m.closed ? "closed" : fmt::format("open: {}", counted(m.border_edges, "border edge", "border edges"));
    text += m.oriented ? ", evenly oriented" : ", not evenly oriented";
    text += ", " + counted(static_cast<std::size_t>(m.pieces), "piece", "pieces");
    lines.first("mesh", text);
    if (m.crowded_edges > 0) lines.more(counted(m.crowded_edges, "edge", "edges") + " of three triangles or more");
    if (m.degenerate > 0) lines.more(counted(m.degenerate, "triangle", "triangles") + " without area");
    if (!m.crossings_known)
        lines.more("too many triangles to look for crossings");
    else if (m.crossings.empty())
        lines.more("crosses itself nowhere");
    else
        lines.more(fmt::format("crosses itself at {}{}, first at {}", m.more_crossings ? "more than " : "",
                               counted(m.crossings.size(), "place", "places"), coordinates(m.crossings.front())));
    if (m.closed && m.oriented) lines.more(fmt::format("encloses {:.4g} L", m.volume_litres));
}

void tell_strays(Lines& lines, const geom::scan::Diagnosis& d) {
    if (d.surface->from_mesh) return;
    if (d.strays.empty()) {
        lines.first("not believed", "no point");
        return;
    }
    std::string text = counted(d.strays.size(), "point", "points") + ": " + grouped(d.outliers) + " alone";
    if (!d.clusters.empty()) text += " and " + counted(d.clusters.size(), "floating cluster", "floating clusters");
    lines.first("not believed", text);
    for (std::size_t i = 0; i < std::min(d.clusters.size(), kMostListed); ++i)
        lines.more(fmt::format("{:>8} at {}, {:.1f} mm across", counted(d.clusters[i].points, "point", "points"),
                               coordinates(d.clusters[i].place), d.clusters[i].size.mm()));
    if (d.clusters.size() > kMostListed)
        lines.more(fmt::format("and {} smaller clusters", grouped(d.clusters.size() - kMostListed)));
}

void tell_holes(Lines& lines, const geom::scan::Diagnosis& d) {
    if (d.holes.empty()) {
        lines.first("holes", "none");
        return;
    }
    lines.first("holes", counted(d.holes.size(), "hole", "holes") + ", widest first");
    for (std::size_t i = 0; i < std::min(d.holes.size(), kMostListed); ++i)
        lines.more(fmt::format("{:>5.1f} mm at {}", d.holes[i].width.mm(), coordinates(d.holes[i].place)));
    if (d.holes.size() > kMostListed)
        lines.more(fmt::format("and {} narrower ones", grouped(d.holes.size() - kMostListed)));
}

}  // namespace

std::string scan_text(const ScanReport& r) {
    Lines lines;
    tell_files(lines, r);
    tell_unit(lines, r);
    tell_points(lines, r);
    if (r.mesh) tell_mesh(lines, *r.mesh);
    const auto& d = r.diagnosis;
    if (d.surface) {
        tell_strays(lines, d);
        tell_holes(lines, d);
    } else {
        lines.first("surface", "none in this unit: " + d.no_surface->what);
    }
    if (r.written.empty()) {
        lines.plain("\npictures from three sides: --out DIR; the cleaned scan: --clean OUT.ply");
    } else {
        lines.plain("\nwritten");
        for (const auto& file : r.written) lines.plain("  " + file.string());
    }
    return lines.take();
}

// JSON --------------------------------------------------------------------------------------------------------------

namespace {

using Json = nlohmann::ordered_json;

/// A millionth of a millimetre is noise of the last bits.
double rounded(double v) {
    return geom::rounded(v, 6);
}

Json vector_of(Vec3 v) {
    return {rounded(v.x), rounded(v.y), rounded(v.z)};
}

Json json_of_unit(const geom::scan::TakenUnit& taken) {
    Json unit;
    unit["taken"] = geom::scan::name_of(taken.unit);
    constexpr const char* how[] = {"file", "stated", "remark", "likeliest", "habit", "default"};
    unit["by"] = how[static_cast<std::size_t>(taken.by)];
    unit["is_decided"] = taken.by != UnitBy::Habit && taken.by != UnitBy::Default;
    unit["likeliest"] = nullptr;
    if (taken.guess.likeliest) unit["likeliest"] = geom::scan::name_of(*taken.guess.likeliest);
    unit["plausible"] = Json::array();
    for (const auto& reading : taken.guess.plausible) unit["plausible"].push_back(geom::scan::name_of(reading.unit));
    unit["readings"] = Json::array();
    for (const auto& reading : taken.guess.all)
        unit["readings"].push_back({{"unit", geom::scan::name_of(reading.unit)},
                                    {"size_mm", vector_of(reading.size_mm)},
                                    {"plausible", reading.plausible},
                                    {"share", rounded(reading.share)}});
    return unit;
}

Json json_of_mesh(const MeshState& m) {
    Json mesh = {{"closed", m.closed},
                 {"oriented", m.oriented},
                 {"self_crossing", nullptr},
                 {"crossings_at_mm", Json::array()},
                 {"more_crossings", m.more_crossings},
                 {"pieces", m.pieces},
                 {"border_edges", m.border_edges},
                 {"crowded_edges", m.crowded_edges},
                 {"degenerate_triangles", m.degenerate},
                 {"area_mm2", rounded(m.area_mm2)},
                 {"volume_litres", nullptr}};
    if (m.crossings_known) mesh["self_crossing"] = !m.crossings.empty();
    for (const Point3& p : m.crossings) mesh["crossings_at_mm"].push_back(vector_of(p));
    if (m.closed && m.oriented) mesh["volume_litres"] = rounded(m.volume_litres);
    return mesh;
}

}  // namespace

std::string scan_json(const ScanReport& r) {
    const auto& d = r.diagnosis;
    Json all;
    all["files"] = Json::array();
    for (const auto& file : r.scan.files) {
        Json own = nullptr;
        if (file.own_unit) own = geom::scan::name_of(*file.own_unit);
        all["files"].push_back({{"name", file.path.string()},
                                {"format", file.format},
                                {"points", file.points},
                                {"triangles", file.triangles},
                                {"has_normals", file.has_normals},
                                {"has_colours", file.has_colours},
                                {"own_unit", own}});
    }
    all["points"] = d.points;
    all["triangles"] = d.triangles;
    all["has_normals"] = d.has_normals;
    all["has_colours"] = d.has_colours;
    all["points_not_finite"] = d.not_finite;
    all["points_repeated"] = d.repeated;
    all["unit"] = json_of_unit(r.taken);
    all["box_mm"] = {{"min", vector_of(d.box.lo)}, {"max", vector_of(d.box.hi)}, {"size", vector_of(d.box.size())}};
    all["middle_box_mm"] = {
        {"min", vector_of(d.middle.lo)}, {"max", vector_of(d.middle.hi)}, {"size", vector_of(d.middle.size())}};
    all["spacing"] = {{"median_mm", rounded(d.spacing.median_mm)}, {"p95_mm", rounded(d.spacing.p95_mm)}};
    all["surface"] = nullptr;
    all["no_surface"] = nullptr;
    if (d.surface)
        all["surface"] = {{"samples", d.surface->points.size()},
                          {"spacing_mm", rounded(d.surface->spacing_mm)},
                          {"noise_mm", d.surface->from_mesh ? Json(nullptr) : Json(rounded(d.surface->noise_mm))},
                          {"bound_mm", rounded(d.surface->bound_mm)},
                          {"edge_bound_mm", rounded(d.surface->edge_bound_mm)}};
    else
        all["no_surface"] = d.no_surface->what;
    all["mesh"] = r.mesh ? json_of_mesh(*r.mesh) : Json(nullptr);
    Json clusters = Json::array();
    for (const auto& c : d.clusters)
        clusters.push_back({{"points", c.points}, {"at_mm", vector_of(c.place)}, {"size_mm", rounded(c.size.mm())}});
    all["not_believed"] = {{"points", d.strays.size()}, {"outliers", d.outliers}, {"clusters", clusters}};
    all["holes"] = Json::array();
    for (const auto& hole : d.holes)
        all["holes"].push_back({{"width_mm", rounded(hole.width.mm())}, {"at_mm", vector_of(hole.place)}});
    all["written"] = Json::array();
    for (const auto& file : r.written) all["written"].push_back(file.string());
    return all.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace cli

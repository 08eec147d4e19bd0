// The sound-solid checks: B-reps as made and as read back from STEP, the written STL's own triangles, and the net
// volume three ways. A right volume proves nothing about a solid, so that closedness, validity and crossings are lines
// of their own.
#include "geom/check/internal/case.h"

#include "geom/core/parallel.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::check {

namespace {

constexpr double kStepVolume_rel = 1e-6;  // made against re-read: the same numbers but for the digits written
constexpr double kMeshVolume_rel = 1e-3;
constexpr double kThreeWays_rel = 1e-3;

std::string names(const std::vector<std::string>& list) {
    std::string text;
    for (const std::string& n : list) text += (text.empty() ? "" : ", ") + n;
    return text;
}

CheckLine none_of(std::string name, const std::vector<std::string>& faulty, const std::string& how) {
    return at_most(std::move(name), Kind::SoundSolid, static_cast<double>(faulty.size()), 0.0, "",
                   how + (faulty.empty() ? "" : ": not so for " + names(faulty)));
}

/// The air of the written meshes, each piece within the mesh of its own product.
Result<Volume> air_by_mesh(const Case& c) {
    const parts::Enclosure& e = c.enclosure();
    double sum = 0.0;
    for (const parts::AirPiece& piece : e.air_pieces) {
        const auto it = std::find_if(c.products.begin(), c.products.end(),
                                     [&](const ReadBack& r) { return r.product->name == piece.product; });
        EXPECTS(it != c.products.end());
        GAPWRIGHT_TRY(volume, measure::air_inside(it->mesh, piece.openings, piece.at));
        sum += volume.mm3() - piece.filled_mm3;
    }
    for (const ReadBack& r : c.products)
        if (r.product->stands_in_air) sum -= r.mesh_measure.volume.mm3();
    return Volume::mm3(sum);
}

void check_breps(const std::vector<ReadBack>& all, Verdict& verdict) {
    std::vector<std::string> invalid, open, several;
    for (const ReadBack& r : all) {
        if (!r.solid.valid) invalid.push_back(r.product->name);
        if (!r.solid.closed) open.push_back(r.product->name);
        if (r.solid.solids != 1) several.push_back(r.product->name);
    }
    verdict.valid = invalid.empty();
    verdict.closed = open.empty();
    verdict.lines.push_back(
        none_of("B-rep valid", invalid, "products that fail the kernel's analyser with geometric controls"));
    verdict.lines.push_back(none_of("B-rep closed", open, "products with an edge that is not used once each way"));
    verdict.lines.push_back(none_of("one solid a product", several, "products that are not exactly one solid"));
}

void check_step(const std::vector<ReadBack>& all, const std::vector<measure::StepProduct>& step,
                const std::vector<measure::SolidMeasure>& measured, Verdict& verdict) {
    std::vector<std::string> missing, faulty;
    double worst = 0.0;
    std::string worst_name = "none";
    std::vector<char> used(step.size(), 0);
    std::size_t wanted = 0;
    for (const ReadBack& r : all) {
        ++wanted;  // tools stand beside the assembly in the same file
        std::size_t found = step.size();
        for (std::size_t i = 0; i < step.size() && found == step.size(); ++i)
            if (used[i] == 0 && step[i].name == r.product->name) found = i;
        if (found == step.size()) {
            missing.push_back(r.product->name);
            continue;
        }
        used[found] = 1;
        const measure::SolidMeasure& m = measured[found];
        if (!m.valid || !m.closed || m.solids != 1) faulty.push_back(r.product->name);
        const double off = std::abs(m.volume.mm3() - r.solid.volume.mm3()) / std::abs(r.solid.volume.mm3());
        if (off >= worst) {
            worst = off;
            worst_name = r.product->name;
        }
    }
    const std::size_t extra = step.size() - static_cast<std::size_t>(std::count(used.begin(), used.end(), 1));
    CheckLine products =
        at_most("STEP read back, products", Kind::SoundSolid, static_cast<double>(missing.size() + extra), 0.0, "",
                fmt::format("products missing or too many; {} in the file, {} wanted by name", step.size(), wanted));
    if (!missing.empty()) products.note += ": " + names(missing) + " missing";
    verdict.lines.push_back(products);
    verdict.lines.push_back(
        none_of("STEP read back, solids", faulty, "products that come back not valid, not closed or not one solid"));
    verdict.lines.push_back(at_most("STEP read back, volume", Kind::SoundSolid, 100.0 * worst, 100.0 * kStepVolume_rel,
                                    "%", "largest difference to the solid as made, exact integrals: " + worst_name));
}

void check_meshes(const std::vector<ReadBack>& all, Verdict& verdict) {
    std::vector<std::string> open, degenerate, crossing;
    std::size_t crossings = 0, flat = 0;
    double worst = 0.0;
    std::string worst_name = "none";
    std::optional<Point3> where;
    for (const ReadBack& r : all) {
        if (!r.mesh_measure.closed || !r.mesh_measure.oriented) open.push_back(r.product->name);
        flat += r.mesh_measure.degenerate;
        if (r.mesh_measure.degenerate > 0) degenerate.push_back(r.product->name);
        crossings += r.crossings.size();
        if (!r.crossings.empty()) {
            crossing.push_back(r.product->name);
            if (!where) where = r.crossings.front().at;
        }
        const double off =
            std::abs(r.mesh_measure.volume.mm3() - r.solid.volume.mm3()) / std::abs(r.solid.volume.mm3());
        if (off >= worst) {
            worst = off;
            worst_name = r.product->name;
        }
    }
    verdict.lines.push_back(none_of("STL closed and oriented", open,
                                    "written meshes with an edge not shared by two triangles, one each way"));
    verdict.lines.push_back(
        at_most("STL without degenerate facets", Kind::SoundSolid, static_cast<double>(flat), 0.0, "",
                "facets with a repeated corner or no area" + (degenerate.empty() ? "" : ": " + names(degenerate))));
    verdict.lines.push_back(
        at_most("STL without self-crossing", Kind::SoundSolid, static_cast<double>(crossings), 0.0, "",
                "pairs of the written triangles that cross, exact predicates (counting ends at 16 a product)" +
                    (crossing.empty() ? "" : ": " + names(crossing) + " " + place(*where))));
    verdict.lines.back().place = where;
    verdict.lines.push_back(
        at_most("STL volume against B-rep", Kind::SoundSolid, 100.0 * worst, 100.0 * kMeshVolume_rel, "%",
                "largest difference, signed tetrahedra against exact face integrals: " + worst_name));
}

void check_three_ways(const Case& c, Verdict& verdict) {
    const parts::Enclosure& e = c.enclosure();
    const Result<Volume> air = air_by_mesh(c);
    if (!air) {
        CheckLine line = at_most("net volume, three ways", Kind::SoundSolid, 100.0, 100.0 * kThreeWays_rel, "%",
                                 "the air of the written mesh cannot be measured: " + air.error().what);
        verdict.lines.push_back(line);
        return;
    }
    verdict.net_by_mesh = *air - e.solids_in_air;
    const auto [lo, hi] = std::minmax({e.net_by_field.mm3(), e.net_by_brep.mm3(), verdict.net_by_mesh.mm3()});
    verdict.lines.push_back(
        at_most("net volume, three ways", Kind::SoundSolid, 100.0 * (hi - lo) / std::abs(e.net_by_brep.mm3()),
                100.0 * kThreeWays_rel, "%",
                fmt::format("spread of {:.5f} L by the {}, {:.5f} L by the B-rep's, {:.5f} L by the air of the written "
                            "mesh with its openings capped, less what stands in it",
                            e.net_by_field.litres(), c.request.follows_scan() ? "field's integral" : "closed form",
                            e.net_by_brep.litres(), verdict.net_by_mesh.litres())));
}

}  // namespace

Status check_solids(std::vector<ReadBack>& products, const std::filesystem::path& step_file, const Context& context,
                    Verdict& verdict) {
    std::vector<measure::StepProduct> step;
    std::vector<measure::SolidMeasure> step_measured;
    GAPWRIGHT_CHECK(all_of_them({[&]() -> Status {
                                     GAPWRIGHT_TRY(read, measure::read_step(step_file.string()));
                                     step = std::move(read);
                                     for (const measure::StepProduct& p : step) {
                                         GAPWRIGHT_TRY(solid, measure::measure_solid(p.shape, context));
                                         step_measured.push_back(solid);
                                     }
                                     return Done{};
                                 },
                                 [&]() -> Status {
                                     for (ReadBack& r : products) {
                                         GAPWRIGHT_TRY(solid, measure::measure_solid(r.product->solid, context));
                                         r.solid = solid;
                                     }
                                     return Done{};
                                 }}));
    check_breps(products, verdict);
    check_step(products, step, step_measured, verdict);
    check_meshes(products, verdict);
    return Done{};
}

Status check_sound(Case& c, Verdict& verdict) {
    GAPWRIGHT_CHECK(check_solids(c.products, c.written.step, c.context, verdict));
    check_three_ways(c, verdict);
    return Done{};
}

void check_volume_asked(const Case& c, Verdict& verdict) {
    if (!c.request.asks_volume) return;
    const double asked = c.request.net_volume.mm3();
    double worst = std::abs(c.enclosure().net_by_brep.mm3() - asked) / asked;
    if (verdict.net_by_mesh.mm3() > 0.0) worst = std::max(worst, std::abs(verdict.net_by_mesh.mm3() - asked) / asked);
    verdict.lines.push_back(
        at_most("net volume against the asked one", Kind::Fit, 100.0 * worst, 100.0 * c.request.tolerance_rel, "%",
                fmt::format("asked {:.4f} L; the worse of B-rep and written mesh", c.request.net_volume.litres())));
}

}  // namespace geom::check

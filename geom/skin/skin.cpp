// The steps, each in its own file under internal/:
//   working field   the grid as a smooth function
//   base mesh       marching tetrahedra, proven to be a disk
//   layout          corners and arcs drawn on the mesh's edges
//   patch map       the mesh cut along the arcs, each piece mapped to a square
//   fit, flats      splines, tangent to the field along arcs, exactly flat where a limit bounds the body
//   quality         deviation, breaks, regularity; spans that miss the limits are halved and all is fitted again
//   topology        vertices, edges, faces, shell
// A layout that does not lead to a good skin is given up and the next plan tried, in a fixed order. The first skin that
// meets every limit is taken; when none does, the best of those that are at least sound.
#include "geom/skin/skin.h"

#include "geom/skin/internal/field_volume.h"
#include "geom/skin/internal/flats.h"
#include "geom/skin/internal/quality.h"
#include "geom/skin/internal/topology.h"

#include <fmt/format.h>

#include <cmath>
#include <new>
#include <optional>

namespace geom::skin {

namespace {

constexpr double kMeshStepMm = 8.0, kFinerMeshStepMm = 5.5;
constexpr double kNodeMm = 4.5, kFirstSpanMm = 10.0, kLeastFlatMm = 8.0;
constexpr int kRounds = 5;
// Wanted of a skin; beyond them the next plan is tried.
constexpr double kWantedDeviationMm = 0.30, kWantedDeviationP99Mm = 0.12, kWantedBreakDeg = 5.0,
                 kWantedBreakP99Deg = 2.0, kWantedJacobian = 0.08;
// Beyond these no skin is handed over.
constexpr double kWorstDeviationMm = 0.8, kWorstBreakDeg = 15.0, kWorstJacobian = 0.03, kWorstVolumeRel = 0.002;

struct Attempt {
    FaceNet net;
    Judgement judgement;
    double volume_mm3 = 0.0;
    std::string name;
    ShellParts parts;
    double badness = 0.0;  ///< the largest ratio of a figure to what is wanted; at most 1 is good
};

struct Task {
    const WorkingField& field;
    const SkinOptions& options;
    RimPlace rim;
    std::vector<Plane> flats_box;
    double field_volume_mm3;
};

double volume_of(const FaceNet& net, double baffle_y) {
    const Point3 on_baffle{0.0, baffle_y, 0.0};
    double v = 0.0;
    for (const auto& f : net.faces) v += cone_volume_mm3(f, on_baffle);
    if (net.has_collar)
        for (const auto& c : net.collars) v += cone_volume_mm3(c, on_baffle);
    return v;
}

Result<Attempt> try_plan(const Task& task, DiskMesh mesh, const LayoutPlan& plan) {
    GAPWRIGHT_TRY(layout, draw_layout(mesh, task.field, task.rim, task.flats_box, plan));
    const auto curves = fair_curves(mesh, layout, task.field, task.rim);
    GAPWRIGHT_TRY(grids, patch_grids(mesh, layout, curves, task.field, kNodeMm));
    const FitSource source{task.field, task.rim, curves, grids, task.flats_box};
    Attempt attempt;
    attempt.name = plan.name();
    place_first_knots(attempt.net, source, kFirstSpanMm, 17000.0);
    const RefineLimits limits{task.options.deviation_max_mm, task.options.break_max_deg, 1.5, 25000};
    for (int round = 0;; ++round) {
        fit_net(attempt.net, source);
        if (round == kRounds || !halve_bad_spans(attempt.net, source, limits)) break;
    }
    attempt.net.cuts = find_plane_cuts(attempt.net, source, kLeastFlatMm);
    attempt.judgement = judge(attempt.net, source, 4);
    attempt.volume_mm3 = volume_of(attempt.net, task.rim.baffle_y_mm);
    const auto& j = attempt.judgement;
    // What the working field itself lies off the grid no layout can change, so the plans are judged by the fit.
    attempt.badness =
        std::max({percentile(j.fit_mm, 1.0) / kWantedDeviationMm, percentile(j.fit_mm, 0.99) / kWantedDeviationP99Mm,
                  j.worst_break_deg / kWantedBreakDeg, percentile(j.break_deg, 0.99) / kWantedBreakP99Deg,
                  j.least_jacobian > 0.0 ? kWantedJacobian / j.least_jacobian : 1e9});
    const double off = std::abs(attempt.volume_mm3 / task.field_volume_mm3 - 1.0);
    const auto refused = [&](std::string what, Point3 place) {
        return Fault{FaultCode::MethodRefused, std::move(what), {}, task.field.to_vehicle(place), "skin"};
    };
    if (!(j.least_jacobian >= kWorstJacobian))
        return refused(
            fmt::format("skin: a face is pinched (regularity {:.3f}, wanted {:.2f})", j.least_jacobian, kWorstJacobian),
            j.least_jacobian_at);
    if (!(j.worst_deviation_mm <= kWorstDeviationMm))
        return refused(fmt::format("skin: the surface lies {:.2f} mm off the body, wanted {:.2f}", j.worst_deviation_mm,
                                   kWorstDeviationMm),
                       j.worst_deviation_at);
    if (!(j.worst_break_deg <= kWorstBreakDeg))
        return refused(
            fmt::format("skin: a tangent break of {:.1f} deg, wanted {:.1f}", j.worst_break_deg, kWorstBreakDeg),
            j.worst_break_at);
    if (!(off <= kWorstVolumeRel))
        return refused(fmt::format("skin: encloses {:.4f} L where the field holds {:.4f} L", attempt.volume_mm3 * 1e-6,
                                   task.field_volume_mm3 * 1e-6),
                       mesh.points[0]);
    return attempt;
}

std::vector<LayoutPlan> plans() {
    std::vector<LayoutPlan> out;
    for (const auto corners : {CornerRule::Box, CornerRule::Free, CornerRule::Turned, CornerRule::Even})
        for (const bool ridges : {true, false})
            if (corners != CornerRule::Even || !ridges) out.push_back({corners, ridges});
    return out;
}

SkinQuality quality_of(const Attempt& attempt, const ShellParts& parts, const WorkingField& field) {
    SkinQuality q;
    q.plane_faces = parts.plane_faces;
    q.bspline_faces = parts.bspline_faces;
    q.faces = parts.plane_faces + parts.bspline_faces;
    q.control_points = attempt.net.control_points();
    const auto& j = attempt.judgement;
    q.deviation_p99_mm = percentile(j.deviation_mm, 0.99);
    q.deviation_max_mm = j.worst_deviation_mm;
    q.deviation_at = field.to_vehicle(j.worst_deviation_at);
    q.proud_max_mm = j.most_proud_mm;
    q.break_median_deg = percentile(j.break_deg, 0.5);
    q.break_p99_deg = percentile(j.break_deg, 0.99);
    q.break_max_deg = j.worst_break_deg;
    q.break_at = field.to_vehicle(j.worst_break_at);
    q.least_jacobian = j.least_jacobian;
    q.attempt = attempt.name;
    return q;
}

std::vector<Plane> planes_to_box(const std::vector<Plane>& planes, const Frame& vehicle_from_box) {
    std::vector<Plane> out;
    for (const auto& p : planes)
        out.push_back({vehicle_from_box.to_local(p.point), unit(vehicle_from_box.dir_to_local(p.outward))});
    return out;
}

// The shell with its plane faces; should the kernel not like them, without.
Status add_shell(Attempt& attempt, const Task& task) {
    const Frame& frame = task.field.body().grid.vehicle_from_box;
    auto parts = build_shell(attempt.net, task.rim.baffle_y_mm, task.flats_box, frame);
    if (!parts && !attempt.net.cuts.empty()) {
        attempt.net.cuts.clear();
        attempt.name += ", limits left as splines";
        parts = build_shell(attempt.net, task.rim.baffle_y_mm, task.flats_box, frame);
    }
    if (!parts) return parts.error();
    attempt.parts = *parts;
    return Done{};
}

struct Faults {
    std::optional<Fault> mesh, plan;  ///< of the finest mesh; of the first plan

    Fault worst(const std::string& skin_name) const {
        Fault fault = plan ? *plan : *mesh;
        if (fault.what.rfind("skin:", 0) == 0) fault.what = skin_name + " " + fault.what;
        if (fault.hint.empty())
            fault.hint = "move the baffle, turn its plane, round the edges more, or keep that place out";
        return fault;
    }
};

Result<Skin> make(const space::Field& body, const SkinOptions& options, const Context& context) {
    Faults faults;
    auto made_field = WorkingField::make(body, options.baffle_y_mm);
    if (!made_field) {
        faults.mesh = made_field.error();
        return faults.worst(options.name);
    }
    const WorkingField& field = *made_field;
    const RimPlace rim{options.baffle_y_mm, options.rim_radius.mm()};
    const std::vector<Plane> flats = planes_to_box(options.flats, body.grid.vehicle_from_box);
    std::optional<Attempt> best;
    for (const double step_mm : {kMeshStepMm, kFinerMeshStepMm}) {
        auto mesh = disk_mesh(field, rim, step_mm);
        if (!mesh) {
            faults.mesh = mesh.error();
            continue;
        }
        const double rounded_off = rim.radius_mm > 0.0 ? rounding_volume_mm3(*mesh, field, rim) : 0.0;
        const Task task{field, options, rim, flats, field_volume_mm3(body, options.baffle_y_mm) - rounded_off};
        for (const auto& plan : plans()) {
            if (context.is_cancelled()) return Context::interrupted();
            auto attempt = try_plan(task, *mesh, plan);
            if (attempt && best && attempt->badness >= best->badness) continue;
            const Status sound = attempt ? add_shell(*attempt, task) : Status(attempt.error());
            if (!sound) {
                if (!faults.plan) faults.plan = sound.error();
                continue;
            }
            if (step_mm != kMeshStepMm) attempt->name += ", finer mesh";
            best = std::move(*attempt);
            if (best->badness <= 1.0) break;
        }
        if (best) break;
    }
    if (!best) return faults.worst(options.name);
    Skin skin;
    skin.shell = best->parts.shell;
    skin.quality = quality_of(*best, best->parts, field);
    skin.volume = Volume::mm3(best->volume_mm3);
    return skin;
}

}  // namespace

Result<Skin> make_skin(const space::Field& body, const SkinOptions& options, const Context& context) {
    EXPECTS(options.rim_radius.mm() >= 0.0 && std::isfinite(options.baffle_y_mm));
    const Stage stage(context, "skin/" + options.name);
    try {
        return make(body, options, context);
    } catch (const std::bad_alloc&) {
        return Fault{FaultCode::MemoryLimit, options.name + " skin: out of memory", "use a coarser voxel", {}, "skin"};
    }
}

}  // namespace geom::skin

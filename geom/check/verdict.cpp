// Everything is read back first, then judged; the checks themselves stand in files of their own.
#include "geom/check/verdict.h"

#include "geom/check/internal/case.h"
#include "geom/core/parallel.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::check {

bool Verdict::is_sound() const {
    return std::all_of(lines.begin(), lines.end(),
                       [](const CheckLine& l) { return l.ok || l.kind != Kind::SoundSolid; });
}

bool Verdict::fits() const {
    return std::all_of(lines.begin(), lines.end(), [](const CheckLine& l) { return l.ok || l.kind != Kind::Fit; });
}

namespace {

/// What the skin adds to the bound of scan and field. It smooths what levelling leaves of the noise, and stands out of
/// the field where that had a dent: half the noise's deviation is no error of its own (on the camper-van scene with 0.3
/// and 0.7 mm of noise, six seeds, no place of the skin was nearer to the true surface than asked less 0.28 and 0.50).
double skin_part_mm(const Case& c) {
    return std::max(0.0, c.enclosure().outer_quality.proud_max_mm - 0.5 * c.surface.noise_mm);
}

}  // namespace

double Case::clearance_bound_mm() const {
    return std::hypot(made.room.report.bound_mm, skin_part_mm(*this));
}

double Case::edge_clearance_bound_mm() const {
    return std::hypot(made.room.report.edge_bound_mm, skin_part_mm(*this));
}

double Case::hole_clearance_bound_mm() const {
    double scan_mm = surface.bound_mm;
    for (const scan::Hole& hole : surface.holes)
        if (hole.closed) scan_mm = std::max(scan_mm, hole.bound_mm);
    return std::hypot(scan_mm, made.room.report.field_bound_mm, skin_part_mm(*this));
}

double Case::rule_bound_mm() const {
    return std::hypot(made.room.report.field_bound_mm, enclosure().outer_quality.proud_max_mm);
}

bool Case::is_on_baffle(Point3 p) const {
    constexpr double kNear_mm = 0.05;
    const double depth = -enclosure().baffle_plane.height(p);
    if (depth <= request.baffle.thickness.mm() + kNear_mm) return true;
    if (const auto& port = enclosure().port)
        if (port->path.distance_to(port->inside.grown(port->wall_mm), 0.0, port->length_mm, p) <= kNear_mm) return true;
    const auto& seat = enclosure().seat;
    if (!seat || seat->boss_radius_mm <= 0.0 || depth > seat->back_mm + kNear_mm) return false;
    const Vec3 d = p - seat->centre;
    return norm(d + enclosure().baffle_plane.outward * depth) <= seat->boss_radius_mm + kNear_mm;
}

CheckLine at_least(std::string name, Kind kind, double value, double limit, std::string unit, std::string note) {
    const bool ok = value >= limit - 1e-9 * (1.0 + std::abs(limit));
    return {std::move(name), kind, ok, value, limit, std::move(unit), "at least; " + std::move(note)};
}

CheckLine at_most(std::string name, Kind kind, double value, double limit, std::string unit, std::string note) {
    const bool ok = value <= limit + 1e-9 * (1.0 + std::abs(limit));
    return {std::move(name), kind, ok, value, limit, std::move(unit), "at most; " + std::move(note)};
}

std::string place(Point3 p) {
    return fmt::format("at ({:.1f}, {:.1f}, {:.1f})", p.x, p.y, p.z);
}

Status all_of_them(const std::vector<std::function<Status()>>& work) {
    std::vector<std::optional<Fault>> faults(work.size());
    std::vector<std::function<void()>> calls;
    for (std::size_t i = 0; i < work.size(); ++i)
        calls.push_back([&, i] {
            Status status = work[i]();
            if (!status) faults[i] = status.error();
        });
    parallel_invoke(calls);
    for (const auto& f : faults)
        if (f) return *f;
    return Done{};
}

Result<ReadBack> read_back_of(const parts::Product& product, const WrittenProduct& written) {
    EXPECTS(written.name == product.name);
    ReadBack r;
    r.product = &product;
    GAPWRIGHT_TRY(mesh, measure::read_stl(written.stl));
    r.mesh = std::move(mesh);
    r.mesh_measure = measure::measure_mesh(r.mesh);
    GAPWRIGHT_TRY(crossings, measure::self_crossings(r.mesh));
    r.crossings = std::move(crossings);
    return r;
}

namespace {

Status read_back(Case& c) {
    const auto& products = c.enclosure().products;
    EXPECTS(c.written.products.size() == products.size());
    c.products.resize(products.size());
    std::vector<std::function<Status()>> work;
    for (std::size_t i = 0; i < products.size(); ++i)
        work.push_back([&c, &products, i]() -> Status {
            GAPWRIGHT_TRY(read, read_back_of(products[i], c.written.products[i]));
            c.products[i] = std::move(read);
            return Done{};
        });
    // Meshing writes to the shapes; nothing else touches them in the meantime.
    work.push_back([&c]() -> Status {
        for (const bool is_outer : {true, false}) {
            const Brep& body = is_outer ? c.enclosure().outer_body : c.enclosure().air_body;
            if (body.is_null()) continue;
            GAPWRIGHT_TRY(mesh, measure::tessellate(body, c.request.make.chord_error, c.context));
            (is_outer ? c.outer_body : c.air_body) = std::move(mesh);
        }
        return Done{};
    });
    GAPWRIGHT_CHECK(all_of_them(work));
    std::vector<TriMesh> meshes;
    for (const ReadBack& r : c.products)
        if (!r.product->is_tool && !r.product->on_vehicle) meshes.push_back(r.mesh);
    c.part = measure::merged(meshes);
    return Done{};
}

}  // namespace

Result<Verdict> judge(const parts::Made& made, const parts::EnclosureRequest& request, const scan::Surface& surface,
                      const Written& written, const Context& context) {
    const Stage stage(context, "proof");
    Case c{.made = made,
           .request = request,
           .surface = surface,
           .written = written,
           .context = context,
           .products = {},
           .part = {},
           .outer_body = {},
           .air_body = {}};
    {
        const Stage reading(context, "proof/read back");
        GAPWRIGHT_CHECK(read_back(c));
    }
    if (context.is_cancelled()) return Context::interrupted();
    Verdict verdict;
    {
        const Stage s(context, "proof/solid");
        GAPWRIGHT_CHECK(check_sound(c, verdict));
    }
    if (context.is_cancelled()) return Context::interrupted();
    check_volume_asked(c, verdict);
    {
        const Stage s(context, "proof/wall");
        check_wall(c, verdict);
    }
    if (request.follows_scan()) {
        const Stage s(context, "proof/clearance");
        check_clearance(c, verdict);
        check_rules(c, verdict);
        check_unscanned(c, verdict);
    }
    if (!made.enclosure.boards.empty()) {
        const Stage s(context, "proof/boards");
        GAPWRIGHT_CHECK(check_boards(c, verdict));
    }
    if (context.is_cancelled()) return Context::interrupted();
    {
        const Stage s(context, "proof/driver and making");
        check_driver(c, verdict);
        check_front(c, verdict);
        check_fixings(c, verdict);
        check_access(c, verdict);
        check_joints(c, verdict);
        check_making(c, verdict);
        tell_sound(c, verdict);
        check_port(c, verdict);
        check_screw_loads(c, verdict);
        check_restraint(c, verdict);
    }
    {
        const Stage s(context, "proof/stiffness");
        check_stiffness(c, verdict);
    }
    return verdict;
}

}  // namespace geom::check

#include "geom/core/text.h"
#include "geom/measure/internal/mesh_precision.h"
#include "geom/measure/internal/nesting.h"
#include "geom/measure/internal/surrounded.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/shape_volume.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace geom::measure {

namespace {

/// Looking for crossings among more triangles than this takes longer than all else.
constexpr std::size_t kMostForCrossings = 2000000;
constexpr std::size_t kMostForCurved = 3000000;
/// A lid larger than this share of the surface: what is left surrounds nothing that could be told.
constexpr double kMostLid = 0.45;

std::string counted(std::size_t n, const char* one, const char* many) {
    return grouped(n) + " " + (n == 1 ? one : many);
}

/// A border whose two sides lie on one another: nothing is missing between them.
bool is_crack(const BorderLoop& loop) {
    return loop.lid_mm2 <= 1e-5 * loop.length_mm * loop.length_mm;
}

double diagonal(const Aabb& box) {
    return norm(box.size());
}

/// Whether the shell, closed by its lids, holds something worth telling.
bool encloses(const MeshShell& shell) {
    if (!shell.two_sided) return false;
    double lids = 0.0;
    for (const BorderLoop& loop : shell.loops)
        if (!is_crack(loop)) lids += loop.lid_mm2;
    return lids <= kMostLid * shell.area_mm2 &&
           std::abs(shell.volume_mm3) > 1e-9 * shell.area_mm2 * diagonal(shell.box);
}

class Teller {
public:
    Teller(MeshInput input, const Context& context) : input_(std::move(input)), context_(context) {}
    Result<ShapeVolume> tell();

private:
    void add(Flaw flaw, std::size_t count, std::string what, std::string hint = {}, std::optional<Point3> at = {}) {
        out_.flaws.push_back({flaw, count, std::move(what), std::move(hint), at});
    }
    void close_seams();
    void tell_tidied();
    void tell_borders();
    void make_bodies();
    void bound_open_shells();
    Status look_for_crossings();
    void second_methods();
    void turn_outward();
    TriMesh capped() const;

    MeshInput input_;
    const Context& context_;
    ShapeVolume out_;
    Shells shells_;
    std::vector<bool> counts_;
    internal::Nesting nesting_;
    double seam_mm3_ = 0.0;                     // what joined seams and cracks may be off
    double below_mm3_ = 0.0, above_mm3_ = 0.0;  // by open shells
    bool crossing_ = false;
    internal::Estimate common_;  // with `crossing_`
};

/// Borders that lie on one another to a ten-thousandth of the size are joined where that closes all there is.
void Teller::close_seams() {
    std::vector<std::uint32_t> on_border;
    for (const MeshShell& shell : shells_.shells)
        for (const BorderLoop& loop : shell.loops)
            on_border.insert(on_border.end(), loop.vertices.begin(), loop.vertices.end());
    if (on_border.empty()) return;
    const double size = diagonal(bounds(shells_.mesh));
    for (const double share : {1e-7, 1e-6, 1e-5, 1e-4}) {
        TriMesh joined = shells_.mesh;
        const double moved = weld(joined, on_border, share * size);
        if (moved <= 0.0) continue;
        Shells again = take_apart(join_equal(joined));
        bool closed = true;
        double area = 0.0;
        for (const MeshShell& shell : again.shells) closed = closed && shell.closed, area += shell.area_mm2;
        if (!closed || again.shells.empty()) continue;
        add(Flaw::Seam, on_border.size(),
            fmt::format("{} of the border lie up to {:.2g} mm apart and were joined",
                        counted(on_border.size(), "vertex", "vertices"), moved),
            "export it with shared vertices, or with more digits");
        again.collapsed += shells_.collapsed;
        again.doubled += shells_.doubled;
        seam_mm3_ += moved * area;
        shells_ = std::move(again);
        return;
    }
}

void Teller::tell_tidied() {
    if (input_.not_finite > 0)
        add(Flaw::NotFinite, input_.not_finite,
            counted(input_.not_finite, "vertex", "vertices") + " without a finite place left out, with their triangles",
            "export the mesh again: numbers in the file are NaN or infinite");
    if (shells_.collapsed > 0)
        add(Flaw::Collapsed, shells_.collapsed,
            counted(shells_.collapsed, "triangle", "triangles") + " with a repeated corner left out");
    if (shells_.slivers > 0)
        add(Flaw::Sliver, shells_.slivers, counted(shells_.slivers, "triangle", "triangles") + " without area");
    if (shells_.doubled > 0)
        add(Flaw::Doubled, shells_.doubled,
            counted(shells_.doubled, "triangle", "triangles") + " left out: others lie on the same three corners",
            "the surface is there twice in places: delete the double, then ask again");
    std::size_t turned = 0, crowded = 0;
    for (const MeshShell& shell : shells_.shells) turned += shell.turned, crowded += shell.crowded;
    if (turned > 0)
        add(Flaw::Turned, turned,
            counted(turned, "triangle", "triangles") + " turned against their neighbours, turned back for the sum");
    if (crowded > 0) add(Flaw::Crowded, crowded, counted(crowded, "edge", "edges") + " of more than two triangles");
}

void Teller::tell_borders() {
    for (std::size_t i = 0; i < shells_.shells.size(); ++i) {
        MeshShell& shell = shells_.shells[i];
        counts_.push_back(encloses(shell));
        if (!shell.two_sided) {
            add(Flaw::OneSided, 1, "a surface that has one side only, like a band with a half twist",
                "it bounds no solid: look for triangles that join the two sides", shells_.mesh.corner(shell.first, 0));
            continue;
        }
        std::size_t cracks = 0, holes = 0;
        const BorderLoop* widest = nullptr;
        for (const BorderLoop& loop : shell.loops) {
            if (is_crack(loop)) {
                ++cracks;
                seam_mm3_ += loop.lid_mm2 * loop.width_mm;
            } else {
                ++holes;
                if (widest == nullptr || loop.width_mm > widest->width_mm) widest = &loop;
            }
        }
        if (!counts_.back()) {
            add(Flaw::Flat, 1,
                holes > 0 ? fmt::format("an open surface of {:.4g} cm2 that surrounds nothing", shell.area_mm2 / 100.0)
                          : fmt::format("a surface of {:.4g} cm2 folded flat, without inside", shell.area_mm2 / 100.0),
                holes > 0 ? "a sheet has no volume: close it, or give its wall a thickness before the export"
                          : "delete it, or give it a thickness",
                shells_.mesh.corner(shell.first, 0));
            continue;
        }
        if (cracks > 0)
            add(Flaw::Seam, cracks,
                counted(cracks, "crack", "cracks") +
                    " between triangles that lie on one another without sharing all vertices; nothing is missing "
                    "there");
        if (holes > 0)
            add(Flaw::Open, holes,
                fmt::format("{}, the widest {:.4g} mm, closed by a lid for the sum", counted(holes, "hole", "holes"),
                            widest->width_mm),
                "close it in the program that made it; or, where it is an opening of a box, give --inside and "
                "--opening",
                widest->middle);
    }
}

void Teller::make_bodies() {
    std::vector<int> place(shells_.shells.size(), -1);
    for (std::size_t i = 0; i < shells_.shells.size(); ++i) {
        if (!counts_[i]) continue;
        const MeshShell& shell = shells_.shells[i];
        place[i] = static_cast<int>(out_.bodies.size());
        Body body;
        body.is_void = nesting_.within[i] >= 0 && nesting_.winding[i] < 1;
        body.closed = shell.closed;
        body.volume = Volume::mm3(std::abs(shell.volume_mm3));
        body.area = Area::mm2(shell.area_mm2);
        body.box = shell.box;
        body.centre = shell.moment_mm4 / shell.volume_mm3;
        body.triangles = shell.count;
        for (const BorderLoop& loop : shell.loops)
            if (!is_crack(loop)) body.loops.push_back(loop);
        if (!shell.closed && body.loops.empty()) body.closed = true;  // cracks alone
        out_.bodies.push_back(std::move(body));
    }
    for (std::size_t i = 0; i < place.size(); ++i)
        if (place[i] >= 0 && nesting_.within[i] >= 0)
            out_.bodies[static_cast<std::size_t>(place[i])].within =
                place[static_cast<std::size_t>(nesting_.within[i])];
    if (nesting_.inside_out)
        add(Flaw::InsideOut, 1, "the outer surface faces inwards; read the other way round",
            "turn all faces in the program that made it");
    if (!nesting_.alike.empty())
        add(Flaw::NestedAlike, nesting_.alike.size(),
            counted(nesting_.alike.size(), "closed shell lies", "closed shells lie") +
                " inside another one and face the same way: a hollow, or a solid within a solid",
            "where it is a hollow, turn its faces inwards", shells_.shells[nesting_.alike.front()].box.lo);
    if (!nesting_.loose.empty())
        add(Flaw::LooseVoid, nesting_.loose.size(),
            counted(nesting_.loose.size(), "closed shell faces", "closed shells face") +
                " inwards and lies in no other; counted as a solid that is inside out",
            "turn its faces outwards, or delete it", shells_.shells[nesting_.loose.front()].box.lo);
}

void Teller::bound_open_shells() {
    for (std::size_t i = 0; i < shells_.shells.size(); ++i) {
        const MeshShell& shell = shells_.shells[i];
        std::vector<BorderLoop> holes;
        for (const BorderLoop& loop : shell.loops)
            if (!is_crack(loop)) holes.push_back(loop);
        if (!counts_[i] || holes.empty()) continue;
        TriMesh mesh = shells_.of_shell(i);
        TriMesh lids;
        for (const BorderLoop& loop : shell.loops) lids = merged({lids, shells_.lid(loop)});
        if (shell.volume_mm3 < 0.0) mesh = reversed(std::move(mesh)), lids = reversed(std::move(lids));
        const double capped_mm3 = std::abs(shell.volume_mm3);
        const internal::Estimate e = internal::surrounded_by_open(mesh, lids, holes, capped_mm3);
        const bool is_void = nesting_.winding[i] < 1;
        below_mm3_ += is_void ? e.high_mm3 - capped_mm3 : capped_mm3 - e.low_mm3;
        above_mm3_ += is_void ? capped_mm3 - e.low_mm3 : e.high_mm3 - capped_mm3;
    }
}

TriMesh Teller::capped() const {
    TriMesh mesh = shells_.mesh;
    for (const MeshShell& shell : shells_.shells)
        for (const BorderLoop& loop : shell.loops) mesh = merged({std::move(mesh), shells_.lid(loop)});
    return mesh;
}

Status Teller::look_for_crossings() {
    if (!input_.look_for_crossings) return Done{};
    if (shells_.mesh.triangles.size() > kMostForCrossings) {
        add(Flaw::NotLooked, shells_.mesh.triangles.size(),
            fmt::format("{} triangles: not looked for places where they cross",
                        grouped(shells_.mesh.triangles.size())));
        return Done{};
    }
    constexpr std::size_t kMost = 1000;
    GAPWRIGHT_TRY(crossings, self_crossings(shells_.mesh, kMost));
    if (crossings.empty()) return Done{};
    const auto through = std::find_if(crossings.begin(), crossings.end(),
                                      [&](const Crossing& c) { return pierces(shells_.mesh, c.a, c.b); });
    crossing_ = true;
    double sum_mm3 = 0.0;
    for (std::size_t i = 0; i < shells_.shells.size(); ++i)
        if (counts_[i]) sum_mm3 += shells_.shells[i].volume_mm3;
    common_ = internal::surrounded_by_crossing(capped(), sum_mm3);
    const std::string places =
        (crossings.size() == kMost ? "at least " : "") + counted(crossings.size(), "pair", "pairs");
    if (through == crossings.end() && !common_.met_doubt && crossings.size() < kMost)
        add(Flaw::Touching, crossings.size(),
            fmt::format("{} of triangles touch; no common room at {} points", places, grouped(common_.samples)), {},
            crossings.front().at);
    else
        add(Flaw::Crossing, crossings.size(), fmt::format("{} of triangles cross; common room is counted once", places),
            "join the solids in the program that made them (boolean union)",
            through != crossings.end() ? through->at : crossings.front().at);
    return Done{};
}

/// The surface as a whole faces outwards from here on.
void Teller::turn_outward() {
    if (!nesting_.inside_out) return;
    shells_.mesh = reversed(std::move(shells_.mesh));
    for (MeshShell& shell : shells_.shells) {
        shell.volume_mm3 = -shell.volume_mm3;
        shell.by_sections_mm3 = -shell.by_sections_mm3;
        shell.moment_mm4 = -shell.moment_mm4;
        for (BorderLoop& loop : shell.loops) {
            std::reverse(loop.vertices.begin(), loop.vertices.end());
            loop.normal = -loop.normal;
        }
    }
}

void Teller::second_methods() {
    bool any_lid = false;
    double sum_mm3 = 0.0, sections_z_mm3 = 0.0;
    for (std::size_t i = 0; i < shells_.shells.size(); ++i) {
        any_lid = any_lid || !shells_.shells[i].loops.empty();
        sum_mm3 += shells_.shells[i].volume_mm3;
        sections_z_mm3 += shells_.shells[i].by_sections_mm3;
    }
    const TriMesh with_lids = any_lid ? capped() : TriMesh{};
    const TriMesh& mesh = any_lid ? with_lids : shells_.mesh;
    const double size = diagonal(out_.box);
    // Rounding of the sums themselves.
    const double bound_mm3 = 1e-13 * out_.area.mm2() * size;
    // The axis that differs most speaks for the three.
    double worst = sections_z_mm3;
    for (const int axis : {0, 1}) {
        const double v = volume_by_sections_mm3(mesh, axis);
        if (std::abs(v - sum_mm3) > std::abs(worst - sum_mm3)) worst = v;
    }
    // Where common room is counted once, the sections are compared with the plain sum.
    out_.others.push_back({"areas of sections along x, y and z, the one that differs most",
                           Volume::mm3(out_.volume.mm3() + (worst - sum_mm3)), Volume::mm3(bound_mm3)});
}

Result<ShapeVolume> Teller::tell() {
    shells_ = take_apart(std::move(input_.mesh));
    if (context_.is_cancelled()) return Context::interrupted();
    if (shells_.mesh.triangles.empty()) {
        tell_tidied();
        add(Flaw::Flat, 1, "no triangle with three corners of its own is left", "export the shape as a mesh again");
        return out_;
    }
    close_seams();
    tell_tidied();
    tell_borders();
    out_.box = {};
    double area_mm2 = 0.0;
    for (const MeshShell& shell : shells_.shells) {
        out_.box.grow(shell.box.lo);
        out_.box.grow(shell.box.hi);
        area_mm2 += shell.area_mm2;
    }
    out_.area = Area::mm2(area_mm2);
    nesting_ = internal::nest(shells_, counts_);
    turn_outward();
    make_bodies();
    GAPWRIGHT_CHECK(look_for_crossings());
    if (context_.is_cancelled()) return Context::interrupted();

    const internal::Precision precision =
        internal::precision_of(shells_.mesh, input_.file_unit_mm, input_.single_precision);
    out_.precision = precision.name;
    // Each point of the surface moves by less than its corners do, which move by this a coordinate.
    // The sums' own rounding comes to that.
    out_.rounding = Volume::mm3(area_mm2 * (std::sqrt(3.0) * precision.most_off_mm + 1e-14 * diagonal(out_.box)));
    out_.known = !out_.bodies.empty();
    if (!out_.known) return out_;

    double best = nesting_.once_or_more_mm3, low = best, high = best;
    if (!nesting_.alike.empty()) low = std::min(low, nesting_.odd_mm3), high = std::max(high, nesting_.odd_mm3);
    for (const std::size_t i : nesting_.loose) low -= std::abs(shells_.shells[i].volume_mm3);
    bound_open_shells();
    if (crossing_) {
        const internal::Estimate& e = common_;
        best = e.best_mm3;
        low = nesting_.alike.empty() ? e.low_mm3 : std::min(e.low_mm3, low);
        high = std::max(e.high_mm3, best);
        out_.method = fmt::format("winding number at {} points over the sum of signed tetrahedra", grouped(e.samples));
    } else {
        out_.method = below_mm3_ + above_mm3_ > 0.0
                          ? "signed tetrahedra with lids over the holes; bounds by the winding number"
                          : "signed tetrahedra";
    }
    out_.exact = true;
    for (const FlawFound& f : out_.flaws) out_.exact = out_.exact && !leaves_doubt(f.flaw);
    const double small = out_.rounding.mm3() + seam_mm3_;
    out_.volume = Volume::mm3(best);
    out_.low = Volume::mm3(std::max(0.0, low - below_mm3_ - small));
    out_.high = Volume::mm3(high + above_mm3_ + small);
    second_methods();
    hold_methods_together(out_);
    Vec3 moment;
    double weight = 0.0;
    for (const Body& body : out_.bodies) {
        const double v = body.is_void ? -body.volume.mm3() : body.volume.mm3();
        moment += body.centre * v;
        weight += v;
    }
    out_.centre = weight > 0.0 ? moment / weight : (out_.box.lo + out_.box.hi) * 0.5;
    if (shells_.mesh.triangles.size() <= kMostForCurved) {
        const double excess = internal::curved_excess_mm3(shells_.mesh);
        if (std::abs(excess) > 1e-9 * best) out_.if_curved = Volume::mm3(excess);
    }
    out_.mesh = std::move(shells_.mesh);
    return std::move(out_);
}

}  // namespace

const char* name_of(Flaw flaw) {
    switch (flaw) {
        case Flaw::NotFinite:
            return "not finite";
        case Flaw::Collapsed:
            return "repeated corner";
        case Flaw::Sliver:
            return "without area";
        case Flaw::Doubled:
            return "doubled";
        case Flaw::Turned:
            return "not oriented";
        case Flaw::InsideOut:
            return "inside out";
        case Flaw::Crowded:
            return "not manifold";
        case Flaw::Seam:
            return "seam";
        case Flaw::Open:
            return "open";
        case Flaw::OneSided:
            return "one-sided";
        case Flaw::Flat:
            return "flat";
        case Flaw::Crossing:
            return "self-crossing";
        case Flaw::Touching:
            return "touching";
        case Flaw::NotLooked:
            return "crossings not looked for";
        case Flaw::NestedAlike:
            return "nested alike";
        case Flaw::LooseVoid:
            return "loose void";
        case Flaw::NotASolid:
            return "no solid";
        case Flaw::NotValid:
            return "not valid";
        case Flaw::WithoutTriangles:
            return "points only";
        case Flaw::MethodsDisagree:
            return "methods disagree";
    }
    return "";
}

bool leaves_doubt(Flaw flaw) {
    switch (flaw) {
        case Flaw::NotFinite:
        case Flaw::Collapsed:
        case Flaw::Sliver:
        case Flaw::Doubled:
        case Flaw::Turned:
        case Flaw::InsideOut:
        case Flaw::Crowded:
        case Flaw::Seam:
        case Flaw::Touching:
        case Flaw::NotLooked:
            return false;
        default:
            return true;
    }
}

void hold_methods_together(ShapeVolume& shape) {
    for (const SecondValue& other : shape.others) {
        const double off = std::abs((other.volume - shape.volume).mm3());
        // A part in 10^9 is forgiven: sums of many millions of triangles.
        if (off <= other.bound.mm3() + 1e-9 * std::abs(shape.volume.mm3())) continue;
        shape.flaws.push_back({Flaw::MethodsDisagree,
                               1,
                               fmt::format("{:.6g} L by {}, {:.6g} L by {}", shape.volume.litres(), shape.method,
                                           other.volume.litres(), other.method),
                               "trust neither: heal the shape in the program that made it, or export it as a mesh",
                               {}});
        shape.exact = false;
        shape.low = std::min(shape.low, other.volume - other.bound);
        shape.high = std::max(shape.high, other.volume + other.bound);
    }
}

Result<ShapeVolume> volume_of_mesh(MeshInput input, const Context& context) {
    EXPECTS(input.file_unit_mm > 0.0);
    const Stage stage(context, "volume");
    return Teller(std::move(input), context).tell();
}

}  // namespace geom::measure

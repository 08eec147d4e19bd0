#include "geom/core/text.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/internal/brep_overlap.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/shape_volume.h"
#include "geom/skin/internal/occt.h"

#include <fmt/format.h>
#include <BRep_Builder.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Compound.hxx>
#include <TopoDS_Shell.hxx>

#include <algorithm>
#include <cmath>

namespace geom::measure {

namespace {

struct Piece {
    std::string name;
    TopoDS_Shape shape;  // a solid, a shell, or faces that are in none
    bool is_solid = false;
};

std::vector<Piece> pieces_of(const NamedBrep& product) {
    std::vector<Piece> out;
    const TopoDS_Shape& shape = to_occt(product.shape);
    for (TopExp_Explorer it(shape, TopAbs_SOLID); it.More(); it.Next())
        out.push_back({product.name, it.Current(), true});
    for (TopExp_Explorer it(shape, TopAbs_SHELL, TopAbs_SOLID); it.More(); it.Next())
        out.push_back({product.name, it.Current(), false});
    TopoDS_Compound loose;
    BRep_Builder builder;
    builder.MakeCompound(loose);
    bool any = false;
    for (TopExp_Explorer it(shape, TopAbs_FACE, TopAbs_SHELL); it.More(); it.Next(), any = true)
        builder.Add(loose, it.Current());
    if (any) out.push_back({product.name, loose, false});
    return out;
}

class Sum {
public:
    Sum(Length chord, const Context& context) : chord_(chord), context_(context) { out_.chord_mm = chord.mm(); }
    Status add(const Piece& piece);
    /// Room that several solids share is counted once.
    Status count_once();
    ShapeVolume take();

private:
    Status add_shells(const Piece& piece, const SolidMeasure& whole);
    Status add_as_mesh(const Piece& piece);

    Length chord_;
    const Context& context_;
    ShapeVolume out_;
    double volume_ = 0.0, low_ = 0.0, high_ = 0.0, area_ = 0.0, mesh_volume_ = 0.0, rounding_ = 0.0;
    bool all_meshed_ = true, any_mesh_way_ = false;
    Vec3 moment_;
    std::vector<internal::LoneSolid> solids_;
    std::vector<std::string> names_;
};

Status Sum::add_shells(const Piece& piece, const SolidMeasure& whole) {
    std::vector<SolidMeasure> shells;
    for (TopExp_Explorer it(piece.shape, TopAbs_SHELL); it.More(); it.Next()) {
        GAPWRIGHT_TRY(m, measure_solid(to_brep(it.Current()), context_));
        shells.push_back(m);
    }
    const double turn = whole.volume.mm3() < 0.0 ? -1.0 : 1.0;
    const auto outer = std::max_element(shells.begin(), shells.end(), [&](const auto& a, const auto& b) {
        return turn * a.volume.mm3() < turn * b.volume.mm3();
    });
    const auto first = static_cast<int>(out_.bodies.size());
    const auto add_body = [&](const SolidMeasure& m, bool is_void) {
        Body body;
        body.name = piece.name;
        body.is_void = is_void;
        body.within = is_void ? first : -1;
        body.closed = m.closed;
        body.volume = Volume::mm3(std::abs(m.volume.mm3()));
        body.area = m.area;
        body.box = m.box;
        body.centre = m.centre;
        body.faces = static_cast<std::size_t>(m.faces);
        out_.bodies.push_back(std::move(body));
    };
    add_body(*outer, false);
    for (auto it = shells.begin(); it != shells.end(); ++it)
        if (it != outer) add_body(*it, turn * it->volume.mm3() < 0.0);
    return Done{};
}

/// Faces that are not closed: their triangles are bounded like those of any mesh.
Status Sum::add_as_mesh(const Piece& piece) {
    any_mesh_way_ = true;
    auto mesh = tessellate(to_brep(piece.shape), chord_, context_);
    if (!mesh || mesh->triangles.empty()) {
        out_.flaws.push_back({Flaw::NotASolid,
                              1,
                              fmt::format("{}: faces that bound no solid and give no triangles",
                                          piece.name.empty() ? "a product" : piece.name),
                              "sew the faces to a solid in the program that made them",
                              {}});
        all_meshed_ = false;
        return Done{};
    }
    GAPWRIGHT_TRY(v, volume_of_mesh({.mesh = std::move(*mesh), .look_for_crossings = true}, context_));
    out_.flaws.push_back({Flaw::NotASolid,
                          1,
                          "faces that bound no solid; what follows is said of their triangles",
                          "sew the faces to a solid in the program that made them",
                          {}});
    for (FlawFound& f : v.flaws) out_.flaws.push_back(std::move(f));
    const int base = static_cast<int>(out_.bodies.size());
    for (Body& body : v.bodies) {
        body.name = piece.name;
        if (body.within >= 0) body.within += base;
        out_.bodies.push_back(std::move(body));
    }
    if (v.known) {
        const double slack = v.area.mm2() * chord_.mm();
        volume_ += v.volume.mm3();
        low_ += std::max(0.0, v.low.mm3() - slack);
        high_ += v.high.mm3() + slack;
        mesh_volume_ += v.volume.mm3();
        moment_ += v.centre * v.volume.mm3();
    }
    area_ += v.area.mm2();
    out_.box.grow(v.box.lo);
    out_.box.grow(v.box.hi);
    out_.mesh = merged({std::move(out_.mesh), std::move(v.mesh)});
    return Done{};
}

Status Sum::add(const Piece& piece) {
    GAPWRIGHT_TRY(m, measure_solid(to_brep(piece.shape), context_));
    if (m.faces == 0) return Done{};
    if (!m.closed) return add_as_mesh(piece);
    if (!piece.is_solid)
        out_.flaws.push_back(
            {Flaw::Seam, 1, "a closed shell that is not said to be a solid, taken for one", {}, m.box.lo});
    if (!m.valid)
        out_.flaws.push_back({Flaw::NotValid, 1,
                              fmt::format("{}: faces or edges contradict one another (the kernel's own check fails)",
                                          piece.name.empty() ? "a solid" : piece.name),
                              "heal the solid in the program that made it", m.box.lo});
    if (m.volume.mm3() < 0.0)
        out_.flaws.push_back({Flaw::InsideOut,
                              1,
                              "the solid's faces look inwards; read the other way round",
                              "turn it in the program that made it",
                              {}});
    GAPWRIGHT_CHECK(add_shells(piece, m));
    const double v = std::abs(m.volume.mm3());
    solids_.push_back({piece.shape, m.box, v});
    names_.push_back(piece.name.empty() ? std::to_string(solids_.size()) : piece.name);
    const double rounding = m.area.mm2() * m.max_tolerance_mm + 1e-12 * v;
    volume_ += v;
    rounding_ += rounding;
    area_ += m.area.mm2();
    moment_ += m.centre * v;
    out_.box.grow(m.box.lo);
    out_.box.grow(m.box.hi);
    auto mesh = tessellate(to_brep(piece.shape), chord_, context_);
    if (mesh) {
        const MeshMeasure t = measure_mesh(*mesh);
        all_meshed_ = all_meshed_ && t.closed && t.oriented;
        mesh_volume_ += std::abs(t.volume.mm3());
        TriMesh outward = t.volume.mm3() < 0.0 ? reversed(std::move(*mesh)) : std::move(*mesh);
        out_.mesh = merged({std::move(out_.mesh), std::move(outward)});
    } else if (mesh.error().code == FaultCode::Interrupted) {
        return mesh.error();
    } else {
        all_meshed_ = false;
    }
    const double off = m.valid ? rounding : m.area.mm2() * std::max(chord_.mm(), m.max_tolerance_mm);
    low_ += std::max(0.0, v - off);
    high_ += v + off;
    return Done{};
}

Status Sum::count_once() {
    GAPWRIGHT_TRY(shared, internal::overlaps(solids_, context_));
    double common = 0.0;
    for (const internal::Overlap& o : shared.found) {
        common += o.common_mm3;
        out_.flaws.push_back({Flaw::Crossing, 1,
                              fmt::format("solids {} and {} share {:.6g} L, which is counted once", names_[o.a],
                                          names_[o.b], o.common_mm3 / 1e6),
                              "join the solids in the program that made them (boolean union), or cut one by the other",
                              o.at});
    }
    if (shared.not_looked > 0)
        out_.flaws.push_back({Flaw::NotLooked,
                              shared.not_looked,
                              fmt::format("{} pairs of solids: not told whether they share room", shared.not_looked),
                              {},
                              {}});
    if (common <= 0.0) return Done{};
    // Room that three share is taken off twice too often: no more than that is in doubt below, the sum above.
    double largest = 0.0;
    for (const internal::LoneSolid& s : solids_) largest = std::max(largest, s.volume_mm3);
    const double once = std::max(largest, volume_ - common);
    moment_ = moment_ * (once / volume_);
    mesh_volume_ -= volume_ - once;
    low_ = std::max(0.0, low_ - (volume_ - once));
    volume_ = once;
    return Done{};
}

ShapeVolume Sum::take() {
    out_.known = !out_.bodies.empty();
    out_.exact = out_.known;
    for (const FlawFound& f : out_.flaws) out_.exact = out_.exact && !leaves_doubt(f.flaw);
    out_.volume = Volume::mm3(volume_);
    out_.low = Volume::mm3(low_);
    out_.high = Volume::mm3(high_);
    out_.rounding = Volume::mm3(rounding_);
    out_.precision = "tolerances of the B-rep";
    out_.area = Area::mm2(area_);
    out_.centre = volume_ > 0.0 ? moment_ / volume_ : (out_.box.lo + out_.box.hi) * 0.5;
    out_.method = any_mesh_way_ ? "integrals over closed faces, triangles of the rest" : "integrals over the faces";
    if (all_meshed_ && out_.known)
        out_.others.push_back({fmt::format("its own triangles, within {:.3g} mm", chord_.mm()),
                               Volume::mm3(mesh_volume_), Volume::mm3(area_ * chord_.mm())});
    hold_methods_together(out_);
    return std::move(out_);
}

}  // namespace

Result<ShapeVolume> volume_of_breps(const std::vector<NamedBrep>& shapes, Length chord, const Context& context) {
    EXPECTS(chord.mm() > 0.0);
    const Stage stage(context, "volume");
    return guard_occt("volume", [&]() -> Result<ShapeVolume> {
        Sum sum(chord, context);
        for (const NamedBrep& product : shapes)
            for (const Piece& piece : pieces_of(product)) {
                if (context.is_cancelled()) return Context::interrupted();
                GAPWRIGHT_CHECK(sum.add(piece));
            }
        GAPWRIGHT_CHECK(sum.count_once());
        return sum.take();
    });
}

}  // namespace geom::measure

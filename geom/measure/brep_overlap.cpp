#include "geom/measure/internal/brep_overlap.h"

#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/shape_volume.h"
#include "geom/skin/internal/occt.h"

#include <BRepAlgoAPI_Common.hxx>

#include <algorithm>
#include <optional>

namespace geom::measure::internal {

namespace {

constexpr double kLeast_rel = 1e-6;
constexpr std::size_t kMostPairs = 400;

bool boxes_share(const Aabb& a, const Aabb& b) {
    for (std::size_t k = 0; k < 3; ++k)
        if (std::min(a.hi[k], b.hi[k]) - std::max(a.lo[k], b.lo[k]) <= 1e-7) return false;
    return true;
}

struct Common {
    double mm3 = 0.0;
    Point3 at;
};

/// None where the kernel's answer cannot be right.
std::optional<Common> by_kernel(const LoneSolid& a, const LoneSolid& b, const Context& context) {
    const auto told = guard_occt("volume", [&]() -> Result<Common> {
        BRepAlgoAPI_Common common(a.shape, b.shape);
        if (!common.IsDone() || common.HasErrors()) return Fault{FaultCode::Internal, "no common part", {}, {}, {}};
        GAPWRIGHT_TRY(m, measure_solid(to_brep(common.Shape()), context));
        if (m.faces > 0 && !m.closed) return Fault{FaultCode::Internal, "open", {}, {}, {}};
        return Common{m.volume.mm3(), m.centre};
    });
    const double most = std::min(a.volume_mm3, b.volume_mm3) * (1.0 + 1e-6);
    if (!told || told->mm3 < -kLeast_rel * most || told->mm3 > most) return std::nullopt;
    return *told;
}

/// Room that two meshes share: what their sum holds more than is surrounded at all.
std::optional<Common> by_triangles(const LoneSolid& a, const LoneSolid& b, const Context& context) {
    std::vector<TriMesh> meshes;
    double sum = 0.0;
    for (const LoneSolid* s : {&a, &b}) {
        auto mesh = tessellate(to_brep(s->shape), Length::mm(0.1), context);
        if (!mesh) return std::nullopt;
        const double v = signed_volume_mm3(*mesh);
        sum += std::abs(v);
        meshes.push_back(v < 0.0 ? reversed(std::move(*mesh)) : std::move(*mesh));
    }
    const auto both = volume_of_mesh({.mesh = merged(meshes)}, context);
    if (!both || !both->known) return std::nullopt;
    const bool crosses = std::any_of(both->flaws.begin(), both->flaws.end(), [](const FlawFound& f) {
        return f.flaw == Flaw::Crossing || f.flaw == Flaw::NestedAlike;
    });
    return Common{crosses ? sum - both->volume.mm3() : 0.0, both->centre};
}

}  // namespace

Result<Overlaps> overlaps(const std::vector<LoneSolid>& solids, const Context& context) {
    Overlaps out;
    std::size_t looked = 0;
    for (std::size_t i = 0; i < solids.size(); ++i)
        for (std::size_t k = i + 1; k < solids.size(); ++k) {
            if (!boxes_share(solids[i].box, solids[k].box)) continue;
            if (context.is_cancelled()) return Context::interrupted();
            if (looked == kMostPairs) {
                ++out.not_looked;
                continue;
            }
            ++looked;
            auto common = by_kernel(solids[i], solids[k], context);
            if (!common) common = by_triangles(solids[i], solids[k], context);
            if (!common) {
                ++out.not_looked;
                continue;
            }
            if (common->mm3 <= kLeast_rel * std::min(solids[i].volume_mm3, solids[k].volume_mm3)) continue;
            out.found.push_back({i, k, common->mm3, common->at});
        }
    return out;
}

}  // namespace geom::measure::internal

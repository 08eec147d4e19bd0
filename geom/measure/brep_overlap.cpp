#include "geom/measure/internal/brep_overlap.h"

#include "geom/measure/brep_measure.h"
#include "geom/measure/internal/brep_validity.h"
#include "geom/measure/internal/surface_integral.h"
#include "geom/measure/internal/tight_box.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/shape_volume.h"
#include "geom/skin/internal/occt.h"

#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>
#include <BRepAlgoAPI_Common.hxx>
#include <Standard_Failure.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Face.hxx>

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <optional>
#include <type_traits>

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
static_assert(std::is_trivially_copyable_v<Common>, "goes through a pipe");

/// Single-threaded throughout: it runs in a child, in which the parent's threads are not there.
std::optional<Common> common_by_kernel(const TopoDS_Shape& a, const TopoDS_Shape& b) {
    try {
        BRepAlgoAPI_Common common(a, b);
        if (!common.IsDone() || common.HasErrors()) return std::nullopt;
        const TopoDS_Shape shared = common.Shape();
        Common out;
        TopExp_Explorer first(shared, TopAbs_SOLID);
        if (!first.More()) return out;
        if (!is_closed(shared)) return std::nullopt;
        const Aabb box = tight_box(shared);
        out.at = (box.lo + box.hi) * 0.5;
        for (TopExp_Explorer it(shared, TopAbs_FACE); it.More(); it.Next())
            out.mm3 += integrate_face(TopoDS::Face(it.Current()), out.at).volume_mm3;
        return out;
    } catch (const Standard_Failure&) {
        return std::nullopt;
    }
}

/// In a child, since solids of unknown origin may break the kernel down or keep it busy for ever.
/// None where there is no answer, or one that cannot be right.
std::optional<Common> by_kernel(const LoneSolid& a, const LoneSolid& b, const Context& context) {
    constexpr int kMostSeconds = 60;
    int ends[2];
    if (pipe(ends) != 0) return std::nullopt;
    const pid_t child = fork();
    if (child == 0) {
        alarm(kMostSeconds);
        const auto told = common_by_kernel(a.shape, b.shape);
        if (told) (void)!write(ends[1], &*told, sizeof *told);
        _exit(0);
    }
    close(ends[1]);
    Common told;
    bool whole = false;
    if (child > 0) {
        pollfd wait{ends[0], POLLIN, 0};
        while (poll(&wait, 1, 200) <= 0)
            if (context.is_cancelled()) kill(child, SIGKILL);
        whole = read(ends[0], &told, sizeof told) == static_cast<ssize_t>(sizeof told);
        while (waitpid(child, nullptr, 0) < 0 && errno == EINTR) {
        }
    }
    close(ends[0]);
    const double most = std::min(a.volume_mm3, b.volume_mm3) * (1.0 + 1e-6);
    if (!whole || !(told.mm3 >= -kLeast_rel * most) || told.mm3 > most) return std::nullopt;
    return told;
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

// Whether a shell lies in another is asked of the middles of a few of its triangles, by the winding number of the
// other one; most pairs are told apart by their boxes.
#include "geom/measure/internal/nesting.h"

#include "geom/measure/mesh_measure.h"
#include "geom/measure/winding_tree.h"

#include <algorithm>
#include <cmath>
#include <memory>
#include <numeric>

namespace geom::measure::internal {

namespace {

bool may_hold(const Aabb& outer, const Aabb& inner) {
    for (std::size_t k = 0; k < 3; ++k)
        if (inner.lo[k] < outer.lo[k] || inner.hi[k] > outer.hi[k]) return false;
    return true;
}

}  // namespace

Nesting nest(const Shells& all, const std::vector<bool>& counts) {
    const std::size_t n = all.shells.size();
    Nesting out;
    out.within.assign(n, -1);
    out.winding.assign(n, 0);
    std::vector<std::size_t> by_size;
    for (std::size_t i = 0; i < n; ++i)
        if (counts[i]) by_size.push_back(i);
    const auto size = [&](std::size_t i) { return std::abs(all.shells[i].volume_mm3); };
    std::stable_sort(by_size.begin(), by_size.end(), [&](std::size_t a, std::size_t b) { return size(a) > size(b); });
    std::vector<std::unique_ptr<WindingTree>> trees(n);
    const auto holds = [&](std::size_t outer, std::size_t inner) {
        if (!trees[outer]) {
            TriMesh mesh = all.of_shell(outer);
            for (const BorderLoop& loop : all.shells[outer].loops) mesh = merged({mesh, all.lid(loop)});
            trees[outer] = std::make_unique<WindingTree>(mesh);
        }
        const MeshShell& shell = all.shells[inner];
        int in = 0;
        for (const std::size_t part : {std::size_t{0}, shell.count / 2, shell.count - 1}) {
            const std::size_t t = shell.first + part;
            const Point3 middle = (all.mesh.corner(t, 0) + all.mesh.corner(t, 1) + all.mesh.corner(t, 2)) / 3.0;
            in += std::abs(trees[outer]->at(middle)) > 0.5;
        }
        return in >= 2;
    };
    // Larger ones first: what holds a shell is found before it, the smallest of them last.
    for (std::size_t k = 0; k < by_size.size(); ++k) {
        const std::size_t i = by_size[k];
        for (std::size_t m = k; m-- > 0;) {
            const std::size_t j = by_size[m];
            if (may_hold(all.shells[j].box, all.shells[i].box) && holds(j, i)) {
                out.within[i] = static_cast<int>(j);
                break;
            }
        }
    }
    const auto sign = [&](std::size_t i) { return all.shells[i].volume_mm3 < 0.0 ? -1 : 1; };
    bool any_out = false, any_in = false;
    for (const std::size_t i : by_size)
        if (out.within[i] < 0) (sign(i) > 0 ? any_out : any_in) = true;
    out.inside_out = any_in && !any_out;
    const int turn = out.inside_out ? -1 : 1;
    std::vector<int> depth(n, 0), turn_of(n, turn);
    std::vector<double> own(n, 0.0);  // less the shells that lie in it directly
    for (const std::size_t i : by_size) {
        const int outer = out.within[i];
        own[i] += size(i);
        // A loose shell that faces inwards is taken for a solid that is inside out.
        const bool is_loose = outer < 0 && sign(i) * turn < 0;
        if (is_loose) out.loose.push_back(i), turn_of[i] = -turn;
        if (outer >= 0) {
            const auto o = static_cast<std::size_t>(outer);
            own[o] -= size(i);
            depth[i] = depth[o] + 1;
            turn_of[i] = turn_of[o];
            if (sign(i) == sign(o)) out.alike.push_back(i);
            out.winding[i] = out.winding[o] + sign(i) * turn_of[i];
        } else {
            out.winding[i] = sign(i) * turn_of[i];
        }
    }
    for (const std::size_t i : by_size) {
        if (out.winding[i] >= 1) out.once_or_more_mm3 += own[i];
        if (depth[i] % 2 == 0) out.odd_mm3 += own[i];
    }
    return out;
}

}  // namespace geom::measure::internal

// Triangles whose boxes overlap are found by the tree; whether a pair crosses is decided by exact predicates on the
// coordinates as they are. Two triangles with one vertex in common cross when the side of one that is opposite to it
// meets the other; with an edge in common, when they lie in one plane on the same side of it; with three, always.
// The only file that knows the predicates' library.
#include "geom/measure/mesh_measure.h"

#include "geom/core/parallel.h"
#include "geom/core/triangle.h"
#include "geom/measure/triangle_tree.h"

#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>

#include <algorithm>
#include <exception>
#include <mutex>

namespace geom::measure {

namespace {

using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;

Kernel::Point_3 to_cgal(Point3 p) {
    return {p.x, p.y, p.z};
}

bool cross_pair(const TriMesh& mesh, std::size_t s, std::size_t t) {
    const auto &a = mesh.triangles[s], &b = mesh.triangles[t];
    std::array<std::size_t, 3> in_a{}, in_b{};
    std::size_t shared = 0;
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j)
            if (a[i] == b[j] && shared < 3) {
                in_a[shared] = i;
                in_b[shared] = j;
                ++shared;
            }
    const auto point = [&](std::uint32_t v) { return to_cgal(mesh.vertices[v]); };
    if (shared == 3) return true;
    if (shared == 2) {
        const auto p = point(a[in_a[0]]), q = point(a[in_a[1]]);
        const auto c = point(a[3 - in_a[0] - in_a[1]]), d = point(b[3 - in_b[0] - in_b[1]]);
        if (!CGAL::coplanar(p, q, c, d)) return false;
        return CGAL::coplanar_orientation(p, q, c, d) == CGAL::POSITIVE;
    }
    const Kernel::Triangle_3 ta(point(a[0]), point(a[1]), point(a[2])), tb(point(b[0]), point(b[1]), point(b[2]));
    if (shared == 1) {
        const Kernel::Segment_3 sa(point(a[(in_a[0] + 1) % 3]), point(a[(in_a[0] + 2) % 3]));
        const Kernel::Segment_3 sb(point(b[(in_b[0] + 1) % 3]), point(b[(in_b[0] + 2) % 3]));
        return CGAL::do_intersect(sa, tb) || CGAL::do_intersect(sb, ta);
    }
    return CGAL::do_intersect(ta, tb);
}

bool has_repeat(const std::array<std::uint32_t, 3>& t) {
    return t[0] == t[1] || t[1] == t[2] || t[2] == t[0];
}

/// Without area the predicates are not defined.
bool is_flat(const TriMesh& mesh, std::size_t t) {
    return has_repeat(mesh.triangles[t]) ||
           CGAL::collinear(to_cgal(mesh.corner(t, 0)), to_cgal(mesh.corner(t, 1)), to_cgal(mesh.corner(t, 2)));
}

}  // namespace

Result<std::vector<Crossing>> self_crossings(const TriMesh& mesh, std::size_t most) {
    constexpr std::size_t kGrain = 1024;
    try {
        const TriangleTree tree(mesh);
        std::vector<char> flat(mesh.triangles.size());
        parallel_for(flat.size(), kGrain, [&](std::size_t begin, std::size_t end) {
            for (std::size_t t = begin; t < end; ++t) flat[t] = is_flat(mesh, t) ? 1 : 0;
        });
        std::vector<std::vector<Crossing>> found((mesh.triangles.size() + kGrain - 1) / kGrain);
        std::exception_ptr failure;
        std::mutex failing;
        parallel_for(mesh.triangles.size(), kGrain, [&](std::size_t begin, std::size_t end) {
            try {
                std::vector<std::uint32_t> near;
                std::vector<Crossing>& own = found[begin / kGrain];
                for (std::size_t s = begin; s < end && own.size() < most; ++s) {
                    if (flat[s] != 0) continue;
                    Aabb box;
                    for (int k = 0; k < 3; ++k) box.grow(mesh.corner(s, k));
                    tree.overlapping(box, near);
                    for (const std::uint32_t t : near) {
                        if (t <= s || flat[t] != 0 || !cross_pair(mesh, s, t)) continue;
                        const Point3 middle = (mesh.corner(s, 0) + mesh.corner(s, 1) + mesh.corner(s, 2)) / 3.0;
                        own.push_back(
                            {s, t,
                             closest_on_triangle(middle, mesh.corner(t, 0), mesh.corner(t, 1), mesh.corner(t, 2))});
                        if (own.size() >= most) break;
                    }
                }
            } catch (...) {
                const std::lock_guard lock(failing);
                failure = std::current_exception();
            }
        });
        if (failure) std::rethrow_exception(failure);
        std::vector<Crossing> out;
        for (const auto& f : found)
            for (const Crossing& c : f)
                if (out.size() < most) out.push_back(c);
        return out;
    } catch (const LogicError&) {
        throw;
    } catch (const std::bad_alloc&) {
        return Fault{
            FaultCode::MemoryLimit, "self-crossing test: out of memory", "take a larger chord error", {}, "measure"};
    } catch (const std::exception& e) {
        return Fault{FaultCode::Internal, std::string("self-crossing test: ") + e.what(), {}, {}, "measure"};
    }
}

bool pierces(const TriMesh& mesh, std::size_t a, std::size_t b) {
    const auto corner = [&](std::size_t t, std::size_t c) { return to_cgal(mesh.corner(t, static_cast<int>(c % 3))); };
    for (const auto& [edges, face] : {std::pair{a, b}, std::pair{b, a}}) {
        const auto p = corner(face, 0), q = corner(face, 1), r = corner(face, 2);
        for (std::size_t c = 0; c < 3; ++c) {
            const auto s = corner(edges, c), e = corner(edges, c + 1);
            const auto from = CGAL::orientation(p, q, r, s), to = CGAL::orientation(p, q, r, e);
            if (from == CGAL::COPLANAR || to == CGAL::COPLANAR || from == to) continue;
            const auto turn = CGAL::orientation(s, e, p, q);
            if (turn != CGAL::COPLANAR && turn == CGAL::orientation(s, e, q, r) &&
                turn == CGAL::orientation(s, e, r, p))
                return true;
        }
    }
    return false;
}

}  // namespace geom::measure

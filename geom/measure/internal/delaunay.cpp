// Exact predicates, no constructions: crossing sides are refused instead of being split. Faces are told inside from
// outside by the number of sides crossed on the way in from infinity.
#include "geom/measure/internal/delaunay.h"

#include <CGAL/Constrained_Delaunay_triangulation_2.h>
#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Triangulation_face_base_with_info_2.h>
#include <CGAL/Triangulation_vertex_base_with_info_2.h>

#include <deque>

namespace geom::measure::internal {

namespace {

using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using VertexBase = CGAL::Triangulation_vertex_base_with_info_2<std::uint32_t, Kernel>;
using InfoFace = CGAL::Triangulation_face_base_with_info_2<int, Kernel>;
using FaceBase = CGAL::Constrained_triangulation_face_base_2<Kernel, InfoFace>;
using Structure = CGAL::Triangulation_data_structure_2<VertexBase, FaceBase>;
using Triangulation =
    CGAL::Constrained_Delaunay_triangulation_2<Kernel, Structure,
                                               CGAL::No_constraint_intersection_requiring_constructions_tag>;

void mark_nesting(Triangulation& t) {
    for (const auto f : t.all_face_handles()) f->info() = -1;
    std::deque<std::pair<Triangulation::Face_handle, int>> open{{t.infinite_face(), 0}};
    while (!open.empty()) {
        const auto [start, level] = open.front();
        open.pop_front();
        if (start->info() != -1) continue;
        std::vector<Triangulation::Face_handle> same{start};
        start->info() = level;
        while (!same.empty()) {
            const Triangulation::Face_handle f = same.back();
            same.pop_back();
            for (int i = 0; i < 3; ++i) {
                const Triangulation::Face_handle n = f->neighbor(i);
                if (n->info() != -1) continue;
                if (f->is_constrained(i)) {
                    open.emplace_back(n, level + 1);
                } else {
                    n->info() = level;
                    same.push_back(n);
                }
            }
        }
    }
}

}  // namespace

std::optional<std::vector<std::array<std::uint32_t, 3>>> triangulate(
    const std::vector<FlatPoint>& points, const std::vector<std::array<std::uint32_t, 2>>& sides) {
    try {
        Triangulation t;
        std::vector<Triangulation::Vertex_handle> handle(points.size());
        Triangulation::Face_handle near;
        for (std::uint32_t i = 0; i < points.size(); ++i) {
            handle[i] = t.insert({points[i].x, points[i].y}, near);
            handle[i]->info() = i;
            near = handle[i]->face();
        }
        for (const auto& s : sides)
            if (handle[s[0]] != handle[s[1]]) t.insert_constraint(handle[s[0]], handle[s[1]]);
        if (t.dimension() < 2 || t.number_of_vertices() != points.size()) return std::nullopt;
        mark_nesting(t);
        std::vector<std::array<std::uint32_t, 3>> out;
        for (const auto f : t.finite_face_handles())
            if (f->info() % 2 == 1) out.push_back({f->vertex(0)->info(), f->vertex(1)->info(), f->vertex(2)->info()});
        return out;
    } catch (const Triangulation::Intersection_of_constraints_exception&) {
        return std::nullopt;
    }
}

}  // namespace geom::measure::internal

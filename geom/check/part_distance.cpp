#include "geom/check/internal/part_distance.h"

#include "geom/check/internal/least_along.h"
#include "geom/check/internal/moving_keep_out.h"
#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>

namespace geom::check {
namespace {

constexpr double kSlack_mm = 0.02, kDepthSlack_mm = 0.25, kPlainDepth_mm = 0.5;
constexpr std::size_t kGrain = 4096;
const Vec3 kAskew = unit({0.5773, 0.4142, 0.7071});  // met by no face of a drawn box edge on

/// Least over [0, count) of `ask(i, within)`, the same however many threads there are.
template <class Ask>
measure::LeastOnMesh least_of(std::size_t count, double within, Ask&& ask) {
    std::vector<measure::LeastOnMesh> found((count + kGrain - 1) / kGrain);
    parallel_for(count, kGrain, [&](std::size_t begin, std::size_t end) {
        measure::LeastOnMesh& best = found[begin / kGrain];
        best.value = within;
        for (std::size_t i = begin; i < end; ++i) ask(i, best);
    });
    measure::LeastOnMesh least;
    least.value = within;
    for (const measure::LeastOnMesh& f : found)
        if (f.value < least.value) least = f;
    return least;
}

}  // namespace

std::vector<std::pair<std::uint32_t, std::uint32_t>> edges_of(const TriMesh& mesh) {
    std::vector<std::pair<std::uint32_t, std::uint32_t>> edges;
    edges.reserve(3 * mesh.triangles.size());
    for (const auto& t : mesh.triangles)
        for (std::size_t c = 0; c < 3; ++c) edges.push_back(std::minmax(t[c], t[(c + 1) % 3]));
    std::sort(edges.begin(), edges.end());
    edges.erase(std::unique(edges.begin(), edges.end()), edges.end());
    return edges;
}

DrawnShape::DrawnShape(const space::KeepOutShape& shape, bool as_mesh) : shape_(shape) {
    if (const auto* box = std::get_if<space::BoxShape>(&shape); box != nullptr && as_mesh) shape_ = mesh_of(*box);
    const auto* mesh = std::get_if<TriMesh>(&shape_);
    if (mesh == nullptr) return;
    is_sheet_ = is_sheet(shape_);
    tree_.emplace(*mesh);
    edges_ = edges_of(*mesh);
}

DrawnShape DrawnShape::sheet(TriMesh mesh) {
    DrawnShape drawn;
    drawn.is_sheet_ = true;
    drawn.tree_.emplace(mesh);
    drawn.edges_ = edges_of(mesh);
    drawn.shape_ = std::move(mesh);
    return drawn;
}

PartDistance::PartDistance(const TriMesh& part) : part_(part), tree_(part), edges_(edges_of(part)) {}

measure::LeastOnMesh PartDistance::to(const DrawnShape& shape, const Frame& pose, double within) const {
    if (shape.tree_) return to_mesh(shape, pose, within);
    const space::KeepOutShape here = placed(shape.shape_, pose);
    measure::LeastOnMesh least = measure::least_on_mesh(
        part_, [&](Point3 p) { return distance_to(here, p); }, kSlack_mm, measure::DistanceKind::Convex);
    least.value = std::min(least.value, within);
    return least;
}

measure::LeastOnMesh PartDistance::on_way(const space::KeepOutShape& shape, Point3 from, Vec3 leg,
                                          double& share) const {
    const auto nearest = [&](Point3 p) {
        return least_along([&](double s) { return distance_to(shape, p - from - leg * s); }, 0.0, 1.0,
                           1e-3 / std::max(norm(leg), 1e-3));
    };
    const measure::LeastOnMesh least = measure::least_on_mesh(
        part_, [&](Point3 p) { return nearest(p).value; }, kSlack_mm, measure::DistanceKind::Convex);
    share = nearest(least.at).at;
    return least;
}

measure::LeastOnMesh PartDistance::to_mesh(const DrawnShape& shape, const Frame& pose, double within) const {
    const auto& mesh = std::get<TriMesh>(shape.shape_);
    measure::LeastOnMesh least = least_of(shape.edges_.size(), within, [&](std::size_t i, measure::LeastOnMesh& best) {
        const auto [a, b] = shape.edges_[i];
        const measure::Nearest near =
            tree_.nearest_to_segment(pose.to_parent(mesh.vertices[a]), pose.to_parent(mesh.vertices[b]), best.value);
        if (near.is_found() && near.distance_mm < best.value) best = {near.distance_mm, near.at};
    });
    const measure::LeastOnMesh other =
        least_of(edges_.size(), least.value, [&](std::size_t i, measure::LeastOnMesh& best) {
            const Point3 a = part_.vertices[edges_[i].first], b = part_.vertices[edges_[i].second];
            double share = 0.0;
            const measure::Nearest near =
                shape.tree_->nearest_to_segment(pose.to_local(a), pose.to_local(b), best.value, &share);
            if (near.is_found() && near.distance_mm < best.value) best = {near.distance_mm, a + (b - a) * share};
        });
    if (other.value < least.value) least = other;
    if (shape.is_sheet_) return least;
    const bool is_within = shape.tree_->crossings(pose.to_local(part_.vertices.front()), kAskew) % 2 == 1;
    return least.value > 0.0 && !is_within ? least : depth_in(shape, pose);
}

/// How far the part reaches into a closed mesh: by its vertices, and where none lies deep, by all of its surface.
measure::LeastOnMesh PartDistance::depth_in(const DrawnShape& shape, const Frame& pose) const {
    const auto signed_distance = [&](Point3 vehicle) {
        const Point3 p = pose.to_local(vehicle);
        const double d = shape.tree_->nearest(p).distance_mm;
        return shape.tree_->crossings(p, kAskew) % 2 == 1 ? -d : d;
    };
    const Aabb box = shape.tree_->box();
    measure::LeastOnMesh least = least_of(part_.vertices.size(), 0.0, [&](std::size_t i, measure::LeastOnMesh& best) {
        const Point3 p = pose.to_local(part_.vertices[i]);
        for (std::size_t a = 0; a < 3; ++a)
            if (p[a] < box.lo[a] || p[a] > box.hi[a]) return;
        if (const double d = signed_distance(part_.vertices[i]); d < best.value) best = {d, part_.vertices[i]};
    });
    if (least.value < -kPlainDepth_mm) return least;
    return measure::least_on_mesh(part_, signed_distance, kDepthSlack_mm);
}

}  // namespace geom::check

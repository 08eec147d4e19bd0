// Nearest disc, then the blended plane: let f be the foot of x on the disc nearest to it. The samples round f, each
// with its plane, are averaged with weights that fall with distance from f (1.8 spacings) and with the angle between
// their normal and the disc's, and f is moved onto that mean; the distance is that to the moved foot. The least
// distance over discs would be biased low by what noise the levelling left; the mean is not.
#include "geom/scan/surface.h"

#include "geom/scan/internal/point_index.h"

#include <algorithm>
#include <cmath>

namespace geom::scan {

struct SurfaceDistance::Impl {
    explicit Impl(const Surface& s) : surface(s), index(s.points) {}
    const Surface& surface;
    internal::PointIndex index;

    std::size_t sample(std::uint32_t place) const { return index.order()[place]; }
};

namespace {

/// Foot of x on a disc, and how far it is.
Point3 foot_on_disc(Point3 x, Point3 centre, Vec3 normal, double radius) {
    const Vec3 e = x - centre;
    Vec3 in_plane = e - normal * dot(normal, e);
    const double l = norm(in_plane);
    if (l > radius) in_plane = in_plane * (radius / l);
    return centre + in_plane;
}

}  // namespace

SurfaceDistance::SurfaceDistance(const Surface& surface) : impl_(new Impl(surface)) {}
SurfaceDistance::~SurfaceDistance() {
    delete impl_;
}

double SurfaceDistance::nearest(Point3 x, std::size_t* index) const {
    std::uint32_t place = 0;
    float d2 = 0.0f;
    if (impl_->index.nearest(x, 1, &place, &d2) == 0) return 1e300;
    if (index != nullptr) *index = impl_->sample(place);
    return distance(x, impl_->index.points()[place]);
}

double SurfaceDistance::at(Point3 x) const {
    constexpr int kDiscs = 12, kBlend = 20, kLayered = 60;
    constexpr double kOfLayer = 0.6;
    std::uint32_t place[kLayered];
    float d2[kLayered];
    const Surface& s = impl_->surface;
    const int n = impl_->index.nearest(x, s.layer_mm.empty() ? kDiscs : kLayered, place, d2);
    if (n == 0) return 1e300;
    double best = 1e300;
    std::size_t b = 0;
    Point3 foot;
    for (int k = 0; k < n; ++k) {
        const std::size_t i = impl_->sample(place[k]);
        const Point3 f = foot_on_disc(x, s.points[i], s.normals[i], static_cast<double>(s.radius_mm[i]));
        if (const double d = distance(x, f); d < best) best = d, b = i, foot = f;
    }
    Vec3 normal = s.normals[b];
    if (dot(normal, x - s.points[b]) < 0.0) normal = -normal;
    const double apart = b < s.layer_mm.size() ? static_cast<double>(s.layer_mm[b]) : 0.0;
    const int m = impl_->index.nearest(foot, apart > 0.0 ? kLayered : kBlend, place, d2);
    const double reach = 2.0 * static_cast<double>(s.radius_mm[b]);  // 1.8 spacings; a disc is 0.9 of one
    // Of another layer is what lies off by more than half the distance between the layers.
    const double layer_inv2 = apart > 0.0 ? 1.0 / (kOfLayer * kOfLayer * apart * apart) : 0.0;
    double sum_w = 0.0, sum_f = 0.0;
    Vec3 sum_n;
    for (int k = 0; k < m; ++k) {
        const std::size_t i = impl_->sample(place[k]);
        Vec3 ni = s.normals[i];
        double c = dot(ni, normal);
        if (c < 0.0) ni = -ni, c = -c;
        const Vec3 from = foot - s.points[i];
        const double height = dot(ni, from), same = std::max(0.0, 1.0 - height * height * layer_inv2);
        const double w = std::exp(-norm2(from) / (2.0 * reach * reach) - (2.0 - 2.0 * c) / 0.25) * same * same;
        sum_w += w;
        sum_f += w * 0.5 * dot(ni + normal, from);
        sum_n += ni * w;
    }
    if (!(sum_w > 0.0)) return best;
    return norm(x - (foot - unit(sum_n) * (sum_f / sum_w)));
}

}  // namespace geom::scan

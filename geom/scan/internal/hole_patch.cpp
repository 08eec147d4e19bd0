// Faces: the ring's members by normal. Where one face holds all but a few of them there is one, else up to three, each
// of the members that agree with most others. A face is a quadric over the plane of its mean normal, least squares over
// the samples up to 14 mm round the ring that look its way, twice more without those that lie off; a plane where that
// does as well, for a quadric carried on beyond its samples swings.
// Patch: each face is sampled at the spacing inside the ring where no sample lies, on the side of every other face on
// which its own samples lie; so it ends where they meet, at hollow and at standing edges alike. The meeting line is
// sampled too. A face with samples on both sides of another is none of these cases, and the hole is not closed.
// Trust: what lies next to the ring must lie on the faces, and the spread with which the fit determines the carried-on
// quadric must be small.
#include "geom/scan/internal/hole_patch.h"

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::scan::internal {

namespace {

constexpr double kRingWidth_mm = 14.0;      ///< of the surface round a hole that the faces are fitted to
constexpr double kSameFace = 0.8;           ///< cosine between normals of one face
constexpr double kStray = 0.12;             ///< share of the ring's members that may lie on no face
constexpr double kOneSided = 0.85;          ///< share of a face's samples that must lie on one side of another
constexpr double kMostBound_mm = 1.5;       ///< a patch that is known no better stays away
constexpr double kSpreads = 3.0;            ///< of the carried-on fit that the bound holds
constexpr double kMiddle = 0.6;             ///< spacings off the middle of two faces that count as it
constexpr double kWidestRounding_mm = 4.0;  ///< off the faces; more is a face of its own
constexpr double kOfMiddle = 1.35;  ///< what the very middle of a rounding lies off more than the mean of what counts
constexpr double kTogether = 12.0;  ///< levelled neighbours err together: so many count as one

using Terms = Eigen::Matrix<double, 6, 1>;

struct Face {
    Axes axes;
    Point3 origin;
    double scale_mm;
    int terms = 6;  ///< 3 for a plane
    Terms c = Terms::Zero();
    Eigen::Matrix<double, 6, 6> inverse = Eigen::Matrix<double, 6, 6>::Zero();  ///< of the normal equations
    double misfit_mm = 0.0;
    std::vector<std::uint32_t> own;  ///< places it is fitted to

    static Terms terms_at(double x, double y) {
        Terms t;
        t << 1.0, x, y, x * x, x * y, y * y;
        return t;
    }
    Vec3 local(Point3 p) const {
        const Vec3 d = p - origin;
        return {dot(d, axes.u), dot(d, axes.v), dot(d, axes.n)};
    }
    double height_at(double u, double v) const { return c.dot(terms_at(u / scale_mm, v / scale_mm)); }
    /// Of p over the face, along the face's mean normal.
    double off(Point3 p) const {
        const Vec3 l = local(p);
        return l.z - height_at(l.x, l.y);
    }
    Point3 at(double u, double v) const { return origin + axes.u * u + axes.v * v + axes.n * height_at(u, v); }
    Vec3 normal_at(double u, double v) const {
        const double x = u / scale_mm, y = v / scale_mm;
        const double du = (c[1] + 2.0 * c[3] * x + c[4] * y) / scale_mm,
                     dv = (c[2] + c[4] * x + 2.0 * c[5] * y) / scale_mm;
        return unit(axes.n - axes.u * du - axes.v * dv);
    }
    /// Spread of the fitted height there, in spreads of a sample.
    double spread_at(double u, double v) const {
        const Terms t = terms_at(u / scale_mm, v / scale_mm);
        return std::sqrt(std::max(t.dot(inverse * t), 0.0));
    }
    void solve(const PointIndex& index, int with_terms) {
        Eigen::Matrix<double, 6, 6> a = Eigen::Matrix<double, 6, 6>::Zero();
        Terms b = Terms::Zero();
        for (const std::uint32_t p : own) {
            const Vec3 l = local(index.points()[p]);
            const Terms t = terms_at(l.x / scale_mm, l.y / scale_mm);
            a += t * t.transpose(), b += t * l.z;
        }
        terms = with_terms;
        const int n = with_terms;
        c.setZero(), inverse.setZero();
        const Eigen::MatrixXd top = a.topLeftCorner(n, n) + 1e-9 * Eigen::MatrixXd::Identity(n, n);
        const Eigen::LDLT<Eigen::MatrixXd> ldlt(top);
        c.head(n) = ldlt.solve(b.head(n));
        inverse.topLeftCorner(n, n) = ldlt.solve(Eigen::MatrixXd::Identity(n, n));
        double sum = 0.0;
        for (const std::uint32_t p : own) sum += std::pow(off(index.points()[p]), 2);
        misfit_mm = std::sqrt(sum / static_cast<double>(std::max<std::size_t>(own.size(), 1)));
    }
};

class Patching {
public:
    Patching(const PointIndex& index, const Surface& surface, const Ring& ring)
        : index_(index),
          surface_(surface),
          ring_(ring),
          spacing_mm_(std::max(surface.spacing_mm, 0.2)),
          tolerance_mm_(std::max(2.0 * surface.noise_mm, 0.6)) {
        const double far2 = std::pow(ring.reach_mm + kRingWidth_mm, 2);
        for (std::size_t p = 0; p < index.size(); ++p)
            if (norm2(index.points()[p] - ring.centre) < far2) about_.push_back(static_cast<std::uint32_t>(p));
    }

    HolePatch run() {
        HolePatch patch;
        if (!one_face() && !several_faces()) return patch;
        patch.faces = static_cast<int>(faces_.size());
        patch.misfit_mm = misfit();
        for (std::size_t f = 0; f < faces_.size(); ++f) sample(f, patch);
        patch.bound_mm += rounding_mm();
        patch.is_trusted = patch.misfit_mm <= tolerance_mm_ && patch.bound_mm <= kMostBound_mm && !patch.points.empty();
        return patch;
    }

private:
    Vec3 normal(std::uint32_t place) const { return surface_.normals[index_.order()[place]]; }

    /// The face that looks along n; none when too little of the surface does.
    std::optional<Face> face_along(Vec3 n, Point3 origin) const {
        Face face{.axes = Axes(n), .origin = origin, .scale_mm = ring_.reach_mm + kRingWidth_mm, .own = {}};
        for (const std::uint32_t p : about_)
            if (std::abs(dot(normal(p), n)) > 0.75 && std::abs(face.local(index_.points()[p]).z) < 0.5 * face.scale_mm)
                face.own.push_back(p);
        for (int round = 0; round < 3; ++round) {
            if (face.own.size() < 12) return std::nullopt;
            face.solve(index_, 6);
            const double most = std::max(3.0 * face.misfit_mm, tolerance_mm_);
            if (round < 2)
                std::erase_if(face.own, [&](std::uint32_t p) { return std::abs(face.off(index_.points()[p])) > most; });
        }
        Face plane = face;
        plane.solve(index_, 3);
        return plane.misfit_mm <= 1.05 * face.misfit_mm + 0.02 ? plane : face;
    }
    bool one_face() {
        Vec3 sum;
        for (const std::uint32_t m : ring_.members) {
            const Vec3 n = normal(m);
            sum += dot(n, ring_.axes.n) < 0.0 ? -n : n;
        }
        if (!(norm(sum) > 0.0)) return false;
        auto face = face_along(unit(sum), ring_.centre);
        if (!face || face->misfit_mm > tolerance_mm_) return false;
        std::size_t off = 0;
        for (const std::uint32_t m : ring_.members)
            off += std::abs(face->off(index_.points()[m])) > 3.0 * tolerance_mm_ ||
                           std::abs(dot(normal(m), face->axes.n)) < 0.6
                       ? 1
                       : 0;
        if (static_cast<double>(off) > kStray * static_cast<double>(ring_.members.size())) return false;
        faces_.push_back(std::move(*face));
        return true;
    }
    bool several_faces() {
        std::vector<std::uint32_t> left = ring_.members;
        const double stray = kStray * static_cast<double>(ring_.members.size());
        while (static_cast<double>(left.size()) > stray && left.size() >= 3) {
            if (faces_.size() == 3) return false;
            std::size_t most = 0;
            Vec3 best;
            Point3 middle;
            for (const std::uint32_t seed : left) {
                std::size_t n = 0;
                Vec3 sum;
                Point3 place;
                for (const std::uint32_t m : left) {
                    const double c = dot(normal(m), normal(seed));
                    if (std::abs(c) < kSameFace) continue;
                    ++n, sum += normal(m) * (c < 0.0 ? -1.0 : 1.0), place += index_.points()[m];
                }
                if (n > most) most = n, best = unit(sum), middle = place / static_cast<double>(n);
            }
            std::erase_if(left, [&](std::uint32_t m) { return std::abs(dot(normal(m), best)) >= kSameFace; });
            if (static_cast<double>(most) < std::max(3.0, 0.5 * stray)) break;
            // Over the ring's middle, so that what is carried on is well scaled.
            auto face = face_along(best, ring_.centre + best * dot(best, middle - ring_.centre));
            if (!face || face->misfit_mm > tolerance_mm_) return false;
            faces_.push_back(std::move(*face));
        }
        if (faces_.size() < 2 || static_cast<double>(left.size()) > stray) return false;
        return sides();
    }
    /// On which side of each other face a face's samples lie.
    bool sides() {
        for (std::size_t f = 0; f < faces_.size(); ++f)
            for (std::size_t g = 0; g < faces_.size(); ++g) {
                side_[f][g] = 0.0;
                if (f == g) continue;
                std::size_t above = 0, below = 0;
                for (const std::uint32_t p : faces_[f].own) {
                    const double h = faces_[g].off(index_.points()[p]);
                    if (h > tolerance_mm_) ++above;
                    if (h < -tolerance_mm_) ++below;
                }
                const auto all = static_cast<double>(above + below);
                if (static_cast<double>(std::max(above, below)) < kOneSided * all || above + below < 6) return false;
                side_[f][g] = above > below ? 1.0 : -1.0;
            }
        return true;
    }
    /// Of what lies within three spacings of the ring's members about the nearest face; with one face, of what it was
    /// fitted to, for the edge of another may be near.
    double misfit() const {
        if (faces_.size() == 1) return faces_.front().misfit_mm;
        double sum = 0.0;
        std::size_t n = 0;
        for (const std::uint32_t p : about_) {
            const Point3 x = index_.points()[p];
            const bool is_near = std::any_of(ring_.members.begin(), ring_.members.end(), [&](std::uint32_t m) {
                return norm2(index_.points()[m] - x) < 9.0 * spacing_mm_ * spacing_mm_;
            });
            if (!is_near) continue;
            double least = 1e300;
            for (const Face& face : faces_) least = std::min(least, std::abs(face.off(x)));
            sum += least * least, ++n;
        }
        return n > 0 ? std::sqrt(sum / static_cast<double>(n)) : 1e300;
    }
    /// How far the sharp edges of the patch lie from what lies beside the ring where two faces meet: an edge may be
    /// rounded, which the faces know nothing of.
    double rounding_mm() const {
        double most = 0.0;
        for (std::size_t f = 0; f < faces_.size(); ++f)
            for (std::size_t g = f + 1; g < faces_.size(); ++g) {
                double sum = 0.0;
                std::size_t n = 0;
                for (const std::uint32_t p : about_) {
                    const std::uint32_t sample = index_.order()[p];
                    if (sample >= surface_.edge_begin && sample < surface_.edge_end) continue;
                    const Point3 x = index_.points()[p];
                    const double a = side_[g][f] * faces_[f].off(x), b = side_[f][g] * faces_[g].off(x);
                    if (std::abs(a - b) > kMiddle * spacing_mm_ || std::max(a, b) > kWidestRounding_mm) continue;
                    bool is_other = false;  // a third face is as near
                    for (std::size_t h = 0; h < faces_.size(); ++h)
                        is_other = is_other ||
                                   (h != f && h != g && std::abs(faces_[h].off(x)) < std::max({a, b, spacing_mm_}));
                    if (is_other) continue;
                    sum += std::min(a, b), ++n;
                }
                if (n < 3) continue;
                // Twice the angle's half is what the faces' normals, turned to where the samples lie, leave of a half
                // turn.
                const double turned = side_[g][f] * side_[f][g] * dot(faces_[f].axes.n, faces_[g].axes.n);
                const double half_sine = std::sqrt(std::max((1.0 + turned) / 2.0, 0.04));
                most = std::max(most, kOfMiddle * sum / static_cast<double>(n) / half_sine);
            }
        return most;
    }
    /// How far the ring reaches from its centre, in its plane, towards x.
    bool is_inside(Point3 x) const {
        const auto flat = [&](Point3 p) {
            const Vec3 d = p - ring_.centre;
            return std::pair{dot(d, ring_.axes.u), dot(d, ring_.axes.v)};
        };
        const auto [u, v] = flat(x);
        const double r = std::hypot(u, v);
        if (r < spacing_mm_) return true;
        double reach = -1.0, turn = std::cos(12.0 * std::numbers::pi / 180.0), best_turn = -1.0, nearest = 0.0;
        for (const std::uint32_t m : ring_.members) {
            const auto [mu, mv] = flat(index_.points()[m]);
            const double mr = std::hypot(mu, mv);
            if (!(mr > 1e-9)) continue;
            const double c = (u * mu + v * mv) / (r * mr);
            if (c > turn) reach = std::max(reach, mr);
            if (c > best_turn) best_turn = c, nearest = mr;
        }
        return r <= (reach >= 0.0 ? reach : nearest) + 0.5 * spacing_mm_;
    }
    void add(Point3 p, Vec3 n, double radius_mm, HolePatch& patch) const {
        patch.points.push_back(p);
        patch.normals.push_back(n);
        patch.radius_mm.push_back(static_cast<float>(radius_mm));
    }
    void sample(std::size_t f, HolePatch& patch) const {
        const Face& face = faces_[f];
        const double disc_mm = 0.9 * spacing_mm_;
        const int steps = static_cast<int>(std::ceil(ring_.reach_mm / spacing_mm_)) + 1;
        for (int j = -steps; j <= steps; ++j)
            for (int i = -steps; i <= steps; ++i) {
                const double u = i * spacing_mm_, v = j * spacing_mm_;
                if (std::hypot(u, v) > ring_.reach_mm + spacing_mm_) continue;
                const Point3 p = face.at(u, v);
                if (!is_inside(p)) continue;
                const double gap = nearest_mm(index_, p);
                if (gap < 0.8 * spacing_mm_) continue;
                double to_edge = 1e300;
                std::size_t beside = f;
                for (std::size_t g = 0; g < faces_.size(); ++g) {
                    if (g == f) continue;
                    const double h = faces_[g].off(p) * side_[f][g];
                    if (h < to_edge) to_edge = h, beside = g;
                }
                if (to_edge < 0.0) continue;
                add(p, face.normal_at(u, v), std::min(disc_mm, std::max(to_edge, 0.1 * spacing_mm_)), patch);
                patch.bound_mm = std::max(
                    patch.bound_mm, face.misfit_mm * (1.0 + kSpreads * std::sqrt(kTogether) * face.spread_at(u, v)));
                if (gap > patch.depth_mm) patch.depth_mm = gap, patch.deepest = p;
                if (to_edge < spacing_mm_) sample_edge(p, face, faces_[beside], patch);
            }
    }
    /// The place of the meeting line of two faces next to p, by going from one to the other.
    void sample_edge(Point3 p, const Face& face, const Face& other, HolePatch& patch) const {
        for (int k = 0; k < 20; ++k) {
            p = p - other.axes.n * other.off(p);
            p = p - face.axes.n * face.off(p);
        }
        if (std::abs(other.off(p)) > 0.05 * spacing_mm_ || !is_inside(p) || nearest_mm(index_, p) < 0.5 * spacing_mm_)
            return;
        const Vec3 l = face.local(p);
        add(p, face.normal_at(l.x, l.y), 0.1 * spacing_mm_, patch);
    }

    const PointIndex& index_;
    const Surface& surface_;
    const Ring& ring_;
    const double spacing_mm_, tolerance_mm_;
    std::vector<std::uint32_t> about_;
    std::vector<Face> faces_;
    double side_[3][3] = {};
};

}  // namespace

double nearest_mm(const PointIndex& index, Point3 x) {
    std::uint32_t place = 0;
    float distance2 = 0.0f;
    return index.nearest(x, 1, &place, &distance2) > 0 ? std::sqrt(static_cast<double>(distance2)) : 0.0;
}

HolePatch patch_over(const PointIndex& index, const Surface& surface, const Ring& ring) {
    return Patching(index, surface, ring).run();
}

}  // namespace geom::scan::internal

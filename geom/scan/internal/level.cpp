// Four passes.
//
// 1. Robust planes (robust moving least squares) through the 60 nearest, or through 40 or 24 where more do not lie on a
//    plane. With R the distance to the farthest of the K nearest, a plane is
//    fitted with weights exp(-2 r^2/R^2), then three times more with each neighbour also weighted by
//    exp(-e^2/(2 (c s)^2)), e its distance from the last plane, s the noise there, c = 4 and then 2.5.
// 2. Edges. Where all neighbours together scatter clearly more about the plane than the noise, the patch reaches over
// an
//    edge. The plain planes next to it, up to three that differ in direction or place, share out its points, each to
//    the nearest plane, and are fitted again to their own; the point keeps the plane it was given to.
// 3. Curvature. A plane through a patch of a bent surface lies on its hollow side, by half the mean curvature times the
//    mean square of the patch; the curvature follows from how the neighbours' normals turn. The point goes to its foot
//    on the plane, moved back by that much. One that would move more than 4 s does not belong to the surface.
// 4. Edge samples. Where two of these planes meet next to the point, the meeting line is sampled too, once for each
//    side, and discs next to it end there. Scans have no points on their edges, and edges are what a part hits first.
#include "geom/scan/internal/level.h"

#include "geom/core/parallel.h"
#include "geom/scan/internal/patch.h"

#include <numbers>

namespace geom::scan::internal {
namespace {

constexpr double kLeastNoise_mm = 0.05;
constexpr double kFarthestMove = 4.0;  ///< in noise
/// Points of a patch, the place itself included: the first size with which it is plain, for small ones see rougher
/// surfaces as plain; the last of these when none is, and there is an edge.
constexpr int kSizes[] = {61, 41, 25};
constexpr int kSharedSize = 41;
constexpr float kPlain = 1.25f;         ///< scatter about the plane, in noise, up to which a patch is one face
constexpr float kCrossing = 1.4f;       ///< from which it reaches over an edge
constexpr float kLeastSupport = 0.35f;  ///< a plane that so little of its patch lies on goes through a stray point
constexpr double kTurn = 0.82;          ///< cosine of 35 degrees: faces that turn by more make an edge
constexpr double kStep = 5.0;           ///< noises between parallel planes that are two faces
constexpr double kEdgeReach = 1.6;      ///< spacings from a sample to the edge it samples
constexpr double kMostBend = 0.35;      ///< spacings of scatter about a plane that pass as a bend
constexpr float kEdgeDisc = 0.1f;       ///< spacings that discs on an edge may stand over it
constexpr std::size_t kChunk = 1024;
constexpr std::uint32_t kNone = PointIndex::kNone;

struct EdgeSample {
    Point3 point;
    Vec3 normal;
    float radius_mm;
};

/// The faces that a patch over an edge is shared out to; `own` is the place's.
struct Faces {
    std::array<PlaneFit, 3> plane;
    int count = 0, own = 0;
    std::array<std::int8_t, Patch::kMost> of{};  ///< face of each point of the patch, -1 for none
};

/// What is known of each place between the passes.
struct Sample {
    PlaneFit plane;
    float scatter = 0.0f;     ///< of the whole patch about the plane, in noise
    float support = 0.0f;     ///< part of the patch's weight that lies on the plane
    float reach_mm = 0.0f;    ///< R
    float spacing_mm = 0.0f;  ///< as if on a square grid
    double lift_mm = 0.0;     ///< of pass 3, along the normal
    double scale_mm = 0.0;    ///< the noise there, or more where the surface is bent within the patch
    int size = 0;             ///< points of the patch, the place itself included
    float to_edge_mm = 1e30f;
    float layer_mm = 0.0f;        ///< how far the other layer is; 0 where there is one
    std::uint32_t plain = kNone;  ///< the best place of the patch, or itself, whose patch is plain
    bool is_crossing = false;
    bool is_beyond = false;  ///< noise carried it past the edge of its face: its edge sample stands for it
};

class Levelling {
public:
    Levelling(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k,
              const std::vector<char>& kept, const std::vector<float>& weight, const std::vector<Vec3>& given,
              const Noise& noise, double spacing_mm)
        : index_(index),
          neighbours_(neighbours),
          k_(k),
          kept_(kept),
          weight_(weight),
          given_(given),
          noise_(noise),
          spacing_mm_(spacing_mm),
          samples_(index.size()) {}

    void fit_planes() {
        each_kept([&](std::size_t i, Patch& patch) {
            Sample& s = samples_[i];
            s.scale_mm = noise_at(i);
            if (const LayerGuess layers = noise_.layers_at(i); layers && fit_layers_of(i, patch, layers, s)) return;
            for (const int size : kSizes) {
                // Quiet clouds need fewer neighbours, which follow curvature and edges closer; rough ones more.
                const double rough = noise_at(i) / spacing_mm_;
                if (size > 25 ? rough <= 0.15 : rough > 0.3) continue;
                fit_plane_of(i, patch, size, s);
                if (!s.plane.good || s.scatter <= kPlain) return;
            }
            if (noise_at(i) > 0.15 * spacing_mm_) fit_plane_of(i, patch, kSharedSize, s);
        });
    }

    void share_out_edges() {
        each_kept([&](std::size_t i, Patch&) { samples_[i].plain = best_plain(i); });
        edges_.assign(samples_.size() / kChunk + 1, {});
        std::vector<Sample> next = samples_;
        each_kept([&](std::size_t i, Patch& patch) {
            if (!samples_[i].plane.good || samples_[i].scatter < kCrossing || !gather(i, patch, samples_[i].size))
                return;
            Faces faces;
            find_faces(i, patch, faces);
            Sample& s = next[i];
            if (faces.count == 0 || !share_out(i, patch, faces)) {
                fit_bent(i, patch, s);
                return;
            }
            s.is_crossing = true;
            s.plane = faces.plane[static_cast<std::size_t>(faces.own)];
            s.is_beyond = is_beyond_edge(i, patch, faces);
            sample_edges(i, patch, faces, s);
        });
        samples_.swap(next);
    }

    void lift_by_curvature() {
        each_kept([&](std::size_t i, Patch& patch) {
            Sample& s = samples_[i];
            if (!s.plane.good || s.is_crossing || !gather(i, patch, s.size)) return;
            double turn = 0.0, length2 = 0.0;
            const Vec3 here = s.plane.normal * dot(s.plane.normal, s.plane.mean);
            for (int m = 1; m < patch.count; ++m) {
                const Sample& n = samples_[patch.place[m]];
                if (!n.plane.good || n.is_crossing) continue;
                Vec3 normal = n.plane.normal;
                double c = dot(normal, s.plane.normal);
                if (c < 0.0) normal = -normal, c = -c;
                if (c < kTurn) continue;
                const Vec3 d = index_.points()[patch.place[m]] - index_.points()[i] +
                               n.plane.normal * dot(n.plane.normal, n.plane.mean) - here;
                const double w = static_cast<double>(falloff(2.0f * patch.r2[m] / patch.most_r2));
                turn += w * dot(normal - s.plane.normal, d);
                length2 += w * norm2(d);
            }
            if (!(length2 > 0.0)) return;
            const double most_curvature = 1.0 / static_cast<double>(s.reach_mm);
            const double curvature = std::clamp(turn / length2, -most_curvature, most_curvature);
            // For a patch to one side of its point the mean lies off, and the plane is met beyond the patch.
            const Vec3 aside = s.plane.mean - here;
            s.lift_mm = 0.5 * curvature * (s.plane.spread2 - norm2(aside));
        });
    }

    Levelled collect() const {
        Levelled out;
        const std::size_t n = samples_.size();
        std::vector<float> radius(n, -1.0f);
        parallel_for(n, kChunk, [&](std::size_t begin, std::size_t end) {
            for (std::size_t i = begin; i < end; ++i) {
                const Sample& s = samples_[i];
                if (!kept_[i] || !s.plane.good || s.is_beyond || !stays(s)) continue;
                // Of two layers one may have few samples.
                if (!(s.layer_mm > 0.0f) && (is_stray(i) || stands_alone(i))) continue;
                radius[i] = std::min(0.9f * s.spacing_mm, std::max(s.to_edge_mm, kEdgeDisc * s.spacing_mm));
            }
        });
        std::size_t good = 0;
        for (const float r : radius) good += r > 0.0f ? 1 : 0;
        for (const auto& chunk : edges_) out.edge_samples += chunk.size();
        out.points.reserve(good + out.edge_samples);
        out.normals.reserve(good + out.edge_samples);
        out.radius_mm.reserve(good + out.edge_samples);
        for (std::size_t i = 0; i < n; ++i) {
            if (!kept_[i]) continue;
            if (!(radius[i] > 0.0f)) {
                if (!samples_[i].is_beyond) out.moved_too_far.push_back(static_cast<std::uint32_t>(i));
                continue;
            }
            out.points.push_back(levelled(i));
            out.normals.push_back(samples_[i].plane.normal);
            out.radius_mm.push_back(radius[i]);
        }
        if (!noise_.layers.empty()) {
            for (std::size_t i = 0; i < n; ++i)
                if (kept_[i] && radius[i] > 0.0f) out.layer_mm.push_back(samples_[i].layer_mm);
            std::vector<float> spacing;
            std::size_t unsplit = 0;
            for (std::size_t i = 0; i < n; ++i) {
                if (!kept_[i] || !noise_.layers_at(i)) continue;
                if (samples_[i].layer_mm > 0.0f)
                    spacing.push_back(samples_[i].spacing_mm);
                else
                    ++unsplit;
            }
            if (!spacing.empty()) {
                const auto at = spacing.begin() + static_cast<std::ptrdiff_t>(spacing.size() * 9 / 10);
                std::nth_element(spacing.begin(), at, spacing.end());
                out.layer_spacing_mm = static_cast<double>(*at);
            }
            out.unsplit_part =
                static_cast<double>(unsplit) / static_cast<double>(std::max<std::size_t>(unsplit + spacing.size(), 1));
            out.layer_mm.resize(out.points.size() + out.edge_samples, 0.0f);
        }
        for (const auto& chunk : edges_)
            for (const EdgeSample& e : chunk) {
                out.points.push_back(e.point);
                out.normals.push_back(e.normal);
                out.radius_mm.push_back(e.radius_mm);
            }
        return out;
    }

private:
    template <class Body>
    void each_kept(Body body) {
        parallel_for(samples_.size(), kChunk, [&](std::size_t begin, std::size_t end) {
            Patch patch;
            for (std::size_t i = begin; i < end; ++i)
                if (kept_[i]) body(i, patch);
        });
    }
    double noise_at(std::size_t i) const { return std::max(static_cast<double>(noise_.at_mm[i]), kLeastNoise_mm); }
    Point3 levelled(std::size_t i) const {
        const Sample& s = samples_[i];
        return index_.points()[i] + s.plane.normal * (dot(s.plane.normal, s.plane.mean) + s.lift_mm);
    }
    bool gather(std::size_t i, Patch& patch, int size) const {
        patch.collect(index_, i, neighbours_.data() + i * static_cast<std::size_t>(k_), k_, kept_);
        patch.keep_nearest(size);
        return patch.count >= 4 && patch.most_r2 > 0.0f;
    }
    /// No plane fits: the surface is bent within the patch, or the point is a stray one. A small patch, fitted as if
    /// the bend were noise, tells them apart; pass 3 puts the bend back.
    void fit_bent(std::size_t i, Patch& patch, Sample& s) const {
        s.scale_mm = std::clamp(static_cast<double>(s.scatter) * s.scale_mm, s.scale_mm,
                                std::max(s.scale_mm, kMostBend * spacing_mm_));
        fit_plane_of(i, patch, kSizes[2], s);
        s.plane.good = s.plane.good && s.support >= kLeastSupport;
    }
    void fit_plane_of(std::size_t i, Patch& patch, int size, Sample& s) const {
        s.size = size;
        if (!gather(i, patch, size)) return;
        float near[Patch::kMost];
        near_weights(patch, near);
        PlaneFit plane = fit_plane(patch, near, {0, 0, 1});
        for (const float c : {4.0f, 2.5f, 2.5f}) {
            const PlaneFit next = refit(patch, near, plane, c, s.scale_mm);
            if (!next.good) break;
            plane = next;
        }
        if (plane.good) store(patch, near, plane, s);
    }
    void near_weights(const Patch& patch, float* near) const {
        const float inv = 2.0f / patch.most_r2;
        for (int m = 0; m < patch.count; ++m) near[m] = falloff(patch.r2[m] * inv);
        if (weight_.empty()) return;
        for (int m = 0; m < patch.count; ++m) near[m] *= weight_[patch.place[m]];
    }
    static PlaneFit refit(const Patch& patch, const float* near, const PlaneFit& plane, float c, double scale_mm) {
        alignas(32) float e[Patch::kMost], w[Patch::kMost];
        heights(patch, plane, e);
        const float s = static_cast<float>(scale_mm), inv = 1.0f / (2.0f * c * c * s * s);
        for (int m = 0; m < patch.count; ++m) w[m] = near[m] * falloff(e[m] * e[m] * inv);
        return fit_plane(patch, w, plane.normal);
    }
    static void store(const Patch& patch, const float* near, const PlaneFit& plane, Sample& s) {
        alignas(32) float e[Patch::kMost];
        heights(patch, plane, e);
        const float scale = static_cast<float>(s.scale_mm), inv = 1.0f / (2.0f * 2.5f * 2.5f * scale * scale);
        float sum = 0.0f, sum_w = 0.0f, on = 0.0f;
        for (int m = 0; m < patch.count; ++m) {
            sum += near[m] * e[m] * e[m], sum_w += near[m];
            on += near[m] * falloff(e[m] * e[m] * inv);
        }
        s.support = on / sum_w;
        s.plane = plane;
        s.scatter = std::sqrt(sum / sum_w) / scale;
        s.reach_mm = std::sqrt(patch.most_r2);
        s.spacing_mm = s.reach_mm * std::sqrt(static_cast<float>(std::numbers::pi) / static_cast<float>(patch.count));
    }
    /// Through the points of its own layer, where there are two.
    bool fit_layers_of(std::size_t i, Patch& patch, const LayerGuess& layers, Sample& s) const {
        if (!gather(i, patch, kSizes[0])) return false;
        float near[Patch::kMost];
        near_weights(patch, near);
        const auto pair = split_layers(patch, near, given_, layers, true);
        if (!pair) return false;
        s.size = kSizes[0];
        s.plane = pair->plane[0];
        s.support = 1.0f;
        s.scale_mm = std::max(static_cast<double>(layers.noise_mm), kLeastNoise_mm);
        s.scatter = std::min(static_cast<float>(pair->noise_mm / s.scale_mm), kPlain);
        s.reach_mm = std::sqrt(patch.most_r2);
        // Its own points alone: where they are few, its disc is as wide as they lie apart.
        s.spacing_mm = s.reach_mm *
                       std::sqrt(static_cast<float>(std::numbers::pi / (std::max(pair->share[0], 0.03) * patch.count)));
        s.layer_mm = static_cast<float>(pair->apart_mm);
        return true;
    }
    static bool stays(const Sample& s) {
        return std::abs(dot(s.plane.normal, s.plane.mean) + s.lift_mm) <= kFarthestMove * s.scale_mm;
    }
    /// How far a bent surface falls off the plane of one place at the other, by how its normals turn on the way: half
    /// of that, and no more than passes as a bend.
    double bend_between(const Sample& a, const Sample& b, Vec3 d) const {
        const double c = dot(a.plane.normal, b.plane.normal);
        if (std::abs(c) < kTurn) return 0.0;
        const Vec3 turn = a.plane.normal - b.plane.normal * (c < 0.0 ? -1.0 : 1.0);
        return std::min(0.5 * std::abs(dot(turn, d)), kMostBend * static_cast<double>(a.spacing_mm));
    }
    /// Whether hardly a neighbour's plane passes near the levelled place: a stray point that kept a plane of its own.
    bool is_stray(std::size_t i) const {
        constexpr int kAsked = 20, kQuarter = 5;
        const Point3 q = levelled(i);
        const double near = samples_[i].scale_mm;
        const std::uint32_t* row = neighbours_.data() + i * static_cast<std::size_t>(k_);
        int asked = 0, passing = 0;
        for (int m = 0; m < k_ && asked < kAsked; ++m) {
            if (row[m] == kNone || !kept_[row[m]] || !samples_[row[m]].plane.good) continue;
            ++asked;
            const Sample& n = samples_[row[m]];
            const Vec3 d = q - levelled(row[m]);
            passing += std::abs(dot(n.plane.normal, d)) <= near + bend_between(samples_[i], n, d) ? 1 : 0;
        }
        return asked >= kAsked && passing < kQuarter;
    }
    /// Whether the levelled place stands off the planes of nearly all the neighbours that are nearest to it, by more
    /// than the noise and what the surface bends among those neighbours: they agree, and it does not.
    bool stands_alone(std::size_t i) const {
        constexpr int kAsked = 8, kOff = 7;
        const Point3 q = levelled(i);
        const double near = std::max(1.2 * noise_at(i), 0.2 * spacing_mm_);
        const std::uint32_t* row = neighbours_.data() + i * static_cast<std::size_t>(k_);
        const Sample* first = nullptr;
        Point3 at_first;
        double bend = 0.0;
        std::array<double, kAsked> height{};
        int asked = 0;
        for (int m = 0; m < k_ && asked < kAsked; ++m) {
            if (row[m] == kNone || !kept_[row[m]] || !samples_[row[m]].plane.good) continue;
            const Sample& n = samples_[row[m]];
            const Point3 at = levelled(row[m]);
            if (first == nullptr) first = &n, at_first = at;
            bend = std::max(bend, bend_between(n, *first, at - at_first));
            height[static_cast<std::size_t>(asked++)] = dot(n.plane.normal, q - at);
        }
        return asked == kAsked &&
               std::count_if(height.begin(), height.end(), [&](double e) { return std::abs(e) > near + bend; }) >= kOff;
    }
    /// Of a plain plane for a place: near is good, and so is a plane through many points, which is less often one that
    /// cuts a corner off. Squares of the spacing.
    double cost_of(std::size_t plain, Point3 place) const {
        const Sample& s = samples_[plain];
        const double spacing2 = static_cast<double>(s.spacing_mm) * static_cast<double>(s.spacing_mm);
        const double few = s.size >= kSizes[0] ? 0.0 : s.size >= kSizes[1] ? 8.0 : 20.0;
        return norm2(index_.points()[plain] - place) / spacing2 + few;
    }
    bool is_plain(std::size_t i) const { return samples_[i].plane.good && samples_[i].scatter <= kPlain; }
    std::uint32_t best_plain(std::size_t i) const {
        if (is_plain(i)) return static_cast<std::uint32_t>(i);
        double least = 1e300;
        std::uint32_t best = kNone;
        const std::uint32_t* row = neighbours_.data() + i * static_cast<std::size_t>(k_);
        for (int m = 0; m < k_; ++m) {
            if (row[m] == kNone || !kept_[row[m]] || !is_plain(row[m])) continue;
            const double cost = cost_of(row[m], index_.points()[i]);
            if (cost < least) least = cost, best = row[m];
        }
        return best;
    }
    /// Up to three plain planes next to the patch, the best first.
    void find_faces(std::size_t i, const Patch& patch, Faces& faces) const {
        struct Candidate {
            double cost;
            std::uint32_t place;
        };
        std::array<Candidate, Patch::kMost> candidates;
        std::size_t n = 0;
        const Point3 here = index_.points()[i];
        for (int m = 0; m < patch.count; ++m) {
            const std::uint32_t j = samples_[patch.place[m]].plain;
            if (j != kNone) candidates[n++] = {cost_of(j, here), j};
        }
        std::sort(candidates.begin(), candidates.begin() + static_cast<std::ptrdiff_t>(n),
                  [](const Candidate& a, const Candidate& b) {
                      return a.cost != b.cost ? a.cost < b.cost : a.place < b.place;
                  });
        const double step = kStep * noise_at(i);
        for (std::size_t c = 0; c < n && faces.count < 3; ++c) {
            if (c > 0 && candidates[c].place == candidates[c - 1].place) continue;
            const PlaneFit& plain = samples_[candidates[c].place].plane;
            const Vec3 mean = index_.points()[candidates[c].place] + plain.mean - here;
            bool is_new = true;
            for (int f = 0; f < faces.count && is_new; ++f) {
                const PlaneFit& known = faces.plane[static_cast<std::size_t>(f)];
                const bool turns = std::abs(dot(known.normal, plain.normal)) < kTurn;
                const bool steps = std::abs(dot(known.normal, mean - known.mean)) > step &&
                                   std::abs(dot(plain.normal, mean - known.mean)) > step;
                is_new = turns || steps;
            }
            if (is_new)
                faces.plane[static_cast<std::size_t>(faces.count++)] = {mean, plain.normal, plain.spread2, true};
        }
    }
    /// Each point to the face it lies nearest to, and each face through its points, three times over. False when the
    /// place itself lies on none.
    bool share_out(std::size_t i, const Patch& patch, Faces& faces) const {
        alignas(32) float near[Patch::kMost], w[Patch::kMost];
        std::array<std::array<float, Patch::kMost>, 3> e;
        near_weights(patch, near);
        const float s = static_cast<float>(noise_at(i));
        const float inv = 1.0f / (2.0f * 2.5f * 2.5f * s * s);
        for (int round = 0; round < 3; ++round) {
            for (int f = 0; f < faces.count; ++f)
                heights(patch, faces.plane[static_cast<std::size_t>(f)], e[static_cast<std::size_t>(f)].data());
            for (int m = 0; m < patch.count; ++m) {
                int best = -1;
                float least = 4.0f * s;
                for (int f = 0; f < faces.count; ++f)
                    if (const float d = std::abs(e[static_cast<std::size_t>(f)][static_cast<std::size_t>(m)]);
                        d < least)
                        least = d, best = f;
                faces.of[static_cast<std::size_t>(m)] = static_cast<std::int8_t>(best);
            }
            if (faces.of[0] < 0) return false;
            for (int f = 0; f < faces.count; ++f) {
                const auto& ef = e[static_cast<std::size_t>(f)];
                int members = 0;
                for (int m = 0; m < patch.count; ++m) {
                    const bool is_member = faces.of[static_cast<std::size_t>(m)] == f;
                    const float em = ef[static_cast<std::size_t>(m)];
                    members += is_member ? 1 : 0;
                    w[m] = is_member ? near[m] * falloff(em * em * inv) : 0.0f;
                }
                // A face of few points keeps the plane of its plain neighbour.
                if (members < 8) continue;
                PlaneFit& plane = faces.plane[static_cast<std::size_t>(f)];
                if (const PlaneFit better = fit_plane(patch, w, plane.normal); better.good) plane = better;
            }
        }
        faces.own = faces.of[0];
        return true;
    }
    /// Whether the place lies on its face's plane, but past the edge at which that face ends: the other points of the
    /// face all lie on this side of the other one.
    bool is_beyond_edge(std::size_t i, const Patch& patch, const Faces& faces) const {
        for (int f = 0; f < faces.count; ++f) {
            const PlaneFit& own = faces.plane[static_cast<std::size_t>(faces.own)];
            const PlaneFit& other = faces.plane[static_cast<std::size_t>(f)];
            if (f == faces.own || std::abs(dot(own.normal, other.normal)) > kTurn) continue;
            alignas(32) float e[Patch::kMost];
            heights(patch, other, e);
            if (std::abs(static_cast<double>(e[0])) < 0.3 * noise_at(i)) continue;
            int members = 0, with_me = 0;
            for (int m = 1; m < patch.count; ++m) {
                if (faces.of[static_cast<std::size_t>(m)] != faces.own) continue;
                ++members;
                with_me += e[m] * e[0] > 0.0f ? 1 : 0;
            }
            if (4 * with_me < members) return true;
        }
        return false;
    }
    /// Places next to sample `i` on the lines where its face meets the others.
    void sample_edges(std::size_t i, const Patch& patch, const Faces& faces, Sample& s) {
        if (!stays(s)) return;
        const PlaneFit& own = s.plane;
        const Vec3 foot = own.normal * dot(own.normal, own.mean);  // of the place, relative to it
        const double reach = kEdgeReach * static_cast<double>(s.spacing_mm);
        for (int f = 0; f < faces.count; ++f) {
            const PlaneFit& other = faces.plane[static_cast<std::size_t>(f)];
            const double cosine = dot(own.normal, other.normal);
            if (f == faces.own || std::abs(cosine) > kTurn) continue;
            const Vec3 across = other.normal - own.normal * cosine;
            const Vec3 on_edge = foot + across * (dot(other.normal, other.mean - foot) / norm2(across));
            const double away = distance(on_edge, foot);
            if (away > reach) continue;
            // The other face must come near the line, and no third one may lie between.
            bool is_near = false;
            for (int m = 1; m < patch.count && !is_near; ++m)
                is_near = faces.of[static_cast<std::size_t>(m)] == f &&
                          norm2(Vec3{patch.x[m], patch.y[m], patch.z[m]} - on_edge) < 1.5 * reach * reach;
            if (!is_near) continue;
            bool is_cut = false;
            for (int g = 0; g < faces.count && !is_cut; ++g) {
                const PlaneFit& third = faces.plane[static_cast<std::size_t>(g)];
                if (g == f || g == faces.own || std::abs(dot(own.normal, third.normal)) > kTurn) continue;
                is_cut = dot(third.normal, on_edge - third.mean) * dot(third.normal, foot - third.mean) < 0.0;
            }
            if (is_cut) continue;
            s.to_edge_mm = std::min(s.to_edge_mm, static_cast<float>(away));
            edges_[i / kChunk].push_back({index_.points()[i] + on_edge, own.normal, kEdgeDisc * s.spacing_mm});
        }
    }

    const PointIndex& index_;
    const std::vector<std::uint32_t>& neighbours_;
    int k_;
    const std::vector<char>& kept_;
    const std::vector<float>& weight_;
    const std::vector<Vec3>& given_;
    const Noise& noise_;
    double spacing_mm_;
    std::vector<Sample> samples_;
    std::vector<std::vector<EdgeSample>> edges_;  ///< by chunk, so that their order does not depend on threads
};

}  // namespace

Levelled level(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k,
               const std::vector<char>& kept, const std::vector<float>& weight, const std::vector<Vec3>& given,
               const Noise& noise, double spacing_mm) {
    Levelling levelling(index, neighbours, k, kept, weight, given, noise, spacing_mm);
    levelling.fit_planes();
    levelling.share_out_edges();
    levelling.lift_by_curvature();
    return levelling.collect();
}

}  // namespace geom::scan::internal

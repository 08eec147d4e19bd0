// A sample is on the rim towards a plane when no other sample lies ahead of it: none in a fan about the direction in
// which the wall (its tangent plane) approaches the closing plane most steeply, within three and a half spacings.
#include "geom/space/internal/rim.h"

#include "geom/core/parallel.h"

#include <algorithm>
#include <cmath>
#include <unordered_map>

namespace geom::space::internal {
namespace {

constexpr float kAhead = 3.5f;       // spacings looked ahead
constexpr float kLeastSlope = 0.5f;  // of the wall's steepest direction along the plane's outward
constexpr float kPast = 4.0f;        // spacings carried on beyond the plane

/// Samples by cubes, for neighbours within one cube edge.
class Cubes {
public:
    Cubes(const std::vector<LocalSample>& s, const std::vector<std::uint32_t>& members, float edge)
        : samples_(s), edge_(edge) {
        for (const std::uint32_t q : members) cubes_[key(s[q].at, 0, 0, 0)].push_back(q);
    }
    template <class F>
    void around(Vec3f p, F&& f) const {
        for (int c = -1; c <= 1; ++c)
            for (int b = -1; b <= 1; ++b)
                for (int a = -1; a <= 1; ++a) {
                    const auto it = cubes_.find(key(p, a, b, c));
                    if (it == cubes_.end()) continue;
                    for (const std::uint32_t q : it->second) f(samples_[q]);
                }
    }

private:
    std::uint64_t key(Vec3f p, int a, int b, int c) const {
        const auto cell = [&](float v, int d) {
            return static_cast<std::uint64_t>(static_cast<std::int64_t>(std::floor(v / edge_)) + d + (1 << 20));
        };
        return cell(p.x, a) | cell(p.y, b) << 21 | cell(p.z, c) << 42;
    }
    const std::vector<LocalSample>& samples_;
    float edge_;
    std::unordered_map<std::uint64_t, std::vector<std::uint32_t>> cubes_;
};

}  // namespace

RimCarriedOn carry_on(const std::vector<LocalSample>& samples, const std::vector<ClosingPlane>& planes,
                      float reach_mm) {
    RimCarriedOn result;
    for (std::size_t which = 0; which < planes.size(); ++which) {
        const ClosingPlane& plane = planes[which];
        float widest = 0.0f;
        std::vector<std::uint32_t> members;
        for (std::uint32_t q = 0; q < samples.size(); ++q) {
            const float height = plane.height(samples[q].at);
            if (height < -reach_mm - 12.0f || height > 12.0f) continue;
            members.push_back(q);
            widest = std::max(widest, samples[q].radius);
        }
        if (members.empty()) continue;
        const float edge = std::max(kAhead * widest / 0.9f, 1.0f);
        const Cubes cubes(samples, members, edge);
        std::vector<std::vector<LocalSample>> found((members.size() + 511) / 512);
        std::vector<std::pair<float, Vec3f>> shorts(found.size(), {0.0f, {}});
        parallel_for(members.size(), 512, [&](std::size_t begin, std::size_t end) {
            for (std::size_t m = begin; m < end; ++m) {
                const LocalSample& s = samples[members[m]];
                const float spacing = s.radius / 0.9f, height = plane.height(s.at);
                if (height >= 0.0f || height < -reach_mm) continue;
                // Scan that other planes cut away has no rim that matters.
                if (std::any_of(planes.begin(), planes.end(),
                                [&](const ClosingPlane& p) { return p.height(s.at) > 2.0f * spacing; }))
                    continue;
                const auto steepest = [&](Vec3f n) { return plane.outward - n * dot(n, plane.outward); };
                Vec3f ahead = steepest(s.normal);
                const float slope = norm(ahead);
                if (slope < kLeastSlope) continue;
                ahead = ahead * (1.0f / slope);
                bool is_rim = true;
                Vec3f normal;
                cubes.around(s.at, [&](const LocalSample& other) {
                    const Vec3f d = other.at - s.at;
                    const float far2 = dot(d, d);
                    if (far2 > kAhead * kAhead * spacing * spacing) return;
                    const float along = dot(d, ahead), aside = std::sqrt(std::max(0.0f, far2 - along * along));
                    if (along > 0.6f * spacing && aside < 0.75f * along + 0.5f * spacing) is_rim = false;
                    const float turn = dot(other.normal, s.normal);
                    if (std::abs(turn) > 0.8f) normal = normal + other.normal * (turn < 0.0f ? -1.0f : 1.0f);
                });
                if (!is_rim) continue;
                const float len = norm(normal);
                if (len > 0.0f) {  // the neighbours' mean is steadier than a fit at the very rim
                    normal = normal * (1.0f / len);
                    const Vec3f mean = steepest(normal);
                    if (norm(mean) > kLeastSlope)
                        ahead = mean * (1.0f / norm(mean));
                    else
                        normal = s.normal;
                } else {
                    normal = s.normal;
                }
                // Where the way meets scanned surface again it crosses a gap in the scan, not its end.
                std::vector<LocalSample> way;
                bool meets = false;
                const float step = 0.8f * spacing;
                for (int k = 1; k < 200 && !meets; ++k) {
                    const LocalSample next{s.at + ahead * (step * static_cast<float>(k)), normal, s.radius, s.layer};
                    if (plane.height(next.at) > kPast * spacing) break;
                    if (k > 2)
                        cubes.around(next.at, [&](const LocalSample& other) {
                            const Vec3f d = other.at - next.at;
                            meets = meets || (dot(d, d) < 2.25f * spacing * spacing &&
                                              dot(other.at - s.at, ahead) > 1.2f * spacing);
                        });
                    way.push_back(next);
                }
                if (meets) continue;
                found[begin / 512].insert(found[begin / 512].end(), way.begin(), way.end());
                auto& short_of = shorts[begin / 512];
                if (-height > short_of.first) short_of = {-height, s.at};
            }
        });
        for (const auto& f : found) result.added.insert(result.added.end(), f.begin(), f.end());
        for (const auto& [mm, place] : shorts)
            if (mm > result.farthest_mm) result.farthest_mm = mm, result.plane = which, result.place = place;
    }
    return result;
}

}  // namespace geom::space::internal

// Silhouettes are the zero set of (normal . toward), linear on each facet between the corners' smooth normals:
// Hertzmann, Zorin, "Illustrating smooth surfaces", SIGGRAPH 2000 (cited from memory). They cross facets and so run
// smoothly, where the edges between front and back facets would zigzag.
//
// A place on a line is seen when it is no farther than the farthest of the 3 x 3 pixels round it, plus a bias for the
// chord error of the mesh. On an outline one of the nine lies off the part or on what is behind, so outlines never
// flicker; a hidden line shows through only within a pixel and a half of the edge that hides it.
//
// A nearly flat wall seen almost edge on is wavy by a hundredth of a millimetre, and every wave has a silhouette of its
// own. Such short pieces inside the part say nothing to the reader of a drawing and are left out.
#include "exports/internal/visible_lines.h"

#include <algorithm>
#include <cmath>
#include <unordered_map>

namespace exports {
namespace {

using geom::Point3;

constexpr double kBias_mm = 0.25;
constexpr double kStep_px = 1.0;
constexpr double kBridge_px = 4.0;    ///< hidden gaps shorter than this are closed
constexpr double kShortest_px = 4.0;  ///< visible runs shorter than this are dropped, whole short lines excepted
constexpr double kShortestInside_px =
    84.0;  ///< the same for silhouettes of nearly flat walls that do not border on nothing
constexpr double kNearlyFlat_mm = 60.0;  ///< radius of curvature across the silhouette from which a wall counts as such
constexpr double kSimplify_px = 0.1;

double length(PicturePoint a, PicturePoint b) {
    return std::hypot(b.x - a.x, b.y - a.y);
}

/// Distance of `p` from the segment a-b; not from its line: an edge seen end on runs to and fro on one line.
double off_segment(PicturePoint p, PicturePoint a, PicturePoint b) {
    const double dx = b.x - a.x, dy = b.y - a.y, length2 = dx * dx + dy * dy;
    const double w = length2 > 0.0 ? std::clamp(((p.x - a.x) * dx + (p.y - a.y) * dy) / length2, 0.0, 1.0) : 0.0;
    return std::hypot(p.x - a.x - w * dx, p.y - a.y - w * dy);
}

/// Douglas and Peucker 1973: leaves out what lies within `tolerance` of the chord.
std::vector<PicturePoint> simplified(const std::vector<PicturePoint>& line, double tolerance) {
    if (line.size() < 3) return line;
    std::vector<bool> keep(line.size(), false);
    keep.front() = keep.back() = true;
    std::vector<std::pair<std::size_t, std::size_t>> open{{0, line.size() - 1}};
    while (!open.empty()) {
        const auto [a, b] = open.back();
        open.pop_back();
        double worst = tolerance;
        std::size_t at = 0;
        for (std::size_t i = a + 1; i < b; ++i) {
            const double off = off_segment(line[i], line[a], line[b]);
            if (off > worst) worst = off, at = i;
        }
        if (at == 0) continue;
        keep[at] = true;
        open.push_back({a, at});
        open.push_back({at, b});
    }
    std::vector<PicturePoint> out;
    for (std::size_t i = 0; i < line.size(); ++i)
        if (keep[i]) out.push_back(line[i]);
    return out;
}

/// Cuts a 3D line into its visible runs.
void add_visible(std::vector<VisibleLine>& out, const std::vector<Point3>& line, VisibleLine::Kind kind,
                 const View& view, const DepthBuffer& buffer, const CutAway* cut, double shortest_inside_px = 0.0) {
    struct Sample {
        PicturePoint at;
        bool is_seen;
        bool is_outline;  ///< borders on nothing
    };
    std::vector<Sample> samples;
    const auto sample = [&](const Seen& s) {
        const bool is_gone = cut != nullptr && (s.z > cut->top_z + 1e-3 || cut->covers(s.x, s.y));
        const float farthest = buffer.farthest_near(s.x, s.y);
        samples.push_back({{s.x, s.y},
                           !is_gone && s.z + kBias_mm >= static_cast<double>(farthest),
                           farthest == DepthBuffer::kNothing});
    };
    Seen a = view.project(line.front());
    sample(a);
    for (std::size_t i = 1; i < line.size(); ++i) {
        const Seen b = view.project(line[i]);
        const int pieces = std::max(1, static_cast<int>(std::ceil(std::hypot(b.x - a.x, b.y - a.y) / kStep_px)));
        for (int k = 1; k <= pieces; ++k) {
            const double w = static_cast<double>(k) / pieces;
            sample({a.x + w * (b.x - a.x), a.y + w * (b.y - a.y), a.z + w * (b.z - a.z)});
        }
        a = b;
    }

    struct Run {
        std::size_t begin, end;  // samples, end included
        double length_px;
    };
    std::vector<Run> runs;
    for (std::size_t i = 0; i < samples.size(); ++i) {
        if (!samples[i].is_seen) continue;
        if (!runs.empty() && runs.back().end + 1 == i) {
            runs.back().length_px += length(samples[i - 1].at, samples[i].at);
            runs.back().end = i;
        } else {
            double gap = kBridge_px;
            if (!runs.empty()) {
                gap = 0.0;
                for (std::size_t k = runs.back().end; k < i && gap < kBridge_px; ++k)
                    gap += length(samples[k].at, samples[k + 1].at);
            }
            if (gap < kBridge_px) {
                runs.back().length_px += gap;
                runs.back().end = i;
            } else {
                runs.push_back({i, i, 0.0});
            }
        }
    }
    for (const Run& run : runs) {
        const bool is_whole = run.begin == 0 && run.end + 1 == samples.size();
        if (run.length_px < (is_whole ? 0.5 : kShortest_px)) continue;
        if (run.length_px < shortest_inside_px) {
            const auto outlines = std::count_if(samples.begin() + static_cast<std::ptrdiff_t>(run.begin),
                                                samples.begin() + static_cast<std::ptrdiff_t>(run.end) + 1,
                                                [](const Sample& one) { return one.is_outline; });
            if (2 * static_cast<std::size_t>(outlines) < run.end + 1 - run.begin) continue;
        }
        VisibleLine visible;
        visible.kind = kind;
        for (std::size_t i = run.begin; i <= run.end; ++i) visible.points.push_back(samples[i].at);
        visible.points = simplified(visible.points, kSimplify_px);
        out.push_back(std::move(visible));
    }
}

struct Silhouette {
    std::vector<Point3> points;
    double radius_mm = 0.0;  ///< mean radius of curvature of the surface across the line
};

/// How fast `facing` changes over a facet, per mm.
double slope(const DrawMesh& mesh, const std::array<std::uint32_t, 3>& t, const std::vector<double>& facing) {
    const geom::Vec3 u = mesh.points[t[1]] - mesh.points[t[0]], v = mesh.points[t[2]] - mesh.points[t[0]];
    const double fu = facing[t[1]] - facing[t[0]], fv = facing[t[2]] - facing[t[0]];
    const double uu = dot(u, u), uv = dot(u, v), vv = dot(v, v), det = uu * vv - uv * uv;
    if (!(det > 1e-12 * uu * vv)) return 0.0;
    return std::sqrt(std::max(0.0, (vv * fu * fu - 2.0 * uv * fu * fv + uu * fv * fv) / det));
}

/// Silhouette segments of all facets, chained where they share an edge of the mesh.
std::vector<Silhouette> silhouettes(const DrawMesh& mesh, const View& view) {
    std::vector<double> facing(mesh.points.size());
    for (std::size_t i = 0; i < facing.size(); ++i) {
        const double g = dot(mesh.normals[i], view.toward);
        facing[i] = std::abs(g) < 1e-6 ? 1e-6 : g;
    }
    struct Segment {
        std::uint64_t key[2];
        Point3 end[2];
        double slope_per_mm = 0.0;
        bool is_used = false;
    };
    std::vector<Segment> segments;
    for (const auto& t : mesh.triangles) {
        Segment s{};
        int ends = 0;
        for (std::size_t c = 0; c < 3; ++c) {
            const std::uint32_t a = std::min(t[c], t[(c + 1) % 3]), b = std::max(t[c], t[(c + 1) % 3]);
            if ((facing[a] > 0.0) == (facing[b] > 0.0)) continue;
            const double w = facing[a] / (facing[a] - facing[b]);
            s.key[ends] = static_cast<std::uint64_t>(a) << 32 | b;
            s.end[ends++] = mesh.points[a] + (mesh.points[b] - mesh.points[a]) * w;
        }
        if (ends != 2) continue;
        s.slope_per_mm = slope(mesh, t, facing);
        segments.push_back(s);
    }
    std::unordered_map<std::uint64_t, std::array<std::int64_t, 2>> at;  // edge to the segments that end there
    at.reserve(2 * segments.size());
    for (std::size_t i = 0; i < segments.size(); ++i)
        for (const std::uint64_t key : segments[i].key) {
            auto& pair = at.try_emplace(key, std::array<std::int64_t, 2>{-1, -1}).first->second;
            (pair[0] < 0 ? pair[0] : pair[1]) = static_cast<std::int64_t>(i);
        }
    std::vector<Silhouette> chains;
    for (Segment& start : segments) {
        if (start.is_used) continue;
        start.is_used = true;
        double length_mm = 0.0, turned = 0.0;
        const auto count = [&](const Segment& s) {
            length_mm += distance(s.end[0], s.end[1]);
            turned += distance(s.end[0], s.end[1]) * s.slope_per_mm;
        };
        count(start);
        std::vector<Point3> halves[2];
        for (int side = 0; side < 2; ++side) {
            std::uint64_t key = start.key[side];
            halves[side].push_back(start.end[side]);
            for (;;) {
                const auto& pair = at.at(key);
                Segment* next = nullptr;
                for (const std::int64_t i : pair)
                    if (i >= 0 && !segments[static_cast<std::size_t>(i)].is_used)
                        next = &segments[static_cast<std::size_t>(i)];
                if (next == nullptr) break;
                next->is_used = true;
                count(*next);
                const int far = next->key[0] == key ? 1 : 0;
                key = next->key[far];
                halves[side].push_back(next->end[far]);
            }
        }
        std::vector<Point3> chain(halves[0].rbegin(), halves[0].rend());
        chain.insert(chain.end(), halves[1].begin(), halves[1].end());
        chains.push_back({std::move(chain), turned > 0.0 ? length_mm / turned : 1e300});
    }
    return chains;
}

}  // namespace

bool CutAway::covers(double x, double y) const {
    const int cx = static_cast<int>(std::floor(x)), cy = static_cast<int>(std::floor(y));
    for (int j = cy - 1; j <= cy + 1; ++j)
        for (int i = cx - 1; i <= cx + 1; ++i)
            if (i < 0 || j < 0 || i >= width || j >= height ||
                is_material[static_cast<std::size_t>(j) * static_cast<std::size_t>(width) +
                            static_cast<std::size_t>(i)] == 0)
                return false;
    return true;
}

std::vector<VisibleLine> visible_lines(const DrawMesh& mesh, const std::vector<EdgeLine>& edges, const View& view,
                                       const DepthBuffer& buffer, const CutAway* cut) {
    std::vector<VisibleLine> out;
    for (const EdgeLine& edge : edges)
        if (!edge.is_sharp) add_visible(out, edge.points, VisibleLine::Kind::Smooth, view, buffer, cut);
    for (const auto& chain : silhouettes(mesh, view))
        add_visible(out, chain.points, VisibleLine::Kind::Silhouette, view, buffer, cut,
                    chain.radius_mm > kNearlyFlat_mm ? kShortestInside_px : 0.0);
    for (const EdgeLine& edge : edges)
        if (edge.is_sharp) add_visible(out, edge.points, VisibleLine::Kind::Sharp, view, buffer, cut);
    return out;
}

}  // namespace exports

// The arcs are edge paths, so the mesh falls apart along them without cutting a triangle. A piece is a disk; its border
// goes to the unit square's sides by chord length and Tutte's map does the rest, which cannot fold in the plane. Edges
// that join two border vertices straight through the piece are split first: with both ends on one side of the square
// they would leave no area. The even grid of the square, lifted and projected, inherits the mesh's unevenness; a few
// rounds of smoothing on the surface take it out.
#include "geom/skin/internal/patch_map.h"

#include "geom/skin/internal/tutte.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

namespace geom::skin {

namespace {

constexpr double kCurveStepMm = 2.0;
constexpr int kFairRounds = 40;
constexpr int kGridRounds = 8;
constexpr int kStretchRounds = 8;

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

double polyline_length(const std::vector<Point3>& p) {
    double length = 0.0;
    for (std::size_t i = 0; i + 1 < p.size(); ++i) length += distance(p[i], p[i + 1]);
    return length;
}

std::vector<Point3> resampled(const std::vector<Point3>& p, int spans) {
    const double total = polyline_length(p);
    std::vector<Point3> out;
    std::size_t i = 0;
    double before = 0.0;
    for (int s = 0; s < spans; ++s) {
        const double wanted = total * s / spans;
        while (i + 2 < p.size() && before + distance(p[i], p[i + 1]) < wanted) before += distance(p[i], p[i + 1]), ++i;
        const double t = (wanted - before) / std::max(distance(p[i], p[i + 1]), 1e-12);
        out.push_back(p[i] + (p[i + 1] - p[i]) * std::clamp(t, 0.0, 1.0));
    }
    out.front() = p.front();
    out.push_back(p.back());
    return out;
}

Vec3 catmull_rom(Vec3 a, Vec3 b, Vec3 c, Vec3 d, double t) {
    return b + 0.5 * t * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)));
}

struct Piece {
    std::vector<Point3> points;
    std::vector<Triangle> triangles;
    std::vector<Planar> map;
    std::vector<char> fixed;
};

using Edge = std::pair<int, int>;
Edge ordered(int a, int b) {
    return {std::min(a, b), std::max(a, b)};
}

// The triangles of the piece: flood from the one left of the piece's bottom side, stopping at arcs.
std::vector<int> label_triangles(const DiskMesh& mesh, const Layout& layout) {
    struct Half {
        int a, b, triangle;
        bool operator<(const Half& o) const { return a != o.a ? a < o.a : b < o.b; }
    };
    std::vector<Half> half;
    half.reserve(mesh.triangles.size() * 3);
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t)
        for (std::size_t c = 0; c < 3; ++c)
            half.push_back({mesh.triangles[t][c], mesh.triangles[t][(c + 1) % 3], static_cast<int>(t)});
    std::sort(half.begin(), half.end());
    const auto left_of = [&](int a, int b) {
        const auto it = std::lower_bound(half.begin(), half.end(), Half{a, b, 0});
        return it != half.end() && it->a == a && it->b == b ? it->triangle : -1;
    };
    std::set<Edge> walls;
    for (const auto& chain : layout.chains)
        for (std::size_t i = 0; i + 1 < chain.size(); ++i) walls.insert(ordered(chain[i], chain[i + 1]));
    std::vector<int> label(mesh.triangles.size(), -1);
    for (int piece = 0; piece < kPieces; ++piece) {
        const auto& chain = layout.chains[at(piece_sides(piece)[0].arc)];
        const int seed = left_of(chain[0], chain[1]);
        if (seed < 0 || label[at(seed)] >= 0) continue;
        std::vector<int> stack{seed};
        label[at(seed)] = piece;
        while (!stack.empty()) {
            const auto t = mesh.triangles[at(stack.back())];
            stack.pop_back();
            for (std::size_t c = 0; c < 3; ++c) {
                const int a = t[c], b = t[(c + 1) % 3];
                if (walls.count(ordered(a, b)) != 0) continue;
                const int other = left_of(b, a);
                if (other < 0 || label[at(other)] >= 0) continue;
                label[at(other)] = piece;
                stack.push_back(other);
            }
        }
    }
    return label;
}

// Splits edges inside the piece that join two of its border vertices.
void split_bridges(Piece& piece, const WorkingField& field) {
    std::map<Edge, int> uses;
    for (const auto& t : piece.triangles)
        for (std::size_t c = 0; c < 3; ++c) ++uses[ordered(t[c], t[(c + 1) % 3])];
    std::map<Edge, int> middle;
    for (const auto& [edge, count] : uses) {
        if (count != 2 || !piece.fixed[at(edge.first)] || !piece.fixed[at(edge.second)]) continue;
        middle[edge] = static_cast<int>(piece.points.size());
        piece.points.push_back(field.project((piece.points[at(edge.first)] + piece.points[at(edge.second)]) / 2.0, 2));
        piece.fixed.push_back(0);
        piece.map.push_back({});
    }
    if (middle.empty()) return;
    std::vector<Triangle> cut;
    std::vector<Triangle> open = piece.triangles;
    while (!open.empty()) {
        const Triangle t = open.back();
        open.pop_back();
        bool whole = true;
        for (std::size_t c = 0; c < 3 && whole; ++c) {
            const auto it = middle.find(ordered(t[c], t[(c + 1) % 3]));
            if (it == middle.end()) continue;
            open.push_back({t[c], it->second, t[(c + 2) % 3]});
            open.push_back({it->second, t[(c + 1) % 3], t[(c + 2) % 3]});
            whole = false;
        }
        if (whole) cut.push_back(t);
    }
    piece.triangles = std::move(cut);
}

Result<Piece> cut_piece(const DiskMesh& mesh, const Layout& layout, const std::vector<int>& label, int index,
                        const WorkingField& field) {
    Piece piece;
    std::vector<int> local(mesh.points.size(), -1);
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        if (label[t] != index) continue;
        Triangle q{};
        for (std::size_t c = 0; c < 3; ++c) {
            int& id = local[at(mesh.triangles[t][c])];
            if (id < 0) {
                id = static_cast<int>(piece.points.size());
                piece.points.push_back(mesh.points[at(mesh.triangles[t][c])]);
            }
            q[c] = id;
        }
        piece.triangles.push_back(q);
    }
    piece.map.resize(piece.points.size());
    piece.fixed.assign(piece.points.size(), 0);
    const auto sides = piece_sides(index);
    for (std::size_t s = 0; s < 4; ++s) {
        std::vector<int> chain = layout.chains[at(sides[s].arc)];
        if (sides[s].reversed) std::reverse(chain.begin(), chain.end());
        std::vector<Point3> line;
        for (const int v : chain) line.push_back(mesh.points[at(v)]);
        const double total = polyline_length(line);
        double along = 0.0;
        for (std::size_t i = 0; i < chain.size(); ++i) {
            const int v = local[at(chain[i])];
            if (v < 0)
                return Fault{FaultCode::MethodRefused,
                             "skin: the layout's pieces do not close",
                             {},
                             field.to_vehicle(line[i]),
                             "skin"};
            const double t = i + 1 == chain.size() ? 1.0 : along / total;
            piece.map[at(v)] = s == 0   ? Planar{t, 0.0}
                               : s == 1 ? Planar{1.0, t}
                               : s == 2 ? Planar{t, 1.0}
                                        : Planar{0.0, t};
            piece.fixed[at(v)] = 1;
            if (i + 1 < chain.size()) along += distance(line[i], line[i + 1]);
        }
    }
    split_bridges(piece, field);
    return piece;
}

// Every grid node by the triangle of the map it lies in.
bool lift(const Piece& piece, PatchGrid& grid) {
    const std::size_t row = at(grid.nu + 1);
    std::vector<double> best(row * at(grid.nv + 1), -1e300);
    grid.points.assign(best.size(), {});
    for (const auto& t : piece.triangles) {
        const Planar a = piece.map[at(t[0])], b = piece.map[at(t[1])], c = piece.map[at(t[2])];
        const double det = cross2(b - a, c - a);
        if (det <= 0.0) continue;
        const auto lowest = [](double x, double y, double z, int n) {
            return std::max(0, static_cast<int>(std::ceil(std::min({x, y, z}) * n - 1e-6)));
        };
        const auto highest = [](double x, double y, double z, int n) {
            return std::min(n, static_cast<int>(std::floor(std::max({x, y, z}) * n + 1e-6)));
        };
        for (int j = lowest(a.v, b.v, c.v, grid.nv); j <= highest(a.v, b.v, c.v, grid.nv); ++j)
            for (int i = lowest(a.u, b.u, c.u, grid.nu); i <= highest(a.u, b.u, c.u, grid.nu); ++i) {
                const Planar p{static_cast<double>(i) / grid.nu, static_cast<double>(j) / grid.nv};
                const double wb = cross2(p - a, c - a) / det, wc = cross2(b - a, p - a) / det, wa = 1.0 - wb - wc;
                const double inside = std::min({wa, wb, wc});
                double& so_far = best[at(j) * row + at(i)];
                if (inside <= so_far) continue;
                so_far = inside;
                grid.node(i, j) =
                    piece.points[at(t[0])] * wa + piece.points[at(t[1])] * wb + piece.points[at(t[2])] * wc;
            }
    }
    return std::all_of(best.begin(), best.end(), [](double b) { return b > -0.05; });
}

void smooth_grid(PatchGrid& grid, const WorkingField& field, int rounds) {
    std::vector<Point3> moved = grid.points;
    const std::size_t row = at(grid.nu + 1);
    for (int r = 0; r < rounds; ++r) {
        for (int j = 1; j < grid.nv; ++j)
            for (int i = 1; i < grid.nu; ++i) {
                const Point3 mean =
                    (grid.node(i - 1, j) + grid.node(i + 1, j) + grid.node(i, j - 1) + grid.node(i, j + 1)) / 4.0;
                moved[at(j) * row + at(i)] = field.project((grid.node(i, j) + mean) / 2.0, 1);
            }
        grid.points.swap(moved);
    }
}

int folded_corners(const PatchGrid& grid, const WorkingField& field, Point3& place) {
    int folded = 0;
    for (int j = 0; j < grid.nv; ++j)
        for (int i = 0; i < grid.nu; ++i) {
            const Point3 a = grid.node(i, j), b = grid.node(i + 1, j), c = grid.node(i + 1, j + 1),
                         d = grid.node(i, j + 1);
            const Vec3 n = field.normal((a + b + c + d) / 4.0);
            if (dot(cross(b - a, d - a), n) <= 0.0 || dot(cross(c - b, a - b), n) <= 0.0 ||
                dot(cross(d - c, b - c), n) <= 0.0 || dot(cross(a - d, c - d), n) <= 0.0) {
                ++folded;
                place = a;
            }
        }
    return folded;
}

}  // namespace

Point3 FairCurve::at(double t) const {
    const int n = static_cast<int>(points.size()) - 1;
    const double q = std::clamp(t, 0.0, 1.0) * n;
    const int i = std::clamp(static_cast<int>(q), 0, n - 1);
    const auto p = [&](int k) { return points[static_cast<std::size_t>(k)]; };
    const Point3 before = i > 0 ? p(i - 1) : p(i) * 2.0 - p(i + 1),
                 after = i + 2 <= n ? p(i + 2) : p(i + 1) * 2.0 - p(i);
    return catmull_rom(before, p(i), p(i + 1), after, q - i);
}

Point3 PatchGrid::at(double u, double v) const {
    const double qu = std::clamp(u, 0.0, 1.0) * nu, qv = std::clamp(v, 0.0, 1.0) * nv;
    const int i = std::clamp(static_cast<int>(qu), 0, nu - 1), j = std::clamp(static_cast<int>(qv), 0, nv - 1);
    const auto row = [&](int jj) {
        const Point3 before = i > 0 ? node(i - 1, jj) : node(i, jj) * 2.0 - node(i + 1, jj);
        const Point3 after = i + 2 <= nu ? node(i + 2, jj) : node(i + 1, jj) * 2.0 - node(i, jj);
        return catmull_rom(before, node(i, jj), node(i + 1, jj), after, qu - i);
    };
    const Point3 b = row(j), c = row(j + 1);
    const Point3 a = j > 0 ? row(j - 1) : b * 2.0 - c, d = j + 2 <= nv ? row(j + 2) : c * 2.0 - b;
    return catmull_rom(a, b, c, d, qv - j);
}

std::array<FairCurve, kArcs> fair_curves(const DiskMesh& mesh, const Layout& layout, const WorkingField& field,
                                         const RimPlace& rim) {
    std::array<std::vector<Point3>, kArcs> line, moved;
    const auto place = [&](int a, Point3 p, int rounds) {
        return a < 4 ? field.project_to_ring(p, rim, rounds + 2) : field.project(p, rounds);
    };
    for (int a = 0; a < kArcs; ++a) {
        for (const int v : layout.chains[at(a)]) line[at(a)].push_back(mesh.points[at(v)]);
        line[at(a)] = resampled(line[at(a)],
                                std::max(8, static_cast<int>(std::ceil(polyline_length(line[at(a)]) / kCurveStepMm))));
    }
    // A back corner moves with its three arcs, so that they leave it at even angles.
    const auto balance_corners = [&] {
        for (int k = 0; k < 4; ++k) {
            auto& slit = moved[at(slit_arc(k))];
            auto& out = moved[at(back_arc(k))];
            auto& in = moved[at(back_arc(k + 3))];
            const auto toward = [&](Point3 p) { return unit(p - slit.back()); };
            const Vec3 pull = toward(slit[slit.size() - 2]) + toward(out[1]) + toward(in[in.size() - 2]);
            slit.back() = out.front() = in.back() = field.project(slit.back() + pull * (0.25 * kCurveStepMm), 3);
        }
    };
    for (int round = 0; round < kFairRounds; ++round) {
        for (int a = 0; a < kArcs; ++a) {
            const auto& p = line[at(a)];
            moved[at(a)] = p;
            for (std::size_t i = 1; i + 1 < p.size(); ++i)
                moved[at(a)][i] = place(a, (p[i - 1] + p[i] * 2.0 + p[i + 1]) / 4.0, 1);
        }
        balance_corners();
        line.swap(moved);
    }
    std::array<FairCurve, kArcs> curves;
    for (int a = 0; a < kArcs; ++a) {
        std::vector<Point3> even = resampled(line[at(a)], static_cast<int>(line[at(a)].size()) - 1);
        for (std::size_t i = 1; i + 1 < even.size(); ++i) even[i] = place(a, even[i], 4);
        curves[at(a)].length_mm = polyline_length(even);
        curves[at(a)].points = std::move(even);
    }
    return curves;
}

Result<std::array<PatchGrid, kPieces>> patch_grids(const DiskMesh& mesh, const Layout& layout,
                                                   const std::array<FairCurve, kArcs>& curves,
                                                   const WorkingField& field, double node_mm) {
    const std::vector<int> label = label_triangles(mesh, layout);
    std::array<PatchGrid, kPieces> grids;
    for (int index = 0; index < kPieces; ++index) {
        GAPWRIGHT_TRY(piece, cut_piece(mesh, layout, label, index, field));
        const auto sides = piece_sides(index);
        const Point3 about = curves[at(sides[0].arc)].at(0.5);
        const auto refused = [&](const char* what, Point3 place) {
            return Fault{FaultCode::MethodRefused, what, {}, field.to_vehicle(place), "skin"};
        };
        if (!tutte_map(piece.points, piece.triangles, piece.fixed, kStretchRounds, piece.map))
            return refused("skin: a piece of the skin could not be mapped flat", about);
        const auto length = [&](std::size_t s) { return curves[at(sides[s].arc)].length_mm; };
        PatchGrid& grid = grids[at(index)];
        grid.nu = std::clamp(static_cast<int>(std::lround(std::max(length(0), length(2)) / node_mm)), 8, 250);
        grid.nv = std::clamp(static_cast<int>(std::lround(std::max(length(1), length(3)) / node_mm)), 8, 250);
        if (!lift(piece, grid)) return refused("skin: a piece of the skin could not be lifted from its map", about);
        const auto side_point = [&](std::size_t s, double t) {
            return curves[at(sides[s].arc)].at(sides[s].reversed ? 1.0 - t : t);
        };
        for (int j = 0; j <= grid.nv; ++j)
            for (int i = 0; i <= grid.nu; ++i) {
                const double u = static_cast<double>(i) / grid.nu, v = static_cast<double>(j) / grid.nv;
                Point3& p = grid.node(i, j);
                if (j == 0)
                    p = side_point(0, u);
                else if (j == grid.nv)
                    p = side_point(2, u);
                else if (i == 0)
                    p = side_point(3, v);
                else if (i == grid.nu)
                    p = side_point(1, v);
                else
                    p = field.project(p, 3);
            }
        Point3 fold;
        smooth_grid(grid, field, kGridRounds);
        for (int more = 0; more < 3 && folded_corners(grid, field, fold) > 0; ++more) smooth_grid(grid, field, 30);
        if (folded_corners(grid, field, fold) > 2) return refused("skin: a face of the skin would fold", fold);
    }
    return grids;
}

}  // namespace geom::skin

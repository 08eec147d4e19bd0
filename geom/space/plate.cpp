// The outline is cut into triangles by ears: a corner is cut off when its triangle turns with the outline and holds no
// other corner. The plane's normal is that of the outline's vector area (Newell).
#include "geom/space/plate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace geom::space {
namespace {

constexpr double kOffPlane_mm = 2.0, kLeastArea_mm2 = 1e-3;

struct Flat {
    double x = 0.0, y = 0.0;
};

double turn(Flat a, Flat b, Flat c) {
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

/// Whether the sides a-b and c-d cross or touch.
bool meet(Flat a, Flat b, Flat c, Flat d) {
    const auto beside = [](Flat p, Flat q, Flat r) {
        return std::min(p.x, q.x) <= r.x && r.x <= std::max(p.x, q.x) && std::min(p.y, q.y) <= r.y &&
               r.y <= std::max(p.y, q.y);
    };
    const double abc = turn(a, b, c), abd = turn(a, b, d), cda = turn(c, d, a), cdb = turn(c, d, b);
    if (((abc > 0) != (abd > 0)) && ((cda > 0) != (cdb > 0)) && abc != 0 && abd != 0 && cda != 0 && cdb != 0)
        return true;
    return (abc == 0 && beside(a, b, c)) || (abd == 0 && beside(a, b, d)) || (cda == 0 && beside(c, d, a)) ||
           (cdb == 0 && beside(c, d, b));
}

}  // namespace

Result<TriMesh> plate_mesh(const std::vector<Point3>& corners, Length thickness) {
    const auto bad = [](std::string what, std::string hint) {
        return Fault{FaultCode::BadJob, std::move(what), std::move(hint), {}, "space"};
    };
    const std::size_t n = corners.size();
    if (n < 3) return bad(fmt::format("are {}; wanted at least three", n), "give the corners in order round the plate");
    Vec3 area, middle;
    for (std::size_t i = 0; i < n; ++i) {
        area += cross(corners[i] - corners[0], corners[(i + 1) % n] - corners[0]) * 0.5;
        middle += corners[i] / static_cast<double>(n);
    }
    if (norm(area) < kLeastArea_mm2)
        return bad("lie on one line, or run twice round nothing; wanted an outline",
                   "give the corners in order round the plate");
    const Vec3 up = unit(area), x = any_perpendicular(up), y = cross(up, x);
    std::vector<Flat> flat(n);
    double off = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
        flat[i] = {dot(corners[i] - middle, x), dot(corners[i] - middle, y)};
        off = std::max(off, std::abs(dot(corners[i] - middle, up)));
    }
    const double forgiven = std::max(kOffPlane_mm, 0.5 * thickness.mm());
    if (off > forgiven)
        return bad(fmt::format("lie up to {:.1f} mm off one plane; wanted {:.1f} mm or less", off, forgiven),
                   "measure them again, or give two plates");
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = i + 1; j < n; ++j) {
            const bool neighbours = j == i + 1 || (i == 0 && j + 1 == n);
            if (!neighbours && meet(flat[i], flat[(i + 1) % n], flat[j], flat[(j + 1) % n]))
                return bad(fmt::format("make an outline that crosses itself between corners {} and {}", i + 1, j + 1),
                           "give the corners in order round the plate");
        }

    TriMesh mesh;
    const auto count = static_cast<std::uint32_t>(n);
    for (const double side : {-0.5, 0.5})
        for (const Point3 p : corners) mesh.vertices.push_back(p + up * (side * thickness.mm()));
    std::vector<std::uint32_t> left(n);
    std::iota(left.begin(), left.end(), 0u);
    while (left.size() >= 3) {
        std::size_t ear = left.size();
        for (std::size_t i = 0; i < left.size() && ear == left.size(); ++i) {
            const std::uint32_t a = left[(i + left.size() - 1) % left.size()], b = left[i],
                                c = left[(i + 1) % left.size()];
            if (left.size() > 3 && turn(flat[a], flat[b], flat[c]) <= 0.0) continue;
            const bool holds = std::any_of(left.begin(), left.end(), [&](std::uint32_t q) {
                return q != a && q != b && q != c && turn(flat[a], flat[b], flat[q]) >= 0.0 &&
                       turn(flat[b], flat[c], flat[q]) >= 0.0 && turn(flat[c], flat[a], flat[q]) >= 0.0;
            });
            if (!holds) ear = i;
        }
        if (ear == left.size()) {  // only corners on a straight side are left to cut
            for (std::size_t i = 0; i < left.size() && ear == left.size(); ++i)
                if (turn(flat[left[(i + left.size() - 1) % left.size()]], flat[left[i]],
                         flat[left[(i + 1) % left.size()]]) == 0.0)
                    ear = i;
            if (ear == left.size())
                return bad("make an outline that cannot be filled", "give the corners in order round the plate");
        }
        const std::uint32_t a = left[(ear + left.size() - 1) % left.size()], b = left[ear],
                            c = left[(ear + 1) % left.size()];
        mesh.triangles.push_back({a + count, b + count, c + count});
        mesh.triangles.push_back({a, c, b});
        left.erase(left.begin() + static_cast<std::ptrdiff_t>(ear));
    }
    for (std::uint32_t i = 0; i < count; ++i) {
        const std::uint32_t j = (i + 1) % count;
        mesh.triangles.push_back({i, j, j + count});
        mesh.triangles.push_back({i, j + count, i + count});
    }
    return mesh;
}

}  // namespace geom::space

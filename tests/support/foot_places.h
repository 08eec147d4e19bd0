// Places on the face of a scanned foot, and how far they stand off the truth, for tests and benches.
#pragma once

#include "examples/ring_on_scan/scene.h"
#include "geom/measure/brep_measure.h"
#include "geom/parts/scan_foot.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace support {

/// Spread evenly, about one a square millimetre, over what of the block looks at the vehicle between bore and reach.
inline std::vector<geom::Point3> foot_places(const geom::parts::ScanFoot& foot,
                                             const geom::parts::ScanFootRequest& request) {
    using namespace geom;
    const auto mesh = measure::tessellate(foot.block, Length::mm(0.02), Context{});
    if (!mesh) return {};
    const Frame view = parts::view_of(request);
    Random random(7);
    std::vector<Point3> places;
    double due = 0.0;
    for (const auto& t : mesh->triangles) {
        const Point3 a = mesh->vertices[t[0]], b = mesh->vertices[t[1]], c = mesh->vertices[t[2]];
        const Vec3 n = cross(b - a, c - a);
        if (dot(unit(n), view.z) > -0.3) continue;
        for (due += 0.5 * norm(n); due >= 1.0; due -= 1.0) {
            double u = random.uniform(), v = random.uniform();
            if (u + v > 1.0) u = 1.0 - u, v = 1.0 - v;
            const Point3 p = a + (b - a) * u + (c - a) * v, q = view.to_local(p);
            const double r = std::hypot(q.x, q.y);
            if (r < request.reach_mm && r > request.bore_mm) places.push_back(p);
        }
    }
    return places;
}

/// True distance less the gasket, rising, for the places at least `beside_mm` off the opening.
inline std::vector<double> off_gasket(const std::vector<geom::Point3>& places, const ring_on_scan::ScanOptions& scene,
                                      geom::Length gasket, double beside_mm) {
    ring_on_scan::Opening wider = scene.opening;
    wider.radius_mm += beside_mm;
    std::vector<double> off;
    for (const geom::Point3 p : places) {
        const geom::Point3 q = ring_on_scan::kView.to_local(p);
        if (scene.opening.radius_mm > 0.0 && wider.holds(q.x, q.y)) continue;
        off.push_back(scene.skin.distance(p) - gasket.mm());
    }
    std::sort(off.begin(), off.end());
    return off;
}

}  // namespace support

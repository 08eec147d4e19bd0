// The air of a box from its STEP file alone: the faces of the solid that are left when it is cut apart along the outer
// rims of its openings, and a fan over each rim.
#pragma once

#include "tests/support/step_reader.h"

#include <algorithm>
#include <map>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

namespace support {

inline outside::V3 middle_of(const outside::Edges& edges, const std::vector<outside::EdgeUse>& uses) {
    outside::V3 sum;
    for (const auto& use : uses) {
        const outside::Edge& e = edges.at(use.edge);
        for (int k = 0; k < 16; ++k) sum += e.curve->at(e.t0 + (e.t1 - e.t0) * (k + 0.5) / 16).p * (1.0 / 16);
    }
    return sum * (1.0 / static_cast<double>(uses.size()));
}

/// A closed run of edges round the end of a round hole, as the hole's faces use them.
struct Rim {
    std::vector<outside::EdgeUse> uses;
    outside::V3 axis;  ///< unit vector out of the hole
    double radius_mm = 0.0;
};

/// The outer rim of the one hole of this radius: of the two rims of its cylinder the one farther from `inside`.
inline Rim outer_rim(const outside::Solid& solid, double radius_mm, outside::V3 inside) {
    std::vector<std::vector<outside::EdgeUse>> rims;
    outside::V3 axis;
    for (const outside::Face& face : solid.shells.front().faces) {
        if (face.surface->kind != "cylinder") continue;
        if (std::abs(outside::length(face.surface->at({0, 0}).du) - radius_mm) > 1e-6) continue;
        axis = face.surface->at({0, 0}).dv;
        std::map<int, int> used;
        for (const auto& loop : face.loops)
            for (const auto& use : loop.uses) ++used[use.edge];
        // Seams aside, edges that touch end to end are one rim.
        for (const auto& loop : face.loops)
            for (const auto& use : loop.uses) {
                if (used[use.edge] == 2) continue;
                const outside::Edge& e = solid.edges.at(use.edge);
                const auto touches = [&](const std::vector<outside::EdgeUse>& rim) {
                    return std::any_of(rim.begin(), rim.end(), [&](const auto& other) {
                        const outside::Edge& o = solid.edges.at(other.edge);
                        return o.start == e.start || o.start == e.end || o.end == e.start || o.end == e.end;
                    });
                };
                const auto rim = std::find_if(rims.begin(), rims.end(), touches);
                (rim == rims.end() ? rims.emplace_back() : *rim).push_back(use);
            }
    }
    if (rims.size() != 2)
        throw std::runtime_error("a hole of radius " + std::to_string(radius_mm) + " has " +
                                 std::to_string(rims.size()) + " rims");
    const outside::V3 a = middle_of(solid.edges, rims[0]), b = middle_of(solid.edges, rims[1]);
    const bool first = outside::length(a - inside) > outside::length(b - inside);
    const double sign = outside::dot(axis, a - b) * (first ? 1.0 : -1.0) > 0 ? 1.0 : -1.0;
    return {first ? rims[0] : rims[1], axis * sign, radius_mm};
}

/// mm^3 in the hole between the plane through the rim's lowest point and the fan over the rim, where the rim is that of
/// a hole through a curved or slanting face: circle times (mean height less least height).
inline double over_lowest(const outside::Solid& solid, const Rim& rim) {
    double sum = 0.0, all = 0.0, least = 1e300;
    for (const auto& use : rim.uses) {
        const outside::Edge& e = solid.edges.at(use.edge);
        constexpr int kSamples = 2000;
        for (int k = 0; k < kSamples; ++k) {
            const outside::CurvePoint c = e.curve->at(e.t0 + (e.t1 - e.t0) * (k + 0.5) / kSamples);
            const double height = outside::dot(c.p, rim.axis),
                         turn = outside::length(outside::cross(c.d, rim.axis)) * std::abs(e.t1 - e.t0);
            sum += height * turn;
            all += turn;
            least = std::min(least, height);
        }
    }
    return std::acos(-1.0) * rim.radius_mm * rim.radius_mm * (sum / all - least);
}

/// mm^3 of what lies behind the rims, each closed by a fan from its middle.
inline double air_behind(const outside::Solid& solid, const std::vector<Rim>& rims) {
    std::set<int> cut;
    for (const auto& rim : rims)
        for (const auto& use : rim.uses) cut.insert(use.edge);
    const auto& faces = solid.shells.front().faces;
    std::map<int, std::vector<std::size_t>> faces_of;
    std::vector<std::size_t> open;
    std::set<std::size_t> inner;
    for (std::size_t f = 0; f < faces.size(); ++f)
        for (const auto& loop : faces[f].loops)
            for (const auto& use : loop.uses) {
                faces_of[use.edge].push_back(f);
                // A face that uses a rim the rim's own way is the hole's.
                for (const auto& rim : rims)
                    for (const auto& own : rim.uses)
                        if (own.edge == use.edge && own.is_forward == use.is_forward && inner.insert(f).second)
                            open.push_back(f);
            }
    while (!open.empty()) {
        const std::size_t f = open.back();
        open.pop_back();
        for (const auto& loop : faces[f].loops)
            for (const auto& use : loop.uses)
                if (!cut.contains(use.edge))
                    for (const std::size_t next : faces_of[use.edge])
                        if (inner.insert(next).second) open.push_back(next);
    }
    if (inner.size() == faces.size()) throw std::runtime_error("the rims do not part inside from outside");
    double air = 0.0;
    for (const std::size_t f : inner) air -= faces[f].sums.volume;
    for (const auto& rim : rims)
        air += outside::volume_over_fan(solid.edges, rim.uses, middle_of(solid.edges, rim.uses), solid.origin);
    return air;
}

}  // namespace support

#include "geom/parts/sharp_edge.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

using space::Stretch;

constexpr double kLeastAngle_deg = 20.0, kMostAngle_deg = 165.0;  // between the faces; flatter, rounding takes nothing
constexpr double kStep_mm = 1.0;
constexpr double kPast_mm[] = {1.0, 5.0};  // beyond the rounding, where a face has to be there
constexpr double kGround_mm = 20.0;        // that either end of a bar stays short, for flat faces beside it: seen often
constexpr double kOnFace_vx = 0.08;        // of a voxel: what the field may be off on a plane face

const space::Limit* find_limit(const EnclosureRequest& request, const std::string& name) {
    for (const space::Limit& limit : request.room.limits)
        if (limit.name == name) return &limit;
    return nullptr;
}

bool asks_for(const EnclosureRequest& request, const space::SharpEdge& edge) {
    const auto asks = [&](const std::string& first, const std::string& second) {
        const space::Limit* limit = find_limit(request, first);
        return limit != nullptr &&
               std::find(limit->sharp_with.begin(), limit->sharp_with.end(), second) != limit->sharp_with.end();
    };
    return asks(edge.first, edge.second) || asks(edge.second, edge.first);
}

Vec3 into(const Plane& face, const Plane& other) {
    return unit(face.outward * dot(face.outward, other.outward) - other.outward);
}

}  // namespace

double Corner::angle_rad() const {
    return std::acos(std::clamp(-dot(a.outward, b.outward), -1.0, 1.0));
}
double Corner::tangent_mm() const {
    return radius_mm / std::tan(angle_rad() / 2.0);
}
double Corner::section_mm2() const {
    const double v = angle_rad();
    return radius_mm * radius_mm * (1.0 / std::tan(v / 2.0) - (std::numbers::pi - v) / 2.0);
}
Vec3 Corner::into_a() const {
    return into(a, b);
}
Vec3 Corner::into_b() const {
    return into(b, a);
}

Corner outer_corner(const space::SharpEdge& edge, const EnclosureRequest& request) {
    return {edge.a, edge.b, edge.at, edge.along, request.room.edge_radius.mm()};
}

Corner air_corner(const space::SharpEdge& edge, const EnclosureRequest& request) {
    const double wall = request.wall.mm();
    // The wall's own offset of the outer rounding is what is rounded more, or not.
    const double radius = std::max(request.inner_radius.mm(), request.room.edge_radius.mm() - wall);
    const Vec3 a = edge.a.outward, b = edge.b.outward;
    return {{edge.a.point - a * wall, a},
            {edge.b.point - b * wall, b},
            edge.at - (a + b) * (wall / (1.0 + dot(a, b))),
            edge.along,
            radius};
}

Stretch sharp_part(const Corner& corner, const Stretch& whole) {
    return {whole.from_mm + corner.run_out_mm(), whole.to_mm - corner.run_out_mm()};
}

double bar_mm3(const Corner& corner, const Stretch& whole) {
    const double sharp_mm = sharp_part(corner, whole).length_mm();
    return sharp_mm > 0.0 ? corner.section_mm2() * (sharp_mm + corner.run_out_mm()) : 0.0;
}

std::vector<Stretch> common(const std::vector<Stretch>& a, const std::vector<Stretch>& b) {
    std::vector<Stretch> both;
    for (const Stretch& p : a)
        for (const Stretch& q : b) {
            const Stretch s{std::max(p.from_mm, q.from_mm), std::min(p.to_mm, q.to_mm)};
            if (s.length_mm() > 0.0) both.push_back(s);
        }
    return both;
}

std::optional<Stretch> longest(const std::vector<Stretch>& stretches) {
    const auto it = std::max_element(stretches.begin(), stretches.end(),
                                     [](const Stretch& a, const Stretch& b) { return a.length_mm() < b.length_mm(); });
    return it == stretches.end() ? std::nullopt : std::optional(*it);
}

std::vector<Stretch> faces_reach(const Corner& corner, const space::Field& body, double front_y_mm) {
    const space::GridSpec& g = body.grid;
    const double tolerance = kOnFace_vx * g.h_mm, tangent = corner.tangent_mm();
    const double reach =
        g.h_mm * std::hypot(static_cast<double>(g.nx), static_cast<double>(g.ny), static_cast<double>(g.nz));
    const Vec3 in_a = corner.into_a(), in_b = corner.into_b();
    const auto is_face = [&](Point3 p) {
        const Point3 box = g.vehicle_from_box.to_local(p);
        return box.y >= front_y_mm && std::abs(body.at_box(box)) <= tolerance;
    };
    std::vector<Stretch> found;
    for (double s = -reach; s <= reach; s += kStep_mm) {
        const Point3 edge = corner.edge_at(s);
        const bool both = std::all_of(std::begin(kPast_mm), std::end(kPast_mm), [&](double past) {
            return is_face(edge + in_a * (tangent + past)) && is_face(edge + in_b * (tangent + past));
        });
        if (!both) continue;
        if (!found.empty() && s - found.back().to_mm < 1.5 * kStep_mm)
            found.back().to_mm = s;
        else
            found.push_back({s, s});
    }
    return found;
}

Volume sharp_edges_in_air(const space::Room& room, const space::Field& air, const EnclosureRequest& request,
                          double t_mm) {
    double mm3 = 0.0;
    for (const space::SharpEdge& edge : room.edges) {
        if (!asks_for(request, edge)) continue;
        const Corner outside = outer_corner(edge, request), inside = air_corner(edge, request);
        auto whole =
            longest(common(edge.free, faces_reach(outside, room.outer, -t_mm + request.baffle.rim_radius.mm() + 1.0)));
        if (!whole) continue;
        whole->from_mm += kGround_mm, whole->to_mm -= kGround_mm;
        const auto in_air = longest(common({sharp_part(outside, *whole)},
                                           faces_reach(inside, air, -t_mm + request.baffle.thickness.mm() + 1.0)));
        if (in_air) mm3 += bar_mm3(inside, *in_air);
    }
    return Volume::mm3(mm3);
}

Status check_sharp_edges(const EnclosureRequest& request) {
    using space::LimitEdges;
    for (const space::Limit& limit : request.room.limits)
        for (const std::string& name : limit.sharp_with) {
            const auto fault = [&](std::string what, std::string hint) {
                return Fault{FaultCode::BadJob, std::move(what), std::move(hint), limit.plane.point, "size"};
            };
            const space::Limit* other = find_limit(request, name);
            if (other == nullptr || other == &limit)
                return fault(
                    fmt::format("limit '{}': sharp_with names '{}', which is no other limit", limit.name, name),
                    "name a limit whose plane meets this one in an edge");
            for (const space::Limit* one : {&limit, other})
                if (one->edges != LimitEdges::Rounded)
                    return fault(fmt::format("limit '{}': its edge with '{}' is asked to stay sharp, and all edges of "
                                             "'{}' are sharp already",
                                             limit.name, name, one->name),
                                 "leave sharp_with out, or leave sharp out");
            const Corner corner{{{}, unit(limit.plane.outward)}, {{}, unit(other->plane.outward)}, {}, {}, 1.0};
            const double deg = corner.angle_rad() * 180.0 / std::numbers::pi;
            if (deg < kLeastAngle_deg || deg > kMostAngle_deg)
                return fault(
                    fmt::format("limits '{}' and '{}': their planes meet at {:.1f} deg through the box, wanted "
                                "{} to {} deg for an edge that stays sharp",
                                limit.name, name, deg, plain_number(kLeastAngle_deg), plain_number(kMostAngle_deg)),
                    deg > 90.0 ? "an edge as flat as that loses next to nothing by its rounding: leave "
                                 "sharp_with out"
                               : "turn one of the planes, or leave sharp_with out");
        }
    return Done{};
}

}  // namespace geom::parts

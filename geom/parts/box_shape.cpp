// From sizes to sides. Plane-sided shapes are two caps and the sides between them, each with a wall of its own; sizes
// of the inside give the inner planes, and the outer ones lie a wall further out. All is then moved so that the box
// round the outside begins at 0, 0, 0.
#include "geom/parts/box.h"
#include "geom/parts/internal/boolean.h"
#include "geom/parts/internal/outline_pieces.h"
#include "geom/parts/internal/plane_body.h"
#include "geom/parts/internal/round_body.h"
#include "geom/parts/internal/site.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::parts {
namespace {

Fault bad(std::string what, std::string hint) {
    return {FaultCode::BadJob, "box: " + std::move(what), std::move(hint), {}, "part"};
}

/// The sizes of a request as numbers, each seen to be there.
class Sizes {
public:
    explicit Sizes(const BoxRequest& request) : request_(request) {}
    double operator()(BoxSize size) const {
        const auto it = request_.sizes.find(size);
        EXPECTS(it != request_.sizes.end());
        return it->second.mm();
    }
    double or_else(BoxSize size, double other) const { return request_.sizes.count(size) != 0 ? (*this)(size) : other; }

private:
    const BoxRequest& request_;
};

std::vector<double> layers_of(const BoxRequest& request, const std::string& side) {
    std::vector<double> layers;
    if (const auto it = request.walls.find(side); it != request.walls.end())
        for (const Length t : it->second) layers.push_back(t.mm());
    if (layers.empty()) layers.push_back(request.enclosure.wall.mm());
    return layers;
}

int rank_of(const BoxRequest& request, const std::string& side) {
    const auto it = std::find(request.through.begin(), request.through.end(), side);
    return static_cast<int>(it - request.through.begin());
}

/// A side through a point, its wall to come.
PlaneSide side_at(std::string name, Point3 point, Vec3 outward) {
    return {.name = std::move(name), .outer = {point, unit(outward)}, .layers_mm = {}, .next = {}};
}

/// Level bottom and top, four sides that may slope.
std::vector<PlaneSide> block_sides(const BoxRequest& request) {
    const Sizes size(request);
    const double w = size(BoxSize::Width), d = size(BoxSize::Depth), h = size(BoxSize::Height);
    const auto slopes = [&](const char* side) {
        return std::find(request.sloping.begin(), request.sloping.end(), side) != request.sloping.end();
    };
    // How far the top's near and far edge lie inside the bottom's.
    const auto inset = [](double less, bool near, bool far) {
        return std::pair{near ? (far ? less / 2.0 : less) : 0.0, far ? (near ? less / 2.0 : less) : 0.0};
    };
    const auto [left, right] = inset(w - size.or_else(BoxSize::TopWidth, w), slopes("left"), slopes("right"));
    const auto [front, back] = inset(d - size.or_else(BoxSize::TopDepth, d), slopes("front"), slopes("back"));
    return {side_at("bottom", {0, 0, 0}, {0, 0, -1}),    side_at("top", {0, 0, h}, {0, 0, 1}),
            side_at("front", {0, 0, 0}, {0, -h, front}), side_at("right", {w, 0, 0}, {h, 0, right}),
            side_at("back", {0, d, 0}, {0, h, back}),    side_at("left", {0, 0, 0}, {-h, 0, left})};
}

/// Upright to the nose's height, sloping from there.
std::vector<PlaneSide> nosed_sides(const BoxRequest& request) {
    const Sizes size(request);
    const double w = size(BoxSize::Width), d = size(BoxSize::Depth), h = size(BoxSize::Height);
    const double n = size(BoxSize::Nose), back = d - size(BoxSize::TopDepth);
    return {side_at("left", {0, 0, 0}, {-1, 0, 0}),   side_at("right", {w, 0, 0}, {1, 0, 0}),
            side_at("bottom", {0, 0, 0}, {0, 0, -1}), side_at("back", {0, d, 0}, {0, 1, 0}),
            side_at("top", {0, 0, h}, {0, 0, 1}),     side_at("front", {0, 0, n}, {0, n - h, back}),
            side_at("nose", {0, 0, 0}, {0, -1, 0})};
}

/// The outline's own frame: x right and z up for who looks at the first cap, y into the box.
struct PrismView {
    Frame frame;
    const char *first, *second;
    BoxSize length;
};
PrismView prism_view(PrismAlong along, double length_mm) {
    switch (along) {
        case PrismAlong::Width:
            return {{{length_mm, 0, 0}, {0, 1, 0}, {-1, 0, 0}, {0, 0, 1}}, "right", "left", BoxSize::Width};
        case PrismAlong::Height:
            return {{{0, 0, length_mm}, {1, 0, 0}, {0, 0, -1}, {0, 1, 0}}, "top", "bottom", BoxSize::Height};
        case PrismAlong::Depth:
            break;
    }
    return {{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, "front", "back", BoxSize::Depth};
}

bool is_polygon(const RingOutline& outline) {
    return outline.kind == RingOutline::Kind::Path &&
           std::all_of(outline.path.begin(), outline.path.end(), [](const FlatPoint& p) { return p.bulge == 0.0; });
}

/// Without corners at which nothing turns: two sides in one plane are one.
std::vector<FlatPoint> turning_corners(const std::vector<FlatPoint>& path) {
    constexpr double kLeastTurn = 1e-6;
    std::vector<FlatPoint> kept;
    for (std::size_t i = 0; i < path.size(); ++i) {
        const FlatPoint &a = path[(i + path.size() - 1) % path.size()], &b = path[i], &c = path[(i + 1) % path.size()];
        const Point2 in{b.x - a.x, b.y - a.y}, on{c.x - b.x, c.y - b.y};
        if (std::abs(cross(in, on)) > kLeastTurn * norm(in) * norm(on)) kept.push_back(b);
    }
    return kept;
}

std::vector<PlaneSide> prism_sides(const BoxRequest& request) {
    const BoxSize along = prism_view(request.along, 0.0).length;
    const PrismView view = prism_view(request.along, Sizes(request)(along));
    std::vector<PlaneSide> sides{
        side_at(view.second, view.frame.to_parent({0, Sizes(request)(along), 0}), view.frame.y),
        side_at(view.first, view.frame.origin, -view.frame.y)};
    const std::vector<FlatPoint> path = turning_corners(request.outline->path);
    for (std::size_t i = 0; i < path.size(); ++i) {
        const FlatPoint &a = path[i], &b = path[(i + 1) % path.size()];
        const Vec3 way{b.x - a.x, 0.0, b.y - a.y};
        sides.push_back(side_at(fmt::format("side {}", i + 1), view.frame.to_parent({a.x, 0, a.y}),
                                view.frame.dir_to_parent(cross(way, Vec3{0, -1, 0}))));
    }
    return sides;
}

std::string known_sides(const std::vector<std::string>& names) {
    return "its sides are " + listed(names);
}

Status check_names(const BoxRequest& request, const std::vector<std::string>& names) {
    const auto check = [&](const std::string& name, const std::string& key) -> Status {
        if (std::find(names.begin(), names.end(), name) != names.end()) return Done{};
        const std::string near = nearest_word(name, names);
        return bad(fmt::format("{} names \"{}\", which this shape does not have{}", key, name,
                               near.empty() ? "" : fmt::format("; did you mean \"{}\"?", near)),
                   known_sides(names));
    };
    for (const auto& [name, layers] : request.walls) GAPWRIGHT_CHECK(check(name, "walls"));
    for (const std::string& name : request.through) GAPWRIGHT_CHECK(check(name, "through"));
    return check(request.baffle, "baffle");
}

Aabb box_of(const PlaneBody& body) {
    Aabb box;
    for (int i = 0; i < 2; ++i)
        for (const Point3 p : body.corners(i, false)) box.grow(p);
    return box;
}

bool is_convex(const RingOutline& outline) {
    const std::vector<FlatPoint> path = turning_corners(outline.path);
    for (std::size_t i = 0; i < path.size(); ++i) {
        const FlatPoint &a = path[i], &b = path[(i + 1) % path.size()], &c = path[(i + 2) % path.size()];
        if (cross(Point2{b.x - a.x, b.y - a.y}, Point2{c.x - b.x, c.y - b.y}) <= 0.0) return false;
    }
    return true;
}

std::function<double(Point3)> distance_to(const BoxRequest& request, const PlaneBody& body, bool is_inner) {
    std::vector<Plane> planes;
    for (const PlaneSide& side : body.sides) planes.push_back(is_inner ? side.inner() : side.outer);
    if (request.shape != BoxShape::Prism || is_convex(*request.outline))
        return [planes](Point3 p) {
            double most = -1e300;
            for (const Plane& plane : planes) most = std::max(most, plane.height(p));
            return most;
        };
    const Frame view = prism_view(request.along, 0.0).frame;
    Loop loop;
    for (const Point3 p : body.corners(1, is_inner)) loop.push_back({view.to_local(p).x, view.to_local(p).z});
    return [view, planes, outline = Outline(std::move(loop))](Point3 p) {
        const Point3 q = view.to_local(p);
        return std::max({planes[0].height(p), planes[1].height(p), -outline.depth({q.x, q.z})});
    };
}

Status check_wall(double wall_mm, const std::string& side) {
    if (wall_mm >= 0.1) return Done{};
    return bad(fmt::format("the wall of \"{}\" is {} mm, wanted at least 0.1", side, plain_number(wall_mm)),
               "give its thickness");
}

Result<PlaneBody> plane_body(const BoxRequest& request, std::vector<PlaneSide> sides) {
    std::vector<std::string> names;
    for (const PlaneSide& side : sides) names.push_back(side.name);
    GAPWRIGHT_CHECK(check_names(request, names));
    for (PlaneSide& side : sides) {
        side.layers_mm = layers_of(request, side.name);
        side.rank = rank_of(request, side.name);
        for (const double t : side.layers_mm) GAPWRIGHT_CHECK(check_wall(t, side.name));
        if (request.sizes_are_inside) side.outer = side.plane(-side.thickness_mm());
    }
    PlaneBody body = between_caps(std::move(sides));
    GAPWRIGHT_CHECK(check_net(body));
    const Point3 lo = box_of(body).lo;
    for (PlaneSide& side : body.sides) side.outer.point -= lo;
    return body;
}

/// The middle of the largest circle that both faces of a plate hold, in its outer face.
Point3 middle_of(const Plane& outer, Vec3 up, const Outline& front, const Outline& back) {
    const Frame frame = space::box_frame(outer, up);
    const Best best = greatest([&](Point2 p) { return std::min(front.depth(p), back.depth(p)); }, back.lo(), back.hi());
    return frame.to_parent({best.at.x, 0.0, best.at.y});
}

/// Solids, boards and volumes of a body of plane sides or a round one; all else is still to come.
template <class Body>
Result<BareBox> solids_of(const Body& body) {
    BareBox box;
    GAPWRIGHT_TRY(outer, solid_of(body, false));
    GAPWRIGHT_TRY(air, solid_of(body, true));
    GAPWRIGHT_TRY(boards, boards_of(body));
    box.outer = outer;
    box.air = air;
    box.boards = std::move(boards);
    box.outside = Volume::mm3(volume_mm3(body, false));
    box.inside = Volume::mm3(volume_mm3(body, true));
    return box;
}

Result<BareBox> plane_box(const BoxRequest& request, const PlaneBody& body) {
    GAPWRIGHT_TRY(box, solids_of(body));
    for (int i = 0; i < static_cast<int>(body.sides.size()); ++i) {
        const PlaneSide& side = body.sides[static_cast<std::size_t>(i)];
        box.sides.push_back({side.name, side.inner(), side.thickness_mm()});
        if (side.name != request.baffle) continue;
        box.baffle = side.outer;
        box.baffle_mm = side.thickness_mm();
        const Frame frame = space::box_frame(side.outer, request.enclosure.up);
        const auto outline = [&](bool is_inner) {
            Loop loop;
            for (const Point3 p : body.corners(i, is_inner)) loop.push_back({frame.to_local(p).x, frame.to_local(p).z});
            return Outline(std::move(loop));
        };
        box.baffle.point = middle_of(side.outer, request.enclosure.up, outline(false), outline(true));
    }
    box.distance_mm = distance_to(request, body, false);
    box.air_mm = distance_to(request, body, true);
    box.box = box_of(body);
    return box;
}

Result<RoundBody> round_body(const BoxRequest& request) {
    const Sizes size(request);
    RoundBody body;
    body.side = "side";
    const bool is_prism = request.shape == BoxShape::Prism;
    const PrismView none = prism_view(is_prism ? request.along : PrismAlong::Depth, 0.0);
    const double length = size(none.length);
    body.first.name = none.first;
    body.second.name = none.second;
    for (RoundCap* cap : {&body.first, &body.second}) {
        cap->layers_mm = layers_of(request, cap->name);
        cap->runs_through = rank_of(request, cap->name) < static_cast<int>(request.through.size());
        for (const double t : cap->layers_mm) GAPWRIGHT_CHECK(check_wall(t, cap->name));
    }
    const auto layers = layers_of(request, body.side);
    if (layers.size() != 1)
        return bad(fmt::format("the bent side is to have {} layers, wanted one", layers.size()),
                   "give its whole thickness");
    if (rank_of(request, body.side) < static_cast<int>(request.through.size()))
        return bad("through names the bent side, wanted caps",
                   "caps that are not named lie inside the side: leave it out");
    body.wall_mm = layers.front();
    GAPWRIGHT_CHECK(check_wall(body.wall_mm, body.side));
    const double more = request.sizes_are_inside ? body.first.thickness_mm() + body.second.thickness_mm() : 0.0;
    body.depth_mm = length + more;
    body.view = prism_view(is_prism ? request.along : PrismAlong::Depth, body.depth_mm).frame;
    Point2 lo{};
    if (is_prism) {
        const double wall = body.wall_mm;
        GAPWRIGHT_TRY(outer, parallel_outline(*request.outline, request.sizes_are_inside ? -wall : 0.0));
        GAPWRIGHT_TRY(inner, parallel_outline(*request.outline, request.sizes_are_inside ? 0.0 : wall));
        body.outer = outer;
        body.inner = inner;
        lo = {-extent(outer, {-1, 0}), -extent(outer, {0, -1})};
    } else {
        body.is_cone = true;
        const double near = size(BoxSize::Diameter) / 2.0, far = size.or_else(BoxSize::BackDiameter, 2.0 * near) / 2.0;
        body.radius_mm = near;
        body.far_radius_mm = far;
        if (request.sizes_are_inside) {
            // Radii of the inside at the caps' inner faces: the slope is the same outside.
            const double slope = (near - far) / length, wall = body.wall_mm * std::hypot(1.0, slope);
            body.radius_mm = near + slope * body.first.thickness_mm() + wall;
            body.far_radius_mm = body.radius_mm - slope * body.depth_mm;
        }
        const double r = std::max(body.radius_mm, body.far_radius_mm);
        lo = {-r, -r};
    }
    body.view.origin -= body.view.x * lo.x + body.view.z * lo.y;
    GAPWRIGHT_CHECK(check_names(request, {body.first.name, body.second.name, body.side}));
    if (request.baffle == body.side)
        return bad("baffle names the bent side, wanted a plane one", known_sides({body.first.name, body.second.name}));
    GAPWRIGHT_CHECK(check_round(body));
    return body;
}

Result<BareBox> round_box(const BoxRequest& request, const RoundBody& body) {
    GAPWRIGHT_TRY(box, solids_of(body));
    const bool on_first = request.baffle == body.first.name;
    const RoundCap& cap = on_first ? body.first : body.second;
    const Point3 far = body.view.origin + body.view.y * body.depth_mm;
    box.baffle = {on_first ? body.view.origin : far, on_first ? -body.view.y : body.view.y};
    if (!body.is_cone) {
        // The outlines as the box frame of the baffle has them, which looks at it from outside.
        const Frame frame = space::box_frame(box.baffle, request.enclosure.up);
        const auto outline = [&](const RingOutline& drawn) {
            Loop loop;
            for (const Point2 p : loop_of(drawn, 0.01)) {
                const Point3 q = frame.to_local(body.view.to_parent({p.x, 0.0, p.y}));
                loop.push_back({q.x, q.z});
            }
            if (signed_area(loop) < 0.0) std::reverse(loop.begin(), loop.end());
            return Outline(std::move(loop));
        };
        box.baffle.point = middle_of(box.baffle, request.enclosure.up, outline(body.outer), outline(body.inner));
    }
    box.baffle_mm = cap.thickness_mm();
    box.sides = {{body.first.name, Plane{body.view.origin + body.view.y * body.first.thickness_mm(), -body.view.y},
                  body.first.thickness_mm()},
                 {body.second.name, Plane{far - body.view.y * body.second.thickness_mm(), body.view.y},
                  body.second.thickness_mm()},
                 {body.side, std::nullopt, body.wall_mm}};
    box.distance_mm = distance_to(body, false);
    box.air_mm = distance_to(body, true);
    const auto grow = [&](Point2 p) {
        box.box.grow(body.view.to_parent({p.x, 0, p.y}));
        box.box.grow(body.view.to_parent({p.x, body.depth_mm, p.y}));
    };
    if (body.is_cone) {
        const double r = std::max(body.radius_mm, body.far_radius_mm);
        grow({-r, -r});
        grow({r, r});
    } else {
        grow({-extent(body.outer, {-1, 0}), -extent(body.outer, {0, -1})});
        grow({extent(body.outer, {1, 0}), extent(body.outer, {0, 1})});
    }
    return box;
}

/// Checks the sizes and hands the body, of plane sides or round, to one of two functions.
template <class Plane, class Round>
auto with_body(const BoxRequest& request, Plane&& of_plane, Round&& of_round)
    -> decltype(of_plane(std::declval<const PlaneBody&>())) {
    for (const auto& [size, length] : request.sizes)
        if (!(length.mm() >= 1.0))
            return bad(fmt::format("{} is {} mm, wanted at least 1", name_of(size), plain_number(length.mm())),
                       "give a larger size");
    const auto plane = [&](std::vector<PlaneSide> sides) -> decltype(of_plane(std::declval<const PlaneBody&>())) {
        GAPWRIGHT_TRY(body, plane_body(request, std::move(sides)));
        return of_plane(body);
    };
    switch (request.shape) {
        case BoxShape::Rectangular:
        case BoxShape::Wedge:
            return plane(block_sides(request));
        case BoxShape::NosedWedge:
            if (const Sizes size(request); size(BoxSize::Nose) >= size(BoxSize::Height))
                return bad(fmt::format("nose is {} mm and the height {} mm, wanted a nose lower than the height",
                                       plain_number(size(BoxSize::Nose)), plain_number(size(BoxSize::Height))),
                           "the front slopes from the nose up to the top");
            return plane(nosed_sides(request));
        case BoxShape::Prism:
            EXPECTS(request.outline.has_value());
            if (is_polygon(*request.outline)) return plane(prism_sides(request));
            break;
        case BoxShape::Cylinder:
        case BoxShape::Frustum:
            break;
    }
    GAPWRIGHT_TRY(body, round_body(request));
    return of_round(body);
}

}  // namespace

std::string name_of(BoxSize size) {
    switch (size) {
        case BoxSize::Width:
            return "width";
        case BoxSize::Height:
            return "height";
        case BoxSize::Depth:
            return "depth";
        case BoxSize::TopWidth:
            return "top_width";
        case BoxSize::TopDepth:
            return "top_depth";
        case BoxSize::Nose:
            return "nose";
        case BoxSize::Diameter:
            return "diameter";
        case BoxSize::BackDiameter:
            break;
    }
    return "back_diameter";
}

Result<BareBox> bare_box(const BoxRequest& request) {
    return with_body(
        request, [&](const PlaneBody& body) { return plane_box(request, body); },
        [&](const RoundBody& body) { return round_box(request, body); });
}

Result<Volume> inside_of(const BoxRequest& request) {
    return with_body(
        request, [](const PlaneBody& body) -> Result<Volume> { return Volume::mm3(volume_mm3(body, true)); },
        [](const RoundBody& body) -> Result<Volume> { return Volume::mm3(volume_mm3(body, true)); });
}

}  // namespace geom::parts

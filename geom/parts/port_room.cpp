// Whether a port has room: in the planes of the baffle by its sections, behind it by the signed distance to the duct,
// whose least over walls and over what the driver takes is sought on their triangles.
#include "geom/parts/port.h"

#include "geom/core/text.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/clearance.h"
#include "geom/parts/capacity.h"
#include "geom/parts/driver_body.h"
#include "geom/parts/internal/port_plan.h"

#include <fmt/format.h>
#include <BRepBuilderAPI_Copy.hxx>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <numbers>
#include <optional>

namespace geom::parts {
namespace {

constexpr double kEdge_mm = 0.3;         // between a hole and the edge of the face it comes out of
constexpr double kLigament_mm = 1.0;     // between two holes
constexpr double kBeside_mm = 2.0;       // air beside the tube: to see and to clean it
constexpr double kOnFront_mm = 0.05;     // what lies no deeper is the inner face itself
constexpr double kStep_mm = 1.0;         // between places of a bent tube that are held against the mouth
constexpr double kBehindBolt_mm = 15.0;  // nut and end of a driver's bolt behind the baffle [common practice]
constexpr double kUnknownDepth_mm = 1000.0;
constexpr double kLeastDiameter_mm = 15.0;
constexpr double kSlack_mm = 0.02, kWallSlack_mm = 0.1;
constexpr double kTold_mm = 1.0;  // a length that is told as fitting fits with this much more

const char* const kMove = "move [enclosure] port.at, or take a smaller diameter";
const char* const kMoveSlot = "move [enclosure] port.at, or take a smaller slot";

/// The air's bounds without the baffle's inner face.
Result<TriMesh> inner_walls(const Site& site, double front_mm, const TopoDS_Solid& air) {
    // A copy: meshing writes to the shape.
    const TopoDS_Shape copy = BRepBuilderAPI_Copy(air).Shape();
    GAPWRIGHT_TRY(mesh, measure::tessellate(to_brep(copy), Length::mm(0.1), site.context));
    std::erase_if(mesh.triangles, [&](const auto& t) {
        return std::all_of(t.begin(), t.end(),
                           [&](std::uint32_t v) { return site.depth(mesh.vertices[v]) < front_mm + kOnFront_mm; });
    });
    return std::move(mesh);
}

/// What radius and depth behind the bare outer face sweep about an axis across the baffle.
TriMesh revolved(const Site& site, Point2 centre, const std::vector<std::array<double, 2>>& profile) {
    constexpr std::uint32_t kRound = 128;
    TriMesh mesh;
    for (const auto& [radius, depth] : profile)
        for (std::uint32_t i = 0; i < kRound; ++i) {
            const double t = 2.0 * std::numbers::pi * i / kRound;
            mesh.vertices.push_back(site.at(centre + Point2{radius * std::cos(t), radius * std::sin(t)}, depth));
        }
    for (std::uint32_t k = 0; k + 1 < profile.size(); ++k)
        for (std::uint32_t i = 0; i < kRound; ++i) {
            const std::uint32_t a = k * kRound + i, b = k * kRound + (i + 1) % kRound;
            mesh.triangles.push_back({a, b, b + kRound});
            mesh.triangles.push_back({a, b + kRound, a + kRound});
        }
    return mesh;
}
TriMesh cylinder(const Site& site, Point2 centre, double radius, double from_mm, double to_mm) {
    return revolved(site, centre, {{0.0, from_mm}, {radius, from_mm}, {radius, to_mm}, {0.0, to_mm}});
}

/// What the port keeps off behind the baffle, beside the walls.
struct Taken {
    std::string what;
    TriMesh surface;
    double tube_mm = 0.0;     ///< wanted beside the tube
    bool blocks_way = false;  ///< may not stand before the inner end either
};

std::vector<Taken> taken_by(const Site& site, const PortPlan& plan, const DriverPlan& driver,
                            const DriverMount& mount) {
    std::vector<Taken> taken;
    const double seat_mm = driver.seat_depth_mm, back_mm = driver.form.back_mm;
    if (!driver.form.back.empty()) {
        std::vector<std::array<double, 2>> profile;
        for (const ProfilePoint& p : driver.form.back) profile.push_back({p.radius_mm, p.depth_mm});
        profile.push_back({0.0, driver.form.back.back().depth_mm});
        taken.push_back({"the back of the driver's dish", revolved(site, driver.centre, profile), kLigament_mm, true});
    }
    if (const auto body = driver_body(mount, site.plane(seat_mm), back_mm - seat_mm)) {
        const double from_mm = site.depth(body->seat);  // where its depths begin
        std::vector<std::array<double, 2>> profile{{0.0, from_mm + body->from_mm}};
        for (const auto& [radius, depth] : body->profile) profile.push_back({radius, from_mm + depth});
        const char* what = body->is_cone ? "the room of the driver's cone" : "the driver's body";
        taken.push_back({what, revolved(site, driver.centre, profile), kBesideDriver_mm, true});
        if (body->flange_radius_mm > 0.0)
            taken.push_back({"the driver's flange",
                             cylinder(site, driver.centre, body->flange_radius_mm, from_mm - body->flange_mm, from_mm),
                             kBesideDriver_mm, true});
        const double rear = from_mm + body->depth_mm();
        if (!body->is_cone)
            taken.push_back({"what stays free behind the driver's magnet",
                             cylinder(site, driver.centre, body->magnet_radius_mm(), rear, rear + kBehindMagnet_mm),
                             0.0, false});
    } else if (!mount.is_turned && !plan.path.is_straight()) {
        taken.push_back({"the driver, whose mounting_depth is not given,",
                         cylinder(site, driver.centre, driver.cutout_radius_mm, back_mm, kUnknownDepth_mm),
                         kBesideDriver_mm, true});
    }
    for (const Hole& bolt : driver.bolts)
        if (bolt.is_through && !plan.path.is_straight())
            taken.push_back({"a driver's bolt behind the baffle",
                             cylinder(site, bolt.centre, 2.0 * bolt.radius_mm, back_mm, back_mm + kBehindBolt_mm),
                             kLigament_mm, false});
    return taken;
}

/// What a port of the request's tuning is solved for: the net volume, or what the box will hold with it.
Volume volume_behind(const EnclosureRequest& request) {
    return request.asks_volume ? request.net_volume : request.net_volume + features_volume(request);
}

/// The tuned length of the request's port; none where it ends in the baffle or in its bend.
std::optional<Length> tuned_length(EnclosureRequest request) {
    request.port->length.reset();
    if (request.asks_volume) {
        const auto length = port_length(request, request.net_volume);
        return length ? std::optional<Length>(*length) : std::nullopt;
    }
    // The tube takes of the volume that it is solved for: little, so that two rounds do.
    std::optional<Length> found;
    for (int round = 0; round < 3; ++round) {
        const Volume net = volume_behind(request);
        if (net.mm3() <= 0.0) return std::nullopt;
        EnclosureRequest tuned = request;
        tuned.port->length.reset();
        const auto length = port_length(tuned, net);
        if (!length) return std::nullopt;
        found = request.port->length = *length;
    }
    return found;
}

/// The plan with another port of the same place.
PortPlan planned(const Site& site, const PortPlan& asked, const EnclosureRequest& request, double length_mm) {
    PortPlan plan = asked;
    plan.inside = port_inside(*request.port);
    plan.outside = plan.inside.grown(request.port->wall.mm());
    plan.path = port_path(request, site.plane(0.0), Length::mm(length_mm));
    plan.free_way_mm = request.port->free_way.value_or(Length::mm(plan.inside.hydraulic_mm())).mm();
    return plan;
}

/// How far along the port a place lies, seen from its inner end.
double station_of(const PortPlan& plan, Point3 p) {
    const DuctPath::Place end = plan.path.end();
    return plan.length_mm() + dot(p - end.at, end.along);
}

/// What is left from a section about the port's axis to the edge of an outline that holds its middle.
double left_to_edge(const Outline& outline, Point2 centre, const DuctSection& section) {
    if (!outline.contains(centre))
        return outline.depth(centre) - std::min(section.half_width_mm, section.half_height_mm);
    // Along a straight piece the distance to a convex section is convex.
    const Loop& loop = outline.loop();
    double least = 1e300;
    for (std::size_t i = 0; i < loop.size(); ++i) {
        const Point2 a = loop[i] - centre, b = loop[(i + 1) % loop.size()] - centre;
        const auto at = [&](double t) {
            const Point2 p = a + (b - a) * t;
            return section.distance_to(p.x, p.y);
        };
        double lo = 0.0, hi = 1.0;
        if (std::min(at(lo), at(hi)) - norm(b - a) > least) continue;
        for (int k = 0; k < 60; ++k) {
            const double third = (hi - lo) / 3.0;
            (at(lo + third) < at(hi - third) ? hi : lo) += at(lo + third) < at(hi - third) ? -third : third;
        }
        least = std::min({least, at(0.0), at(1.0), at((lo + hi) / 2.0)});
    }
    return least;
}

/// What a port lacks, and which of its sizes matters.
struct Miss {
    enum class Of { Place, Length, Way };
    Fault fault;
    Of of = Of::Place;
};
using Missed = std::optional<Miss>;

class PortRoom {
public:
    PortRoom(const Site& site, const PortPlan& plan) : site_(site), plan_(plan), at_(site.at(plan.centre, 0.0)) {}

    Status inside(const Outline& outline, const DuctSection& section, double wanted, const std::string& what,
                  const std::string& of) const {
        const double left = left_to_edge(outline, plan_.centre, section);
        if (left >= wanted) return Done{};
        double over = -left;
        for (const auto& [x, y] : section.border(kStep_mm))
            over = std::max(over, -outline.depth(plan_.centre + Point2{x, y}));
        return impossible(fmt::format("port: {} of {} {} the edge of {}, wanted {}{}", what, size_text(section),
                                      left < 0.0 ? fmt::format("stands {:.1f} mm over", over)
                                                 : fmt::format("leaves {:.1f} mm to", left),
                                      of, plain_number(wanted), left < 0.0 ? " inside it" : ""),
                          move(), at_);
    }

    /// Of a circle in the plane of a section.
    Status beside(Point2 other, double radius, const DuctSection& own, double wanted, const std::string& what) const {
        const Point2 d = other - plan_.centre;
        if (auto miss = keeps(own.distance_to(d.x, d.y) - radius, wanted, what, at_, Miss::Of::Place))
            return std::move(miss->fault);
        return Done{};
    }

    /// The whole of a bent tube goes through the mouth with the baffle, seen along the baffle's normal.
    Status goes_through(const Outline& mouth) const {
        double least = 1e300;
        Point3 at;
        look_along(plan_.path, plan_.outside, plan_.back_mm, [&](Point3 p) {
            if (const double left = mouth.depth(site_.flat(p)); left < least) least = left, at = p;
        });
        if (least >= kBeside_mm) return Done{};
        return impossible(
            fmt::format(
                "port: its bent tube {} the edge of what it goes in through with the baffle, wanted {}{}",
                least < 0.0 ? fmt::format("stands {:.1f} mm over", -least) : fmt::format("leaves {:.1f} mm to", least),
                plain_number(kBeside_mm), least < 0.0 ? " inside it" : ""),
            "turn [enclosure] port.bend.towards along the mouth's longer way, move port.at back from there, or take a "
            "wider and shorter port; an integral baffle lets it run past the mouth",
            at);
    }

    /// The way before the inner end does not end at the flange, as deep as that is.
    Missed passes_flange(const Outline& mouth, double flange_back_mm) const {
        const DuctPath way = plan_.path.way_on(plan_.free_way_mm);
        double free = plan_.free_way_mm;
        Point3 at;
        look_along(way, plan_.inside, 0.0, [&](Point3 p) {
            if (site_.depth(p) > flange_back_mm || mouth.depth(site_.flat(p)) >= 0.0) return;
            if (const double on = dot(p - way.start, way.along); on < free) free = on, at = p;
        });
        if (free >= plan_.free_way_mm) return std::nullopt;
        return little_way(std::max(0.0, free), at);
    }

    Missed keeps_off(const Taken& thing) const {
        const auto tube = measure::least_on_mesh(
            thing.surface, [&](Point3 p) { return plan_.solid_mm(p); }, kSlack_mm, measure::DistanceKind::Any,
            thing.tube_mm);
        if (auto miss = keeps(tube.value, thing.tube_mm, thing.what, tube.at, Miss::Of::Length)) return miss;
        if (!thing.blocks_way || plan_.free_way_mm <= 0.0) return std::nullopt;
        const auto way = measure::least_on_mesh(
            thing.surface, [&](Point3 p) { return plan_.way_mm(p, plan_.free_way_mm); }, kSlack_mm,
            measure::DistanceKind::Any, 0.0);
        return keeps(way.value, 0.0, thing.what + ", before its inner end", way.at, Miss::Of::Way);
    }

    Missed within(const TriMesh& walls) const {
        const auto least = measure::least_on_mesh(
            walls, [&](Point3 p) { return plan_.solid_mm(p); }, kWallSlack_mm, measure::DistanceKind::Any, kBeside_mm);
        if (least.value < kBeside_mm)
            return Miss{
                impossible(fmt::format("port: its tube {} the inner wall or what stands in the box, wanted {}{}",
                                       left_text(least.value), plain_number(kBeside_mm),
                                       least.value < 0.0 ? " between them" : ""),
                           move(), least.at),
                least.value < -least_half() / 2.0 ? Miss::Of::Length : Miss::Of::Place};
        if (plan_.free_way_mm <= 0.0) return std::nullopt;
        const auto left_with = [&](double way) {
            return measure::least_on_mesh(
                walls, [&](Point3 p) { return plan_.way_mm(p, way); }, kWallSlack_mm, measure::DistanceKind::Any, 0.0);
        };
        const auto met = left_with(plan_.free_way_mm);
        if (met.value >= 0.0) return std::nullopt;
        double lo = 0.0, hi = plan_.free_way_mm;
        while (hi - lo > 0.1) {
            const double mid = (lo + hi) / 2.0;
            (left_with(mid).value >= 0.0 ? lo : hi) = mid;
        }
        return little_way(lo, met.at);
    }

    /// What a check missed, with what would make it pass where a length or a way is the cause: each was tried by the
    /// same check.
    Status told(const std::function<Missed(const PortRoom&)>& check) const {
        Missed miss = check(*this);
        if (!miss) return Done{};
        if (miss->of == Miss::Of::Place) return std::move(miss->fault);
        const Port& port = *site_.request.port;
        std::vector<std::string> ways;
        // A way that was given longer than it is by practice is looked at first: the port itself may be right.
        const bool is_long_way =
            miss->of == Miss::Of::Way && port.free_way && *port.free_way > Length::mm(plan_.inside.hydraulic_mm());
        if (is_long_way) {
            EnclosureRequest usual = site_.request;
            usual.port->free_way.reset();
            const std::optional<Length> tuned = port.tuning_hz > 0.0 ? tuned_length(usual) : std::nullopt;
            const double length_mm = tuned ? tuned->mm() : plan_.length_mm();
            ways.push_back(fmt::format("[enclosure] port.free_way is given as {} mm: {} mm are common practice{}",
                                       plain_number(port.free_way->mm()),
                                       plain_number(rounded(plan_.inside.hydraulic_mm(), 1)),
                                       passes(check, usual, length_mm) ? ", and free there: leave it out" : ""));
        } else {
            std::string shorter = port.tuning_hz > 0.0 ? narrower_port(check, *miss->fault.where)
                                                       : shorter_port(check, *miss->fault.where);
            if (!shorter.empty()) ways.push_back(std::move(shorter));
            if (miss->of == Miss::Of::Way) ways.push_back("[enclosure] port.free_way asks for less");
        }
        if (miss->of == Miss::Of::Length || ways.size() == 1)
            ways.push_back(std::string("move [enclosure] port.at to where the box has more room") +
                           (port.tuning_hz > 0.0 ? ", or tune it higher" : ""));
        miss->fault.hint = join(ways);
        return std::move(miss->fault);
    }

private:
    using Check = std::function<Missed(const PortRoom&)>;

    static std::string join(const std::vector<std::string>& ways) {
        std::string text;
        for (const std::string& way : ways) text += (text.empty() ? "" : "; ") + way;
        return text;
    }
    static std::string left_text(double left) {
        return left < 0.0 ? fmt::format("reaches {:.1f} mm into", -left) : fmt::format("leaves {:.1f} mm to", left);
    }
    std::string move() const { return plan_.inside.is_round() ? kMove : kMoveSlot; }
    double least_half() const { return std::min(plan_.inside.half_width_mm, plan_.inside.half_height_mm); }

    bool passes(const Check& check, const EnclosureRequest& request, double length_mm) const {
        const Site site(site_.bodies, site_.room, request, site_.context, site_.surface);
        const PortPlan plan = planned(site, plan_, request, length_mm + kTold_mm);
        return !check(PortRoom(site, plan));
    }

    /// The widest port of the same tuning that passes, in words; empty where none does.
    std::string narrower_port(const Check& check, Point3 met) const {
        constexpr int kTries = 5;
        const Port& asked = *site_.request.port;
        EnclosureRequest request = site_.request;
        const auto length_of = [&](double times) {
            request.port = scaled(asked, times);
            return tuned_length(request);
        };
        const double station = station_of(plan_, met);
        const auto is_near_enough = [&](double times) {
            const auto length = length_of(times);
            return (length ? length->mm() : least_port_mm(request)) + port_inside(*request.port).hydraulic_mm() <=
                   station - kTold_mm;
        };
        const double across = 2.0 * least_half();
        const double least = std::min(1.0, (asked.slot ? kLeastDiameter_mm / 3.0 : kLeastDiameter_mm) / across);
        double lo = least, hi = 1.0;
        if (!is_near_enough(lo)) return {};
        for (int i = 0; i < 40; ++i) {
            const double mid = (lo + hi) / 2.0;
            (is_near_enough(mid) ? lo : hi) = mid;
        }
        // By half millimetres, and ever more of them where other sides than the one met are in the way.
        double now = std::floor(lo * across * 2.0) / 2.0, step = 0.5;
        for (int i = 0; i < kTries && now / across >= least; ++i, now -= step, step *= 2.0) {
            const double times = now / across;
            const auto length = length_of(times);
            if (!length || !check_port_form(request) || !passes(check, request, length->mm())) continue;
            return fmt::format("{}, {:.0f} mm long, would fit there; its air is {:.2g} times as fast",
                               port_text(*request.port), length->mm(), 1.0 / (times * times));
        }
        return {};
    }

    /// The longest port of a given length that passes, in words; empty where none does.
    std::string shorter_port(const Check& check, Point3 met) const {
        constexpr int kTries = 7;
        double lo = least_port_mm(site_.request), hi = std::min(plan_.length_mm(), station_of(plan_, met));
        if (hi <= lo || !passes(check, site_.request, lo)) return {};
        for (int i = 0; i < kTries; ++i) {
            const double mid = (lo + hi) / 2.0;
            (passes(check, site_.request, mid) ? lo : hi) = mid;
        }
        // Down to half a millimetre, unless that ends in the bend.
        const double whole = std::floor(2.0 * lo) / 2.0;
        if (whole < least_port_mm(site_.request)) return {};
        return fmt::format("[enclosure] port.length of {} mm would fit there", plain_number(whole));
    }

    Missed keeps(double left, double wanted, const std::string& what, Point3 at, Miss::Of of) const {
        if (left >= wanted) return std::nullopt;
        return Miss{impossible(fmt::format("port: it {} {}, wanted {}{}", left_text(left), what, plain_number(wanted),
                                           left < 0.0 ? " between them" : ""),
                               move(), at),
                    of};
    }

    Miss little_way(double free_mm, Point3 at) const {
        const std::string practice = plan_.inside.is_round() ? " (its diameter, common practice)"
                                                             : " (four areas over its border, common practice)";
        return {impossible(fmt::format("port: before its inner end {:.1f} mm are free, wanted {}{}", free_mm,
                                       plain_number(rounded(plan_.free_way_mm, 1)),
                                       site_.request.port->free_way ? "" : practice),
                           move(), at),
                Miss::Of::Way};
    }

    /// Places of the duct's border from a station to its end.
    template <class Look>
    void look_along(const DuctPath& path, const DuctSection& section, double from_mm, const Look& look) const {
        const auto border = section.border(kStep_mm);
        const int n = std::max(1, static_cast<int>(std::ceil((path.length_mm - from_mm) / kStep_mm)));
        for (int i = 0; i <= n; ++i) {
            const DuctPath::Place place = path.at(from_mm + (path.length_mm - from_mm) * i / n);
            for (const auto& [x, y] : border) look(place.at + place.right * x + place.up * y);
        }
    }

    const Site& site_;
    const PortPlan& plan_;
    Point3 at_;
};

}  // namespace

Status check_port(const Site& site, const PortPlan& plan, const Outline& flat, const Outline& back,
                  const std::string& back_name, const Outline& inner, const DriverPlans& drivers,
                  const std::vector<Hole>& screws, const TopoDS_Solid& air) {
    const PortRoom room(site, plan);
    GAPWRIGHT_CHECK(room.inside(flat, plan.front(), kEdge_mm, "its mouth", "the flat of the baffle"));
    GAPWRIGHT_CHECK(room.inside(back, plan.outside, kEdge_mm, "its tube", "the " + back_name));
    GAPWRIGHT_CHECK(room.inside(inner, plan.outside, kBeside_mm, "its tube", "what it goes in through"));
    const std::vector<DriverMount> mounts = site.request.drivers();
    for (std::size_t i = 0; i < drivers.size(); ++i) {
        const DriverPlan& driver = *drivers[i];
        GAPWRIGHT_CHECK(
            room.beside(driver.centre, driver.front_radius_mm(), plan.front(), kLigament_mm, "the driver's flange"));
        GAPWRIGHT_CHECK(
            room.beside(driver.centre, driver.back_radius_mm(), plan.outside, kLigament_mm, "the driver's cut-out"));
        for (const Hole& bolt : driver.bolts)
            GAPWRIGHT_CHECK(room.beside(bolt.centre, bolt.radius_mm, plan.outside, kLigament_mm, "a driver's screw"));
        for (const Taken& thing : taken_by(site, plan, driver, mounts[i]))
            GAPWRIGHT_CHECK(room.told([&](const PortRoom& other) { return other.keeps_off(thing); }));
    }
    // Heads stand on the outer face.
    for (const Hole& screw : screws)
        GAPWRIGHT_CHECK(
            room.beside(screw.centre, 2.0 * screw.radius_mm, plan.front(), kLigament_mm, "a screw of the baffle"));
    if (site.request.baffle.separate && !plan.path.is_straight()) {
        GAPWRIGHT_TRY(flange, rim_flange(site.request));
        GAPWRIGHT_CHECK(room.goes_through(inner));
        GAPWRIGHT_CHECK(room.told(
            [&](const PortRoom& other) { return other.passes_flange(inner, plan.back_mm + flange.thickness_mm); }));
    }
    GAPWRIGHT_TRY(walls, inner_walls(site, plan.back_mm, air));
    return room.told([&](const PortRoom& other) { return other.within(walls); });
}

}  // namespace geom::parts

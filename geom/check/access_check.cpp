// Each bolt's tool goes in along the bolt: from the head's seat outward it wants a straight cylinder. What it may meet
// is what is in place when that bolt goes in, in the order plate, box, baffle, driver: the written meshes of those
// products, the heads of the bolts that are in by then, the scan's samples, and the keep-outs where they stand while
// the box goes in; beside a driver's own screws its basket and magnet. A driver from behind goes onto its baffle on the
// bench, where nothing else is. What lies before the seat's own plane does not count, as the head presses there; beyond
// what was scanned all is free.
#include "geom/check/internal/case.h"
#include "geom/check/internal/keep_out_distance.h"
#include "geom/check/internal/moving_keep_out.h"
#include "geom/check/internal/straight_room.h"

#include "geom/fixings/threads.h"
#include "geom/measure/clearance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

namespace geom::check {

namespace {

using parts::BoltMade;
using parts::Step;

constexpr double kOverSeat_mm = 0.1;    // of the room's foot: the seat itself is no obstacle
constexpr double kTouch_mm = 0.1;       // a recess as wide as the tool, in chords of the mesh
constexpr double kLook_mm = 10.0;       // beside the room; what is farther off is not told apart
constexpr double kPosedSlack_mm = 0.1;  // between the poses of a keep-out that may stand in any
constexpr double kAlong = 0.999;        // cosine, of a room along a driver's axis
constexpr double kHeadSlope = 0.5;      // height of a head that no table knows, in its diameter

struct Bolt {
    const BoltMade* made = nullptr;
    std::string line;  ///< name of its check
    bool has_washer = false;
    Vec3 slot_half{};  ///< from the middle of a slot to its end: the bolt may stand anywhere between
};

struct Met {
    RoomMet room;
    std::string what;
};

/// In whose way a bolt's tool may be.
class InPlace {
public:
    InPlace(const Case& c, const std::vector<Bolt>& bolts) : c_(c), bolts_(bolts) {
        for (const Bolt& bolt : bolts) {
            if (bolt.made->step == Step::PlateOnVehicle) plates_.insert(bolt.made->product);
            heads_.push_back(head_of(bolt));
        }
        for (const space::KeepOut& keep_out : c.request.room.keep_outs) keep_outs_.push_back(ready(keep_out));
        const auto inside = bodies_in_box(c), before = bodies_before_box(c);
        for (std::size_t i = 0; i < inside.size(); ++i) {
            const bool from_behind = c.request.drivers()[i].from_behind;
            for (const auto* body : {&inside[i], &before[i]})
                if (*body && !(*body)->is_cone) drivers_.push_back({**body, from_behind});
        }
    }

    Met least(const Bolt& bolt) const {
        Met least = least_at(bolt, bolt.made->head_seat);
        if (norm(bolt.slot_half) > 0.0)
            for (const double end : {-1.0, 1.0}) {
                const Met there = least_at(bolt, bolt.made->head_seat + bolt.slot_half * end);
                if (there.room.left_mm < least.room.left_mm) least.what = there.what + ", at the slot's end";
                least.room.take(there.room);
            }
        return least;
    }

private:
    Met least_at(const Bolt& bolt, Point3 seat) const {
        const BoltMade& made = *bolt.made;
        const StraightRoom room{seat, -unit(made.axis), made.tool.diameter.mm() / 2.0, kOverSeat_mm,
                                std::max(made.tool.length.mm(), kOverSeat_mm)};
        Met least;
        const auto take = [&](const RoomMet& met, const std::string& what) {
            if (met.left_mm < least.room.left_mm) least.what = what;
            least.room.take(met);
        };
        for (const ReadBack& r : c_.products)
            if (is_in_place(*r.product, made.step))
                take(met_by_mesh(room, r.mesh, kLook_mm), "the " + r.product->name + " itself");
        for (std::size_t i = 0; i < bolts_.size(); ++i)
            if (bolts_[i].made != bolt.made && is_in(bolts_[i].made->step, made.step) && !heads_[i].triangles.empty())
                take(met_by_mesh(room, heads_[i], kLook_mm), "the head of " + bolts_[i].made->name);
        for (const Driver& driver : drivers_)
            if (is_in(driver.from_behind ? Step::DriverBehindBaffle : Step::DriverOnBaffle, made.step))
                take(met_by_driver(room, driver.body), "a driver's basket or magnet");
        if (made.step == Step::DriverBehindBaffle) return least;
        RoomMet scanned;
        for (const Point3& p : c_.surface.points) scanned.take(met_by_point(room, p));
        take(scanned, "the scanned surface");
        for (const KeepOut& k : keep_outs_) take(met_by_keep_out(room, k), k.what);
        return least;
    }

    struct KeepOut {
        const space::KeepOut* given = nullptr;
        std::string what;
        std::optional<space::SphereShape> ball;
        TriMesh mesh;
        bool has_inside = false;
        bool stands_anywhere = false;  ///< on its motion
    };

    struct Driver {
        parts::DriverBody body;
        bool from_behind = false;
    };

    /// Whether what goes in at a step is in when another is made. The baffle brings what was put on it on the bench.
    static bool is_in(Step done, Step now) {
        if (done != Step::DriverBehindBaffle) return done <= now;
        return now == Step::DriverBehindBaffle || now >= Step::BaffleOnBox;
    }

    /// A body whose axis runs along the room: beside its widest circle within the room's length.
    static RoomMet met_by_driver(const StraightRoom& room, const parts::DriverBody& body) {
        const double along = dot(room.out, body.backward);
        if (std::abs(along) < kAlong) return {};
        const auto [beside, foot] = body.flat(room.at(0.0));
        const double a = foot + along * room.from_mm, b = foot + along * room.to_mm, lo = std::min(a, b),
                     hi = std::max(a, b);
        double widest = 0.0, at = lo;
        const auto take = [&](double depth, double radius) {
            if (depth >= lo && depth <= hi && radius > widest) widest = radius, at = depth;
        };
        for (std::size_t i = 0; i + 1 < body.profile.size(); ++i) {
            const auto [r0, h0] = body.profile[i];
            const auto [r1, h1] = body.profile[i + 1];
            take(h0, r0);
            take(h1, r1);
            for (const double end : {lo, hi})
                if (h1 > h0 && end > h0 && end < h1) take(end, r0 + (r1 - r0) * (end - h0) / (h1 - h0));
        }
        RoomMet met;
        if (widest <= 0.0) return met;
        met.left_mm = beside - widest - room.radius_mm;
        met.at = body.seat + body.backward * at;
        if (met.left_mm < 0.0) met.first_mm = std::abs(at - foot);
        return met;
    }

    bool is_in_place(const parts::Product& product, Step step) const {
        if (product.is_tool) return false;
        if (step == Step::DriverBehindBaffle) return product.name == "baffle";
        if (step == Step::PlateOnVehicle) return plates_.contains(product.name);
        const bool is_front = c_.request.baffle.separate && product.name == "baffle";
        return !is_front || step == Step::BaffleOnBox || step == Step::DriverOnBaffle;
    }

    TriMesh head_of(const Bolt& bolt) const {
        const BoltMade& made = *bolt.made;
        if (made.hole.sink_mm > 0.0) return {};  // flush with its face
        double across = made.hole.seat_mm, high = 0.0;
        if (const auto thread = fixings::find_thread(made.thread, c_.request.own_threads)) {
            across = std::max(across, thread->socket.diameter_mm);
            high = std::max(thread->socket.height_mm, thread->hexagon.height_mm);
            if (bolt.has_washer) high += thread->washer_thickness_mm;
        }
        if (across <= 0.0) return {};
        if (high <= 0.0) high = kHeadSlope * across;
        return mesh_of(space::CylinderShape{made.head_seat, made.head_seat - unit(made.axis) * high, across / 2.0});
    }

    /// As it stands while the box goes in.
    static KeepOut ready(const space::KeepOut& given) {
        KeepOut k;
        k.given = &given;
        k.what = "keep-out \"" + given.name + "\"";
        if (!given.blocks_tools) return k;
        if (space::is_moving(given.motion)) {
            if (given.on_way_in == space::OnWayIn::None) return k;
            k.stands_anywhere = given.on_way_in == space::OnWayIn::Swept;
            if (k.stands_anywhere) return k;
            const double run = given.on_way_in == space::OnWayIn::From ? 0.0 : space::run_of(given.motion);
            if (const std::string pose = space::pose_text(given.motion, run); !pose.empty()) k.what += ", " + pose;
            take_shape(k, posed(given.shape, given.motion, run));
            return k;
        }
        take_shape(k, given.shape);
        return k;
    }
    static void take_shape(KeepOut& k, const space::KeepOutShape& shape) {
        if (const auto* ball = std::get_if<space::SphereShape>(&shape))
            k.ball = *ball;
        else if (const auto* box = std::get_if<space::BoxShape>(&shape))
            k.mesh = mesh_of(*box);
        else if (const auto* rod = std::get_if<space::CylinderShape>(&shape))
            k.mesh = mesh_of(*rod);
        else
            k.mesh = std::get<TriMesh>(shape);
        k.has_inside = !k.ball && !is_sheet(shape);
    }

    static RoomMet met_by_keep_out(const StraightRoom& room, const KeepOut& k) {
        if (k.ball) return met_by_ball(room, k.ball->centre, k.ball->radius_mm);
        if (k.stands_anywhere) return met_anywhere(room, *k.given);
        if (k.mesh.triangles.empty()) return {};
        RoomMet met = met_by_mesh(room, k.mesh, kLook_mm);
        // The room as a whole within it.
        const Point3 middle = room.at((room.from_mm + room.to_mm) / 2.0);
        if (k.has_inside && met.left_mm >= 0.0 && is_inside(k.mesh, middle))
            met.take({-room.radius_mm, middle, room.from_mm});
        return met;
    }
    static bool is_inside(const TriMesh& mesh, Point3 p) {
        const Aabb box = bounds(mesh);
        for (std::size_t a = 0; a < 3; ++a)
            if (p[a] < box.lo[a] || p[a] > box.hi[a]) return false;
        return measure::TriangleTree(mesh).crossings(p, unit({0.5773, 0.4142, 0.7071})) % 2 == 1;
    }
    /// Over all poses, by the room's own signed distance, which changes no faster than things move.
    static RoomMet met_anywhere(const StraightRoom& room, const space::KeepOut& keep_out) {
        const space::KeepOutShape solid =
            space::CylinderShape{room.at(room.from_mm), room.at(room.to_mm), room.radius_mm};
        const measure::LeastOnMesh least = least_of_poses(
            keep_out,
            [&](const space::KeepOutShape& shape) {
                measure::LeastOnMesh here;
                if (const auto* ball = std::get_if<space::SphereShape>(&shape)) {
                    here.value = distance_to(solid, ball->centre) - ball->radius_mm, here.at = ball->centre;
                    return here;
                }
                KeepOut k;
                take_shape(k, shape);
                here = measure::least_on_mesh(
                    k.mesh, [&](Point3 p) { return distance_to(solid, p); }, kPosedSlack_mm,
                    measure::DistanceKind::Convex);
                const Point3 middle = room.at((room.from_mm + room.to_mm) / 2.0);
                if (here.value > 0.0 && k.has_inside && is_inside(k.mesh, middle))
                    here.value = -room.radius_mm, here.at = middle;
                return here;
            },
            kPosedSlack_mm);
        RoomMet met;
        met.left_mm = least.value, met.at = least.at;
        if (met.left_mm < 0.0) met.first_mm = room.from_mm;
        return met;
    }

    const Case& c_;
    const std::vector<Bolt>& bolts_;
    std::vector<TriMesh> heads_;
    std::vector<KeepOut> keep_outs_;
    std::set<std::string> plates_;
    std::vector<Driver> drivers_;
};

const char* kind_word(parts::FixingKind kind) {
    switch (kind) {
        case parts::FixingKind::Foot:
            return "foot";
        case parts::FixingKind::Sleeve:
            return "sleeve";
        case parts::FixingKind::Plate:
            return "plate";
        case parts::FixingKind::Rim:
            return "rim";
    }
    return "fixing";
}

/// What of the box is there, in words.
std::string state_of(Step step, bool has_baffle) {
    switch (step) {
        case Step::DriverBehindBaffle:
            return "the baffle on the bench, its drivers laid in";
        case Step::PlateOnVehicle:
            return "the plate in place, the box not yet";
        case Step::BoxOnVehicle:
        case Step::BoxOnPlate:
            return has_baffle ? "the box in place, baffle and driver not yet" : "the box in place, the driver not yet";
        case Step::BaffleOnBox:
            return "box and baffle in place, the driver not yet";
        case Step::DriverOnBaffle:
            return "all in place but what comes after the driver";
    }
    return {};
}

std::string group_of(const BoltMade& screw) {
    switch (screw.step) {
        case Step::DriverBehindBaffle:
            return "screws of drivers from behind";
        case Step::DriverOnBaffle:
            return "driver screws";
        case Step::BaffleOnBox:
            return "baffle screws";
        case Step::BoxOnPlate:
            return "screws into the plate";
        case Step::BoxOnVehicle:
            return "screws into the vehicle";
        case Step::PlateOnVehicle:
            return "screws of \"" + screw.product + "\"";
    }
    return "screws";
}

Vec3 slot_half_of(const parts::FixingMade& f) {
    if (!f.use.slot || norm(f.bolt.axis) == 0.0) return {};
    const Vec3 axis = unit(f.bolt.axis), along = f.use.slot->along - axis * dot(f.use.slot->along, axis);
    return unit(along) * (f.use.slot->length.mm() / 2.0);
}

std::vector<Bolt> bolts_of(const parts::Enclosure& e) {
    std::vector<Bolt> bolts;
    for (const parts::FixingMade& f : e.fixings)
        bolts.push_back(
            {&f.bolt, fmt::format("access, {} \"{}\"", kind_word(f.kind), f.name), f.use.has_washer, slot_half_of(f)});
    for (const BoltMade& screw : e.screws) bolts.push_back({&screw, "access, " + group_of(screw), false, {}});
    // Those that no tool's room is known of are not judged.
    std::erase_if(bolts, [](const Bolt& b) { return b.made->tool.length.mm() <= 0.0 || norm(b.made->axis) == 0.0; });
    // Those of one line stand together, where the first of them stood.
    std::map<std::string, std::size_t> first;
    for (std::size_t i = 0; i < bolts.size(); ++i) first.emplace(bolts[i].line, i);
    std::stable_sort(bolts.begin(), bolts.end(),
                     [&](const Bolt& a, const Bolt& b) { return first.at(a.line) < first.at(b.line); });
    return bolts;
}

}  // namespace

void check_access(const Case& c, Verdict& verdict) {
    const std::vector<Bolt> bolts = bolts_of(c.enclosure());
    const InPlace in_place(c, bolts);
    for (std::size_t i = 0; i < bolts.size();) {
        // One line a fixing, one line all screws of a kind, which stand together: the worst of them.
        std::size_t end = i, worst = i, blocked = 0;
        Met least;
        for (; end < bolts.size() && bolts[end].line == bolts[i].line; ++end) {
            const Met met = in_place.least(bolts[end]);
            blocked += met.room.left_mm < -kTouch_mm ? 1 : 0;
            if (end > i && !(met.room.left_mm < least.room.left_mm)) continue;
            worst = end;
            least = met;
        }
        const BoltMade& bolt = *bolts[worst].made;
        std::string who = bolts[i].line;
        const bool is_near = least.room.left_mm < kLook_mm;
        std::string where = is_near ? fmt::format("{}: {}", place(least.room.at), least.what)
                                    : fmt::format("nothing within {} mm", kLook_mm);
        if (end - i > 1)
            where = is_near ? fmt::format("{} of {}, {}", bolt.name, end - i, where)
                            : fmt::format("all {}, {}", end - i, where);
        std::string note = fmt::format(
            "{}; left beside a straight room {:.1f} mm across and {:.1f} mm long from the head's seat, {}; {}touching "
            "within {:.1f} mm is free",
            where, bolt.tool.diameter.mm(), bolt.tool.length.mm(), state_of(bolt.step, c.request.baffle.separate),
            c.surface.points.empty()
                ? std::string()
                : fmt::format("samples of the scan with a stated bound of {:.2f} mm, ", c.surface.bound_mm),
            kTouch_mm);
        const double left = std::min(least.room.left_mm, kLook_mm);
        if (left < -kTouch_mm) {
            note += fmt::format("; {} stands {:.1f} mm into it, and a tool no longer than {:.1f} mm goes in",
                                least.what, -left, least.room.first_mm);
            if (blocked > 1) note += fmt::format("; {} of them are blocked", blocked);
        }
        CheckLine line = at_least(std::move(who), Kind::Fit, left, -kTouch_mm, "mm", std::move(note));
        if (!line.ok) line.place = least.room.at;
        verdict.lines.push_back(std::move(line));
        i = end;
    }
}

}  // namespace geom::check

// The driver's screws, the vehicle's bolts and the grooves, each held against everything that was placed before it.
#include "geom/parts/internal/ring_plan.h"

#include "geom/core/text.h"
#include "geom/parts/internal/outline_pieces.h"
#include "geom/parts/internal/seal.h"
#include "geom/parts/internal/site.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kPast_mm = 1.0;      // of a tool past the face it goes through
constexpr double kEdgePerHole = 1.2;  // from a bolt's centre to an edge
constexpr double kTapeLand_mm = 6.0;  // flat that tape wants [common practice]
constexpr double kBesideHead_mm = 0.5;
constexpr int kRound = 360;  // places round a groove
constexpr int kMostRounds = 12;
constexpr double kWidening = 1.2;  // a groove moves out by so much of what it lacks

class Holes {
public:
    Holes(const RingRequest& request, const RingShape& shape, const RingSides& sides, Angle turn)
        : request_(request), shape_(shape), sides_(sides), wall_(least_wall(request.make.method).mm()) {
        out_.turn = turn;
    }

    Status place_all() {
        GAPWRIGHT_CHECK(place_grooves());
        GAPWRIGHT_CHECK(place_screws());
        for (const RingBolt& bolt : request_.bolts) GAPWRIGHT_CHECK(place_bolt(bolt));
        return Done{};
    }
    RingHoles take() && {
        out_.webs = std::move(webs_.kept);
        return std::move(out_);
    }

private:
    Status place_groove(const RingGroove& groove) {
        const GrooveSize size = *groove_of({.cord = groove.cord});
        const bool on_seat = groove.on == RingGroove::On::Seat;
        const Plane face = on_seat ? Plane{shape_.mouth, -shape_.seat.z} : shape_.rest;
        const std::string name = on_seat ? "the groove in the seat" : "the groove under the flange";
        // A bore that goes over into the opening begins as the driver's round cut-out.
        const bool goes_over = request_.bore == RingRequest::Bore::Opening && !on_seat;
        if (!shape_.has_round_bore && !goes_over)
            return Fault{FaultCode::BadJob, "ring: " + name + " runs round a round bore, and this one is not round",
                         "seal it with tape: take seal_groove out", shape_.mouth, "part"};
        const double mouth = goes_over                                    ? request_.driver.cutout_diameter.mm() / 2.0
                             : on_seat                                    ? shape_.mouth_mm
                             : request_.bore == RingRequest::Bore::Driver ? shape_.bore.radius_mm
                                                                          : shape_.mouth_mm - shape_.flare_mm;
        // A lip comes out of the seat round the bore: the groove lies outside of it.
        const double lip = on_seat && request_.lip
                               ? std::min(request_.seat.opening->width, request_.seat.opening->height).mm() / 2.0
                               : 0.0;
        RingGrooveCut cut{.on = groove.on, .face = face, .depth_mm = size.depth_mm};
        cut.inner_mm = std::max(mouth, lip) + kBesideGroove_mm;
        // Behind the face a slanting bore comes nearer to the groove than in it, and one that goes over may.
        Nearness room = least_room(face, cut);
        for (int round = 0; round < kMostRounds && room.mm < kBesideGroove_mm - 1e-9; ++round) {
            cut.inner_mm += (kBesideGroove_mm + 0.02 - room.mm) * kWidening;
            room = least_room(face, cut);
        }
        GAPWRIGHT_CHECK(webs_.keep(name + " and the bore behind it", room.mm, kBesideGroove_mm, room.at,
                                   "a thinner cord, or tape"));
        cut.outer_mm = cut.inner_mm + size.width_mm;
        RingCut drum{.name = name,
                     .line = bolt_line(face.point, -face.outward, {}),
                     .radius_mm = cut.outer_mm,
                     .from_mm = 0.0,
                     .to_mm = size.depth_mm,
                     .tool_from_mm = 0.0,
                     .tool_to_mm = size.depth_mm};
        drum.line.up = -face.outward;
        if (on_seat)
            GAPWRIGHT_CHECK(
                webs_.keep(drum, sides_.outside, "the outside", kBesideGroove_mm, "a thinner cord, or tape"));
        else
            GAPWRIGHT_CHECK(webs_.keep(name + " and the flange's edge",
                                       request_.driver.flange_diameter.mm() / 2.0 - cut.outer_mm, kBesideGroove_mm,
                                       face.point, "a thinner cord, or tape"));
        out_.notes.push_back(
            fmt::format("{}: {:.2f} mm wide, {:.2f} mm deep, {:.1f} mm across its middle, for a cord of "
                        "{} mm",
                        name, size.width_mm, size.depth_mm, cut.inner_mm + cut.outer_mm, plain_number(size.cord_mm)));
        drums_.push_back(std::move(drum));
        out_.grooves.push_back(cut);
        return Done{};
    }

    /// Between the floor of a groove, on its inner side, and the bore there.
    Nearness least_room(const Plane& face, const RingGrooveCut& groove) const {
        const Frame floor = space::box_frame({face.point - face.outward * groove.depth_mm, face.outward}, request_.up);
        Nearness least{1e300, floor.origin};
        for (int k = 0; k < kRound; ++k) {
            const double a = 2.0 * std::numbers::pi * k / kRound;
            const Point3 p = floor.to_parent({groove.inner_mm * std::sin(a), 0.0, groove.inner_mm * std::cos(a)});
            if (const double room = sides_.bore.room(p); room < least.mm) least = {room, p};
        }
        return least;
    }

    /// A groove or a flare is no deeper than it is: what of a hole lies farther from its floor than has to stay is of
    /// no concern. None: all of the hole does.
    static std::optional<Nearness> left_to_drum(const RingCut& hole, const RingCut& drum, double wanted_mm) {
        const Segment axis = axis_of(hole);
        const double near = drum.to_mm + wanted_mm + hole.radius_mm;
        const double a = drum.line.height(axis.from), b = drum.line.height(axis.to);
        if (std::min(a, b) >= near) return std::nullopt;
        const auto at = [&](double height) {
            const double share = a == b ? 0.0 : std::clamp((height - a) / (b - a), 0.0, 1.0);
            return axis.from + (axis.to - axis.from) * share;
        };
        const Segment low{a < b ? axis.from : at(near), a < b ? at(near) : axis.to};
        const double far = 1e4;
        Nearness beside = nearest(low, {drum.line.at(-far), drum.line.at(far)});
        beside.mm -= drum.radius_mm + hole.radius_mm;
        return beside;
    }

    Status keep_off_grooves(const RingCut& hole, const std::string& hint) {
        for (const RingCut& drum : drums_)
            if (const auto left = left_to_drum(hole, drum, kBesideGroove_mm))
                GAPWRIGHT_CHECK(
                    webs_.keep(hole.name + " and " + drum.name, left->mm, kBesideGroove_mm, left->at, hint));
        return Done{};
    }

    /// A flare is a stack of drums that hold it.
    Status keep_off_flare(const RingCut& hole, const std::string& hint) {
        if (shape_.flare_mm <= 0.0) return Done{};
        constexpr int kDrums = 24;
        const double round = shape_.flare_round_mm, depth = shape_.flare ? -shape_.flare->from_mm : round;
        const double slope = shape_.flare ? (shape_.flare->radius_mm - shape_.flare->cone_mm) / depth : 0.0;
        std::optional<Nearness> least;
        for (int k = 0; k < kDrums; ++k) {
            const double from = depth * k / kDrums;
            const double narrower = shape_.flare ? from * slope : std::sqrt(round * round - std::pow(round - from, 2));
            const RingCut drum{.name = {},
                               .line = bolt_line(shape_.mouth, -shape_.seat.z, {}),
                               .radius_mm = shape_.mouth_mm - narrower,
                               .from_mm = 0.0,
                               .to_mm = depth * (k + 1) / kDrums};
            const auto left = left_to_drum(hole, drum, wall_);
            if (left && (!least || left->mm < least->mm)) least = left;
        }
        if (!least) return Done{};
        return webs_.keep(hole.name + " and the flare", least->mm, wall_, least->at, hint);
    }

    Status place_grooves() {
        for (const RingGroove& groove : request_.grooves) GAPWRIGHT_CHECK(place_groove(groove));
        return Done{};
    }

    /// What a screw of the driver is drilled as, from the face that the flange rests on.
    struct Drill {
        double hole_mm = 0.0, depth_mm = 0.0, beside_mm = 0.0;
        bool goes_through = false;
        std::string words;
    };
    Result<Drill> drill() const {
        using Kind = DriverHold::Kind;
        Drill d;
        d.beside_mm = wall_;
        if (request_.hold.kind == Kind::WoodScrew) {
            GAPWRIGHT_TRY(screw, fixings::find_wood_screw(request_.hold.wood_screw));
            d.hole_mm = screw.pilot_mm;
            d.depth_mm = fixings::least_engagement(screw).mm() + 2.0;
            d.words = fmt::format("pilots of {} mm, {} mm deep, for wood screws of {} mm", plain_number(d.hole_mm),
                                  plain_number(d.depth_mm), screw.name);
            return d;
        }
        GAPWRIGHT_TRY(thread, fixings::find_thread(request_.driver.bolt_thread, request_.own_threads));
        if (request_.hold.kind == Kind::Through) {
            d.hole_mm = thread.hole_medium_mm;
            d.goes_through = true;
            d.words = fmt::format("{} through, holes of {} mm, nuts sunk from the back", request_.driver.bolt_thread,
                                  plain_number(d.hole_mm));
            return d;
        }
        GAPWRIGHT_TRY(grip, grip_of(request_.driver.bolt_thread, request_.material, request_.hold.kind == Kind::Insert,
                                    request_.own_threads));
        d.hole_mm = grip.hole_mm;
        d.depth_mm = grip.depth_mm;
        if (grip.has_insert) d.beside_mm = std::max(wall_, thread.insert_wall_mm);
        d.words = fmt::format("{} {} of {} mm, {} mm deep along the driver's axis", request_.driver.bolt_thread,
                              grip.has_insert ? "heat-set insert pilots" : "tap-drill pilots",
                              plain_number(grip.hole_mm), plain_number(grip.depth_mm));
        return d;
    }

    std::vector<Point3> screw_places() const {
        const Frame rest = space::box_frame(shape_.rest, request_.up);
        std::vector<Point3> places;
        for (const FlatPoint& p : request_.screws_at) places.push_back(rest.to_parent({p.x, 0.0, p.y}));
        if (!places.empty()) return places;
        const double circle = request_.driver.bolt_circle->mm() / 2.0;
        for (int i = 0; i < request_.driver.bolt_count; ++i) {
            const double a = out_.turn.rad() + 2.0 * std::numbers::pi * i / request_.driver.bolt_count;
            places.push_back(rest.to_parent({circle * std::sin(a), 0.0, circle * std::cos(a)}));
        }
        return places;
    }

    Status place_screws() {
        const sound::Driver& driver = request_.driver;
        const bool has_places = !request_.screws_at.empty() || (driver.bolt_circle && driver.bolt_count > 0);
        const bool has_screw = request_.hold.kind == DriverHold::Kind::WoodScrew || !driver.bolt_thread.empty();
        if (!has_places || !has_screw) {
            out_.notes.push_back(
                "driver: bolt_circle, bolt_count or bolt_thread is not given: no screw holes were made");
            return Done{};
        }
        GAPWRIGHT_TRY(d, drill());
        beside_screw_ = d.beside_mm;
        const double radius = d.hole_mm / 2.0, sine = std::sin(request_.tilt.rad());
        const std::string turn = "another turn of the driver's bolt circle, a shorter thread or a higher ring";
        for (const Point3 place : screw_places()) {
            RingCut hole{.name = fmt::format("driver screw {}", out_.screws.size() + 1),
                         .line = bolt_line(place, shape_.rest.outward, {}),
                         .radius_mm = radius,
                         .from_mm = 0.0,
                         .to_mm = d.depth_mm,
                         .tool_from_mm = -kPast_mm,
                         .tool_to_mm = d.depth_mm};
            if (d.goes_through)
                GAPWRIGHT_CHECK(place_nut(hole));
            else {
                const Point3 end = hole.line.at(hole.to_mm);
                GAPWRIGHT_CHECK(webs_.keep(hole.name + " and the seat under it",
                                           shape_.seat.to_local(end).z - radius * sine - skin_mm(), kUnderBlindHole_mm,
                                           end, turn));
            }
            GAPWRIGHT_CHECK(webs_.keep(hole, sides_.outside, "the outside", d.beside_mm, turn));
            GAPWRIGHT_CHECK(webs_.keep(hole, sides_.bore, "the bore", d.beside_mm,
                                       request_.bore == RingRequest::Bore::Opening
                                           ? "bore = \"driver\", more height, or another turn of the driver"
                                           : "check bolt_circle and cutout_diameter of the driver"));
            GAPWRIGHT_CHECK(keep_off_flare(hole, "a smaller flare"));
            if (request_.screws_at.empty() && !request_.flange_outline)
                if (const double left = driver.flange_diameter.mm() / 2.0 - distance(place, shape_.rest.point) - radius;
                    left < 0.0)
                    return impossible(
                        fmt::format("ring: {} reaches {:.2f} mm past the flange, wanted under it", hole.name, -left),
                        "check bolt_circle and flange_diameter of the driver", hole.line.point);
            for (const RingCut& other : out_.screws)
                GAPWRIGHT_CHECK(webs_.keep(other, hole, d.beside_mm, "check bolt_circle and bolt_count of the driver"));
            GAPWRIGHT_CHECK(keep_off_grooves(hole, "a thinner cord, or tape"));
            out_.screws.push_back(hole);
        }
        out_.notes.push_back(fmt::format("driver: {} {}", out_.screws.size(), d.words));
        return Done{};
    }

    /// The nut sits on a floor square to the screw, sunk from the back as far as it has to be.
    Status place_nut(RingCut& hole) {
        GAPWRIGHT_TRY(thread, fixings::find_thread(request_.driver.bolt_thread, request_.own_threads));
        const double c = std::cos(request_.tilt.rad()), slope = shape_.slope;
        const double radius = std::max(thread.washer_outside_mm, thread.nut_corners_mm) / 2.0 + kBesideHead_mm;
        const double to_seat = shape_.seat.to_local(hole.line.point).z / c;  // along the screw
        const double floor =
            to_seat - radius * slope - thread.nut_height_mm - thread.washer_thickness_mm - std::max(0.0, skin_mm()) / c;
        GAPWRIGHT_CHECK(webs_.keep(hole.name + "'s nut and the face under the flange", floor, 2.0 * wall_,
                                   hole.line.at(floor), "a higher ring, or driver_screws = \"insert\""));
        hole.to_mm = floor;
        hole.tool_to_mm = floor + kPast_mm;
        const double below = shape_.below_mm / c;
        RingCut nut{.name = hole.name + "'s nut",
                    .line = hole.line,
                    .radius_mm = radius,
                    .from_mm = floor,
                    .to_mm = to_seat,
                    .tool_from_mm = floor,
                    .tool_to_mm = to_seat + radius * slope + kPast_mm + below};
        GAPWRIGHT_CHECK(webs_.keep(nut, sides_.outside, "the outside", wall_, "driver_screws = \"insert\""));
        GAPWRIGHT_CHECK(webs_.keep(nut, sides_.bore, "the bore", wall_, "driver_screws = \"insert\""));
        GAPWRIGHT_CHECK(keep_off_flare(nut, "a smaller flare"));
        GAPWRIGHT_CHECK(keep_off_grooves(nut, "a thinner cord, or tape"));
        for (const RingCut& other : out_.nuts)
            GAPWRIGHT_CHECK(webs_.keep(other, nut, wall_, "check bolt_circle and bolt_count of the driver"));
        if (request_.lip || request_.rain_lip)
            GAPWRIGHT_CHECK(keep_off_opening(nut, "the lip's opening", "driver_screws = \"insert\""));
        out_.nuts.push_back(std::move(nut));
        return Done{};
    }

    /// One bolt into the vehicle: a clearance hole, and where asked a recess for its head.
    Status place_bolt(const RingBolt& bolt) {
        GAPWRIGHT_TRY(thread, fixings::find_thread(bolt.thread, request_.own_threads));
        const double slope = shape_.slope;
        const std::string name = fmt::format("vehicle bolt \"{}\"", bolt.name);
        const Point3 at = shape_.in_seat(bolt.point);
        const double radius = thread.hole_medium_mm / 2.0;
        const double step = request_.step ? step_height(at) : -1.0;  // a bolt on the wide foot of a stepped ring
        const double over = step >= 0.0 ? step : shape_.front_over(shape_.seat.to_local(at));
        const double tilt = step >= 0.0 ? 0.0 : slope;
        double head = std::max(thread.washer_outside_mm, thread.socket.diameter_mm) / 2.0 + kBesideHead_mm;
        double head_height = thread.washer_thickness_mm + thread.socket.height_mm, cone = 0.0;
        if (bolt.is_countersunk) {
            if (thread.countersunk.diameter_mm <= 0.0)
                return Fault{FaultCode::BadJob, fmt::format("ring: no countersunk head of {} is known", bolt.thread),
                             "take another thread, or heads with a washer", at, "part"};
            head = thread.countersunk.diameter_mm / 2.0;
            head_height = cone = head - radius;  // 90 degrees
        }
        const std::string move = "move it, or turn the pattern";
        const double foot = bolt.foot_mm.value_or(skin_mm());
        RingCut hole{.name = name,
                     .line = bolt_line(at, -shape_.seat.z, {}),
                     .radius_mm = radius,
                     .from_mm = foot,
                     .to_mm = over,
                     .tool_from_mm = -kPast_mm - shape_.below_mm};
        const bool is_flush = bolt.is_countersunk && !bolt.under_head && tilt == 0.0;
        std::vector<RingCut> cuts;
        if (bolt.under_head || is_flush) {
            const double under = bolt.under_head ? foot + bolt.under_head->mm() : over - cone;
            hole.to_mm = under;
            hole.tool_to_mm = under + kPast_mm;
            cuts.push_back(hole);
            GAPWRIGHT_CHECK(webs_.keep(name + "'s head and the seat", under - foot, wall_, hole.line.point,
                                       "give more under_head"));
            GAPWRIGHT_CHECK(webs_.keep(name + "'s seat and the front face over it", over - head * tilt - under,
                                       head_height, hole.line.at(under),
                                       "the head is to be sunk: less under_head, or a higher ring"));
            RingCut sunk{.name = name + "'s head",
                         .line = hole.line,
                         .radius_mm = head,
                         .from_mm = under,
                         .to_mm = over,
                         .tool_from_mm = under,
                         .tool_to_mm = over + head * tilt + kPast_mm};
            if (bolt.is_countersunk) {
                RingCut flank = sunk;
                flank.name = name + "'s countersink";
                flank.cone_mm = radius;
                flank.to_mm = flank.tool_to_mm = under + cone;
                sunk.from_mm = sunk.tool_from_mm = under + cone;
                cuts.push_back(flank);
            }
            if (!is_flush) cuts.push_back(sunk);
        } else {
            hole.tool_to_mm = over + radius * tilt + kPast_mm;
            cuts.push_back(hole);
            if (tilt > 0.0)
                return impossible(fmt::format("ring: {} has no level seat for its head on a face tilted by {} deg",
                                              name, plain_number(request_.tilt.deg())),
                                  "give under_head, the material left under the head, which is then sunk",
                                  hole.line.at(over));
            const double beside =
                distance(hole.line.at(over),
                         shape_.front.point + shape_.seat.z * (over - shape_.front_over(shape_.seat.to_local(at))));
            GAPWRIGHT_CHECK(webs_.keep(
                name + "'s head and the driver's flange", beside - head - request_.driver.flange_diameter.mm() / 2.0,
                0.0, hole.line.at(over), "give under_head, the material left under the head, which is then sunk"));
        }
        GAPWRIGHT_CHECK(keep_off_opening(cuts.front(), "the vehicle's opening", "move it: nothing holds a bolt there"));
        const double to_edge = std::max(wall_, kEdgePerHole * 2.0 * radius - radius);
        for (const RingCut& cut : cuts) {
            const double wanted = &cut == &cuts.front() ? to_edge : wall_;
            GAPWRIGHT_CHECK(webs_.keep(cut, sides_.outside, "the outside", wanted, move));
            GAPWRIGHT_CHECK(webs_.keep(cut, sides_.bore, "the bore", wanted, move));
            GAPWRIGHT_CHECK(keep_off_flare(cut, move));
            for (const RingCut& screw : out_.screws) GAPWRIGHT_CHECK(webs_.keep(screw, cut, beside_screw_, move));
            for (const RingCut& nut : out_.nuts) GAPWRIGHT_CHECK(webs_.keep(nut, cut, wall_, move));
            GAPWRIGHT_CHECK(keep_off_grooves(cut, move));
            for (const auto& other : out_.bolts)
                for (const RingCut& its : other) GAPWRIGHT_CHECK(webs_.keep(its, cut, wall_, move));
        }
        out_.bolts.push_back(std::move(cuts));
        return Done{};
    }

    double skin_mm() const { return request_.foot ? std::max(0.0, request_.foot_highest_mm) : 0.0; }
    /// The step's height for a bolt whose head lies outside of the upper part; -1 on it.
    double step_height(Point3 at) const {
        const Point3 p = shape_.view.to_local(at);
        const Point2 q{p.x, p.z};
        return Outline(loop_of(request_.step->outside, 0.01)).depth(q) < 0.0 ? request_.step->height.mm() : -1.0;
    }
    /// A cut comes out of the seat beside the vehicle's opening.
    Status keep_off_opening(const RingCut& cut, const std::string& what, const std::string& hint) {
        if (!request_.seat.opening) return Done{};
        constexpr double kChord_mm = 0.005;
        const Point3 at = cut.line.at(-shape_.seat.to_local(cut.line.point).z / dot(cut.line.up, shape_.seat.z));
        const Point3 p = shape_.view.to_local(at);
        const double depth = Outline(loop_of(*request_.seat.opening, kChord_mm)).depth({p.x, p.z});
        const double wide = cut.radius_mm / std::abs(dot(cut.line.up, shape_.seat.z));
        return webs_.keep(cut.name + " and " + what, -depth - kChord_mm - wide, 0.0, at, hint);
    }

    const RingRequest& request_;
    const RingShape& shape_;
    const RingSides& sides_;
    double wall_ = 0.0, beside_screw_ = 0.0;
    Webs webs_;
    std::vector<RingCut> drums_;
    RingHoles out_;
};

}  // namespace

Result<RingHoles> plan_ring_holes(const RingRequest& request, const RingShape& shape, const RingSides& sides,
                                  Angle turn) {
    Holes holes(request, shape, sides, turn);
    GAPWRIGHT_CHECK(holes.place_all());
    return std::move(holes).take();
}

}  // namespace geom::parts

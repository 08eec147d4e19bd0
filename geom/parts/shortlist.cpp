// Everything that does not depend on the driver is worked out once a place: the outlines of flat and air, how deep each
// centre of a grid lies in them, and how far the air goes straight back from there. A driver is then tried at the
// centres that its circles and its axis leave, nearest to the asked one first, by samples of its body in the field.
#include "geom/parts/shortlist.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/parts/driver_body.h"
#include "geom/parts/features.h"
#include "geom/parts/internal/baffle_shape.h"
#include "geom/parts/internal/contour.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr int kPlaces = 40;
constexpr double kHoleEdge_mm = 0.3;  // as a driver's hole wants it of the air's front
constexpr double kSample_mm = 6.0;    // on a driver's body
constexpr int kMostCentres = 60;      // tried with the whole body, a place

struct Centre {
    Point2 at;
    double flat_mm = 0.0, air_mm = 0.0;  // how deep it lies in the flat and in the air's front
    double back_y_mm = 0.0;              // box y where the air behind it ends
    double from_asked_mm = 0.0;
};

struct Place {
    double t_mm = 0.0;
    Volume net;                   // with nothing of a driver
    std::vector<Centre> centres;  // the asked one first, then by distance from it
    double widest_flat_mm = 0.0;  // greatest depth in the flat
};

std::optional<Outline> section(const space::Field& field, double y_mm) {
    const space::GridSpec& g = field.grid;
    const Point2 lo{g.lo.x, g.lo.z}, hi{g.lo.x + g.h_mm * (g.nx - 1), g.lo.z + g.h_mm * (g.nz - 1)};
    auto loop = level_loop([&](Point2 p) { return -field.at_box({p.x, y_mm, p.y}); }, 0.0, lo, hi, g.h_mm);
    if (!loop || loop->size() < 3) return std::nullopt;
    return Outline(std::move(*loop));
}

/// Box y at which the air that is at (p, y) ends going back; y itself outside of it.
double end_of_air(const space::Field& air, Point2 p, double y_mm) {
    const space::GridSpec& g = air.grid;
    double before = air.at_box({p.x, y_mm, p.y});
    if (!(before < 0.0)) return y_mm;
    const double last = g.lo.y + g.h_mm * (g.ny - 1);
    for (double y = y_mm; y < last; y += g.h_mm) {
        const double here = air.at_box({p.x, y + g.h_mm, p.y});
        if (here >= 0.0) return y + g.h_mm * before / (before - here);
        before = here;
    }
    return last;
}

}  // namespace

struct Shortlister::Maps {
    const GapField& gap;
    const EnclosureRequest& request;
    std::vector<Place> places;  // innermost first, those with air behind them
    Point2 asked;
    bool has_asked = false;

    Frame frame() const { return gap.air.grid.vehicle_from_box; }
    double thickness_mm() const { return request.baffle.thickness.mm(); }

    std::optional<Place> place_at(double t_mm, const CapacityCurve& curve) const;
};

std::optional<Place> Shortlister::Maps::place_at(double t_mm, const CapacityCurve& curve) const {
    Place place{.t_mm = t_mm, .net = curve.net_at(t_mm), .centres = {}};
    if (place.net.mm3() <= 0.0) return std::nullopt;
    const double air_y = thickness_mm() - t_mm, rim_mm = request.baffle.rim_radius.mm();
    const auto outer = section(gap.room.outer, -t_mm), air = section(gap.air, air_y);
    if (!outer || !air) return std::nullopt;
    const auto add = [&](Point2 p) {
        Centre c{.at = p, .flat_mm = outer->depth(p) - rim_mm, .air_mm = air->depth(p)};
        if (c.flat_mm <= 0.0 || c.air_mm <= 0.0) return;
        c.back_y_mm = end_of_air(gap.air, p, air_y);
        c.from_asked_mm = distance(p, asked);
        place.widest_flat_mm = std::max(place.widest_flat_mm, c.flat_mm);
        place.centres.push_back(c);
    };
    if (has_asked) add(asked);
    // The middle of the widest circle is always tried: what fits at all fits there or near it.
    const Best middle =
        greatest([&](Point2 p) { return std::min(outer->depth(p) - rim_mm, air->depth(p)); }, air->lo(), air->hi());
    add(middle.at);
    const Point2 size = air->hi() - air->lo();
    const int nx = static_cast<int>(size.x / kCentreStep_mm), ny = static_cast<int>(size.y / kCentreStep_mm);
    for (int j = 0; j <= ny; ++j)
        for (int i = 0; i <= nx; ++i) add(air->lo() + Point2{i * kCentreStep_mm, j * kCentreStep_mm});
    std::stable_sort(place.centres.begin(), place.centres.end(),
                     [](const Centre& a, const Centre& b) { return a.from_asked_mm < b.from_asked_mm; });
    return place;
}

Result<Shortlister> Shortlister::over(const GapField& gap, const EnclosureRequest& request) {
    EnclosureRequest bare = request;
    bare.driver.reset();
    auto maps = std::make_shared<Maps>(Maps{gap, request, {}, {}, request.driver.has_value()});
    const CapacityCurve curve(gap.air, bare, &gap.room);
    const double lo = request.baffle.travel_lo_mm, hi = request.baffle.travel_hi_mm;
    if (request.driver) {
        const Point3 local = maps->frame().to_local(request.driver->centre);
        maps->asked = {local.x, local.z};
    } else if (const auto outer = section(gap.room.outer, -hi)) {
        maps->asked = greatest([&](Point2 p) { return outer->depth(p); }, outer->lo(), outer->hi()).at;
    }
    const int count = hi - lo < 1e-6 ? 1 : kPlaces;
    for (int i = 0; i < count; ++i) {
        const double t = count == 1 ? hi : lo + (hi - lo) * i / (count - 1);
        if (auto place = maps->place_at(t, curve)) maps->places.push_back(std::move(*place));
    }
    if (maps->places.empty())
        return Fault{FaultCode::Impossible,
                     fmt::format("baffle: its travel from {} to {} mm never meets the room, wanted a plane with air "
                                 "behind it",
                                 plain_number(lo), plain_number(hi)),
                     "move [enclosure] baffle.point or travel, or make the wall thinner", request.baffle.plane.point,
                     "size"};
    return Shortlister(std::move(maps));
}

namespace {

/// What a driver asks of the baffle and of the air behind it.
class Tried {
public:
    Tried(const GapField& gap, const EnclosureRequest& request, const sound::Driver& driver)
        : gap_(gap), mount_{.driver = driver, .centre = {}, .turn = {}} {
        if (request.driver) {
            mount_.from_behind = request.driver->from_behind;
            mount_.is_turned = request.driver->is_turned;
        }
        EnclosureRequest own = request;
        own.driver = mount_;
        const BaffleForm form = baffle_form_or_flat(own);
        EnclosureRequest without = request;
        without.driver.reset();
        displaced_ = features_volume(own) - features_volume(without);
        seat_mm_ = seat_depth_mm(mount_, form);
        back_mm_ = form.back_mm - seat_mm_;
        front_mm_ = front_radius_mm(mount_, form);
        hole_mm_ = back_radius_mm(mount_, form) + kHoleEdge_mm;
        if (const auto body = driver_body(mount_, {{0, 0, 0}, {0, -1, 0}}, back_mm_)) add_samples(*body);
    }

    double front_mm() const { return front_mm_; }
    Volume net(const Place& place) const { return std::max(Volume(), place.net + displaced_); }
    bool has_depth() const { return depth_mm_ > 0.0; }
    double depth_mm() const { return depth_mm_; }
    double free_behind_mm() const { return free_behind_mm_; }
    const DriverMount& mount() const { return mount_; }
    /// Of what rests on the baffle.
    double widest_mm() const { return mount_.from_behind ? hole_mm_ : front_mm_; }
    double front_spare(const Centre& c) const { return std::min(c.flat_mm - front_mm_, c.air_mm - hole_mm_); }
    /// Behind the seat, down the driver's axis.
    double axis_spare(const Centre& c, double t_mm) const {
        return has_depth() ? c.back_y_mm - (seat_mm_ - t_mm) - depth_mm_ - free_behind_mm_ : 0.0;
    }
    /// Of the whole body, with all that is wanted round it.
    double body_spare(const Centre& c, double t_mm) const {
        double least = 1e300;
        const double seat_y = seat_mm_ - t_mm;
        for (const Sample& s : samples_) {
            const double inside = -gap_.air.at_box({c.at.x + s.at.x, seat_y + s.at.y, c.at.y + s.at.z});
            least = std::min(least, inside - s.wanted_mm);
        }
        return samples_.empty() ? 0.0 : least;
    }

private:
    struct Sample {
        Point3 at;  // right, back, up of the seat's centre
        double wanted_mm = 0.0;
    };
    void add_ring(double radius_mm, double depth_mm, double wanted_mm) {
        const int n = std::max(8, static_cast<int>(std::ceil(2.0 * std::numbers::pi * radius_mm / (2.0 * kSample_mm))));
        for (int k = 0; k < n; ++k) {
            const double a = 2.0 * std::numbers::pi * k / n;
            samples_.push_back({{radius_mm * std::cos(a), depth_mm, radius_mm * std::sin(a)}, wanted_mm});
        }
    }
    void add_samples(const DriverBody& body) {
        const double seat = body.seat.y;  // of the flange's rear face, behind the plane that it rests on
        depth_mm_ = seat + body.depth_mm();
        free_behind_mm_ = body.free_behind_mm();
        if (body.flange_radius_mm > 0.0) add_ring(body.flange_radius_mm, seat, kBesideDriver_mm);
        // Near the baffle the nearest wall is the baffle itself, which does not count.
        for (std::size_t i = 0; i + 1 < body.profile.size(); ++i) {
            const auto [r0, h0] = body.profile[i];
            const auto [r1, h1] = body.profile[i + 1];
            const int n = std::max(1, static_cast<int>(std::ceil(std::hypot(r1 - r0, h1 - h0) / kSample_mm)));
            for (int k = i == 0 ? 0 : 1; k <= n; ++k)
                add_ring(r0 + (r1 - r0) * k / n, seat + h0 + (h1 - h0) * k / n, kBesideDriver_mm);
        }
        // Straight behind the magnet the place itself has to be air.
        for (double r = 0.0; r < body.magnet_radius_mm(); r += kSample_mm)
            add_ring(r, depth_mm_ + free_behind_mm_, 0.0);
        add_ring(body.magnet_radius_mm(), depth_mm_ + free_behind_mm_, 0.0);
    }

    const GapField& gap_;
    DriverMount mount_;
    Volume displaced_;
    double seat_mm_ = 0.0, back_mm_ = 0.0, front_mm_ = 0.0, hole_mm_ = 0.0, depth_mm_ = 0.0, free_behind_mm_ = 0.0;
    std::vector<Sample> samples_;
};

/// The nearest it comes to fitting.
struct Closest {
    double front_mm = -1e300, front_t_mm = 0.0;
    double depth_mm = -1e300, depth_t_mm = 0.0;
    double body_mm = -1e300, body_t_mm = 0.0;
};

std::optional<std::pair<const Centre*, double>> centre_for(const Tried& tried, const Place& place, Closest& closest) {
    if (place.widest_flat_mm < tried.front_mm()) {
        const double spare = place.widest_flat_mm - tried.front_mm();
        if (spare > closest.front_mm) closest.front_mm = spare, closest.front_t_mm = place.t_mm;
        return std::nullopt;
    }
    int left = kMostCentres;
    for (const Centre& c : place.centres) {
        const double front = tried.front_spare(c);
        if (front > closest.front_mm) closest.front_mm = front, closest.front_t_mm = place.t_mm;
        if (front < 0.0) continue;
        const double axis = tried.axis_spare(c, place.t_mm);
        if (axis > closest.depth_mm) closest.depth_mm = axis, closest.depth_t_mm = place.t_mm;
        if (axis < 0.0) continue;
        const double body = tried.body_spare(c, place.t_mm);
        if (body > closest.body_mm) closest.body_mm = body, closest.body_t_mm = place.t_mm;
        if (body >= 0.0) return std::pair{&c, body};
        if (--left == 0) break;
    }
    return std::nullopt;
}

std::string reason(const Tried& tried, const Closest& closest) {
    const auto at = [](double t) { return fmt::format("baffle at {} mm", plain_number(rounded(t, 1))); };
    if (closest.front_mm < 0.0)
        return fmt::format("{} {:.0f} mm across, and the baffle takes {:.0f} mm at most ({})",
                           tried.mount().from_behind ? "what it has on the baffle's inner face is" : "its front is",
                           2.0 * tried.widest_mm(), 2.0 * (tried.widest_mm() + closest.front_mm),
                           at(closest.front_t_mm));
    if (closest.depth_mm < 0.0)
        return fmt::format("{:.0f} mm deep with {:.0f} mm free behind it, and the gap is {:.0f} mm less at best ({})",
                           tried.depth_mm(), tried.free_behind_mm(), -closest.depth_mm, at(closest.depth_t_mm));
    return fmt::format("its basket or magnet stands {:.0f} mm too near to the inner wall at best ({})",
                       -closest.body_mm, at(closest.body_t_mm));
}

}  // namespace

DriverFitting Shortlister::fit(const sound::Driver& driver, std::optional<Volume> wanted) const {
    const Maps& maps = *maps_;
    const Tried tried(maps.gap, maps.request, driver);
    Closest closest;
    const auto try_place = [&](const Place& place) -> std::optional<FittingPlace> {
        const auto found = centre_for(tried, place, closest);
        if (!found) return std::nullopt;
        const Centre& c = *found->first;
        return FittingPlace{.t_mm = place.t_mm,
                            .centre = maps.frame().to_parent({c.at.x, -place.t_mm, c.at.y}),
                            .is_as_asked = maps.has_asked && c.from_asked_mm < 1e-6,
                            .net = tried.net(place),
                            .front_spare_mm = tried.front_spare(c),
                            .body_spare_mm = found->second};
    };
    DriverFitting fitting;
    for (auto place = maps.places.rbegin(); place != maps.places.rend() && !fitting.roomiest; ++place)
        fitting.roomiest = try_place(*place);
    if (!fitting.roomiest) {
        fitting.why_not = reason(tried, closest);
        return fitting;
    }
    fitting.place = fitting.roomiest;
    if (wanted && fitting.roomiest->net > *wanted)
        for (const Place& place : maps.places) {
            if (tried.net(place) < *wanted || place.t_mm >= fitting.roomiest->t_mm) continue;
            if (auto found = try_place(place)) {
                fitting.place = std::move(found);
                break;
            }
        }
    if (tried.mount().is_turned)
        fitting.why_not = "its magnet before the baffle is not looked at";
    else if (!tried.has_depth())
        fitting.why_not = "its depth is not known: mounting_depth is missing";
    return fitting;
}

}  // namespace geom::parts

// What must stay free before the driver is a cylinder that stands on its seating plane: as wide as the flange or as
// asked, as high as the cone's travel and a grille want. Its signed distance is convex, so that the least over a
// triangle is found exactly; keep-outs are triangles (a sphere has its centre), the scan is its samples, a limit is met
// at the cylinder's farthest rim, and of the part itself what stands before its own front counts. The part may reach
// into the cylinder, the cylinder into a keep-out, or lie in it as a whole.
//
// How much farther in the baffle would have to lie: moving it by s changes no distance by more than s, so that it may
// always be moved by what is missing without passing the first place that is free.
#include "geom/check/internal/case.h"
#include "geom/check/internal/keep_out_distance.h"
#include "geom/check/internal/moving_keep_out.h"

#include "geom/core/parallel.h"
#include "geom/measure/clearance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::check {

namespace {

constexpr double kFront_mm = 0.1;        // of the part: what stands no farther before its front is the front
constexpr double kSlack_mm = 0.005;      // of a least distance
constexpr double kPosedSlack_mm = 0.05;  // the same in one of many poses, between which it moves farther
constexpr double kPoses_mm = 0.25;       // between the poses of a keep-out that moves, for what is judged
constexpr double kRoughPoses_mm = 1.0;   // and for what is told
constexpr double kFarthest_mm = 500.0;   // free height is told up to here
constexpr double kHeight_mm = 0.02;      // within which it is found
constexpr double kMoved_mm = 0.01;       // the same of the baffle's place
// Of the cone, where the driver's file does not say [common practice]: how far surround and dust cap stand before the
// flange's seat, and its travel; and what stays between it and a grille.
constexpr double kRoll_rel = 0.05, kTravel_rel = 0.04, kBeforeCone_mm = 2.0;

/// Solid, with flat ends.
struct Column {
    Point3 base;
    Vec3 out;
    double radius_mm = 0.0, height_mm = 0.0;

    /// Signed, negative inside.
    double distance_to(Point3 p) const {
        const Vec3 d = p - base;
        const double h = dot(d, out), side = norm(d - out * h) - radius_mm, end = std::max(-h, h - height_mm);
        return side > 0.0 && end > 0.0 ? std::hypot(side, end) : std::max(side, end);
    }
    Point3 middle() const { return base + out * (height_mm / 2.0); }
    Point3 farthest(Vec3 way) const {
        const double along = dot(way, out);
        const Vec3 aside = way - out * along;
        return base + out * (along > 0.0 ? height_mm : 0.0) + unit(aside) * (norm(aside) > 1e-9 ? radius_mm : 0.0);
    }
    Column moved_in(double by_mm) const { return {base - out * by_mm, out, radius_mm, height_mm}; }
    Column with_height(double mm) const { return {base, out, radius_mm, mm}; }
};

struct Least {
    double value = 1e300;  ///< left beyond what is asked of the thing
    Point3 at;
    std::string what;
    void take(const Least& other) {
        if (other.value < value) *this = other;
    }
};

/// What may stand before the driver; each made ready once.
class Around {
public:
    explicit Around(const Case& c) : c_(c) {
        for (const space::KeepOut& k : c.request.room.keep_outs) keep_outs_.push_back(ready(k));
        const parts::Enclosure& e = c.enclosure();
        const double before = e.seat && e.seat->face_mm < 0.0 ? -e.seat->face_mm : 0.0;
        const auto stands_before = [&](std::uint32_t v) {
            return e.baffle_plane.height(c.part.vertices[v]) > before + kFront_mm;
        };
        own_.vertices = c.part.vertices;
        for (const auto& t : c.part.triangles)
            if (std::any_of(t.begin(), t.end(), stands_before)) own_.triangles.push_back(t);
    }

    /// The part does not come along when the column is moved, the vehicle does not either.
    /// Of keep-outs that move at most `poses_mm` less than it is.
    Least least(const Column& column, bool with_own, double poses_mm = kPoses_mm) const {
        Least least;
        for (const KeepOut& k : keep_outs_) {
            Least of = k.moving != nullptr ? least_swept_of(column, k, poses_mm) : least_of(column, k);
            of.value -= k.asked_mm;
            least.take(of);
        }
        for (const space::Limit& limit : c_.request.room.limits) {
            const Point3 at = column.farthest(limit.plane.outward);
            least.take({-limit.plane.height(at) - limit.clearance.mm(), at, "limit \"" + limit.name + "\""});
        }
        least.take(least_of_samples(column));
        if (with_own && !own_.triangles.empty()) least.take(least_of_mesh(column, own_, "the part itself"));
        return least;
    }

private:
    struct KeepOut {
        std::string what;
        double asked_mm = 0.0;
        TriMesh mesh;
        std::optional<space::SphereShape> ball;
        std::optional<measure::TriangleTree> tree;  ///< to tell inside from outside
        const space::KeepOut* moving = nullptr;     ///< made ready anew in each pose
    };

    static KeepOut ready(const space::KeepOut& given) {
        KeepOut k;
        if (space::is_moving(given.motion))
            k.moving = &given;
        else
            k = ready(given.shape);
        k.what = "keep-out \"" + given.name + "\"";
        k.asked_mm = given.clearance.mm();
        return k;
    }
    static KeepOut ready(const space::KeepOutShape& shape) {
        KeepOut k;
        if (const auto* ball = std::get_if<space::SphereShape>(&shape)) {
            k.ball = *ball;
            return k;
        }
        if (const auto* box = std::get_if<space::BoxShape>(&shape))
            k.mesh = mesh_of(*box);
        else if (const auto* rod = std::get_if<space::CylinderShape>(&shape))
            k.mesh = mesh_of(*rod);
        else
            k.mesh = std::get<TriMesh>(shape);
        k.tree.emplace(k.mesh);
        return k;
    }

    static Least least_of_mesh(const Column& column, const TriMesh& mesh, const std::string& what,
                               double slack_mm = kSlack_mm) {
        const measure::LeastOnMesh least = measure::least_on_mesh(
            mesh, [&](Point3 p) { return column.distance_to(p); }, slack_mm, measure::DistanceKind::Convex);
        return {least.value, least.at, what};
    }

    static Least least_swept_of(const Column& column, const KeepOut& k, double poses_mm) {
        const measure::LeastOnMesh swept = least_of_poses(
            *k.moving,
            [&](const space::KeepOutShape& shape) {
                const Least here = least_of(column, ready(shape), kPosedSlack_mm);
                measure::LeastOnMesh least;
                least.value = here.value, least.at = here.at;
                return least;
            },
            poses_mm);
        return {swept.value, swept.at, k.what + ", wherever it has moved"};
    }

    static Least least_of(const Column& column, const KeepOut& k, double slack_mm = kSlack_mm) {
        if (k.ball) {
            const double d = column.distance_to(k.ball->centre);
            return {d - k.ball->radius_mm, k.ball->centre, k.what};
        }
        Least least = least_of_mesh(column, k.mesh, k.what, slack_mm);
        // The column as a whole within it.
        const Vec3 direction = unit({0.5773, 0.4142, 0.7071});
        if (least.value > 0.0 && k.tree->crossings(column.middle(), direction) % 2 == 1)
            least = {-k.tree->nearest(column.middle()).distance_mm, column.middle(), k.what};
        return least;
    }

    Least least_of_samples(const Column& column) const {
        const std::vector<Point3>& points = c_.surface.points;
        constexpr std::size_t kGrain = 8192;
        std::vector<Least> found((points.size() + kGrain - 1) / kGrain);
        parallel_for(points.size(), kGrain, [&](std::size_t begin, std::size_t end) {
            Least& own = found[begin / kGrain];
            for (std::size_t i = begin; i < end; ++i)
                if (const double d = column.distance_to(points[i]); d < own.value) own.value = d, own.at = points[i];
        });
        Least least;
        for (Least& f : found) {
            f.what = "the scanned surface";
            least.take(f);
        }
        return least;
    }

    const Case& c_;
    std::vector<KeepOut> keep_outs_;
    TriMesh own_;
};

/// How high the column may be; kFarthest_mm when nothing is met.
Least free_height(const Around& around, const Column& column) {
    const auto least = [&](double height) { return around.least(column.with_height(height), true, kRoughPoses_mm); };
    Least met = least(kFarthest_mm);
    if (met.value >= 0.0) return {kFarthest_mm, met.at, {}};
    double lo = 0.0, hi = kFarthest_mm;
    while (hi - lo > kHeight_mm) {
        const double mid = (lo + hi) / 2.0;
        const Least here = least(mid);
        if (here.value >= 0.0)
            lo = mid;
        else
            hi = mid, met = here;
    }
    return {lo, met.at, met.what};
}

/// How much farther in the column is free; none within `most_mm`.
std::optional<double> farther_in(const Around& around, const Column& column, double most_mm) {
    for (double by = 0.0; by <= most_mm + kMoved_mm;) {
        const Least here = around.least(column.moved_in(by), false);
        if (here.value >= -kMoved_mm) return by;
        by += std::max(-here.value, kMoved_mm);
    }
    return std::nullopt;
}

struct Cone {
    double needs_mm = 0.0;
    std::string how;
    bool is_estimated = false;
};
Cone cone_of(const sound::Driver& driver) {
    const double front = driver.front_height ? driver.front_height->mm()
                                             : std::max(kRoll_rel * driver.flange_diameter.mm(),
                                                        driver.flange_thickness.value_or(Length::mm(0)).mm());
    const double travel = driver.xmax ? driver.xmax->mm() : kTravel_rel * driver.cutout_diameter.mm();
    std::string missing = driver.front_height ? "" : "front_height";
    if (!driver.xmax) missing += missing.empty() ? "xmax" : " and xmax";
    return {front + travel + kBeforeCone_mm,
            fmt::format("the front at rest {:.1f} mm before the seat, {:.1f} mm of travel, {:.1f} mm between{}", front,
                        travel, kBeforeCone_mm,
                        missing.empty() ? "" : "; " + missing + " not given: estimated of the diameters"),
            !missing.empty()};
}

}  // namespace

void check_front(const Case& c, Verdict& verdict) {
    if (!c.request.driver) return;
    const parts::DriverMount& mount = *c.request.driver;
    const parts::Enclosure& e = c.enclosure();
    const std::optional<parts::GrilleRoom>& asked = c.request.baffle.grille_room;
    const Cone cone = cone_of(mount.driver);
    Column column;
    column.base = mount.centre - e.seat_plane.outward * e.seat_plane.height(mount.centre);
    column.out = e.seat_plane.outward;
    column.radius_mm = mount.driver.flange_diameter.mm() / 2.0;
    if (asked && asked->diameter) column.radius_mm = asked->diameter->mm() / 2.0;
    column.height_mm = asked ? asked->height.mm() : cone.needs_mm;

    const Around around(c);
    const Least free = free_height(around, column);
    FrontFit& front = verdict.driver_fit.front;
    front.diameter_mm = 2.0 * column.radius_mm;
    front.free_mm = free.value;
    front.met = free.what;
    front.met_at = free.at;
    front.cone_needs_mm = cone.needs_mm;
    front.cone_is_estimated = cone.is_estimated;
    front.before_baffle_mm = column.height_mm + e.baffle_plane.height(column.base);
    if (!asked) return;

    front.asked_mm = column.height_mm;
    Least least = around.least(column, true);
    // A grille wider than the dish's floor stands in its flank.
    if (e.seat && e.seat->face_mm > 0.0 && column.radius_mm > e.seat->face_radius_mm)
        least.take({e.seat->face_radius_mm - column.radius_mm, column.base, "the dish's own flank"});
    front.least_mm = least.value;
    CheckLine line = at_least(
        "grille room", Kind::Fit, least.value, 0.0, "mm",
        fmt::format(
            "{}: {}; left beside a cylinder {:.1f} mm across and {:.1f} mm high on the driver's seat, beyond the "
            "clearance that limits and keep-outs ask for; samples of the scan with a stated bound of {:.2f} mm",
            place(least.at), least.what, 2.0 * column.radius_mm, column.height_mm, c.surface.bound_mm));
    if (!line.ok) {
        const double most = std::max(0.0, e.baffle_t_mm - c.request.baffle.travel_lo_mm);
        const auto by = farther_in(around, column, most);
        line.note += by ? fmt::format("; free with the baffle {:.1f} mm farther in", *by)
                        : std::string("; no place of the baffle farther in on its travel leaves it free");
        line.place = least.at;
    }
    verdict.lines.push_back(std::move(line));
    CheckLine travel = at_least("grille room, the cone's travel", Kind::Fit, column.height_mm, cone.needs_mm, "mm",
                                "height asked against what the cone needs: " + cone.how);
    if (cone.is_estimated) travel.ok = true, travel.note += "; not judged";
    verdict.lines.push_back(std::move(travel));
}

}  // namespace geom::check

// Clause numbers of ISO 10303-42: placements 4.4, lines and conics 4.4, elementary and swept surfaces 4.5. Every
// parametrisation is the standard's. Foot points of elementary surfaces are closed forms; swept surfaces are searched
// by Gauss-Newton, whose error squares with each step because the points asked for lie on the surface.
#include "tests/support/step_geometry.h"

#include <algorithm>
#include <map>
#include <mutex>
#include <numbers>

namespace outside {
namespace {

constexpr double kPi = std::numbers::pi;

double positive_angle(double y, double x) {
    const double a = std::atan2(y, x);
    return a < 0.0 ? a + 2 * kPi : a;
}

class Line final : public Curve {
public:
    Line(V3 point, V3 direction) : point_(point), direction_(direction) {}
    CurvePoint at(double t) const override { return {point_ + direction_ * t, direction_}; }
    double parameter(V3 p) const override { return dot(p - point_, direction_) / dot(direction_, direction_); }

private:
    V3 point_, direction_;
};

/// Circle and ellipse.
class Conic final : public Curve {
public:
    Conic(const Axes& axes, double a, double b) : axes_(axes), a_(a), b_(b) {
        period = hi = 2 * kPi;
        pieces = 8;
    }
    CurvePoint at(double t) const override {
        const double c = std::cos(t), s = std::sin(t);
        return {axes_.to_parent({a_ * c, b_ * s, 0}), axes_.turned({-a_ * s, b_ * c, 0})};
    }
    double parameter(V3 p) const override {
        // Of a point on the curve; ends of edges are nothing else.
        const V3 q = axes_.to_local(p);
        return positive_angle(q.y / b_, q.x / a_);
    }

private:
    Axes axes_;
    double a_, b_;
};

class Plane final : public Surface {
public:
    explicit Plane(const Axes& axes) : axes_(axes) { kind = "plane"; }
    SurfacePoint at(UV q) const override { return {axes_.to_parent({q.u, q.v, 0}), axes_.x, axes_.y}; }
    UV invert(V3 p, const std::optional<UV>&) const override {
        const V3 q = axes_.to_local(p);
        return {q.x, q.y};
    }

private:
    Axes axes_;
};

/// Cylinder (no slope) and cone: radius r + v tan(half angle).
class Cone final : public Surface {
public:
    Cone(const Axes& axes, double radius, double half_angle)
        : axes_(axes), radius_(radius), slope_(std::tan(half_angle)) {
        kind = half_angle == 0.0 ? "cylinder" : "cone";
        u_period = 2 * kPi;
        if (slope_ != 0.0) {
            const double apex = -radius_ / slope_;
            poles.push_back({apex, slope_ < 0.0, axes_.to_parent({0, 0, apex}), false});
        }
    }
    SurfacePoint at(UV q) const override {
        const double c = std::cos(q.u), s = std::sin(q.u), r = radius_ + q.v * slope_;
        return {axes_.to_parent({r * c, r * s, q.v}), axes_.turned({-r * s, r * c, 0}),
                axes_.turned({slope_ * c, slope_ * s, 1})};
    }
    UV invert(V3 p, const std::optional<UV>&) const override {
        const V3 q = axes_.to_local(p);
        const double r = std::hypot(q.x, q.y);
        return {positive_angle(q.y, q.x), (q.z + (r - radius_) * slope_) / (1 + slope_ * slope_)};
    }

private:
    Axes axes_;
    double radius_, slope_;
};

class Sphere final : public Surface {
public:
    Sphere(const Axes& axes, double radius) : axes_(axes), radius_(radius) {
        kind = "sphere";
        u_period = 2 * kPi;
        v_panel = kPi / 4;
        poles = {{-kPi / 2, false, axes_.to_parent({0, 0, -radius}), false},
                 {kPi / 2, true, axes_.to_parent({0, 0, radius}), false}};
    }
    SurfacePoint at(UV q) const override {
        const double c = std::cos(q.u), s = std::sin(q.u), cv = std::cos(q.v), sv = std::sin(q.v), r = radius_;
        return {axes_.to_parent({r * cv * c, r * cv * s, r * sv}), axes_.turned({-r * cv * s, r * cv * c, 0}),
                axes_.turned({-r * sv * c, -r * sv * s, r * cv})};
    }
    UV invert(V3 p, const std::optional<UV>&) const override {
        const V3 q = axes_.to_local(p);
        return {positive_angle(q.y, q.x), std::atan2(q.z, std::hypot(q.x, q.y))};
    }

private:
    Axes axes_;
    double radius_;
};

class Torus final : public Surface {
public:
    Torus(const Axes& axes, double major, double minor) : axes_(axes), major_(major), minor_(minor) {
        kind = "torus";
        u_period = v_period = 2 * kPi;
        v_panel = kPi / 4;
    }
    SurfacePoint at(UV q) const override {
        const double c = std::cos(q.u), s = std::sin(q.u), cv = std::cos(q.v), sv = std::sin(q.v),
                     r = major_ + minor_ * cv;
        return {axes_.to_parent({r * c, r * s, minor_ * sv}), axes_.turned({-r * s, r * c, 0}),
                axes_.turned({-minor_ * sv * c, -minor_ * sv * s, minor_ * cv})};
    }
    UV invert(V3 p, const std::optional<UV>&) const override {
        const V3 q = axes_.to_local(p);
        return {positive_angle(q.y, q.x), positive_angle(q.z, std::hypot(q.x, q.y) - major_)};
    }

private:
    Axes axes_;
    double major_, minor_;
};

class Extrusion final : public Surface {
public:
    Extrusion(std::shared_ptr<const Curve> curve, V3 along) : curve_(std::move(curve)), along_(along) {
        kind = "extrusion";
        u_period = curve_->period;
    }
    SurfacePoint at(UV q) const override {
        const CurvePoint c = curve_->at(q.u);
        return {c.p + along_ * q.v, c.d, along_};
    }
    UV invert(V3 p, const std::optional<UV>& near) const override {
        const Range range{curve_->lo, curve_->hi, curve_->hi > curve_->lo ? 1e-3 * (curve_->hi - curve_->lo) : 1e300,
                          u_period > 0};
        const auto start_at = [&](double u) { return UV{u, dot(p - curve_->at(u).p, along_) / dot(along_, along_)}; };
        const Range free{0, 0, 1e300, false};
        if (near) {
            const UV foot = foot_of(*this, p, start_at(near->u), range, free);
            if (length(at(foot).p - p) < 1e-3) return foot;
        }
        if (curve_->hi <= curve_->lo) return foot_of(*this, p, start_at(curve_->parameter(p)), range, free);
        const int seeds = 4 * std::max<int>(4, static_cast<int>(curve_->breaks.size()));
        UV best;
        double least = 1e300;
        for (int i = 0; i <= seeds; ++i) {
            const UV q = start_at(curve_->lo + (curve_->hi - curve_->lo) * i / seeds);
            const double d = length(at(q).p - p);
            if (d < least) least = d, best = q;
        }
        return foot_of(*this, p, best, range, free);
    }

private:
    std::shared_ptr<const Curve> curve_;
    V3 along_;
};

/// The curve turned round an axis: u is the angle, v the curve's parameter.
class Revolution final : public Surface {
public:
    Revolution(std::shared_ptr<const Curve> curve, V3 origin, V3 axis)
        : curve_(std::move(curve)), origin_(origin), axis_(axis) {
        kind = "revolution";
        u_period = 2 * kPi;
        v_period = curve_->period;
        v_breaks = curve_->breaks;
        if (v_period > 0) v_panel = v_period / 8;
        for (const double v : {curve_->lo, curve_->hi}) {
            if (curve_->hi <= curve_->lo || v_period > 0) break;
            const V3 p = curve_->at(v).p;
            if (length(cross(p - origin_, axis_)) < 1e-9) poles.push_back({v, v == curve_->hi, p, false});
        }
    }
    double base_v() const override { return curve_->lo; }
    SurfacePoint at(UV q) const override {
        const CurvePoint c = curve_->at(q.v);
        const V3 p = turned(c.p - origin_, q.u);
        return {origin_ + p, cross(axis_, p), turned(c.d, q.u)};
    }
    UV invert(V3 p, const std::optional<UV>& near) const override {
        const Range u{0, u_period, 0, true};
        const Range v{curve_->lo, curve_->hi, curve_->hi > curve_->lo ? 1e-3 * (curve_->hi - curve_->lo) : 1e300,
                      v_period > 0};
        if (near) {
            const UV foot = foot_of(*this, p, *near, u, v);
            if (length(at(foot).p - p) < 1e-3) return foot;
        }
        UV best;
        double least = 1e300;
        const int seeds = curve_->hi > curve_->lo ? 4 * std::max<int>(8, static_cast<int>(curve_->breaks.size())) : 0;
        for (int i = 0; i <= seeds; ++i) {
            const double t = seeds > 0 ? curve_->lo + (curve_->hi - curve_->lo) * i / seeds : curve_->parameter(p);
            const V3 a = curve_->at(t).p - origin_, b = p - origin_;
            const V3 ar = a - axis_ * dot(a, axis_), br = b - axis_ * dot(b, axis_);
            const double angle = std::atan2(dot(axis_, cross(ar, br)), dot(ar, br));
            const UV q{angle < 0 ? angle + u_period : angle, t};
            const double d = length(at(q).p - p);
            if (d < least) least = d, best = q;
        }
        return foot_of(*this, p, best, u, v);
    }

private:
    V3 turned(V3 a, double angle) const {
        const double c = std::cos(angle), s = std::sin(angle);
        return a * c + cross(axis_, a) * s + axis_ * (dot(axis_, a) * (1 - c));
    }
    std::shared_ptr<const Curve> curve_;
    V3 origin_, axis_;
};

class Exchanged final : public Surface {
public:
    explicit Exchanged(std::shared_ptr<const Surface> surface) : surface_(std::move(surface)) {
        kind = surface_->kind;
        u_period = surface_->v_period;
        v_period = surface_->u_period;
        u_breaks = surface_->v_breaks;
        v_breaks = surface_->u_breaks;
        v_panel = surface_->v_panel;
        v_nodes = surface_->v_nodes;
        is_spline = surface_->is_spline;
        poles = surface_->poles;
        for (Pole& pole : poles) pole.is_of_u = !pole.is_of_u;
    }
    SurfacePoint at(UV q) const override {
        const SurfacePoint s = surface_->at({q.v, q.u});
        return {s.p, s.dv, s.du};
    }
    UV invert(V3 p, const std::optional<UV>& near) const override {
        const UV q = surface_->invert(p, near ? std::optional<UV>({near->v, near->u}) : std::nullopt);
        return {q.v, q.u};
    }

private:
    std::shared_ptr<const Surface> surface_;
};

V3 read_triple(const Record& record, std::size_t argument) {
    const auto& c = record.at(argument).as_list();
    if (c.size() != 3)
        throw StepFault("STEP: a " + record.name + " with " + std::to_string(c.size()) + " numbers, 3 wanted");
    return {c[0].as_number(), c[1].as_number(), c[2].as_number()};
}
V3 read_direction(const StepFile& file, int id) {
    return unit(read_triple(file.record(id, "DIRECTION"), 1));
}

V3 read_vector(const StepFile& file, int id) {
    const Record& r = file.record(id, "VECTOR");
    return read_direction(file, r.at(1).as_id()) * r.at(2).as_number();
}

}  // namespace

Sums flux_density(const SurfacePoint& s, V3 origin) {
    const V3 n = cross(s.du, s.dv), p = s.p - origin;
    return {dot(p, n) / 3, length(n), {p.x * p.x * n.x / 2, p.y * p.y * n.y / 2, p.z * p.z * n.z / 2}, n};
}

const Gauss& gauss(int n) {
    static std::mutex mutex;
    static std::map<int, Gauss> known;
    const std::scoped_lock lock(mutex);
    Gauss& g = known[n];
    if (!g.x.empty()) return g;
    for (int i = 0; i < n; ++i) {
        double x = std::cos(kPi * (i + 0.75) / (n + 0.5)), slope = 1.0;
        for (int step = 0; step < 100; ++step) {
            double p0 = 1.0, p1 = x;
            for (int k = 2; k <= n; ++k) {
                const double p2 = ((2 * k - 1) * x * p1 - (k - 1) * p0) / k;
                p0 = p1;
                p1 = p2;
            }
            slope = n * (x * p1 - p0) / (x * x - 1);
            const double dx = p1 / slope;
            x -= dx;
            if (std::abs(dx) < 1e-16) break;
        }
        g.x.push_back(x);
        g.w.push_back(2 / ((1 - x * x) * slope * slope));
    }
    return g;
}

Sums Surface::along_v(UV uv, V3 origin) const {
    Sums sums;
    const double from = base_v(), to = uv.v, a = std::min(from, to), b = std::max(from, to),
                 sign = to < from ? -1.0 : 1.0;
    std::vector<double> cuts{a};
    for (const double k : v_breaks)
        if (k > cuts.back() && k < b) cuts.push_back(k);
    cuts.push_back(b);
    const Gauss& g = gauss(v_nodes);
    for (std::size_t i = 0; i + 1 < cuts.size(); ++i) {
        const int panels = std::max(1, static_cast<int>(std::ceil((cuts[i + 1] - cuts[i]) / v_panel - 1e-9)));
        const double half = (cuts[i + 1] - cuts[i]) / panels / 2;
        for (int k = 0; k < panels; ++k)
            for (std::size_t j = 0; j < g.x.size(); ++j)
                sums.add(flux_density(at({uv.u, cuts[i] + half * (2 * k + 1 + g.x[j])}), origin), sign * half * g.w[j]);
    }
    return sums;
}

UV foot_of(const Surface& surface, V3 p, UV q, const Range& ru, const Range& rv) {
    const auto kept = [](double t, const Range& r) {
        if (!r.is_closed) return std::clamp(t, r.lo - r.slack, r.hi + r.slack);
        const double turn = r.hi - r.lo;
        return t - turn * std::floor((t - r.lo) / turn);
    };
    double before = 1e300;
    for (int step = 0; step < 60; ++step) {
        const SurfacePoint s = surface.at(q);
        const V3 r = p - s.p;
        const double e = dot(s.du, s.du), f = dot(s.du, s.dv), g = dot(s.dv, s.dv), a = dot(r, s.du), b = dot(r, s.dv);
        const double det = e * g - f * f;
        if (!(det > 1e-24 * e * g)) break;
        const UV next{kept(q.u + (a * g - b * f) / det, ru), kept(q.v + (b * e - a * f) / det, rv)};
        const double move = length(s.du) * std::abs(next.u - q.u) + length(s.dv) * std::abs(next.v - q.v);
        q = next;
        if (move < 1e-11 || (move < 1e-8 && move >= before)) break;
        before = move;
    }
    return q;
}

V3 read_point(const StepFile& file, int id) {
    return read_triple(file.record(id, "CARTESIAN_POINT"), 1);
}

Axes read_axes(const StepFile& file, int id) {
    const Record& r = file.record(id, "AXIS2_PLACEMENT_3D");
    Axes axes;
    axes.origin = read_point(file, r.at(1).as_id());
    if (!r.at(2).is_omitted()) axes.z = read_direction(file, r.at(2).as_id());
    V3 x{1, 0, 0};
    if (!r.at(3).is_omitted())
        x = read_direction(file, r.at(3).as_id());
    else if (std::abs(axes.z.x) > 0.9999999)
        x = {0, 1, 0};
    axes.x = unit(x - axes.z * dot(x, axes.z));
    axes.y = cross(axes.z, axes.x);
    return axes;
}

std::shared_ptr<const Curve> read_curve(const StepFile& file, int id) {
    if (auto spline = read_spline_curve(file, id)) return spline;
    const Record& r = file.entity(id).records.front();
    if (r.name == "LINE")
        return std::make_shared<Line>(read_point(file, r.at(1).as_id()), read_vector(file, r.at(2).as_id()));
    if (r.name == "CIRCLE")
        return std::make_shared<Conic>(read_axes(file, r.at(1).as_id()), r.at(2).as_number(), r.at(2).as_number());
    if (r.name == "ELLIPSE")
        return std::make_shared<Conic>(read_axes(file, r.at(1).as_id()), r.at(2).as_number(), r.at(3).as_number());
    if (r.name == "SURFACE_CURVE" || r.name == "SEAM_CURVE") return read_curve(file, r.at(1).as_id());
    throw StepFault("STEP: #" + std::to_string(id) + ": no reading of a curve of kind " + r.name);
}

std::shared_ptr<const Surface> read_surface(const StepFile& file, int id) {
    if (auto spline = read_spline_surface(file, id)) return spline;
    const Record& r = file.entity(id).records.front();
    const auto axes = [&] { return read_axes(file, r.at(1).as_id()); };
    if (r.name == "PLANE") return std::make_shared<Plane>(axes());
    if (r.name == "CYLINDRICAL_SURFACE") return std::make_shared<Cone>(axes(), r.at(2).as_number(), 0.0);
    if (r.name == "CONICAL_SURFACE") return std::make_shared<Cone>(axes(), r.at(2).as_number(), r.at(3).as_number());
    if (r.name == "SPHERICAL_SURFACE") return std::make_shared<Sphere>(axes(), r.at(2).as_number());
    if (r.name == "TOROIDAL_SURFACE") return std::make_shared<Torus>(axes(), r.at(2).as_number(), r.at(3).as_number());
    if (r.name == "SURFACE_OF_LINEAR_EXTRUSION")
        return std::make_shared<Extrusion>(read_curve(file, r.at(1).as_id()), read_vector(file, r.at(2).as_id()));
    if (r.name == "SURFACE_OF_REVOLUTION") {
        const Record& axis = file.record(r.at(2).as_id(), "AXIS1_PLACEMENT");
        return std::make_shared<Revolution>(
            read_curve(file, r.at(1).as_id()), read_point(file, axis.at(1).as_id()),
            axis.at(2).is_omitted() ? V3{0, 0, 1} : read_direction(file, axis.at(2).as_id()));
    }
    throw StepFault("STEP: #" + std::to_string(id) + ": no reading of a surface of kind " + r.name);
}

std::shared_ptr<const Surface> exchanged(std::shared_ptr<const Surface> surface) {
    return std::make_shared<Exchanged>(std::move(surface));
}

}  // namespace outside

// B-splines of ISO 10303-42, rational or not, in homogeneous coordinates. Basis functions by the recurrence of Cox and
// de Boor, their derivatives from the row before the last. Past its ends a spline is carried on by its end spans, so
// that a foot point need not stop at the rim by a rounding.
#include "tests/support/step_geometry.h"

#include <algorithm>
#include <array>

namespace outside {
namespace {

constexpr int kMostDegree = 25;
using Row = std::array<double, kMostDegree + 1>;

struct H {  // w x, w y, w z, w
    double x = 0, y = 0, z = 0, w = 0;
    void add(const H& o, double s) { x += s * o.x, y += s * o.y, z += s * o.z, w += s * o.w; }
};
CurvePoint projected(const H& p, const H& d) {
    const V3 point = V3{p.x, p.y, p.z} * (1 / p.w);
    return {point, (V3{d.x, d.y, d.z} - point * d.w) * (1 / p.w)};
}

class Knots {
public:
    Knots(int degree, const std::vector<Value>& multiplicities, const std::vector<Value>& knots, std::size_t controls)
        : degree_(degree) {
        if (degree < 1 || degree > kMostDegree) throw StepFault("STEP: a spline of degree " + std::to_string(degree));
        if (multiplicities.size() != knots.size())
            throw StepFault("STEP: a spline with more knots than multiplicities, or fewer");
        for (std::size_t i = 0; i < knots.size(); ++i) {
            if (i > 0 && !(knots[i].as_number() > knots[i - 1].as_number()))
                throw StepFault("STEP: knots of a spline do not rise");
            flat_.insert(flat_.end(), static_cast<std::size_t>(multiplicities[i].as_number()), knots[i].as_number());
        }
        if (flat_.size() != controls + static_cast<std::size_t>(degree) + 1)
            throw StepFault("STEP: a spline of degree " + std::to_string(degree) + " with " + std::to_string(controls) +
                            " control points and " + std::to_string(flat_.size()) + " knots");
        breaks_.push_back(lo());
        for (const Value& k : knots)
            if (k.as_number() > breaks_.back() && k.as_number() <= hi()) breaks_.push_back(k.as_number());
    }
    int degree() const { return degree_; }
    double lo() const { return flat_[static_cast<std::size_t>(degree_)]; }
    double hi() const { return flat_[flat_.size() - 1 - static_cast<std::size_t>(degree_)]; }
    const std::vector<double>& breaks() const { return breaks_; }

    /// Index of the first control point that acts at t.
    std::size_t first(double t) const {
        const auto p = static_cast<std::ptrdiff_t>(degree_);
        // The last knot not above t, within the spans of the range; ends belong to the end spans.
        auto it = std::upper_bound(flat_.begin() + p + 1, flat_.end() - p - 1, t) - 1;
        while (it > flat_.begin() + p && !(*(it + 1) > *it)) --it;
        return static_cast<std::size_t>(it - flat_.begin() - p);
    }
    /// Values and derivatives of the degree + 1 basis functions from `first` on.
    void basis(std::size_t first, double t, Row& value, Row& slope) const {
        const auto p = static_cast<std::size_t>(degree_), span = first + p;
        value[0] = 1.0;
        for (std::size_t k = 1; k <= p; ++k) {
            if (k == p) {
                double left = 0.0;
                for (std::size_t r = 0; r < k; ++r) {
                    const double part =
                        static_cast<double>(p) * value[r] / (flat_[span + 1 + r] - flat_[span + 1 + r - k]);
                    slope[r] = left - part;
                    left = part;
                }
                slope[k] = left;
            }
            double carried = 0.0;
            for (std::size_t r = 0; r < k; ++r) {
                const double right = flat_[span + 1 + r], low = flat_[span + 1 + r - k];
                const double part = value[r] / (right - low);
                value[r] = carried + (right - t) * part;
                carried = (t - low) * part;
            }
            value[k] = carried;
        }
    }

private:
    int degree_;
    std::vector<double> flat_, breaks_;
};

class SplineCurve final : public Curve {
public:
    SplineCurve(Knots knots, std::vector<H> controls) : knots_(std::move(knots)), controls_(std::move(controls)) {
        lo = knots_.lo();
        hi = knots_.hi();
        breaks = knots_.breaks();
        if (length(at(lo).p - at(hi).p) < 1e-7) period = hi - lo;
    }
    CurvePoint at(double t) const override {
        if (period > 0) t -= t < lo || t > hi ? period * std::floor((t - lo) / period) : 0.0;
        Row value, slope;
        const std::size_t first = knots_.first(t);
        knots_.basis(first, t, value, slope);
        H p, d;
        for (std::size_t i = 0; i <= static_cast<std::size_t>(knots_.degree()); ++i) {
            p.add(controls_[first + i], value[i]);
            d.add(controls_[first + i], slope[i]);
        }
        return projected(p, d);
    }
    double parameter(V3 p) const override {
        double best = lo, least = 1e300;
        const auto consider = [&](double t) {
            const double d = length(at(t).p - p);
            if (d < least) least = d, best = t;
        };
        consider(lo);
        consider(hi);
        if (least < 1e-6) return best;
        for (std::size_t i = 0; i + 1 < breaks.size(); ++i)
            for (int k = 0; k < 8; ++k) consider(breaks[i] + (breaks[i + 1] - breaks[i]) * (k + 0.5) / 8);
        double t = best;
        for (int step = 0; step < 60; ++step) {
            const CurvePoint c = at(t);
            const double next = std::clamp(t + dot(p - c.p, c.d) / dot(c.d, c.d), lo, hi);
            const double move = std::abs(next - t) * length(c.d);
            t = next;
            if (move < 1e-11) break;
        }
        return t;
    }

private:
    Knots knots_;
    std::vector<H> controls_;
};

class SplineSurface final : public Surface {
public:
    SplineSurface(Knots u, Knots v, std::vector<H> controls, std::size_t columns)
        : u_(std::move(u)), v_(std::move(v)), controls_(std::move(controls)), columns_(columns) {
        kind = "spline";
        is_spline = true;
        u_breaks = u_.breaks();
        v_breaks = v_.breaks();
        bool closed_u = true, closed_v = true;
        for (int i = 0; i <= 16; ++i) {
            const double s = i / 16.0, fu = u_.lo() + s * (u_.hi() - u_.lo()), fv = v_.lo() + s * (v_.hi() - v_.lo());
            closed_u = closed_u && length(at({u_.lo(), fv}).p - at({u_.hi(), fv}).p) < 1e-6;
            closed_v = closed_v && length(at({fu, v_.lo()}).p - at({fu, v_.hi()}).p) < 1e-6;
        }
        if (closed_u) u_period = u_.hi() - u_.lo();
        if (closed_v) v_period = v_.hi() - v_.lo();
        for (const bool of_u : {false, true})
            for (const bool is_top : {false, true}) {
                const Knots &across = of_u ? u_ : v_, &along = of_u ? v_ : u_;
                const double side = is_top ? across.hi() : across.lo();
                const auto point = [&](double s) {
                    const double t = along.lo() + s * (along.hi() - along.lo());
                    return at(of_u ? UV{side, t} : UV{t, side}).p;
                };
                bool is_point = true;
                for (int i = 1; i <= 16; ++i) is_point = is_point && length(point(i / 16.0) - point(0)) < 1e-7;
                if (is_point) poles.push_back({side, is_top, point(0), of_u});
            }
        for (const H& c : controls_) is_rational_ = is_rational_ || c.w != controls_.front().w;
        v_nodes = is_rational_ ? 2 * v_.degree() + 6 : 2 * v_.degree();  // S x S x S' x S has degree 4 p - 1
        const Gauss& g = gauss(v_nodes);
        for (std::size_t i = 0; i + 1 < v_breaks.size(); ++i)
            for (std::size_t j = 0; j < g.x.size(); ++j) {
                const double half = (v_breaks[i + 1] - v_breaks[i]) / 2;
                nodes_.push_back(node(v_breaks[i] + half * (1 + g.x[j]), half * g.w[j]));
            }
    }
    double base_v() const override { return v_.lo(); }

    SurfacePoint at(UV q) const override {
        wrap(q);
        Row bu, du, bv, dv;
        const std::size_t i0 = u_.first(q.u), j0 = v_.first(q.v);
        u_.basis(i0, q.u, bu, du);
        v_.basis(j0, q.v, bv, dv);
        H p, pu, pv;
        for (std::size_t i = 0; i <= static_cast<std::size_t>(u_.degree()); ++i) {
            const H* row = &controls_[(i0 + i) * columns_ + j0];
            H a, b;
            for (std::size_t j = 0; j <= static_cast<std::size_t>(v_.degree()); ++j) {
                a.add(row[j], bv[j]);
                b.add(row[j], dv[j]);
            }
            p.add(a, bu[i]);
            pu.add(a, du[i]);
            pv.add(b, bu[i]);
        }
        return surface_point(p, pu, pv);
    }

    UV invert(V3 p, const std::optional<UV>& near) const override {
        const auto range = [](const Knots& k, bool closed) {
            const auto& b = k.breaks();
            return Range{k.lo(), k.hi(), 0.05 * std::min(b[1] - b[0], b.back() - b[b.size() - 2]), closed};
        };
        const Range u = range(u_, u_period > 0), v = range(v_, v_period > 0);
        if (near) {
            UV start = *near;
            wrap(start);
            const UV foot = foot_of(*this, p, start, u, v);
            if (length(at(foot).p - p) < 1e-3) return foot;
        }
        struct Seed {
            double distance;
            UV uv;
        };
        std::vector<Seed> seeds;
        for (const double fu : samples(u_))
            for (const double fv : samples(v_)) seeds.push_back({length(at({fu, fv}).p - p), {fu, fv}});
        const std::size_t tried = std::min<std::size_t>(8, seeds.size());
        std::partial_sort(seeds.begin(), seeds.begin() + static_cast<std::ptrdiff_t>(tried), seeds.end(),
                          [](const Seed& a, const Seed& b) { return a.distance < b.distance; });
        UV best = seeds.front().uv;
        double least = 1e300;
        for (std::size_t i = 0; i < tried; ++i) {
            const UV foot = foot_of(*this, p, seeds[i].uv, u, v);
            const double d = length(at(foot).p - p);
            if (d < least) least = d, best = foot;
            if (least < 1e-7) break;
        }
        return best;
    }

    /// The spline along v at fixed u is one spline curve with the same knots: its controls once, then all the spans.
    Sums along_v(UV q, V3 origin) const override {
        const double turn = v_period > 0 ? std::floor((q.v - v_.lo()) / v_period) : 0.0;
        const double v = q.v - turn * v_period;
        UV at_u{q.u, v_.lo()};
        wrap(at_u);
        Row bu, du;
        const std::size_t i0 = u_.first(at_u.u);
        u_.basis(i0, at_u.u, bu, du);
        static thread_local std::vector<H> line, slope;
        line.assign(columns_, {});
        slope.assign(columns_, {});
        for (std::size_t i = 0; i <= static_cast<std::size_t>(u_.degree()); ++i)
            for (std::size_t j = 0; j < columns_; ++j) {
                const H& c = controls_[(i0 + i) * columns_ + j];
                line[j].add(c, bu[i]);
                slope[j].add(c, du[i]);
            }
        const auto density = [&](const Node& n) {
            H p, pu, pv;
            for (std::size_t j = 0; j <= static_cast<std::size_t>(v_.degree()); ++j) {
                p.add(line[n.first + j], n.value[j]);
                pu.add(slope[n.first + j], n.value[j]);
                pv.add(line[n.first + j], n.slope[j]);
            }
            return flux_density(surface_point(p, pu, pv), origin);
        };
        const auto upto = [&](double end, Sums& sums, double sign) {
            // The span that holds `end`, or the end span beyond which it lies.
            std::size_t span = 0;
            while (span + 2 < v_breaks.size() && v_breaks[span + 1] <= end) ++span;
            const auto per = static_cast<std::size_t>(v_nodes);
            for (std::size_t k = 0; k < span * per; ++k) sums.add(density(nodes_[k]), sign * nodes_[k].weight);
            const double half = (end - v_breaks[span]) / 2;
            if (half == 0.0) return;
            const Gauss& g = gauss(v_nodes);
            for (std::size_t k = 0; k < per; ++k)
                sums.add(density(node(v_breaks[span] + half * (1 + g.x[k]), 0.0)), sign * half * g.w[k]);
        };
        Sums sums;
        upto(v, sums, 1.0);
        if (turn != 0.0) {
            Sums whole;
            upto(v_.hi(), whole, 1.0);
            sums.add(whole, turn);
        }
        return sums;
    }

private:
    struct Node {
        std::size_t first = 0;
        double weight = 0.0;
        Row value{}, slope{};
    };
    Node node(double v, double weight) const {
        Node n;
        n.first = v_.first(v);
        n.weight = weight;
        v_.basis(n.first, v, n.value, n.slope);
        return n;
    }
    static SurfacePoint surface_point(const H& p, const H& pu, const H& pv) {
        const CurvePoint a = projected(p, pu), b = projected(p, pv);
        return {a.p, a.d, b.d};
    }
    static std::vector<double> samples(const Knots& k) {
        std::vector<double> out;
        const auto& b = k.breaks();
        const int per = b.size() > 40 ? 1 : b.size() > 10 ? 3 : 8;
        for (std::size_t i = 0; i + 1 < b.size(); ++i)
            for (int j = 0; j < per; ++j) out.push_back(b[i] + (b[i + 1] - b[i]) * j / per);
        out.push_back(b.back());
        return out;
    }
    void wrap(UV& q) const {
        if (u_period > 0 && (q.u < u_.lo() || q.u > u_.hi())) q.u -= u_period * std::floor((q.u - u_.lo()) / u_period);
        if (v_period > 0 && (q.v < v_.lo() || q.v > v_.hi())) q.v -= v_period * std::floor((q.v - v_.lo()) / v_period);
    }

    Knots u_, v_;
    std::vector<H> controls_;  // row by row: u slow, v fast
    std::size_t columns_;
    std::vector<Node> nodes_;
    bool is_rational_ = false;
};

/// Attributes of a spline, whether written as one record or as a complex instance.
struct Spline {
    std::vector<const Value*> shape, knots;
    const Value* weights = nullptr;
};
std::optional<Spline> find_spline(const StepFile& file, int id, const std::string& base, std::size_t shape_values) {
    const Entity& e = file.entity(id);
    const Record* knots = e.find(base + "_WITH_KNOTS");
    if (knots == nullptr) return {};
    Spline s;
    const Record* shape = e.find(base);
    const std::size_t skip = shape == nullptr ? 1 : 0;  // the name comes first in the simple form
    for (std::size_t i = 0; i < shape_values; ++i)
        s.shape.push_back(shape != nullptr ? &shape->at(i) : &knots->at(i + skip));
    for (std::size_t i = shape == nullptr ? shape_values + skip : 0; i < knots->arguments.size(); ++i)
        s.knots.push_back(&knots->at(i));
    if (const Record* rational = e.find("RATIONAL_" + base)) s.weights = &rational->at(0);
    return s;
}
H control(const StepFile& file, const Value& point, double w) {
    const V3 p = read_point(file, point.as_id());
    if (!(w > 0)) throw StepFault("STEP: a spline with a weight that is not positive");
    return {p.x * w, p.y * w, p.z * w, w};
}

}  // namespace

std::shared_ptr<const Curve> read_spline_curve(const StepFile& file, int id) {
    const auto s = find_spline(file, id, "B_SPLINE_CURVE", 5);
    if (!s) return nullptr;
    std::vector<H> controls;
    const auto& points = s->shape[1]->as_list();
    for (std::size_t i = 0; i < points.size(); ++i)
        controls.push_back(
            control(file, points[i], s->weights != nullptr ? s->weights->as_list().at(i).as_number() : 1.0));
    Knots knots(static_cast<int>(s->shape[0]->as_number()), s->knots.at(0)->as_list(), s->knots.at(1)->as_list(),
                controls.size());
    return std::make_shared<SplineCurve>(std::move(knots), std::move(controls));
}

std::shared_ptr<const Surface> read_spline_surface(const StepFile& file, int id) {
    const auto s = find_spline(file, id, "B_SPLINE_SURFACE", 7);
    if (!s) return nullptr;
    std::vector<H> controls;
    const auto& rows = s->shape[2]->as_list();
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const auto& row = rows[i].as_list();
        if (row.size() != rows.front().as_list().size())
            throw StepFault("STEP: a spline surface with rows of unequal length");
        for (std::size_t j = 0; j < row.size(); ++j)
            controls.push_back(control(
                file, row[j], s->weights != nullptr ? s->weights->as_list().at(i).as_list().at(j).as_number() : 1.0));
    }
    const std::size_t columns = rows.at(0).as_list().size();
    Knots u(static_cast<int>(s->shape[0]->as_number()), s->knots.at(0)->as_list(), s->knots.at(2)->as_list(),
            rows.size());
    Knots v(static_cast<int>(s->shape[1]->as_number()), s->knots.at(1)->as_list(), s->knots.at(3)->as_list(), columns);
    return std::make_shared<SplineSurface>(std::move(u), std::move(v), std::move(controls), columns);
}

}  // namespace outside

// A surface integral of density g over the trimmed domain D of a face, by Green's theorem:
//
//     over D of g du dv = - round D of G du,   G(u, v) = integral of g(u, s) ds from a fixed v to v
//
// The loops are the face's edges taken back into the (u, v) plane: at each node of a Gauss rule on the edge the curve's
// point is inverted, and du/dt follows from the curve's tangent, so that no curve in parameter space is needed. Loops
// of a face run round its normal; where the face turns its surface round they run the other way in (u, v), and the flux
// has the other sign as well: both cancel, and only the area asks for same_sense.
//
// Closed surfaces  u is carried on continuously. Loops that go round u without a seam leave G du free of any cut, since
//                  g repeats; loops that go round v have u and v exchanged.
// Poles            (ball, cone) have no u. A loop that passes through one turns there by the angle between its two
//                  edges on the side where the face lies; a face with a pole inside has a sum of turns left over, which
//                  the pole's own side v = const takes up.
// Quadrature       per smooth piece of the curve; 4 nodes against 6, then halves, until volume and area stand still.
#include "tests/support/step_reader.h"

#include <algorithm>
#include <cmath>

namespace outside {
namespace {

constexpr double kAtPole = 1e-6;  // mm

/// Thrown when loops go round v: exchange and begin again.
struct GoesRoundV {};

class Integral {
public:
    Integral(const Surface& surface, const Edges& edges, double sense, V3 origin, double size)
        : surface_(surface),
          edges_(edges),
          sense_(sense),
          origin_(origin),
          volume_step_(1e-10 * size * size * size),
          area_step_(1e-9 * size * size) {}

    void add(const Loop& loop) {
        if (loop.uses.empty()) return;
        std::optional<UV> first, here;
        for (const EdgeUse& use : loop.uses) {
            const Run run = run_of(use);
            const UV begin = here ? continued(*here, run, run.t0) : inverted(run, run.t0, {});
            if (here) segment(*here, begin);
            if (!first) first = begin;
            here = edge(run, begin);
        }
        const UV target = continued(*here, run_of(loop.uses.front()), run_of(loop.uses.front()).t0);
        segment(*here, target);
        if (surface_.v_period > 0 && std::abs(target.v - first->v) > surface_.v_period / 2) throw GoesRoundV{};
        if (surface_.u_period > 0) turn_ += surface_.u_period * std::round((target.u - first->u) / surface_.u_period);
    }
    /// A closed surface with no edges: its whole range.
    void add_whole() {
        if (surface_.u_period <= 0) throw StepFault("STEP: an open face without edges");
        double lo = 0.0, hi = surface_.v_period;
        for (const Surface::Pole& pole : surface_.poles)
            if (!pole.is_of_u) (pole.is_top ? hi : lo) = pole.v;
        if (!(hi > lo)) throw StepFault("STEP: an open face without edges");
        const double turn = sense_ * surface_.u_period;
        segment({0, lo}, {turn, lo});
        segment({turn, hi}, {0, hi});
    }
    /// The side of a pole inside the face.
    void close_turns() {
        if (turn_ == 0.0) return;
        const bool is_top = turn_ * sense_ > 0;
        for (const Surface::Pole& pole : surface_.poles)
            if (pole.is_top == is_top && !pole.is_of_u) return segment({turn_, pole.v}, {0, pole.v});
        throw StepFault("STEP: loops of a face on a " + surface_.kind + " go round it and leave it open");
    }

    Sums sums;
    double off_surface = 0.0, unresolved = 0.0;

private:
    struct Run {
        const Curve* curve;
        double t0, t1;
    };
    Run run_of(const EdgeUse& use) const {
        const Edge& e = edges_.at(use.edge);
        return use.is_forward ? Run{e.curve.get(), e.t0, e.t1} : Run{e.curve.get(), e.t1, e.t0};
    }
    const Surface::Pole* pole_at(V3 p) const {
        for (const Surface::Pole& pole : surface_.poles)
            if (length(p - pole.at) < kAtPole) return &pole;
        return nullptr;
    }
    UV inverted(const Run& run, double t, const std::optional<UV>& near) {
        const V3 p = run.curve->at(t).p;
        if (const Surface::Pole* pole = pole_at(p)) {
            // There the other parameter is the limit along the curve.
            std::optional<UV> limit;
            for (const double step : {1e-2, 1e-4, 1e-6})
                limit = surface_.invert(run.curve->at(t + (t == run.t0 ? step : -step) * (run.t1 - run.t0)).p, limit);
            (pole->is_of_u ? limit->u : limit->v) = pole->v;
            return *limit;
        }
        const UV uv = surface_.invert(p, near);
        off_surface = std::max(off_surface, length(surface_.at(uv).p - p));
        return uv;
    }
    UV nearest_turn(UV uv, UV to) const {
        if (surface_.u_period > 0) uv.u += surface_.u_period * std::round((to.u - uv.u) / surface_.u_period);
        if (surface_.v_period > 0) uv.v += surface_.v_period * std::round((to.v - uv.v) / surface_.v_period);
        return uv;
    }
    /// Parameters of the run's end at t, carried on from `here`, which is the same point of space.
    UV continued(UV here, const Run& run, double t) {
        UV next = inverted(run, t, here);
        const Surface::Pole* pole = pole_at(run.curve->at(t).p);
        const double period = surface_.u_period;
        if (pole == nullptr || period <= 0 || pole->is_of_u) return nearest_turn(next, here);
        const double way = pole->is_top ? -sense_ : sense_;
        double turn = way * (next.u - here.u);
        turn -= period * std::floor(turn / period);
        if (turn < 1e-6) turn += period;
        return {here.u + way * turn, pole->v};
    }
    /// A straight way in (u, v) that is one point of space.
    void segment(UV a, UV b) {
        if (a.u == b.u) return;
        // Cut at the knots and, where there are none, at eighths of a turn.
        std::vector<double> cuts{0.0, 1.0};
        const double period = surface_.u_period, lo = std::min(a.u, b.u), hi = std::max(a.u, b.u);
        std::vector<double> marks = surface_.u_breaks;
        if (marks.empty() && period > 0)
            for (int k = 0; k < 8; ++k) marks.push_back(period * k / 8);
        const double from =
            period > 0 ? period * std::floor((lo - (marks.empty() ? 0.0 : marks.front())) / period) : 0.0;
        for (double turn = from; turn <= (period > 0 ? hi : from); turn += period > 0 ? period : 1.0)
            for (const double mark : marks)
                if (mark + turn > lo && mark + turn < hi) cuts.push_back((mark + turn - a.u) / (b.u - a.u));
        std::sort(cuts.begin(), cuts.end());
        const Gauss& g = gauss(8);
        for (std::size_t i = 0; i + 1 < cuts.size(); ++i)
            for (std::size_t j = 0; j < g.x.size(); ++j) {
                const double half = (cuts[i + 1] - cuts[i]) / 2, s = cuts[i] + half * (1 + g.x[j]);
                sums.add(surface_.along_v({a.u + s * (b.u - a.u), a.v + s * (b.v - a.v)}, origin_),
                         -g.w[j] * half * (b.u - a.u));
            }
    }
    std::vector<double> pieces(const Run& run) const {
        std::vector<double> t{run.t0};
        const double lo = std::min(run.t0, run.t1), hi = std::max(run.t0, run.t1);
        if (!run.curve->breaks.empty()) {
            for (double b : run.curve->breaks)
                for (const double at : {b, b + run.curve->period})
                    if (at > lo + 1e-12 * (hi - lo) && at < hi - 1e-12 * (hi - lo)) t.push_back(at);
            std::sort(t.begin() + 1, t.end());
            t.erase(std::unique(t.begin() + 1, t.end()), t.end());
            if (run.t1 < run.t0) std::reverse(t.begin() + 1, t.end());
        }
        t.push_back(run.t1);
        int least = surface_.is_spline ? 4 : 1;
        if (run.curve->period > 0)
            least =
                std::max(least, static_cast<int>(std::ceil(run.curve->pieces * (hi - lo) / run.curve->period - 1e-9)));
        if (surface_.u_period > 0) least = std::max(least, 2);
        const int each = (least + static_cast<int>(t.size()) - 2) / (static_cast<int>(t.size()) - 1);
        std::vector<double> out;
        for (std::size_t i = 0; i + 1 < t.size(); ++i)
            for (int k = 0; k < each; ++k) out.push_back(t[i] + (t[i + 1] - t[i]) * k / each);
        out.push_back(run.t1);
        return out;
    }
    UV along(const Run& run, UV begin, const std::vector<double>& cuts, int halves, int nodes, Sums& out) {
        const Gauss& g = gauss(nodes);
        UV here = begin;
        for (std::size_t i = 0; i + 1 < cuts.size(); ++i)
            for (int k = 0; k < halves; ++k) {
                const double step = (cuts[i + 1] - cuts[i]) / halves, middle = cuts[i] + step * (k + 0.5);
                for (std::size_t j = g.x.size(); j-- > 0;) {  // the rule's nodes fall; its first is the last
                    const CurvePoint c = run.curve->at(middle + 0.5 * step * g.x[j]);
                    here = nearest_turn(surface_.invert(c.p, here), here);
                    const SurfacePoint s = surface_.at(here);
                    off_surface = std::max(off_surface, length(s.p - c.p));
                    const double e = dot(s.du, s.du), f = dot(s.du, s.dv), h = dot(s.dv, s.dv);
                    const double speed = (dot(c.d, s.du) * h - dot(c.d, s.dv) * f) / (e * h - f * f);
                    if (std::abs(speed * step) * std::sqrt(e) < 1e-10) continue;
                    out.add(surface_.along_v(here, origin_), -0.5 * g.w[j] * step * speed);
                }
            }
        return here;
    }
    UV edge(const Run& run, UV begin) {
        const std::vector<double> cuts = pieces(run);
        Sums before;
        along(run, begin, cuts, 1, 4, before);
        Sums now;
        UV here;
        double change = 0.0;
        for (int halves = 1; halves <= 64; halves *= 2) {
            now = {};
            here = along(run, begin, cuts, halves, 6, now);
            change = std::abs(now.volume - before.volume);
            if (change < volume_step_ && std::abs(now.area - before.area) < area_step_) break;
            before = now;
        }
        sums.add(now);
        unresolved += change;
        UV end = inverted(run, run.t1, here);
        return nearest_turn(end, here);
    }

    const Surface& surface_;
    const Edges& edges_;
    double sense_;
    V3 origin_;
    double volume_step_, area_step_;
    double turn_ = 0.0;
};

/// Has no edge that leads to another face. The seams of a whole torus may be written in an order that runs the wrong
/// way round (the kernel's writer does); as they bound nothing, they are not asked.
bool is_whole(const Face& face) {
    std::map<int, int> used;
    for (const Loop& loop : face.loops)
        for (const EdgeUse& use : loop.uses) ++used[use.edge];
    const bool closes = face.surface->u_period > 0 && face.surface->v_period > 0;
    return used.empty() ||
           (closes && std::all_of(used.begin(), used.end(), [](const auto& u) { return u.second == 2; }));
}

}  // namespace

void integrate(Face& face, const Edges& edges, V3 origin, double size) {
    std::shared_ptr<const Surface> surface = face.surface;
    double sense = face.same_sense ? 1.0 : -1.0;
    for (int attempt = 0;; ++attempt) {
        Integral integral(*surface, edges, sense, origin, size);
        try {
            if (is_whole(face)) {
                integral.add_whole();
            } else {
                for (const Loop& loop : face.loops) integral.add(loop);
                integral.close_turns();
            }
        } catch (const GoesRoundV&) {
            if (attempt > 0) throw StepFault("STEP: loops of a face go round its surface both ways");
            surface = exchanged(surface);
            sense = -sense;
            continue;
        }
        face.sums = integral.sums;
        face.sums.area *= sense;
        face.off_surface = integral.off_surface;
        face.unresolved = integral.unresolved;
        if (!(face.sums.area > 0.0)) face.fault = "is inside out: its area is " + std::to_string(face.sums.area);
        return;
    }
}

double volume_over_fan(const Edges& edges, const std::vector<EdgeUse>& uses, V3 middle, V3 origin) {
    const Gauss& g = gauss(16);
    double sum = 0.0;
    for (const EdgeUse& use : uses) {
        const Edge& e = edges.at(use.edge);
        const double from = use.is_forward ? e.t0 : e.t1, to = use.is_forward ? e.t1 : e.t0;
        constexpr int kPieces = 64;
        for (int k = 0; k < kPieces; ++k)
            for (std::size_t j = 0; j < g.x.size(); ++j) {
                const CurvePoint c = e.curve->at(from + (to - from) * (k + 0.5 + 0.5 * g.x[j]) / kPieces);
                sum += g.w[j] * (to - from) / (2 * kPieces) * dot(middle - origin, cross(c.p - origin, c.d)) / 6;
            }
    }
    return sum;
}

}  // namespace outside

// Deviation is the field's value over the length of its gradient at points of the spline. A break is the angle between
// the normals the two faces of a smooth edge have at the same point of it. Which way a span is halved follows the
// control net: the direction in which its second differences along the normal are large is the one that lacks knots.
#include "geom/skin/internal/quality.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

namespace geom::skin {

namespace {

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

struct Samples {
    std::vector<double> t;
    std::vector<CubicBasis::Values> b;
    Samples(const CubicBasis& basis, int per_span) : t(basis.samples(per_span)) {
        for (const double x : t) b.push_back(basis.at(x));
    }
};

double angle_deg(Vec3 a, Vec3 b) {
    return std::atan2(norm(cross(a, b)), dot(a, b)) * 180.0 / std::numbers::pi;
}

// Centres of the ball rolled along the rim, all the way round.
std::vector<Point3> ball_centres(const FaceNet& net, const FitSource& source) {
    std::vector<Point3> centres;
    for (int k = 0; k < 4; ++k)
        for (const double t : net.arcs[at(ring_arc(k))].basis.samples(8)) {
            const Point3 ring = net.arcs[at(ring_arc(k))].at(t);
            centres.push_back(ring - source.field.normal(ring) * source.rim.radius_mm);
        }
    return centres;
}

Point3 nearest_centre(const std::vector<Point3>& centres, Point3 p) {
    std::size_t best = 0;
    for (std::size_t i = 1; i < centres.size(); ++i)
        if (norm2(centres[i] - p) < norm2(centres[best] - p)) best = i;
    Point3 nearest = centres[best];
    for (const std::size_t other : {(best + 1) % centres.size(), (best + centres.size() - 1) % centres.size()}) {
        const Vec3 d = centres[other] - centres[best];
        const double t = std::clamp(dot(p - centres[best], d) / std::max(norm2(d), 1e-12), 0.0, 1.0);
        const Point3 q = centres[best] + d * t;
        if (norm2(p - q) < norm2(p - nearest)) nearest = q;
    }
    return nearest;
}

// Normal of a face along one of its sides, at the side's parameter.
Vec3 side_normal(const SplinePatch& face, int side, double t) {
    const double u = side == 1 ? 1.0 : side == 3 ? 0.0 : t, v = side == 2 ? 1.0 : side == 0 ? 0.0 : t;
    const auto jet = face.at(u, v);
    return unit(cross(jet.du, jet.dv));
}

struct ArcUse {
    const SplinePatch* face;
    int side;
    bool reversed;
};

std::vector<ArcUse> uses_of(const FaceNet& net, int arc) {
    std::vector<ArcUse> uses;
    for (int p = 0; p < kPieces; ++p) {
        const auto sides = piece_sides(p);
        for (int s = 0; s < 4; ++s)
            if (sides[at(s)].arc == arc) uses.push_back({&net.faces[at(p)], s, sides[at(s)].reversed});
    }
    if (net.has_collar && arc < 4) uses.push_back({&net.collars[at(arc)], 2, false});
    return uses;
}

std::optional<double> arc_break(const std::vector<ArcUse>& uses, double t) {
    if (uses.size() != 2) return {};
    Vec3 n[2];
    for (std::size_t w = 0; w < 2; ++w) n[w] = side_normal(*uses[w].face, uses[w].side, uses[w].reversed ? 1.0 - t : t);
    return angle_deg(n[0], n[1]);
}

// `centres` of the rolled ball for a collar; none for a face that is fitted to the field.
void judge_face(const SplinePatch& face, const std::vector<Point3>& centres, const FitSource& source, int per_span,
                Judgement& out) {
    const bool collar = !centres.empty();
    const Samples su(face.u, per_span), sv(face.v, per_span);
    for (const auto& bv : sv.b)
        for (const auto& bu : su.b) {
            const auto jet = face.at(bu, bv);
            Vec3 n;
            double deviation = 0.0;
            if (collar) {
                n = jet.p - nearest_centre(centres, jet.p);
                deviation = std::abs(norm(n) - source.rim.radius_mm);
                out.fit_mm.push_back(deviation);
            } else {
                const double height = source.field.raw(jet.p);
                deviation = std::abs(height);
                out.most_proud_mm = std::max(out.most_proud_mm, height);
                out.fit_mm.push_back(std::abs(source.field.value(jet.p, n)));
            }
            n = unit(n);
            out.deviation_mm.push_back(deviation);
            if (deviation > out.worst_deviation_mm) out.worst_deviation_mm = deviation, out.worst_deviation_at = jet.p;
            const double j = dot(cross(jet.du, jet.dv), n) / (norm(jet.du) * norm(jet.dv) + 1e-30);
            if (j < out.least_jacobian) out.least_jacobian = j, out.least_jacobian_at = jet.p;
        }
}

}  // namespace

Judgement judge(const FaceNet& net, const FitSource& source, int per_span) {
    Judgement out;
    for (const auto& face : net.faces) judge_face(face, {}, source, per_span, out);
    if (net.has_collar) {
        const auto centres = ball_centres(net, source);
        for (const auto& collar : net.collars) judge_face(collar, centres, source, per_span, out);
    }
    const auto note = [&](double degrees, Point3 place) {
        out.break_deg.push_back(degrees);
        if (degrees > out.worst_break_deg) out.worst_break_deg = degrees, out.worst_break_at = place;
    };
    for (int a = 0; a < kArcs; ++a) {
        const auto uses = uses_of(net, a);
        if (uses.size() != 2) continue;
        for (const double t : net.arcs[at(a)].basis.samples(5)) note(*arc_break(uses, t), net.arcs[at(a)].at(t));
    }
    if (net.has_collar)
        for (int k = 0; k < 4; ++k) {
            for (const double t : net.rim_arcs[at(k)].basis.samples(2))
                note(angle_deg(side_normal(net.collars[at(k)], 0, t), Vec3{0, -1, 0}), net.rim_arcs[at(k)].at(t));
            for (int i = 0; i <= 8; ++i) {
                const double t = i / 8.0;
                note(angle_deg(side_normal(net.collars[at(k)], 3, t), side_normal(net.collars[at((k + 3) % 4)], 1, t)),
                     net.corner_arcs[at(k)].at(t));
            }
        }
    return out;
}

bool halve_bad_spans(FaceNet& net, const FitSource& source, const RefineLimits& limits) {
    std::array<std::vector<double>, 3> excess;  // over the limit, by span; 0 where all is well
    for (std::size_t f = 0; f < 3; ++f) excess[f].assign(net.family_breaks[f].size() - 1, 0.0);
    const auto mark = [&](PieceSide side, int span, int spans, double ratio) {
        const auto family = arc_family(side.arc);
        double& e = excess[at(family.family)][at(family.reversed != side.reversed ? spans - 1 - span : span)];
        e = std::max(e, ratio);
    };
    for (int p = 0; p < kPieces; ++p) {
        const auto& face = net.faces[at(p)];
        const auto sides = piece_sides(p);
        const Samples su(face.u, 2), sv(face.v, 2);
        for (const auto& bv : sv.b)
            for (const auto& bu : su.b) {
                const auto jet = face.at(bu, bv);
                Vec3 g;
                const double value = source.field.value(jet.p, g);
                const double ratio = std::abs(value) / std::max(norm(g), 0.3) / limits.deviation_mm;
                if (ratio <= 1.0) continue;
                const Vec3 n = unit(g);
                const auto bend = [&](int di, int dj) {
                    double most = 0.0;
                    for (int q = 0; q < 2; ++q) {
                        const int i = std::clamp(bu.first + 1 + di * q, 1, face.u.size() - 2),
                                  j = std::clamp(bv.first + 1 + dj * q, 1, face.v.size() - 2);
                        most = std::max(most, std::abs(dot(face.control(i - di, j - dj) - face.control(i, j) * 2.0 +
                                                               face.control(i + di, j + dj),
                                                           n)));
                    }
                    return most;
                };
                const double bend_u = bend(1, 0), bend_v = bend(0, 1);
                const auto width = [](const CubicBasis& b, int span) {
                    return b.breaks()[at(span + 1)] - b.breaks()[at(span)];
                };
                if (bend_u >= 0.8 * bend_v && norm(jet.du) * width(face.u, bu.first) > limits.least_span_mm)
                    mark(sides[0], bu.first, face.u.spans(), ratio);
                if (bend_v >= 0.8 * bend_u && norm(jet.dv) * width(face.v, bv.first) > limits.least_span_mm)
                    mark(sides[3], bv.first, face.v.spans(), ratio);
            }
    }
    for (int a = 0; a < kArcs; ++a) {
        const auto uses = uses_of(net, a);
        const auto& arc = net.arcs[at(a)];
        for (const double t : arc.basis.samples(5)) {
            const auto degrees = arc_break(uses, t);
            if (!degrees || *degrees <= limits.break_deg) continue;
            const int span = arc.basis.span_of(t);
            if (norm(arc.derivative(t)) * (arc.basis.breaks()[at(span + 1)] - arc.basis.breaks()[at(span)]) >
                limits.least_span_mm)
                mark({a, false}, span, arc.basis.spans(), *degrees / limits.break_deg);
        }
    }
    // The worst first, as long as there is room for control points.
    struct Span {
        double ratio;
        std::size_t family, index;
    };
    std::vector<Span> order;
    std::array<std::size_t, 3> size{};
    for (std::size_t f = 0; f < 3; ++f) {
        size[f] = net.family_breaks[f].size() + 2;
        for (std::size_t i = 0; i < excess[f].size(); ++i)
            if (excess[f][i] > 0.0) order.push_back({excess[f][i], f, i});
    }
    std::stable_sort(order.begin(), order.end(), [](const Span& a, const Span& b) { return a.ratio > b.ratio; });
    std::array<std::vector<char>, 3> halve;
    for (std::size_t f = 0; f < 3; ++f) halve[f].assign(excess[f].size(), 0);
    bool any = false;
    for (const auto& span : order) {
        auto grown = size;
        ++grown[span.family];
        const std::size_t collar = net.has_collar ? 8 * (grown[0] + grown[1]) : 0;
        if (2 * grown[2] * (grown[0] + grown[1]) + grown[0] * grown[1] + collar > limits.most_control_points) continue;
        size = grown;
        halve[span.family][span.index] = 1;
        any = true;
    }
    if (!any) return false;
    for (std::size_t f = 0; f < 3; ++f) {
        std::vector<double> breaks;
        const auto& old = net.family_breaks[f];
        for (std::size_t i = 0; i + 1 < old.size(); ++i) {
            breaks.push_back(old[i]);
            if (halve[f][i]) breaks.push_back(0.5 * (old[i] + old[i + 1]));
        }
        breaks.push_back(1.0);
        net.family_breaks[f] = std::move(breaks);
    }
    return true;
}

double percentile(std::vector<double> values, double q) {
    if (values.empty()) return 0.0;
    const auto i = std::min(values.size() - 1, static_cast<std::size_t>(q * static_cast<double>(values.size())));
    std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(i), values.end());
    return values[i];
}

}  // namespace geom::skin

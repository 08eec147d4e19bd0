// B-spline rows by the Cox-de Boor recursion on flat knots; everything else by the kernel's first derivatives.
#include "geom/measure/internal/surface_rows.h"

#include <GeomAdaptor_Surface.hxx>
#include <Geom_BSplineSurface.hxx>
#include <Geom_BezierSurface.hxx>
#include <Geom_RectangularTrimmedSurface.hxx>
#include <TColStd_Array1OfReal.hxx>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace geom::measure::internal {

namespace {

constexpr int kMostDegree = 25;  // the kernel's own limit

struct Basis {
    int first = 0;                                     ///< index of the first control point that acts
    std::array<double, kMostDegree + 1> value, slope;  // up to the degree
};

class KnotLine {
public:
    KnotLine() = default;
    KnotLine(int degree, std::vector<double> flat) : degree_(degree), flat_(std::move(flat)) {}

    int span(double t) const {
        const int last = static_cast<int>(flat_.size()) - degree_ - 2;
        const auto begin = flat_.begin() + degree_, end = flat_.begin() + last + 1;
        const int k = static_cast<int>(std::upper_bound(begin, end, t) - flat_.begin()) - 1;
        return std::clamp(k, degree_, last);
    }

    Basis at(double t) const {
        Basis b;  // NOLINT: its arrays are filled as far as they are read
        const int p = degree_, k = span(t);
        b.first = k - p;
        std::array<double, kMostDegree + 2> n;  // of the degree reached, n[j] belongs to control point k - r + j
        n[0] = 1.0;
        for (int r = 1; r <= p; ++r) {
            if (r == p) {
                for (int j = 0; j <= p; ++j) {
                    double d = 0.0;
                    if (j > 0) d += n[idx(j - 1)] / (knot(k + j) - knot(k + j - p));
                    if (j < p) d -= n[idx(j)] / (knot(k + j + 1) - knot(k + j + 1 - p));
                    b.slope[idx(j)] = p * d;
                }
            }
            double carried = 0.0;
            for (int j = 0; j < r; ++j) {
                const double left = knot(k + j + 1 - r), right = knot(k + j + 1);
                const double part = n[idx(j)] / (right - left);
                n[idx(j)] = carried + (right - t) * part;
                carried = (t - left) * part;
            }
            n[idx(r)] = carried;
        }
        std::copy_n(n.begin(), p + 1, b.value.begin());
        return b;
    }

    int degree() const { return degree_; }

private:
    static std::size_t idx(int i) { return static_cast<std::size_t>(i); }
    double knot(int i) const { return flat_[static_cast<std::size_t>(i)]; }
    int degree_ = 1;
    std::vector<double> flat_;
};

class BsplineRows final : public SurfaceRows {
public:
    explicit BsplineRows(const Handle(Geom_BSplineSurface) & given) {
        Handle(Geom_BSplineSurface) s = given;
        if (s->IsUPeriodic() || s->IsVPeriodic()) {
            s = Handle(Geom_BSplineSurface)::DownCast(given->Copy());
            s->SetUNotPeriodic();
            s->SetVNotPeriodic();
        }
        u_line_ = KnotLine(s->UDegree(), to_vector(s->UKnotSequence()));
        v_line_ = KnotLine(s->VDegree(), to_vector(s->VKnotSequence()));
        for (int i = 1; i <= s->NbUKnots(); ++i) u_breaks.push_back(s->UKnot(i));
        for (int i = 1; i <= s->NbVKnots(); ++i) v_breaks.push_back(s->VKnot(i));
        rational_ = s->IsURational() || s->IsVRational();
        const int extra = rational_ ? 6 : 0;
        u_points = std::min(2 * s->UDegree() + extra, 32);
        v_points = std::min(2 * s->VDegree() + extra, 32);
        is_bspline = true;
        nu_ = s->NbUPoles();
        nv_ = s->NbVPoles();
        poles_.resize(static_cast<std::size_t>(nu_) * static_cast<std::size_t>(nv_));
        weights_.assign(rational_ ? poles_.size() : 0, 1.0);
        for (int i = 0; i < nu_; ++i)
            for (int j = 0; j < nv_; ++j) {
                const gp_Pnt& p = s->Pole(i + 1, j + 1);
                const double w = rational_ ? s->Weight(i + 1, j + 1) : 1.0;
                poles_[at(i, j)] = Vec3{p.X(), p.Y(), p.Z()} * w;
                if (rational_) weights_[at(i, j)] = w;
            }
    }

    void row(double v, const std::vector<double>& u, std::vector<PatchPoint>& out) const override {
        out.resize(u.size());
        if (u.empty()) return;
        const Basis bv = v_line_.at(v);
        const int q = v_line_.degree(), p = u_line_.degree();
        const int first = u_line_.span(u.front()) - p, last = u_line_.span(u.back());
        const std::size_t n = static_cast<std::size_t>(last - first + 1);
        std::vector<Vec3> value(n), slope(n);
        std::vector<double> w_value(rational_ ? n : 0), w_slope(rational_ ? n : 0);
        for (std::size_t i = 0; i < n; ++i) {
            for (int j = 0; j <= q; ++j) {
                const std::size_t k = at(first + static_cast<int>(i), bv.first + j);
                const double b = bv.value[static_cast<std::size_t>(j)], d = bv.slope[static_cast<std::size_t>(j)];
                value[i] += poles_[k] * b;
                slope[i] += poles_[k] * d;
                if (rational_) {
                    w_value[i] += weights_[k] * b;
                    w_slope[i] += weights_[k] * d;
                }
            }
        }
        for (std::size_t a = 0; a < u.size(); ++a) {
            const Basis bu = u_line_.at(u[a]);
            PatchPoint x;
            double w = 0.0, wu = 0.0, wv = 0.0;
            for (int i = 0; i <= p; ++i) {
                const std::size_t k = static_cast<std::size_t>(bu.first - first + i);
                const double b = bu.value[static_cast<std::size_t>(i)], d = bu.slope[static_cast<std::size_t>(i)];
                x.at += value[k] * b;
                x.du += value[k] * d;
                x.dv += slope[k] * b;
                if (rational_) {
                    w += w_value[k] * b;
                    wu += w_value[k] * d;
                    wv += w_slope[k] * b;
                }
            }
            if (rational_) {
                x.at = x.at / w;
                x.du = (x.du - x.at * wu) / w;
                x.dv = (x.dv - x.at * wv) / w;
            }
            out[a] = x;
        }
    }

private:
    static std::vector<double> to_vector(const TColStd_Array1OfReal& a) { return {a.begin(), a.end()}; }
    std::size_t at(int i, int j) const {
        return static_cast<std::size_t>(i) * static_cast<std::size_t>(nv_) + static_cast<std::size_t>(j);
    }
    KnotLine u_line_, v_line_;
    int nu_ = 0, nv_ = 0;
    bool rational_ = false;
    std::vector<Vec3> poles_;      // times weight
    std::vector<double> weights_;  // empty where all are one
};

class KernelRows final : public SurfaceRows {
public:
    KernelRows(const Handle(Geom_Surface) & surface, double u_lo, double u_hi, double v_lo, double v_hi)
        : surface_(surface) {
        const GeomAdaptor_Surface adaptor(surface, u_lo, u_hi, v_lo, v_hi);
        constexpr double kTurn = std::numbers::pi / 4;
        switch (adaptor.GetType()) {
            case GeomAbs_Plane:
                is_plane = true;
                u_points = v_points = 2;
                u_breaks = {u_lo, u_hi};
                v_breaks = {v_lo, v_hi};
                break;
            case GeomAbs_Cylinder:
            case GeomAbs_Cone:
                u_breaks = even(u_lo, u_hi, kTurn);
                v_breaks = {v_lo, v_hi};
                break;
            case GeomAbs_Sphere:
            case GeomAbs_Torus:
                u_breaks = even(u_lo, u_hi, kTurn);
                v_breaks = even(v_lo, v_hi, kTurn);
                break;
            default: {
                TColStd_Array1OfReal u(1, adaptor.NbUIntervals(GeomAbs_CN) + 1);
                TColStd_Array1OfReal v(1, adaptor.NbVIntervals(GeomAbs_CN) + 1);
                adaptor.UIntervals(u, GeomAbs_CN);
                adaptor.VIntervals(v, GeomAbs_CN);
                u_breaks = halved(u);
                v_breaks = halved(v);
            }
        }
    }

    void row(double v, const std::vector<double>& u, std::vector<PatchPoint>& out) const override {
        out.resize(u.size());
        for (std::size_t a = 0; a < u.size(); ++a) {
            gp_Pnt p;
            gp_Vec du, dv;
            surface_->D1(u[a], v, p, du, dv);
            out[a] = {{p.X(), p.Y(), p.Z()}, {du.X(), du.Y(), du.Z()}, {dv.X(), dv.Y(), dv.Z()}};
        }
    }

private:
    static std::vector<double> even(double lo, double hi, double most) {
        const int n = std::max(1, static_cast<int>(std::ceil((hi - lo) / most)));
        std::vector<double> breaks;
        for (int i = 0; i <= n; ++i) breaks.push_back(lo + (hi - lo) * i / n);
        return breaks;
    }
    static std::vector<double> halved(const TColStd_Array1OfReal& knots) {
        std::vector<double> breaks;
        for (int i = knots.Lower(); i < knots.Upper(); ++i) {
            breaks.push_back(knots(i));
            breaks.push_back(0.5 * (knots(i) + knots(i + 1)));
        }
        breaks.push_back(knots(knots.Upper()));
        return breaks;
    }
    Handle(Geom_Surface) surface_;
};

}  // namespace

Handle(Geom_Surface) untrimmed(const Handle(Geom_Surface) & given) {
    Handle(Geom_Surface) surface = given;
    while (const auto trimmed = Handle(Geom_RectangularTrimmedSurface)::DownCast(surface))
        surface = trimmed->BasisSurface();
    return surface;
}

std::unique_ptr<SurfaceRows> surface_rows(const Handle(Geom_Surface) & given, double u_lo, double u_hi, double v_lo,
                                          double v_hi) {
    const Handle(Geom_Surface) surface = untrimmed(given);
    if (const auto spline = Handle(Geom_BSplineSurface)::DownCast(surface)) {
        auto rows = std::make_unique<BsplineRows>(spline);
        // A periodic surface may be asked for beyond its one period; the kernel's own evaluation wraps round.
        const double slack = 1e-9 * (1.0 + std::abs(u_hi) + std::abs(v_hi));
        if (u_lo >= rows->u_breaks.front() - slack && u_hi <= rows->u_breaks.back() + slack &&
            v_lo >= rows->v_breaks.front() - slack && v_hi <= rows->v_breaks.back() + slack)
            return rows;
    }
    return std::make_unique<KernelRows>(surface, u_lo, u_hi, v_lo, v_hi);
}

}  // namespace geom::measure::internal

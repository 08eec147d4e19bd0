// Knots are put in until a span is a few millimetres wide, which changes no shape; control points then lie next to the
// surface, and those over the plane's own part of the face are moved onto it along its normal. The knots stay simple,
// so the face stays as smooth as it was. Two rows at a face's border are left alone: its neighbours share them.
#include "geom/parts/internal/flat_strip.h"

#include "geom/parts/internal/boolean.h"

#include <BRepBuilderAPI_Copy.hxx>
#include <BRep_Tool.hxx>
#include <Geom_BSplineSurface.hxx>
#include <TColStd_Array1OfInteger.hxx>
#include <TColStd_Array1OfReal.hxx>
#include <TopoDS.hxx>

#include <algorithm>
#include <cmath>

namespace geom::parts {
namespace {

using space::Stretch;
using Surface = Handle(Geom_BSplineSurface);

constexpr double kMostOff_mm = 0.25;                   // farther off its plane a face is no fit of it
constexpr double kFirst_mm = 1.0, kWidth_mm = 24.0;    // of a strip, from where the rounding leaves the face
constexpr double kFade_mm = 20.0, kEndFade_mm = 10.0;  // beyond it, and at its ends
constexpr double kAcross_mm = 3.0, kAlong_mm = 4.0;    // widest span
constexpr int kMostParts = 12;
constexpr int kSamples = 12;
constexpr double kBlocks_mm = 4.0;  // a control point off the plane is felt so far along the edge
constexpr int kBorder = 2;

double smooth(double x) {
    x = std::clamp(x, 0.0, 1.0);
    return x * x * (3.0 - 2.0 * x);
}

/// One side of the corner; coordinates along the edge (s) and from it into the face (u).
class Strip {
public:
    Strip(const Corner& corner, const Plane& face, Vec3 into, const std::vector<Stretch>& allowed)
        : corner_(corner), face_(face), into_(into), allowed_(allowed), first_(corner.tangent_mm() + kFirst_mm) {}

    void flatten(const std::vector<Surface>& surfaces) const {
        std::vector<Surface> here;
        for (const Surface& surface : surfaces)
            if (refine(surface)) here.push_back(surface);
        const auto stretch = longest(free_of_others(here));
        if (!stretch) return;
        for (const Surface& surface : here)
            for (int i = 1 + kBorder; i <= surface->NbUPoles() - kBorder; ++i)
                for (int j = 1 + kBorder; j <= surface->NbVPoles() - kBorder; ++j) {
                    const Point3 p = from_occt(surface->Pole(i, j));
                    const double off = face_.height(p), share = share_at(p, *stretch);
                    if (share > 0.0 && std::abs(off) <= kMostOff_mm)
                        surface->SetPole(i, j, to_occt(p - face_.outward * (off * share)));
                }
    }

private:
    double s(Point3 p) const { return dot(p - corner_.at, corner_.along); }
    double u(Point3 p) const { return dot(p - corner_.at, into_); }

    bool is_near(Point3 p) const {
        if (u(p) < first_ - kAcross_mm || u(p) > first_ + kWidth_mm + kFade_mm) return false;
        if (std::abs(face_.height(p)) > 4.0 * kMostOff_mm) return false;
        return std::any_of(allowed_.begin(), allowed_.end(),
                           [&](const Stretch& a) { return s(p) > a.from_mm && s(p) < a.to_mm; });
    }

    double share_at(Point3 p, const Stretch& stretch) const {
        if (u(p) < first_) return 0.0;
        const double from_end = std::min(s(p) - stretch.from_mm, stretch.to_mm - s(p));
        return smooth(from_end / kEndFade_mm) * smooth((first_ + kWidth_mm + kFade_mm - u(p)) / kFade_mm);
    }

    /// Puts knots in; whether any of the face is near.
    bool refine(const Surface& surface) const {
        bool is_any = false;
        for (const bool in_u : {true, false}) {
            TColStd_Array1OfReal knots(1, in_u ? surface->NbUKnots() : surface->NbVKnots()),
                other(1, in_u ? surface->NbVKnots() : surface->NbUKnots());
            in_u ? surface->UKnots(knots) : surface->VKnots(knots);
            in_u ? surface->VKnots(other) : surface->UKnots(other);
            const auto at = [&](double along_it, double across_it) {
                return from_occt(in_u ? surface->Value(along_it, across_it) : surface->Value(across_it, along_it));
            };
            std::vector<double> more;
            for (int k = 1; k < knots.Length(); ++k) {
                double parts = 1.0;
                for (int q = 0; q <= kSamples * (other.Length() - 1); ++q) {
                    const int span = std::min(1 + q / kSamples, other.Length() - 1);
                    const double t = static_cast<double>(q - (span - 1) * kSamples) / kSamples;
                    const double across_it = other(span) + (other(span + 1) - other(span)) * t;
                    const Point3 a = at(knots(k), across_it), b = at(knots(k + 1), across_it);
                    if (!is_near(a) && !is_near(b)) continue;
                    is_any = true;
                    parts = std::max({parts, std::abs(u(b) - u(a)) / kAcross_mm, std::abs(s(b) - s(a)) / kAlong_mm});
                }
                const int n = std::min(kMostParts, static_cast<int>(std::ceil(parts)));
                for (int q = 1; q < n; ++q) more.push_back(knots(k) + (knots(k + 1) - knots(k)) * q / n);
            }
            if (more.empty()) continue;
            TColStd_Array1OfReal put(1, static_cast<int>(more.size()));
            TColStd_Array1OfInteger times(1, put.Length());
            times.Init(1);
            for (int q = 1; q <= put.Length(); ++q) put(q) = more[static_cast<std::size_t>(q - 1)];
            in_u ? surface->InsertUKnots(put, times, 0.0, false) : surface->InsertVKnots(put, times, 0.0, false);
        }
        return is_any;
    }

    /// `allowed_` without the lengths over which a face beside the corner leaves the plane.
    std::vector<Stretch> free_of_others(const std::vector<Surface>& surfaces) const {
        std::vector<double> blocked;
        for (const Surface& surface : surfaces)
            for (int i = 1; i <= surface->NbUPoles(); ++i)
                for (int j = 1; j <= surface->NbVPoles(); ++j) {
                    const Point3 p = from_occt(surface->Pole(i, j));
                    if (u(p) < first_ || u(p) > first_ + kWidth_mm || face_.height(p) > corner_.radius_mm ||
                        face_.height(p) < -2.0 * corner_.radius_mm)
                        continue;
                    if (std::abs(face_.height(p)) > kMostOff_mm) blocked.push_back(s(p));
                }
        std::sort(blocked.begin(), blocked.end());
        std::vector<Stretch> free;
        for (const Stretch& a : allowed_) {
            double from = a.from_mm;
            for (const double at : blocked) {
                if (at - kBlocks_mm > from && from < a.to_mm)
                    free.push_back({from, std::min(a.to_mm, at - kBlocks_mm)});
                from = std::max(from, at + kBlocks_mm);
            }
            if (from < a.to_mm) free.push_back({from, a.to_mm});
        }
        return free;
    }

    const Corner& corner_;
    const Plane& face_;
    Vec3 into_;
    const std::vector<Stretch>& allowed_;
    double first_;
};

}  // namespace

TopoDS_Solid with_flat_strips(const TopoDS_Solid& body, const Corner& corner, const std::vector<Stretch>& allowed) {
    const TopoDS_Solid copy = TopoDS::Solid(BRepBuilderAPI_Copy(body, true).Shape());
    std::vector<Surface> surfaces;
    for (const TopoDS_Face& face : faces_of(copy)) {
        const Surface surface = Surface::DownCast(BRep_Tool::Surface(face));
        if (!surface.IsNull() && !surface->IsURational() && !surface->IsVRational()) surfaces.push_back(surface);
    }
    Strip(corner, corner.a, corner.into_a(), allowed).flatten(surfaces);
    Strip(corner, corner.b, corner.into_b(), allowed).flatten(surfaces);
    return copy;
}

}  // namespace geom::parts

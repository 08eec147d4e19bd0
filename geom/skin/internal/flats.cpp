// A span of a spline lies in a plane when all its control points do. Control points in the midst of a flat already lie
// within hundredths of a millimetre of it; they are put there exactly, and the spans that come out planar are found by
// looking at the control points again, bit for bit. The plane face is bounded by parameter lines of the spline: those
// are spline curves with known control points, so that edge, spline face and plane agree to rounding.
#include "geom/skin/internal/flats.h"

#include <algorithm>
#include <cmath>

namespace geom::skin {

namespace {

constexpr double kOnPlaneMm = 0.03;     // surface point that belongs to the flat
constexpr double kSnapMm = 0.04;        // control point that may be moved onto it
constexpr double kFlatCosine = 0.9995;  // normals within 1.8 degrees
constexpr double kExactMm = 1e-9;
constexpr double kInsetMm = 2.0;

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

bool is_flat_there(Point3 surface, const Plane& plane, const WorkingField& field) {
    return std::abs(plane.height(surface)) < kOnPlaneMm && dot(field.normal(surface), plane.outward) > kFlatCosine;
}

}  // namespace

void snap_arc(SplineCurve& arc, bool keep_y, const FitSource& source) {
    for (const auto& plane : source.flats_box) {
        Vec3 way = plane.outward;
        if (keep_y) way.y = 0.0;
        const double gain = dot(way, plane.outward);
        if (gain < 0.1) continue;
        for (int i = 1; i + 1 < arc.basis.size(); ++i) {
            const Point3 c = arc.control(i);
            const double height = plane.height(c);
            if (std::abs(height) < kSnapMm && is_flat_there(arc.at(arc.basis.greville(i)), plane, source.field))
                arc.set_control(i, c - way * (height / gain));
        }
    }
}

void snap_face(SplinePatch& face, const FitSource& source) {
    const int nu = face.u.size(), nv = face.v.size();
    for (const auto& plane : source.flats_box)
        for (int j = 1; j + 1 < nv; ++j)
            for (int i = 1; i + 1 < nu; ++i) {
                // The second row holds the tangent along the arc: it may move only where the arc itself is in the
                // plane.
                const int ai = i == 1 ? 0 : i == nu - 2 ? nu - 1 : i, aj = j == 1 ? 0 : j == nv - 2 ? nv - 1 : j;
                if ((ai != i && std::abs(plane.height(face.control(ai, j))) > kExactMm) ||
                    (aj != j && std::abs(plane.height(face.control(i, aj))) > kExactMm))
                    continue;
                const Point3 c = face.control(i, j);
                const double height = plane.height(c);
                if (std::abs(height) < kSnapMm &&
                    is_flat_there(face.at(face.u.greville(i), face.v.greville(j)).p, plane, source.field))
                    face.set_control(i, j, c - plane.outward * height);
            }
}

std::vector<PlaneCut> find_plane_cuts(const FaceNet& net, const FitSource& source, double least_mm) {
    std::vector<PlaneCut> cuts;
    for (int f = 0; f < kPieces; ++f) {
        const auto& face = net.faces[at(f)];
        const int nu = face.u.spans(), nv = face.v.spans();
        const auto& bu = face.u.breaks();
        const auto& bv = face.v.breaks();
        for (std::size_t p = 0; p < source.flats_box.size(); ++p) {
            const auto& plane = source.flats_box[p];
            std::vector<char> on(at(nu + 3) * at(nv + 3));
            for (int j = 0; j < nv + 3; ++j)
                for (int i = 0; i < nu + 3; ++i)
                    on[at(j) * at(nu + 3) + at(i)] = std::abs(plane.height(face.control(i, j))) < kExactMm;
            const auto planar = [&](int i, int j) {
                for (int b = 0; b < 4; ++b)
                    for (int a = 0; a < 4; ++a)
                        if (!on[at(j + b) * at(nu + 3) + at(i + a)]) return false;
                return true;
            };
            // Largest rectangle under a histogram, row by row, judged by the product of its mid lines' lengths.
            std::vector<int> depth(at(nu), 0);
            double best = 0.0;
            int bi0 = 0, bi1 = 0, bj0 = 0, bj1 = 0;
            for (int j = 0; j < nv; ++j) {
                for (int i = 0; i < nu; ++i) depth[at(i)] = planar(i, j) ? depth[at(i)] + 1 : 0;
                for (int i0 = 0; i0 < nu; ++i0) {
                    int low = depth[at(i0)];
                    for (int i1 = i0; i1 < nu && low > 0; ++i1) {
                        low = std::min(low, depth[at(i1)]);
                        if (low == 0) break;
                        const double area = (bu[at(i1 + 1)] - bu[at(i0)]) * (bv[at(j + 1)] - bv[at(j + 1 - low)]);
                        if (area > best) best = area, bi0 = i0, bi1 = i1 + 1, bj0 = j + 1 - low, bj1 = j + 1;
                    }
                }
            }
            if (best <= 0.0) continue;
            PlaneCut cut{f, static_cast<int>(p), bu[at(bi0)], bu[at(bi1)], bv[at(bj0)], bv[at(bj1)]};
            const auto middle = face.at(0.5 * (cut.u0 + cut.u1), 0.5 * (cut.v0 + cut.v1));
            const double inset_u = kInsetMm / std::max(norm(middle.du), 1.0),
                         inset_v = kInsetMm / std::max(norm(middle.dv), 1.0);
            cut.u0 += inset_u, cut.u1 -= inset_u, cut.v0 += inset_v, cut.v1 -= inset_v;
            if ((cut.u1 - cut.u0) * norm(middle.du) < least_mm || (cut.v1 - cut.v0) * norm(middle.dv) < least_mm)
                continue;
            cuts.push_back(cut);
        }
    }
    return cuts;
}

}  // namespace geom::skin

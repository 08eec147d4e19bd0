// A parametric surface evaluated a row at a time: many u at one v. For B-splines the control net is contracted in v
// once a row, which makes a point of an integral cost tens of operations instead of a call into the kernel.
#pragma once

#include "geom/core/vec.h"

#include <Geom_Surface.hxx>

#include <memory>
#include <vector>

namespace geom::measure::internal {

struct PatchPoint {
    Vec3 at, du, dv;
};

class SurfaceRows {
public:
    virtual ~SurfaceRows() = default;

    /// Points at (u[k], v). u must rise.
    virtual void row(double v, const std::vector<double>& u, std::vector<PatchPoint>& out) const = 0;

    /// Parameters between which the surface is smooth, ends of its domain included; rising.
    std::vector<double> u_breaks, v_breaks;
    /// Gauss points a break interval that integrate volume and first moments exactly (splines without weights, planes)
    /// or to rounding (the others).
    int u_points = 12, v_points = 12;
    bool is_bspline = false, is_plane = false;
};

/// The surface without trimming rectangles round it.
Handle(Geom_Surface) untrimmed(const Handle(Geom_Surface) & surface);

/// `lo` and `hi` bound what will be asked for: surfaces without ends of their own are broken up between them.
std::unique_ptr<SurfaceRows> surface_rows(const Handle(Geom_Surface) & surface, double u_lo, double u_hi, double v_lo,
                                          double v_hi);

}  // namespace geom::measure::internal

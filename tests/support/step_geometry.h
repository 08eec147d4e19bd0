// Curves and surfaces of ISO 10303-42 by the standard's own formulas: points, derivatives, and the parameters of a
// point on them. Lengths in the file's unit (millimetres in our files), angles in radians.
//
// Shares no code with the program nor with its kernel, hence a vector of its own.
#pragma once

#include "tests/support/step_file.h"

#include <cmath>
#include <limits>
#include <memory>
#include <optional>
#include <vector>

namespace outside {

struct V3 {
    double x = 0.0, y = 0.0, z = 0.0;
};
inline V3 operator+(V3 a, V3 b) {
    return {a.x + b.x, a.y + b.y, a.z + b.z};
}
inline V3 operator-(V3 a, V3 b) {
    return {a.x - b.x, a.y - b.y, a.z - b.z};
}
inline V3 operator*(V3 a, double s) {
    return {a.x * s, a.y * s, a.z * s};
}
inline V3& operator+=(V3& a, V3 b) {
    return a = a + b;
}
inline double dot(V3 a, V3 b) {
    return a.x * b.x + a.y * b.y + a.z * b.z;
}
inline V3 cross(V3 a, V3 b) {
    return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}
inline double length(V3 a) {
    return std::sqrt(dot(a, a));
}
inline V3 unit(V3 a) {
    return a * (1.0 / length(a));
}

/// Right-handed axes at an origin (AXIS2_PLACEMENT_3D).
struct Axes {
    V3 origin, x{1, 0, 0}, y{0, 1, 0}, z{0, 0, 1};

    V3 to_parent(V3 p) const { return origin + turned(p); }
    V3 turned(V3 d) const { return x * d.x + y * d.y + z * d.z; }
    V3 to_local(V3 p) const { return {dot(p - origin, x), dot(p - origin, y), dot(p - origin, z)}; }
};

struct CurvePoint {
    V3 p, d;
};

class Curve {
public:
    virtual ~Curve() = default;
    virtual CurvePoint at(double t) const = 0;
    /// Parameter of the point of the curve nearest to `p`.
    virtual double parameter(V3 p) const = 0;
    /// 0 when the curve is not closed.
    double period = 0.0;
    /// Range of a spline; lines have none, closed curves have theirs from 0 to period unless said.
    double lo = 0.0, hi = 0.0;
    /// Where the curve is less smooth than elsewhere: ends and inner knots, rising; empty when smooth everywhere.
    std::vector<double> breaks;
    /// Smooth pieces that a turn of it needs for a quadrature of six points to be exact to rounding.
    int pieces = 1;
};

struct SurfacePoint {
    V3 p, du, dv;
};
struct UV {
    double u = 0.0, v = 0.0;
};

/// What the flux of a few fields through a piece of a surface adds up to. All are about the origin of the integral.
struct Sums {
    double volume = 0.0;  ///< of p / 3: the volume of the cone from the origin
    double area = 0.0;    ///< of the unit normal; positive along the surface's own normal
    V3 moment;            ///< of (x^2, y^2, z^2) / 2 by component: first moment of the volume
    V3 normal;            ///< vector area; over a closed surface it vanishes

    void add(const Sums& s, double weight = 1.0) {
        volume += s.volume * weight;
        area += s.area * weight;
        moment += s.moment * weight;
        normal += s.normal * weight;
    }
};
Sums flux_density(const SurfacePoint& s, V3 origin);

class Surface {
public:
    virtual ~Surface() = default;
    virtual SurfacePoint at(UV uv) const = 0;
    /// Parameters of the point of the surface nearest to `p`; `near` starts the search where there is no closed form.
    virtual UV invert(V3 p, const std::optional<UV>& near) const = 0;
    /// Integral over v of the flux density at this u, from `base_v()` to v.
    virtual Sums along_v(UV uv, V3 origin) const;
    virtual double base_v() const { return 0.0; }

    double u_period = 0.0, v_period = 0.0;  ///< 0 when open that way
    /// Values of v at which all u are one point of space, and on which side of the surface's range they lie; of splines
    /// also values of u at which all v are one point.
    struct Pole {
        double v = 0.0;
        bool is_top = false;
        V3 at;
        bool is_of_u = false;  ///< the value above is one of u
    };
    std::vector<Pole> poles;
    std::vector<double> u_breaks, v_breaks;                    ///< knots, rising
    double v_panel = std::numeric_limits<double>::infinity();  ///< widest panel for the quadrature along v
    int v_nodes = 8;
    bool is_spline = false;
    std::string kind;
};

/// Gauss-Legendre nodes and weights on [-1, 1].
struct Gauss {
    std::vector<double> x, w;
};
const Gauss& gauss(int n);

/// Splines, in step_splines.cpp; null when the instance is none.
std::shared_ptr<const Curve> read_spline_curve(const StepFile& file, int id);
std::shared_ptr<const Surface> read_spline_surface(const StepFile& file, int id);
/// Gauss-Newton from `start` to the foot of `p`; wraps round closed directions and keeps within `slack` of the range
/// given in the others.
struct Range {
    double lo = 0.0, hi = 0.0, slack = 0.0;
    bool is_closed = false;
};
UV foot_of(const Surface& surface, V3 p, UV start, const Range& u, const Range& v);

Axes read_axes(const StepFile& file, int id);
V3 read_point(const StepFile& file, int id);
std::shared_ptr<const Curve> read_curve(const StepFile& file, int id);
std::shared_ptr<const Surface> read_surface(const StepFile& file, int id);
/// The same surface with u and v exchanged: its normal points the other way.
std::shared_ptr<const Surface> exchanged(std::shared_ptr<const Surface> surface);

}  // namespace outside

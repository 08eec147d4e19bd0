// What holes leave of a ring between one another and to its walls.
#pragma once

#include "geom/measure/triangle_tree.h"
#include "geom/parts/internal/bolt_line.h"
#include "geom/parts/ring.h"

#include <memory>

namespace geom::parts {

/// A cylinder that is cut, or a cone; heights of the line run from where the hole begins into the ring.
struct RingCut {
    std::string name;
    BoltLine line;                                ///< vehicle frame
    double radius_mm = 0.0;                       ///< of a cone the larger one
    double from_mm = 0.0, to_mm = 0.0;            ///< of the hole
    double tool_from_mm = 0.0, tool_to_mm = 0.0;  ///< past the faces it goes through
    /// Of a cone the radius where it begins; -1: a cylinder.
    double cone_mm = -1.0;

    bool is_cone() const { return cone_mm >= 0.0; }
};
TopoDS_Shape tool_of(const RingCut& cut);

struct Segment {
    Point3 from, to;
};
Segment axis_of(const RingCut& cut);

struct Nearness {
    double mm = 0.0;
    Point3 at;  ///< half way, or on the wall
};
/// Of two segments.
Nearness nearest(const Segment& a, const Segment& b);

/// One of the two walls that holes lie between: the ring's outside, or its bore.
class RingSide {
public:
    /// The cylinder about a line. `is_outside`: the ring lies within it.
    static RingSide cylinder(const BoltLine& axis, double radius_mm, bool is_outside);
    /// Any wall, by triangles within a chord of it: `closed` bounds the ring's filled outside, or the bore; the wall is
    /// what of it does not lie in one of the planes.
    /// Faults: Internal  the kernel failed
    static Result<RingSide> of(const TopoDS_Shape& closed, const std::vector<Plane>& no_wall, bool is_outside,
                               const Context& context);

    /// Ring between the hole's wall and this one; negative: how far it runs into it.
    Nearness left(const RingCut& hole) const;
    double distance_to(Point3 p) const;
    /// From a place to the wall; negative on the side where the ring is not. Not for places in its end planes.
    double room(Point3 p) const;
    bool is_cylinder() const { return tree_ == nullptr; }

private:
    friend Nearness wall_between(const RingSide& bore, const RingSide& outside);
    BoltLine axis_{};
    double radius_mm_ = 0.0;
    bool is_outside_ = false;
    std::shared_ptr<const measure::TriangleTree> tree_, closed_;
    TriMesh wall_;
};

/// Ring between bore and outside, by their triangles.
Nearness wall_between(const RingSide& bore, const RingSide& outside);

/// Collects webs; the first that is too thin is the fault.
class Webs {
public:
    Status keep(std::string between, double left_mm, double wanted_mm, Point3 at, const std::string& hint);
    Status keep(const RingCut& a, const RingCut& b, double wanted_mm, const std::string& hint);
    Status keep(const RingCut& hole, const RingSide& side, const char* what, double wanted_mm, const std::string& hint);

    std::vector<RingWeb> kept;
};

}  // namespace geom::parts

// An edge of two limits that stays sharp while all others are rounded: where it can be, and the air it gains.
//
// Form     The body is made with all edges rounded; a straight bar then fills the corner between the two planes up to
//          their edge. Over kRunOut_radii radii at both ends every section goes over, along the corner's bisector, from
//          the sharp one into the rounded one, so that no step stands there (a stopped edge with a run-out).
// Volume   section between edge and rounding, R^2 (1 / tan(v / 2) - (pi - v) / 2) at an angle v between the planes,
//          times the sharp length; over a run-out it falls as a straight line, so that counts half.
// Inside   the air has the same edge a wall further in. It and its run-outs stay within the sharp length outside: next
//          to a rounded outside a sharp air would come too near.
// Frame    vehicle, mm.
#pragma once

#include "geom/parts/enclosure.h"

#include <optional>
#include <vector>

namespace geom::parts {

constexpr double kRunOut_radii = 3.0;  // length of a run-out [common practice of stopped chamfers]

/// Two planes that meet in an edge, and the rounding there.
struct Corner {
    Plane a, b;  ///< of the body's own faces
    Point3 at;   ///< on the edge, its zero
    Vec3 along;  ///< unit
    double radius_mm = 0.0;

    double angle_rad() const;    ///< between the faces, through the body
    double tangent_mm() const;   ///< from the edge to where the rounding leaves either face
    double section_mm2() const;  ///< between edge and rounding
    double run_out_mm() const { return kRunOut_radii * radius_mm; }
    Point3 edge_at(double s_mm) const { return at + along * s_mm; }
    Vec3 into_a() const;  ///< from the edge into face a, square to the edge, unit
    Vec3 into_b() const;
};

/// That of the outer body, and that of the air: each with the rounding that the fields give it there. Both have their
/// zeros at the same place along the edge.
Corner outer_corner(const space::SharpEdge& edge, const EnclosureRequest& request);
Corner air_corner(const space::SharpEdge& edge, const EnclosureRequest& request);

/// The sharp part of a bar that takes up `whole`; negative length when there is none.
space::Stretch sharp_part(const Corner& corner, const space::Stretch& whole);
/// What a bar adds, its run-outs in `whole`; none where nothing of it is sharp.
double bar_mm3(const Corner& corner, const space::Stretch& whole);

std::vector<space::Stretch> common(const std::vector<space::Stretch>& a, const std::vector<space::Stretch>& b);
std::optional<space::Stretch> longest(const std::vector<space::Stretch>& stretches);

/// Where, by the field, both faces reach to the rounding, behind box y `front_y_mm`.
std::vector<space::Stretch> faces_reach(const Corner& corner, const space::Field& body, double front_y_mm);

/// What all sharp edges add to the air with the baffle at `t_mm`, by the fields and the closed form: for the size
/// solve. Edges that the request no longer asks for do not count.
Volume sharp_edges_in_air(const space::Room& room, const space::Field& air, const EnclosureRequest& request,
                          double t_mm);

/// Faults: BadJob  a limit that is sharp by itself, a name that no limit bears, planes that are nearly parallel
Status check_sharp_edges(const EnclosureRequest& request);

}  // namespace geom::parts

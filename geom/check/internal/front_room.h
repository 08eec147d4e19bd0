// What must stay free before a driver: a cylinder that stands on its seating plane, as wide as the flange or as asked,
// as high as the cone's travel and a grille want.
//
// Frame     vehicle, mm.
#pragma once

#include "geom/check/internal/stands_round.h"
#include "geom/check/verdict.h"
#include "geom/parts/cone_needs.h"
#include "geom/parts/enclosure.h"

namespace geom::check {

struct Case;

/// What may stand before the baffle and does not come along when it is moved: keep-outs, limits, the scan.
std::vector<Standing> stands_before(const Case& c);  ///< front_check.cpp
/// Triangles of the part that stand before its own front.
TriMesh before_own_front(const Case& c);

/// As high and wide as asked, or as what stands there: the cone at its travel within the flange.
Turned front_column(Point3 seat, Vec3 outward, double needs_mm, Length across,
                    const std::optional<parts::GrilleRoom>& asked);

/// How high a column may be, 500 when nothing is met, and what is met: `least(height)` is what is left round one that
/// high.
Met free_height(const std::function<Met(double)>& least);
/// The same among all that stands round it.
Met free_height(const std::vector<Standing>& round, const Turned& column);

/// Diameter, free height, and what the cone needs.
FrontFit told_front(const std::vector<Standing>& round, const Turned& column, const parts::ConeNeeds& needs);

/// Of a grille room that is asked: what is left beside it, and that it holds what stands there: "the cone's travel".
CheckLine grille_room_line(const Turned& column, const Met& least, double scan_bound_mm);
CheckLine held_line(const std::string& what, const Turned& column, const parts::ConeNeeds& needs);

}  // namespace geom::check

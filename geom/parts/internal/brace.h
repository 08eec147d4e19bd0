// Braces: posts in the air from inner wall to inner wall.
#pragma once

#include "geom/parts/internal/sleeve.h"

namespace geom::parts {

struct BracePlan {
    std::string name;
    BoltLine line;  ///< its axis; heights along it
    double radius_mm = 0.0;
    double from_mm = 0.0, to_mm = 0.0;            ///< where the axis meets the inner walls, by the field
    double tool_from_mm = 0.0, tool_to_mm = 0.0;  ///< all of both ends in the walls
};

/// Faults: Impossible  the axis misses the air or meets a wall at its edge, or the brace comes too near the driver, a
///                     side wall, a sleeve, another brace or a separate plate: where, by how much
Result<BracePlan> plan_brace(const Site& site, const Brace& brace, const BaffleRoom& baffle,
                             const std::vector<SleevePlan>& sleeves, const std::vector<BracePlan>& others);

/// `count` braces more, each where it splits the largest area of opposite walls that are nearly flat.
/// Faults: Impossible  there is no place for that many
Result<std::vector<BracePlan>> place_braces(const Site& site, int count, const BaffleRoom& baffle,
                                            const std::vector<SleevePlan>& sleeves, std::vector<BracePlan> braces);

/// Distance of a place from a brace; negative inside.
double distance_to(const BracePlan& brace, Point3 p);

TopoDS_Shape air_tool(const BracePlan& brace);

/// `pieces`: what the brace has in common with the air.
BraceMade brace_made(const BracePlan& brace, const std::vector<TopoDS_Shape>& pieces, double mm3);

}  // namespace geom::parts

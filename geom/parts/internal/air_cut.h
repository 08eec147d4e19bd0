// Solids that stand in the air, sleeves and braces, taken from it in one boolean.
#pragma once

#include "geom/parts/internal/boolean.h"

#include <string>
#include <vector>

namespace geom::parts {

struct AirTool {
    std::string name;  ///< for faults: "brace \"brace 1\""
    TopoDS_Shape shape;
};

struct AirCut {
    TopoDS_Solid air;
    std::vector<double> mm3;                        ///< that each takes
    std::vector<std::vector<TopoDS_Shape>> pieces;  ///< what each has in common with the air
};

/// Tools must not touch one another.
/// Faults: Impossible  the air falls apart
Result<AirCut> cut_air(const TopoDS_Solid& air, const std::vector<AirTool>& tools);

}  // namespace geom::parts

// The bar that makes one edge of a body sharp again: planned on the body's flat faces, modelled without a boolean of
// faces that lie on one another.
#pragma once

#include "geom/parts/internal/boolean.h"
#include "geom/parts/sharp_edge.h"

namespace geom::parts {

struct BarPlan {
    space::Stretch whole;                     ///< run-outs included
    double from_a_mm = 0.0, from_b_mm = 0.0;  ///< how far from the edge it meets the two faces, past the rounding
};

/// The longest bar within `allowed` that has flat faces beside it; none when there is no such place, or no more than
/// the run-outs would fit.
std::optional<BarPlan> plan_bar(const TopoDS_Solid& body, const Corner& corner,
                                const std::vector<space::Stretch>& allowed);

struct Barred {
    TopoDS_Solid solid;
    space::Stretch whole;  ///< as made
    double added_mm3 = 0.0;
};
/// Faults: Internal  the kernel fails, or the bar adds another volume than its form
Result<Barred> add_bar(const std::string& feature, const TopoDS_Solid& body, const Corner& corner, const BarPlan& plan);

}  // namespace geom::parts

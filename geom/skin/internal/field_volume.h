// Volume of the body behind the baffle plane, from the grid alone: the skin's volume is held against it.
#pragma once

#include "geom/skin/internal/base_mesh.h"

namespace geom::skin {

/// {field < 0, y > baffle_y}: the linear interpolant on six tetrahedra a cell, of the field less its chord error.
double field_volume_mm3(const space::Field& body, double baffle_y_mm);

/// What rounding the rim takes away: the area between the two tangents and the arc, along the rim.
double rounding_volume_mm3(const DiskMesh& mesh, const WorkingField& field, const RimPlace& rim);

}  // namespace geom::skin

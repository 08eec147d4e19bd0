// A field in a file, for debugging only (`--dump`): 8 bytes "GWFIELD1", the grid as 19 doubles (origin, x, y, z of
// vehicle_from_box; lo; h; nx, ny, nz), then the values as floats, x fastest; native byte order.
#pragma once

#include "geom/core/result.h"
#include "geom/space/field.h"

#include <filesystem>

namespace geom::space {

/// Faults: CannotWrite
Status save_field(const Field& field, const std::filesystem::path& file);
/// Faults: Unreadable
Result<Field> load_field(const std::filesystem::path& file);

}  // namespace geom::space

// A field as bytes: 8 bytes "GWFIELD1", the grid as 19 doubles (origin, x, y, z of vehicle_from_box; lo; h; nx, ny,
// nz), then the values as floats, x fastest; native byte order. Files of them are for debugging only (`--dump`).
#pragma once

#include "geom/core/result.h"
#include "geom/space/field.h"

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

namespace geom::space {

void append_field(std::string& bytes, const Field& field);
/// Takes the field from the front of `bytes` and moves them on; none, and nothing moved, when they are no field.
std::optional<Field> take_field(std::string_view& bytes);

/// Faults: CannotWrite
Status save_field(const Field& field, const std::filesystem::path& file);
/// Faults: Unreadable
Result<Field> load_field(const std::filesystem::path& file);

}  // namespace geom::space

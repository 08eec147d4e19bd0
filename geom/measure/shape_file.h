// Reading shapes to be measured: meshes in the formats of geom/scan/read.h, 3MF among them, and STEP.
//
// Unknown origin  a STEP file is looked through as text first (step_text.h) and then tried in a child process, so that
//                 what crashes the kernel's reader becomes a fault.
// Units           glTF, 3MF and STEP say theirs. Of the others it has to be stated, or a remark in the file says it.
#pragma once

#include "geom/core/context.h"
#include "geom/measure/shape_volume.h"
#include "geom/scan/unit.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace geom::measure {

enum class ShapeUnitBy { File, Statement, Remark };

struct ShapeFile {
    std::filesystem::path path;
    std::string format;
    scan::FileUnit unit = scan::FileUnit::Millimetre;
    ShapeUnitBy unit_by = ShapeUnitBy::File;
    std::optional<MeshInput> mesh;  ///< either a mesh,
    std::vector<NamedBrep> breps;   ///< or products of a STEP file
};

/// Faults: Unreadable  missing, empty, damaged, not a known format
///         BadScan     points without triangles, or points of no extent
///         WrongUnit   the file says no unit and none is stated; the hint lists plausible ones, likeliest first
///         MemoryLimit
Result<ShapeFile> read_shape(const std::filesystem::path& file, std::optional<scan::FileUnit> unit,
                             const Context& context);

}  // namespace geom::measure

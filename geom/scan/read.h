// Reading point clouds and meshes: PLY (ASCII, both binaries), STL (ASCII, binary), OBJ, OFF, XYZ/CSV text.
// The format is judged by content first and by the file's ending only where content cannot tell.
#pragma once

#include "geom/core/context.h"
#include "geom/core/tri_mesh.h"
#include "geom/core/units.h"

#include <filesystem>
#include <string>
#include <vector>

namespace geom::scan {

/// The unit of the numbers inside a scan file; nothing in the common formats says it.
enum class FileUnit { Millimetre, Centimetre, Metre, Inch };
Length one(FileUnit unit);

/// What a scan file holds, in vehicle numbers and millimetres once read_scans() has placed it.
struct RawScan {
    std::vector<Point3> points;       ///< every finite vertex, used by a triangle or not
    std::vector<Vec3> normals;        ///< one a point, unit length, or empty; orientation not to be trusted
    std::vector<std::array<std::uint32_t, 3>> triangles;  ///< into points; empty for a cloud
    std::size_t not_finite = 0;       ///< points dropped because a coordinate was NaN or infinite
};

struct ReadOptions {
    FileUnit unit = FileUnit::Millimetre;
    /// Takes scan numbers (in file units) to vehicle numbers: origin in file units, axes as directions.
    Frame vehicle_place;
    bool placed = false;
};

/// Reads and joins the files, converts to millimetres and places them in the vehicle frame.
///
/// Faults: Unreadable  missing, empty, truncated, not of its format, or an unknown format (known ones listed)
///         BadScan     no finite point, one point, all on one line
///         WrongUnit   extent under 50 mm or over 20 m in the stated unit; the hint lists the plausible units
Result<RawScan> read_scans(const std::vector<std::filesystem::path>& files, const ReadOptions& options,
                           const Context& context);

}  // namespace geom::scan

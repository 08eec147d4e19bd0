// Reading point clouds and meshes: PLY (ASCII, both binaries), STL (ASCII, binary), OBJ, OFF, XYZ/CSV text.
// The format is judged by content first and by the file's ending only where content cannot tell.
#pragma once

#include "geom/core/context.h"
#include "geom/core/tri_mesh.h"
#include "geom/core/units.h"
#include "geom/scan/unit.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace geom::scan {

/// What was found in one file.
struct FileRead {
    std::filesystem::path path;
    std::string format;         ///< "PLY, binary", "STL, text", "OBJ", "text with columns"
    std::size_t points = 0;     ///< vertices written in the file, before any were dropped
    std::size_t triangles = 0;  ///< after polygons were cut into triangles
    bool has_normals = false;   ///< one a vertex
    bool has_colours = false;
    std::optional<FileUnit> own_unit;  ///< the format's own, which was used instead of ReadOptions::unit
};

/// What a scan file holds, in vehicle numbers and millimetres once read_scans() has placed it.
struct RawScan {
    std::vector<Point3> points;  ///< every finite vertex, used by a triangle or not
    std::vector<Vec3> normals;   ///< one a point, unit length, or empty; orientation not to be trusted
    std::vector<std::array<std::uint32_t, 3>> triangles;  ///< into points; empty for a cloud
    std::size_t not_finite = 0;                           ///< points dropped because a coordinate was NaN or infinite
    std::vector<FileRead> files;                          ///< in the order they were named
};

struct ReadOptions {
    FileUnit unit = FileUnit::Millimetre;
    /// Takes scan numbers (in file units) to vehicle numbers: origin in file units, axes as directions.
    Frame vehicle_place;
    bool placed = false;
    /// No WrongUnit fault: for telling what a file of unknown unit holds.
    bool any_extent = false;
};

/// Reads and joins the files, converts to millimetres and places them in the vehicle frame.
///
/// Faults: Unreadable  missing, empty, truncated, not of its format, or an unknown format (known ones listed)
///         BadScan     no finite point, one point, all on one line
///         WrongUnit   extent under 50 mm or over 20 m in the stated unit; the hint lists the plausible units
Result<RawScan> read_scans(const std::vector<std::filesystem::path>& files, const ReadOptions& options,
                           const Context& context);

}  // namespace geom::scan

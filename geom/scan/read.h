// Reading point clouds and meshes: PLY (text, both binaries), STL (text, binary), OBJ, OFF, PCD (text, binary,
// compressed), glTF 2.0 and GLB, 3MF, XYZ/CSV text. The format is judged by content first and by the file's ending only
// where content cannot tell.
//
// Units     glTF is in metres by its definition and y up; that y is up is left for the placing. 3MF says its own. The
//           other formats have no unit: ReadOptions::unit is theirs.
// Memory    what points and triangles take is judged before it is taken, from what the files declare or from their
//           first part, and held under ReadOptions::memory_limit_bytes. Files over a quarter of a gigabyte are mapped
//           and released behind the reading.
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
    std::optional<FileUnit> own_unit;   ///< the format's own, which was used instead of ReadOptions::unit
    std::optional<FileUnit> said_unit;  ///< what a remark in the file says; not used
    std::size_t kept_every = 1;         ///< every how many-th of the points was kept; 1 for meshes
    /// Another file is a cloud: this one's mesh was turned into so many points, so far apart. 0: it was not.
    std::size_t sampled = 0;
    double sampled_mm = 0.0;
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
    /// For points and triangles together, and for sorting them once.
    double memory_limit_bytes = 900e6;
    /// Of the points of a cloud, every how many-th is kept; 0: as few as it takes to stay under the limit. Meshes are
    /// kept whole.
    std::size_t keep_every = 1;
};

/// Reads and joins the files, converts to millimetres and places them in the vehicle frame. Where some are clouds and
/// some meshes, the meshes are turned into even points, so that all count alike.
///
/// Faults: Unreadable  missing, empty, truncated, not of its format, or an unknown format (known ones listed)
///         BadScan     no finite point, one point, all on one line
///         WrongUnit   extent under 50 mm or over 20 m in the stated unit; the hint lists the plausible units
///         MemoryLimit more than the limit holds; the hint says which keep_every, voxel or number of triangles would
///         fit
Result<RawScan> read_scans(const std::vector<std::filesystem::path>& files, const ReadOptions& options,
                           const Context& context);

/// A mesh as even points about a millimetre apart (wider where that would be more than 900 000), its triangles gone; a
/// cloud as it is. For joining with clouds: every file of it that was a mesh is marked as sampled.
void turn_into_points(RawScan& scan);

/// Whether the middle of the scan can be that of a vehicle, read in `stated` (files with a unit of their own: in that).
/// Faults: WrongUnit  as read_scans()
Status check_extent(const RawScan& scan, FileUnit stated);

}  // namespace geom::scan

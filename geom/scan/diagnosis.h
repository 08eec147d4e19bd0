// What a scan holds, told without judging whether it will do: extent, unit, spacing, noise, what would not be believed,
// where it has holes.
//
// Frame     of the files, in millimetres: those of the unit taken.
// Unit      the files' own where the format has one; else the one stated; else what remarks in the files say, where the
//           size makes sense in it; else the likeliest by size; else, where sizes do not decide it, the one most common
//           in scan files; millimetres where none makes sense. An extent without sense is told here and is no fault.
#pragma once

#include "geom/scan/surface.h"
#include "geom/scan/unit.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace geom::scan {

enum class UnitBy { Files, Statement, Remark, Likelihood, Habit, Default };

struct TakenUnit {
    FileUnit unit = FileUnit::Millimetre;
    UnitBy by = UnitBy::Default;
    UnitGuess guess;  ///< of the numbers in the files; of millimetres where the files have a unit of their own
};

struct ReadInUnit {
    RawScan scan;
    TakenUnit taken;
};

/// Reads the files in the unit stated, or in the likeliest.
///
/// Faults: as read_scans(), WrongUnit apart
Result<ReadInUnit> read_in_likeliest_unit(const std::vector<std::filesystem::path>& files,
                                          std::optional<FileUnit> stated, const Context& context);

struct Spacing {
    double median_mm = 0.0, p95_mm = 0.0;
};

/// Points: what their distance would be on a square grid of the density about each, were they strewn by chance (of a
/// true grid it is 0.89 of the step). Meshes: lengths of edges.
/// Points written twice count once.
Spacing spacing_of(const RawScan& scan);

struct Diagnosis {
    std::size_t points = 0, triangles = 0;
    std::size_t not_finite = 0;                     ///< dropped in reading
    std::size_t repeated = 0;                       ///< points that lie, to the bit, where an earlier one lies
    bool has_normals = false, has_colours = false;  ///< in one of the files at least
    Aabb box;                                       ///< of all points
    Aabb middle;                                    ///< of their middle 98 % on each axis
    Spacing spacing;

    /// Absent when no surface could be estimated; `no_surface` then says why.
    std::optional<Surface> surface;
    std::optional<Fault> no_surface;

    std::vector<Point3> strays;     ///< points that were not believed, clusters included
    std::size_t outliers = 0;       ///< those of them in no floating cluster
    std::vector<Dropped> clusters;  ///< floating clusters, largest first
    std::vector<Hole> holes;        ///< widest first
};

/// Faults: Interrupted, MemoryLimit
Result<Diagnosis> diagnose(const RawScan& scan, const Context& context);

}  // namespace geom::scan

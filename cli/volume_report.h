// What `gapwright volume` tells, as text for people and as JSON for programs.
#pragma once

#include "geom/measure/shape_air.h"
#include "geom/measure/shape_file.h"
#include "geom/measure/shape_volume.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace cli {

struct MeasuredShape {
    geom::measure::ShapeFile file;  ///< its mesh and solids have been moved out
    geom::measure::ShapeVolume volume;
    std::optional<geom::measure::SectionTable> sections;
    std::optional<geom::measure::InsideOfWall> inside;  ///< with --wall
    double wall_mm = 0.0;
    std::optional<geom::measure::ShapeAir> air;  ///< with --inside
};

struct VolumeReport {
    const std::vector<MeasuredShape>& shapes;
    std::string material;  ///< empty: none
    std::optional<double> density_kg_m3;
    std::vector<std::filesystem::path> written;
};

std::string volume_text(const VolumeReport& report);
/// UTF-8, two blanks of indent; the key says the unit.
std::string volume_json(const VolumeReport& report);
/// Height and area of each section: comma separated, a line of names first.
std::string sections_csv(const geom::measure::SectionTable& table);

}  // namespace cli

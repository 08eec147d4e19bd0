// The order of things for every part: meshes, solid files, judgement of the files as re-read, names, drawings,
// pictures, report. Everything up to the last step happens in a hidden folder inside the target; the last step is
// TargetFolder::place().
//
// Names     proved:   <name>.step  <name>.stl (one product) or <name>-<product>.stl  <name>-iso.png ...  report.json
//           <name>-<drawing>.dxf of each flat piece or plane face
//           unproved: the same with "<name>.unproved." before what follows the name, and the report as
//                     <name>.unproved.report.json, so that an earlier report.json stays with its earlier good files.
#pragma once

#include "exports/delivery.h"
#include "exports/internal/file_names.h"
#include "exports/pictures.h"
#include "geom/parts/enclosure.h"

#include <functional>

namespace exports {

/// What differs between parts.
struct PartToDeliver {
    const std::vector<geom::parts::Product>& products;
    geom::Length chord_error;
    std::string if_not_sound;  ///< what to try
    std::function<geom::Result<geom::TriMesh>(const geom::Brep&, geom::Length chord, const geom::Context&)> tessellate;
    std::function<geom::Result<geom::check::Verdict>(const geom::check::Written&)> judge;
    /// Writes the part's drawings into the folder; their names there.
    std::function<geom::Result<std::vector<std::string>>(const Names&, const std::filesystem::path&)> draw;
    std::function<PictureInput(const geom::check::Verdict&, const std::vector<geom::TriMesh>&)> pictured;
    std::function<geom::Result<std::vector<Picture>>(const PictureInput&, const geom::Context&)> pictures;
    /// Pictures more, of what was judged: plots.
    std::function<std::vector<Picture>(const geom::check::Verdict&)> plots{};
    /// Text of report.json; the files and whether the part is proved are in the argument.
    std::function<std::string(const Delivered&)> report;
};

/// Faults: those of the steps; NotSound     a sound-solid check failed
///                             CannotWrite  folder or file cannot be written
///                             Interrupted
geom::Result<Delivered> deliver_part(const PartToDeliver& part, const std::string& job,
                                     const std::filesystem::path& folder, const geom::Context& context);

/// A name for each, no two alike: the second "lug" is "lug-2".
std::vector<std::string> suffixes_of(const std::vector<std::string>& names);

}  // namespace exports

// A port measured on triangles, with nothing known but where its mouth lies: its sections are followed from the mouth
// in, each across the way from the one before, as far as there are any.
//
// Frame   vehicle, mm.
#pragma once

#include "geom/core/tri_mesh.h"

#include <optional>

namespace geom::check {

struct MeasuredPort {
    double length_mm = 0.0;   ///< through the sections' middles, from the mouth's plane to that of the inner end
    double area_mm2 = 0.0;    ///< of the last section, with what arcs hold beyond their chords
    Point3 end;               ///< middle of the inner end
    double turned_rad = 0.0;  ///< of the way, from the mouth to the inner end
};

/// `part`: closed triangles, several products one after the other. `flare_mm`: how far its mouth widens. None when no
/// bore is found behind the mouth.
std::optional<MeasuredPort> measure_port(const TriMesh& part, Point3 mouth, Vec3 inward, double flare_mm);

}  // namespace geom::check

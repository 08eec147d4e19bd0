#pragma once

#include "geom/core/tri_mesh.h"

namespace support {

/// By a library that the project's volumes do not use.
double oracle_volume_mm3(const geom::TriMesh& mesh);

}  // namespace support

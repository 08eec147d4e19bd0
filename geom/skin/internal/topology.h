// A fitted net as a closed shell of the B-rep kernel, in the vehicle frame.
#pragma once

#include "geom/core/result.h"
#include "geom/skin/brep.h"
#include "geom/skin/internal/face_net.h"

#include <vector>

namespace geom::skin {

struct ShellParts {
    Brep shell;
    int plane_faces = 0, bspline_faces = 0;
};

/// Faults: Internal  the kernel finds the shell invalid
Result<ShellParts> build_shell(const FaceNet& net, double baffle_y_mm, const std::vector<Plane>& flats_box,
                               const Frame& vehicle_from_box);

}  // namespace geom::skin

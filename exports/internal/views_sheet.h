// The sheet of hidden-line views: three orthographic ones in first-angle arrangement and an isometric one, to a
// standard scale on A3, with overall sizes.
#pragma once

#include "exports/internal/sheet.h"
#include "exports/internal/visible_lines.h"
#include "exports/pictures.h"

namespace exports {

Sheet views_sheet(const PictureInput& input, const DrawMesh& mesh, const std::vector<EdgeLine>& edges);

}  // namespace exports

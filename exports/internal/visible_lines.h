// Which pieces of edges and silhouettes a viewer sees.
#pragma once

#include "exports/internal/depth_buffer.h"
#include "exports/internal/edges.h"

namespace exports {

struct PicturePoint {
    double x = 0.0, y = 0.0;  ///< px of the view, y down
};

struct VisibleLine {
    enum class Kind { Sharp, Silhouette, Smooth } kind = Kind::Sharp;
    std::vector<PicturePoint> points;
};

/// Visible pieces in the pixels of `view`, which must be the one the buffer was made with. Smooth edges come first, so
/// that drawing in order puts the strong lines on top.
std::vector<VisibleLine> visible_lines(const DrawMesh& mesh, const std::vector<EdgeLine>& edges, const View& view,
                                       const DepthBuffer& buffer);

}  // namespace exports

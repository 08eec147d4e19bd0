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

/// For a part cut open: lines nearer than the cut are gone, lines under the cut material are hidden.
struct CutAway {
    double top_z = 0.0;  ///< mm towards the viewer
    int width = 0, height = 0;
    std::vector<std::uint8_t> is_material;  ///< of each pixel

    /// Whether all pixels within one of the place are material.
    bool covers(double x, double y) const;
};

/// Visible pieces in the pixels of `view`, which must be the one the buffer was made with. Smooth edges come first, so
/// that drawing in order puts the strong lines on top.
std::vector<VisibleLine> visible_lines(const DrawMesh& mesh, const std::vector<EdgeLine>& edges, const View& view,
                                       const DepthBuffer& buffer, const CutAway* cut = nullptr);

}  // namespace exports

// Pictures of the finished part, made without a display: shaded views (PNG) by our own rasteriser, and a sheet of
// hidden-line views (SVG and PNG) drawn to scale. All are 1600 px wide.
//
// Frame     vehicle, mm. The part is seen orthographically; "front" looks at the baffle from outside.
// Same bytes   no clock, thread count or pointer order reaches them; the letters of the PNGs are those of the
//           machine's sans-serif face.
#pragma once

#include "geom/core/context.h"
#include "geom/core/tri_mesh.h"
#include "geom/skin/brep.h"

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace exports {

struct PicturedProduct {
    std::string name;
    geom::TriMesh mesh;                              ///< closed, outward
    geom::Brep solid;                                ///< its edges are drawn
    std::array<float, 3> colour{0.8f, 0.78f, 0.7f};  ///< sRGB
};

struct PictureInput {
    std::string title;
    std::vector<PicturedProduct> products;
    std::string front = "baffle";  ///< what is seen in the front view
    geom::Vec3 outward{0, -1, 0};  ///< of the baffle: towards the viewer of the front view
    geom::Vec3 up{0, 0, 1};
    /// The scan: places and unit normals (either side; may be empty).
    const std::vector<geom::Point3>* scan_points = nullptr;
    const std::vector<geom::Vec3>* scan_normals = nullptr;
    double scan_spacing_mm = 1.0;
    /// Where the level section runs; none: through the largest round opening that is seen from the front.
    std::optional<geom::Point3> cut_at{};
    /// A second section, through what stands in the part out of sight: upright, along the baffle's normal, in place of
    /// the view from the left, or level in place of the one from above.
    struct Cut {
        geom::Point3 through;
        bool is_level = false;
    };
    std::optional<Cut> second_cut{};
    /// Lines for the title block, UTF-8: "net volume 9.50 L".
    std::vector<std::string> facts;
};

struct Picture {
    std::string suffix;  ///< "iso", "scan", "views": joins the part's name in the file's
    std::string ending;  ///< "png", "svg"
    std::string bytes;
};

/// iso.png (several products are drawn apart in it), scan.png (when there is a scan), views.svg, views.png.
///
/// Faults: Internal     the kernel could not follow an edge, or the PNG writer failed
///         Interrupted
/// EXPECTS: at least one product with a triangle.
geom::Result<std::vector<Picture>> make_pictures(const PictureInput& input, const geom::Context& context);

}  // namespace exports

#include "geom/check/internal/layers_check.h"

#include "geom/check/internal/case.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::check {
namespace {

constexpr double kVolume_percent = 1e-4;
constexpr double kCut_mm = 0.03;  // splines drawn as arcs within 0.01, and chords

double dowel_holes_mm3(const parts::SheetLayer& layer) {
    double sum = 0.0;
    for (const parts::DowelHole& hole : layer.dowels)
        sum += std::numbers::pi * hole.diameter_mm * hole.diameter_mm / 4.0 * hole.depth_mm;
    return sum;
}

}  // namespace

Status check_layers(const parts::Ring& ring, const Context& context, Verdict& verdict) {
    if (!ring.layers) return Done{};
    double sum = 0.0, most = 0.0;
    std::string where = "nowhere";
    for (const parts::SheetLayer& layer : ring.layers->layers) {
        sum += layer.volume.mm3() + dowel_holes_mm3(layer);
        GAPWRIGHT_TRY(cut, parts::cut_into_mm(layer, ring.layers->drawn_in, context));
        if (cut > most) {
            most = cut;
            where = layer.name;
        }
    }
    verdict.lines.push_back(at_most("layers together, volume", Kind::Fit,
                                    100.0 * std::abs(sum / ring.volume.mm3() - 1.0), kVolume_percent, "%",
                                    "B-reps of the layers and their dowel holes, against the ring's"));
    verdict.lines.push_back(at_most("drawings cut into layers", Kind::Fit, most, kCut_mm, "mm",
                                    "triangles' corners of the layers against outlines and holes; most in " + where));
    return Done{};
}

}  // namespace geom::check

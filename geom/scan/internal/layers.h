// Two parallel layers in one patch: a wall scanned twice whose passes do not meet, or a thin sheet from both sides.
//
// Method    A mixture of two normal distributions of one spread about two parallel planes, by expectation and
//           maximisation (Dempster, Laird, Rubin 1977, cited from memory). Over a run of patches it is fitted to the
//           pooled heights, which says whether there are two and about how far apart; in a patch, started from there,
//           to the points. Where points have normals that tell two sides apart, these count as known odds of the side.
#pragma once

#include "geom/scan/internal/patch.h"

#include <optional>
#include <span>
#include <vector>

namespace geom::scan::internal {

/// What a run of neighbouring places says of layers in it.
struct LayerGuess {
    float apart_mm = 0.0f;    ///< of the two; 0 where there is one
    float noise_mm = 0.0f;    ///< within each
    float near_share = 0.5f;  ///< points of the thinner layer, of all
    float gain = 0.0f;        ///< of log-likelihood a point, against one layer
    float side = 0.0f;        ///< how given normals tell them apart: +1 out of the upper one, -1 into it, 0 not at all
    explicit operator bool() const { return apart_mm > 0.0f; }
};

/// The two layers of a patch, about its place; 0 is the one the place itself lies on.
struct LayerPair {
    PlaneFit plane[2];
    double share[2] = {};  ///< of the weight
    double noise_mm = 0.0, apart_mm = 0.0;
};

/// Heights of many patches about smooth surfaces through them: whether they lie in two layers. `sigma` is their usual
/// spread. Nearer than `least_mm` they are one.
LayerGuess guess_layers(std::span<const float> height, double sigma, double least_mm);

/// `near`: weights of the points. `given`: the scan's normals by place, or empty. None where the patch does not bear
/// the guess out: no two layers, or two that lie side by side (an edge, a step) instead of one over the other.
/// `fix`: the noise and, where points are few, the distance are taken from the guess.
std::optional<LayerPair> split_layers(const Patch& patch, const float* near, const std::vector<Vec3>& given,
                                      const LayerGuess& guess, bool fix);

}  // namespace geom::scan::internal

// How far the points of a cloud scatter about the surface, over all and place by place.
#pragma once

#include "geom/scan/internal/layers.h"

#include <vector>

namespace geom::scan::internal {

struct Noise {
    double median_mm = 0.0;    ///< standard deviation across the surface, median over the cloud
    double high_mm = 0.0;      ///< nine tenths of the cloud have less
    std::vector<float> at_mm;  ///< by place: the median of its surroundings
    /// Over a good part of the cloud the points lie in two layers too near each other to be told apart, which the
    /// spread takes for noise.
    bool is_layered = false;
    std::vector<LayerGuess> layers;  ///< of each run of places along the curve; empty: one layer everywhere
    std::size_t places_a_run = 1;
    double step_mm = 0.0;        ///< between the layers, where a good part seems to lie in two
    double doubtful_part = 0.0;  ///< of the runs: they seem to, but their patches do not bear it out

    /// Of a place, and of its run's neighbours where its own knows of no second layer.
    LayerGuess layers_at(std::size_t place) const {
        if (layers.empty()) return {};
        const std::size_t run = std::min(place / places_a_run, layers.size() - 1);
        if (layers[run]) return layers[run];
        if (run > 0 && layers[run - 1]) return layers[run - 1];
        return run + 1 < layers.size() ? layers[run + 1] : LayerGuess{};
    }
};

/// From the `k` >= 23 nearest of some tens of thousands of places. Only places with `kept` count (empty: all). `given`:
/// the scan's normals by place, or empty. Layers nearer each other than `least_apart_mm` are not looked for: thinning
/// cuts a wall in two where it lies along a border of its cells.
Noise estimate_noise(const PointIndex& index, const std::vector<std::uint32_t>& neighbours, int k,
                     const std::vector<char>& kept, const std::vector<Vec3>& given, double least_apart_mm);

}  // namespace geom::scan::internal

// Whether a mesh crosses itself, by CGAL's exact predicates; apart, so that only one file sees those headers.
#pragma once

#include "geom/core/vec.h"

#include <array>
#include <cstddef>
#include <vector>

/// EXPECTS: a manifold mesh (its triangles join along whole edges, each used once each way).
bool crosses_itself(const std::vector<geom::Point3>& points, const std::vector<std::array<std::size_t, 3>>& triangles);

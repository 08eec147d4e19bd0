// First resonance of a flat rectangular plate: bounds for a wall of a box.
//
// Source  omega = (lambda / a^2) sqrt(D / (rho h)), D = E h^3 / (12 (1 - nu^2)), a the longer side. Simply supported:
//         lambda = pi^2 (1 + (a/b)^2), exact. Clamped: Ritz with beam functions, as Leissa (NASA SP-160, 1969)
//         tabulates.
#pragma once

#include "geom/core/units.h"

namespace geom::fixings {

struct PlateMaterial {
    double e_GPa = 0.0;
    double density_kg_m3 = 0.0;
    double nu = 0.0;
};

/// `a_over_b` >= 1; the longer side over the shorter.
double lambda_supported(double a_over_b);
/// Within 0.02 % of the published values for a_over_b up to 10; beyond, a clamped strip.
double lambda_clamped(double a_over_b);

struct FirstResonance {
    double supported_Hz = 0.0, clamped_Hz = 0.0;  ///< a real wall lies between
};
FirstResonance first_resonance(Length longer, Length shorter, Length thickness, const PlateMaterial& material);

}  // namespace geom::fixings

// The air that drivers move. Density and speed of sound are inputs everywhere; published tables were made with others.
#pragma once

#include "geom/core/units.h"

namespace geom::sound {

/// Dry air of 20 C at 101 325 Pa unless said otherwise: ideal gas, R = 287.05 J/(kg K).
struct Air {
    double density_kg_m3 = 1.2041;
    double speed_m_s = 343.21;

    /// rho c^2 in Pa: the stiffness of air that is pressed quickly.
    constexpr double stiffness_Pa() const { return density_kg_m3 * speed_m_s * speed_m_s; }
};

constexpr double kReferencePressure_Pa = 20e-6;
/// The voltage that data sheets state sensitivity for: 1 W into 8 ohm, as they round it.
constexpr double kSheetVolts = 2.83;

/// Base units inside the room, so that each factor stands once.
constexpr double metres(Length l) {
    return l.mm() * 1e-3;
}
constexpr double square_metres(Area a) {
    return a.mm2() * 1e-6;
}
constexpr double cubic_metres(Volume v) {
    return v.mm3() * 1e-9;
}

}  // namespace geom::sound

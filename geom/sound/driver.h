// A loudspeaker driver as its data sheet gives it. Lengths are of the real thing; "depth" runs backward from the
// seating plane, the plane on which the flange rests.
#pragma once

#include "geom/core/units.h"

#include <optional>
#include <string>

namespace geom::sound {

struct Driver {
    std::string name;
    Length cutout_diameter;  ///< hole in the baffle
    Length flange_diameter;
    std::optional<Length> flange_thickness;
    std::optional<Length> front_height;     ///< of its front at rest (surround, dust cap) before the seating plane
    std::optional<Length> recess;           ///< the flange is let in by this much; none or 0: it sits on top
    std::optional<Length> basket_diameter;  ///< widest part behind the seating plane; none: cutout - 1 mm
    std::optional<Length> bolt_circle;      ///< a diameter
    int bolt_count = 0;
    std::string bolt_thread;               ///< "M5"; empty: none given
    std::optional<Length> mounting_depth;  ///< from the seating plane to the rear end
    std::optional<Length> magnet_diameter,
        magnet_depth;                    ///< magnet_depth: length of the magnet, forward from the rear end
    std::optional<Volume> displacement;  ///< all of the driver behind its seating plane
    /// Air between its cone at rest and the plane of its flange's front face: what a box gains that it looks into;
    /// negative where its front stands out more than it is hollow.
    std::optional<Volume> front_volume{};
    std::optional<double> mass_kg;
    // Small-signal and power values; only what needs a missing one is left out.
    std::optional<double> fs_hz, qts, qes, qms, re_ohm, power_w;
    std::optional<Volume> vas;
    std::optional<Area> sd;
    std::optional<Length> xmax;            ///< one way, peak
    std::optional<double> mms_kg{};        ///< moving mass, the air that it carries included
    std::optional<double> cms_m_per_n{};   ///< compliance of the suspension
    std::optional<double> rms_kg_per_s{};  ///< mechanical resistance of the suspension
    std::optional<double> bl_tm{};         ///< force factor
    std::optional<double> le_h{};          ///< inductance of the voice coil
};

/// Displacement as given, or a frustum (basket to magnet) plus the magnet, with its spread.
struct Displacement {
    Volume volume;
    double spread_rel = 0.0;  ///< 0 when given
    bool is_estimated = false;
};
/// None when neither `displacement` nor the lengths needed are there.
std::optional<Displacement> displacement_of(const Driver& driver);

/// The front volume as given, or that of a usual cone of its effective area (of its cut-out without one): a frustum
/// 0.35 of the radius deep that narrows to 0.3 of it, within a half [from memory of usual cones].
Displacement front_volume_of(const Driver& driver);

}  // namespace geom::sound

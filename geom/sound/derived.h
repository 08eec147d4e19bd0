// All small-signal values of a driver: those of its data sheet, and what follows from them.
//
// Theory  Thiele, "Loudspeakers in Vented Boxes", 1971 (JAES 19(5), 19(6)); Small, "Direct-Radiator Loudspeaker System
//         Analysis", JAES 20(5), 1972 (both cited from memory):
//             1/Qts = 1/Qes + 1/Qms         Vas = rho c^2 Sd^2 Cms       fs = 1/(2 pi sqrt(Mms Cms))
//             Qms = 2 pi fs Mms/Rms         Qes = 2 pi fs Mms Re/Bl^2
//             eta0 = 4 pi^2 fs^3 Vas/(c^3 Qes), radiated into half space
#pragma once

#include "geom/sound/air.h"
#include "geom/sound/driver.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::sound {

/// A value and where it is from.
template <class T>
struct Told {
    T value{};
    bool is_given = false;
    std::string from;  ///< "given", or what it follows from: "qes and qms"
};

/// Everything known of one driver, or of several that work as one.
struct SmallSignal {
    std::string name;
    std::optional<Told<double>> fs_hz, qts, qes, qms, re_ohm, le_h, mms_kg, cms_m_per_n, rms_kg_per_s, bl_tm;
    std::optional<Told<Volume>> vas;
    std::optional<Told<Area>> sd;
    std::optional<Told<Length>> xmax;          ///< one way, peak
    std::optional<Told<Volume>> vd;            ///< Sd xmax: what the cone can displace, one way
    std::optional<Told<double>> power_w;       ///< what the coil stands
    std::optional<Told<double>> efficiency;    ///< eta0, of the passband, half space
    std::optional<Told<double>> spl_1w_db;     ///< at 1 m, half space, 1 W into re
    std::optional<Told<double>> spl_sheet_db;  ///< the same at 2.83 V
    /// What does not agree to 5 %, both values in words, and what makes no sense; empty: all agrees.
    std::vector<std::string> notes;
};

/// Values that disagree by more are named.
constexpr double kAgree_rel = 0.05;

/// Given values are kept as they are even where they disagree; a value that cannot be had is left out.
/// EXPECTS: every given value positive and finite.
SmallSignal derived(const Driver& driver, const Air& air = {});

/// Sound pressure level at 1 m in half space that one watt makes at this efficiency: 112.16 dB at 1 in default air.
double level_of_efficiency_db(double efficiency, const Air& air = {});

}  // namespace geom::sound

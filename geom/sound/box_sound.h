// What a driver does in a box whose net volume was measured, and how far that hangs on what the volume is not known to:
// every figure at the measured volume and at both ends of its bound. A port stays as it was made, so that its tuning
// goes with the root of the volume.
#pragma once

#include "geom/sound/closed_box.h"
#include "geom/sound/mixed_drivers.h"
#include "geom/sound/port.h"
#include "geom/sound/response.h"
#include "geom/sound/vented_box.h"
#include "geom/sound/wiring.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::sound {

struct BoxFigure {
    std::string name;  ///< "f3_hz"
    std::string unit;  ///< "Hz"; empty: a ratio
    double value = 0.0;
    double least = 0.0, most = 0.0;  ///< over the bound of the volume
};

/// Levels at 1 m in half space.
struct BoxSound {
    SmallSignal driver;
    Box box;
    double volume_rel = 0.0;  ///< bound of the net volume, to either side
    double watts = 1.0;       ///< of curves and air speed: what the driver stands, or 1
    std::optional<SizedPort> port;
    /// Closed: alpha, qtc, fc_hz, f3_hz, f10_hz, peak_db; with a port: alpha, tuning_hz, f3_hz, f10_hz, peak_db. Then,
    /// as far as the driver's values go: level_1w_db and level_2v83_db of the passband, xmax_level_40_hz_db and
    /// xmax_watts_40_hz (what the excursion allows there, whatever the power), most_level_40_hz_db (within both).
    /// Of unlike drivers: neither alpha nor qtc nor fc_hz. Empty: fs, qts or vas is missing.
    std::vector<BoxFigure> figures;
    std::optional<double> peak_at_hz;
    std::optional<PortSpeed> port_air;  ///< fastest between kFrom_hz and kTo_hz
    std::vector<std::string> left_out;  ///< what is not told, and what it wants
    Response curves;                    ///< kFrom_hz to kTo_hz
    std::vector<SmallSignal> unlike{};  ///< each of unlike drivers, when `driver` is what they are together
    std::string xmax_limited_by{};      ///< which of them sets xmax_level_40_hz_db

    /// None when it is not told.
    std::optional<BoxFigure> figure(const std::string& name) const;
};
constexpr double kFrom_hz = 10.0, kTo_hz = 500.0;
/// Where the excursion's limit is told.
constexpr double kLowNote_hz = 40.0;

/// EXPECTS: net volume positive; 0 <= volume_rel < 1; a port's area where there is a port.
BoxSound box_sound(const SmallSignal& driver, const Box& box, double volume_rel,
                   const std::optional<SizedPort>& port = {}, const Air& air = {});

/// Of several drivers: as_one() where they are alike, each by itself where not.
/// EXPECTS: as many as the wiring counts, and those of the other.
BoxSound box_sound(const std::vector<SmallSignal>& drivers, const Wiring& wiring, const Box& box, double volume_rel,
                   const std::optional<SizedPort>& port = {}, const Air& air = {});

}  // namespace geom::sound

// What a driver does in a box, frequency by frequency: free field, half space, small signals. A cabin lifts low notes
// and these curves do not know the cabin; nor do they know how a cone breaks up, or what happens beyond xmax.
#pragma once

#include "geom/sound/box.h"
#include "geom/sound/output.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::sound {

/// What is said beside every curve and figure.
inline constexpr const char* kFreeField =
    "free field, half space, 1 m. A cabin lifts low notes; this program does not know your cabin and adds nothing for "
    "it";
inline constexpr const char* kSmallSignals =
    "small signals: beyond xmax, and where the cone breaks up, a driver does less than these curves";

struct ResponseOptions {
    double watts = 1.0;  ///< into re, for levels, excursions and speeds
    Air air{};
};

/// How far one of several unlike drivers goes, peak, at options.watts.
struct ConeCurve {
    std::string title;
    std::optional<Length> xmax;
    std::vector<double> excursion_mm;
};

/// One value a frequency in each list; a list is empty when the driver lacks what it needs.
struct Response {
    std::vector<double> f_hz;
    std::vector<double> response_db;  ///< over the passband without le
    std::vector<double> phase_deg;    ///< -180 to 180
    std::vector<double> group_delay_s;
    std::vector<double> spl_db;        ///< 1 m, at options.watts
    std::vector<double> spl_sheet_db;  ///< 1 m, at 2.83 V
    std::vector<double> excursion_mm;  ///< peak, at options.watts
    std::vector<double> port_m_s;      ///< peak, at options.watts
    std::vector<double> spl_most_db;   ///< 1 m: the most within xmax and the driver's power
    std::vector<double> watts_most;    ///< into re: the least of both
    std::vector<double> impedance_ohm, impedance_phase_deg;
    std::vector<std::string> left_out;  ///< "excursion: wants sd"
    // Of unlike drivers alone (mixed_drivers.h), whose `excursion_mm` is empty:
    std::vector<ConeCurve> each_cone{};
    std::vector<std::size_t> limited_by{};  ///< which of them sets watts_most
};

/// No box: in a baffle without end.
/// EXPECTS: every frequency positive; watts positive.
/// Faults:  BadJob  the driver lacks fs, qts or (in a box) vas
Result<Response> response(const SmallSignal& driver, const std::optional<Box>& box, std::vector<double> f_hz,
                          const ResponseOptions& options = {});

/// `count` frequencies, evenly on a logarithmic scale, both ends contained. EXPECTS: 0 < lo < hi, count >= 2.
std::vector<double> frequencies(double lo_hz, double hi_hz, std::size_t count);

struct Band {
    double from_hz = 0.0, to_hz = 0.0;
};
/// Where the curve lies above the limit, between the frequencies by a straight line; in order.
/// EXPECTS: as many values as frequencies, which rise.
std::vector<Band> bands_above(const std::vector<double>& f_hz, const std::vector<double>& values, double limit);

}  // namespace geom::sound

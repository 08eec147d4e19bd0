#include "geom/fixings/pull_out.h"

#include "geom/core/checks.h"

#include <numbers>

namespace geom::fixings {

double shear_MPa(Holder holder) {
    switch (holder) {
        case Holder::Printed:
            return 10.0;
        case Holder::Laminate:
            return 15.0;
        case Holder::Board:
            return 8.0;
        case Holder::Metal:
            break;
    }
    return 48.0;
}

double pull_out_N(const Thread& thread, Hold hold, Holder holder, double engaged_mm) {
    EXPECTS(engaged_mm >= 0.0);
    const double outside = hold == Hold::Insert ? thread.insert_pilot_mm : thread.d_mm;
    if (holder == Holder::Board) return outside * engaged_mm * shear_MPa(holder);
    const double area = hold == Hold::Insert ? std::numbers::pi * outside * engaged_mm
                                             : std::numbers::pi * thread.pitch_diameter_mm() * engaged_mm / 2.0;
    return area * shear_MPa(holder);
}

double wanted_engagement_d(Holder holder) {
    return holder == Holder::Metal ? 2.0 : 2.5;
}

}  // namespace geom::fixings

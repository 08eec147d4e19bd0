// The air behind a driver, as the circuit needs it.
#pragma once

#include "geom/core/result.h"
#include "geom/sound/circuit.h"
#include "geom/sound/derived.h"

#include <optional>

namespace geom::sound {

/// Closed: no losses, a tight box of hard walls. With a port: QL 7, in which all losses of a usual box are taken
/// together (Small 1973, from memory: QL 5 to 20, QA and QP well above).
BoxLosses default_losses(bool has_port);

/// Fibre that air exchanges its heat with makes a box seem larger: up to 1.4 when all of it does, the ratio of the
/// specific heats; 1.15 to 1.25 is met in practice (Small 1972; Bradbury, JAES 24(3), 1976, from memory). 1 unless
/// the user says otherwise.
constexpr double kLeastGain = 1.0, kUsualMostGain = 1.25, kMostGain = 1.4;

struct Box {
    Volume net;                       ///< driver, port and all that stands in it taken off
    double lining_gain = kLeastGain;  ///< apparent over net volume
    double fb_hz = 0.0;               ///< of the port; 0: closed
    Area port_area;                   ///< of all ports together, where the air is fastest; 0: no speeds
    std::optional<BoxLosses> losses;  ///< none: default_losses()

    bool has_port() const { return fb_hz > 0.0; }
    Volume apparent() const { return net * lining_gain; }
    BoxLosses losses_used() const { return losses.value_or(default_losses(has_port())); }
};

/// EXPECTS: net volume positive; gain of 1 to kMostGain.
/// Faults:  BadJob  the driver lacks fs, qts or vas, and they do not follow from the rest
Result<CircuitValues> circuit_values(const SmallSignal& driver, const Box& box);

/// The same without a box: in a baffle without end.
Result<CircuitValues> circuit_values_in_baffle(const SmallSignal& driver);

}  // namespace geom::sound

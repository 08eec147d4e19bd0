// The length of an enclosure's port: from its tuning and the air that it meets.
#pragma once

#include "geom/parts/enclosure.h"
#include "geom/sound/port.h"

namespace geom::parts {

/// The port as the sound room counts it: its outer end flush in the baffle, its inner end free in the box.
sound::Port port_air(const Port& port);

/// From the baffle's outer face to the inner end: as given, or by the tuning with `net` behind it and the box's lining.
/// Faults: BadJob      neither is given
///         Impossible  the tuning asks for a tube no longer than the baffle is thick
/// EXPECTS: request.port; with a tuning, net positive.
Result<Length> port_length(const EnclosureRequest& request, Volume net);

/// The tuning of that length with `net` behind it.
double port_tuning_hz(const EnclosureRequest& request, Length length, Volume net);

/// What the port of a made enclosure is tuned to by its net volume; again after that was changed.
void note_tuning(const EnclosureRequest& request, Enclosure& made);

/// Whether a made port has the asked tuning for the measured volume, nearer than the checks want it; without a port, or
/// with a given length, always.
bool is_in_tune(const Enclosure& made);

/// Air that the tube takes behind the baffle, its inside contained; by the request's own net volume where the length
/// is not solved yet, 0 where there is no port or a fault will come later anyway.
double port_tube_mm3(const EnclosureRequest& request);

}  // namespace geom::parts

// The length of an enclosure's port: from its tuning and the air that it meets. And its form by the request alone.
#pragma once

#include "geom/parts/enclosure.h"
#include "geom/sound/port.h"

namespace geom::parts {

/// The port as the sound room counts it: its outer end flush in the baffle, its inner end free in the box. A bend
/// counts by the length of its middle [common practice].
sound::Port port_air(const Port& port);

/// The section of its inside about its own axis.
DuctSection port_inside(const Port& port);
/// The same port so many times as wide; a bend's radius stays where it is given.
Port scaled(const Port& port, double times);
/// "34 mm" or "120 x 18 mm"
std::string size_text(const DuctSection& section);
/// "a port of 34 mm", "a slot of 120 x 18 mm"
std::string port_text(const Port& port);

/// Its middle from the outer face in, in the baffle plane given; what a bend leaves open is filled in.
DuctPath port_path(const EnclosureRequest& request, const Plane& baffle, Length length);

/// Whether section and bend can be made at all.
/// Faults: Impossible  a slot that is too flat or whose corners are too round; a bend that turns towards nowhere along
///                     the baffle, by too much, so near that the tube would meet itself or the baffle
/// EXPECTS: request.port
Status check_port_form(const EnclosureRequest& request);

/// What the baffle or the bend asks of the length at least.
double least_port_mm(const EnclosureRequest& request);

/// What a job may tune to.
constexpr double kLeastTuning_hz = 5.0, kMostTuning_hz = 500.0;

/// What a port's outside may at most take of the baffle, for hints.
struct FaceSize {
    double width_mm = 1e300, height_mm = 1e300;
};

/// From the baffle's outer face to the inner end, along its middle: as given, or by the tuning with `net` behind it and
/// the box's lining.
/// Faults: BadJob      neither is given
///         Impossible  the tuning asks for a tube that would end in the baffle or in its bend: what would fit
/// EXPECTS: request.port; with a tuning, net positive.
Result<Length> port_length(const EnclosureRequest& request, Volume net, const FaceSize& face = {});

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

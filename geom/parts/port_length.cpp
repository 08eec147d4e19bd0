#include "geom/parts/port.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

namespace geom::parts {

namespace {

constexpr double kLeastTube_mm = 1.0;  // behind the baffle

Volume apparent(const EnclosureRequest& request, Volume net) {
    return net * (request.lining ? request.lining->gain : 1.0);
}

Fault no_length(const EnclosureRequest& request, std::string what) {
    return {FaultCode::Impossible, std::move(what), "take a larger diameter, tune it lower, or make the baffle thinner",
            request.port->at, "part"};
}

}  // namespace

sound::Port port_air(const Port& port) {
    sound::Port air;
    air.section = sound::PortSection::round(port.diameter);
    air.outer = {.is_flush = true, .rounding = port.mouth, .walls = 0};
    air.inner = {.is_flush = false, .rounding = {}, .walls = port.walls};
    return air;
}

Result<Length> port_length(const EnclosureRequest& request, Volume net) {
    EXPECTS(request.port.has_value());
    const Port& port = *request.port;
    const double least_mm = request.baffle.thickness.mm() + kLeastTube_mm;
    if (port.tuning_hz <= 0.0) {
        if (!port.length)
            return Fault{FaultCode::BadJob, "port: neither tuning nor length is given, wanted one of them",
                         "give [enclosure] port.tuning in Hz", port.at, "part"};
        if (port.length->mm() < least_mm)
            return no_length(request, fmt::format("port: a length of {} mm ends in a baffle of {} mm, wanted {} mm at "
                                                  "least",
                                                  plain_number(port.length->mm()),
                                                  plain_number(request.baffle.thickness.mm()), plain_number(least_mm)));
        return *port.length;
    }
    auto length = sound::port_length(port_air(port), port.tuning_hz, apparent(request, net));
    if (!length) {
        Fault fault = std::move(length).error();
        fault.where = port.at, fault.stage = "part";
        return fault;
    }
    if (length->mm() < least_mm)
        return no_length(
            request, fmt::format("port: {} mm tuned to {} Hz by {:.2f} L is {:.1f} mm long, and a baffle "
                                 "of {} mm asks for {} mm at least",
                                 plain_number(port.diameter.mm()), plain_number(port.tuning_hz), net.litres(),
                                 length->mm(), plain_number(request.baffle.thickness.mm()), plain_number(least_mm)));
    return length;
}

double port_tuning_hz(const EnclosureRequest& request, Length length, Volume net) {
    EXPECTS(request.port.has_value() && net.mm3() > 0.0);
    return sound::tuning_hz(port_air(*request.port), length, apparent(request, net));
}

void note_tuning(const EnclosureRequest& request, Enclosure& made) {
    if (made.port) made.port->tuning_hz = port_tuning_hz(request, Length::mm(made.port->length_mm), made.net_by_brep);
}

bool is_in_tune(const Enclosure& made) {
    constexpr double kNear_rel = 1e-3;
    return !made.port || made.port->asked_hz <= 0.0 ||
           std::abs(made.port->tuning_hz / made.port->asked_hz - 1.0) <= kNear_rel;
}

double port_tube_mm3(const EnclosureRequest& request) {
    if (!request.port) return 0.0;
    std::optional<Length> length = request.port->length;
    if (!length) {
        const auto solved = port_length(request, request.net_volume);
        if (!solved) return 0.0;
        length = *solved;
    }
    const double r = request.port->diameter.mm() / 2.0 + request.port->wall.mm();
    return std::numbers::pi * r * r * std::max(0.0, length->mm() - request.baffle.thickness.mm());
}

}  // namespace geom::parts

#include "geom/parts/port.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::parts {

namespace {

Volume apparent(const EnclosureRequest& request, Volume net) {
    return net * (request.lining ? request.lining->gain : 1.0);
}

/// By its tuning, whether or not it can be made as short as that.
Result<Length> tuned_length(const EnclosureRequest& request, Volume net) {
    auto length = sound::port_length(port_air(*request.port), request.port->tuning_hz, apparent(request, net));
    if (length) return length;
    Fault fault = std::move(length).error();
    fault.where = request.port->at, fault.stage = "part";
    return fault;
}

bool is_long_enough(const EnclosureRequest& request, Volume net) {
    const auto length = tuned_length(request, net);
    return length && length->mm() >= least_port_mm(request);
}

/// The least widening that makes its tuning ask for as much as its bend does, in words; empty where there is none.
std::string wider_port(EnclosureRequest request, Volume net, const FaceSize& face) {
    constexpr double kMost = 4.0;
    const Port asked = *request.port;
    const auto fits = [&](double times) {
        request.port = scaled(asked, times);
        return is_long_enough(request, net);
    };
    const DuctSection outside = port_inside(asked).grown(asked.wall.mm());
    double lo = 1.0, hi = std::min({kMost, face.width_mm / (2.0 * outside.reach_mm(1, 0)),
                                    face.height_mm / (2.0 * outside.reach_mm(0, 1))});
    if (hi <= lo || !fits(hi)) return {};
    for (int i = 0; i < 40; ++i) {
        const double mid = (lo + hi) / 2.0;
        (fits(mid) ? hi : lo) = mid;
    }
    // Up to half a millimetre more across.
    const double across = asked.slot ? std::min(asked.slot->width, asked.slot->height).mm() : asked.diameter.mm();
    return port_text(scaled(asked, std::ceil(2.0 * hi * across) / (2.0 * across)));
}

/// What would make a tuned port with a bend long enough, in words; `short_mm`: what is missing.
std::string would_fit(const EnclosureRequest& request, Volume net, double short_mm, const FaceSize& face) {
    const double least = least_port_mm(request);
    std::vector<std::string> ways;
    if (const double hz = std::floor(10.0 * port_tuning_hz(request, Length::mm(least), net)) / 10.0;
        hz >= kLeastTuning_hz)
        ways.push_back(fmt::format("a tuning of {} Hz", plain_number(hz)));
    if (const std::string wider = wider_port(request, net, face); !wider.empty()) ways.push_back(wider);
    EnclosureRequest nearer = request;
    nearer.port->bend->after.reset();
    const double after = port_path(request, request.baffle.plane, Length::mm(least)).before_mm;
    if (least - least_port_mm(nearer) >= short_mm)
        ways.push_back(fmt::format("[enclosure] port.bend.after of {} mm",
                                   plain_number(std::floor(10.0 * (after - short_mm)) / 10.0)));
    nearer.port->bend->radius.reset();
    if (ways.size() < 3 && is_long_enough(nearer, net))
        ways.push_back("leaving [enclosure] port.bend.after and radius out");
    if (ways.empty()) return "take a smaller bend, a lower tuning together with a wider port, or a smaller box";
    return listed(ways, "or") + " would make it long enough";
}

Fault no_length(const EnclosureRequest& request, std::string what, std::string hint) {
    return {FaultCode::Impossible, std::move(what), std::move(hint), request.port->at, "part"};
}

/// What asks for the least length, in words.
std::string asks_for(const EnclosureRequest& request) {
    const double least = least_port_mm(request);
    if (!request.port->bend)
        return fmt::format("a baffle of {} mm asks for {} mm at least", plain_number(request.baffle.thickness.mm()),
                           plain_number(least));
    const DuctPath path = port_path(request, request.baffle.plane, Length::mm(least));
    return fmt::format("its bend ends after {:.1f} mm ({} and an arc of {:.1f}), which asks for {:.1f} mm at least",
                       path.bend_end_mm(), plain_number(rounded(path.before_mm, 1)), path.arc_mm(), least);
}

}  // namespace

sound::Port port_air(const Port& port) {
    sound::Port air;
    air.section = port.slot ? sound::PortSection::slot(port.slot->width, port.slot->height, port.slot->corner_radius)
                            : sound::PortSection::round(port.diameter);
    air.outer = {.is_flush = true, .rounding = port.mouth, .walls = 0};
    air.inner = {.is_flush = false, .rounding = {}, .walls = port.walls};
    return air;
}

Result<Length> port_length(const EnclosureRequest& request, Volume net, const FaceSize& face) {
    EXPECTS(request.port.has_value());
    const Port& port = *request.port;
    GAPWRIGHT_CHECK(check_port_form(request));
    const double least_mm = least_port_mm(request);
    if (port.tuning_hz <= 0.0) {
        if (!port.length)
            return Fault{FaultCode::BadJob, "port: neither tuning nor length is given, wanted one of them",
                         "give [enclosure] port.tuning in Hz", port.at, "part"};
        if (port.length->mm() < least_mm)
            return no_length(
                request,
                fmt::format("port: it is {} mm long, and {}", plain_number(port.length->mm()), asks_for(request)),
                port.bend ? "give [enclosure] port.length that, or a bend nearer to the baffle or tighter"
                          : "give [enclosure] port.length that, or make the baffle thinner");
        return *port.length;
    }
    GAPWRIGHT_TRY(length, tuned_length(request, net));
    if (length.mm() < least_mm)
        return no_length(
            request,
            fmt::format("port: {} tuned to {} Hz by {:.2f} L is {:.1f} mm long, and {}", size_text(port_inside(port)),
                        plain_number(port.tuning_hz), net.litres(), length.mm(), asks_for(request)),
            port.bend ? would_fit(request, net, least_mm - length.mm(), face)
                      : "take a larger diameter, tune it lower, or make the baffle thinner");
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
    return port_inside(*request.port).grown(request.port->wall.mm()).area_mm2() *
           std::max(0.0, length->mm() - request.baffle.thickness.mm());
}

}  // namespace geom::parts

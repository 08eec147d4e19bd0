// Section and path of a port, and what of them cannot be. A bend begins behind the baffle, and its inside stays open,
// so that the tube is one solid that does not meet itself.
#include "geom/parts/port.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/space/field.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::parts {
namespace {

constexpr double kBehindBaffle_mm = 2.0;  // of a bend's beginning: air between what has turned and the baffle
constexpr double kInBend_mm = 2.0;        // air inside a bend, a radius
constexpr double kLeastTube_mm = 1.0;     // straight, behind the baffle or the bend
constexpr double kLeastSide_mm = 4.0;     // of a slot: below it air sticks to its sides [common practice]
constexpr double kMostOutOfPlane_deg = 60.0;
constexpr double kLeastTurn_deg = 1.0, kMostTurn_deg = 90.0;

Fault cannot(const EnclosureRequest& request, std::string what, std::string hint) {
    return {FaultCode::Impossible, "port: " + std::move(what), std::move(hint), request.port->at, "part"};
}

struct BendSizes {
    Vec3 towards;             ///< along the baffle, unit; zero: nowhere
    double outside_mm = 0.0;  ///< of the tube's outside from its middle towards the bend's middle
    double after_mm = 0.0, radius_mm = 0.0;

    double least_radius_mm() const { return outside_mm + kInBend_mm; }
};

double least_after_mm(const EnclosureRequest& request) {
    return request.baffle.thickness.mm() + kBehindBaffle_mm;
}

BendSizes sizes_of(const EnclosureRequest& request) {
    const Port& port = *request.port;
    const PortBend& bend = *port.bend;
    const Frame frame = space::box_frame(request.baffle.plane, request.up);
    BendSizes sizes;
    sizes.towards = unit(bend.towards - frame.y * dot(bend.towards, frame.y));
    const double x = dot(sizes.towards, frame.x), y = dot(sizes.towards, frame.z);
    const DuctSection inside = port_inside(port);
    sizes.outside_mm = inside.grown(port.wall.mm()).reach_mm(x, y);
    sizes.after_mm = bend.after ? bend.after->mm() : least_after_mm(request);
    sizes.radius_mm = bend.radius ? bend.radius->mm() : std::max(2.0 * inside.reach_mm(x, y), sizes.least_radius_mm());
    return sizes;
}

Status check_slot(const EnclosureRequest& request) {
    const PortSlot& slot = *request.port->slot;
    const double least = std::min(slot.width.mm(), slot.height.mm()), corner = slot.corner_radius.mm();
    const std::string size = fmt::format("{} x {} mm", plain_number(slot.width.mm()), plain_number(slot.height.mm()));
    if (least < kLeastSide_mm)
        return cannot(request,
                      fmt::format("a slot of {}, wanted sides of {} mm at least", size, plain_number(kLeastSide_mm)),
                      "make [enclosure] port.slot higher and less wide");
    if (corner < 0.0 || 2.0 * corner > least)
        return cannot(request,
                      fmt::format("corners rounded by {} mm in a slot of {}, wanted at most {} mm",
                                  plain_number(corner), size, plain_number(least / 2.0)),
                      "give [enclosure] port.corner_radius less, or leave it out");
    return Done{};
}

Status check_bend(const EnclosureRequest& request) {
    const PortBend& bend = *request.port->bend;
    const BendSizes sizes = sizes_of(request);
    const Vec3 outward = request.baffle.plane.outward;
    const double out_deg = Angle::rad(std::asin(std::min(1.0, std::abs(dot(unit(bend.towards), unit(outward)))))).deg();
    if (norm(bend.towards) == 0.0 || out_deg > kMostOutOfPlane_deg)
        return cannot(request,
                      fmt::format("its bend turns towards {}, {:.0f} degrees out of the baffle's plane, wanted a way "
                                  "along the baffle (at most {} degrees out of it)",
                                  plain_vector({rounded(bend.towards.x, 3), rounded(bend.towards.y, 3),
                                                rounded(bend.towards.z, 3)}),
                                  out_deg, plain_number(kMostOutOfPlane_deg)),
                      "give [enclosure] port.bend.towards the way to the wall that the tube is to run to");
    if (bend.angle.deg() < kLeastTurn_deg - 1e-9 || bend.angle.deg() > kMostTurn_deg + 1e-9)
        return cannot(
            request,
            fmt::format("its bend turns by {} degrees, wanted {} to {}", plain_number(rounded(bend.angle.deg(), 1)),
                        plain_number(kLeastTurn_deg), plain_number(kMostTurn_deg)),
            "90 degrees make it run along the baffle");
    if (sizes.radius_mm < sizes.least_radius_mm() - 1e-9)
        return cannot(request,
                      fmt::format("its bend has a radius of {} mm, and its outside is {} mm from its middle on that "
                                  "side; wanted {} mm at least",
                                  plain_number(sizes.radius_mm), plain_number(rounded(sizes.outside_mm, 1)),
                                  plain_number(std::ceil(10.0 * sizes.least_radius_mm() - 1e-6) / 10.0)),
                      "give [enclosure] port.bend.radius that, take a smaller port, or turn a slot so that its lesser "
                      "side lies in the bend's plane");
    if (sizes.after_mm < least_after_mm(request) - 1e-9)
        return cannot(request,
                      fmt::format("its bend begins {} mm behind the outer face of a baffle of {} mm, wanted {} mm at "
                                  "least",
                                  plain_number(sizes.after_mm), plain_number(request.baffle.thickness.mm()),
                                  plain_number(least_after_mm(request))),
                      "leave [enclosure] port.bend.after out: it then begins there");
    return Done{};
}

}  // namespace

DuctSection port_inside(const Port& port) {
    if (!port.slot) return DuctSection::round(port.diameter.mm());
    return {port.slot->width.mm() / 2.0, port.slot->height.mm() / 2.0, port.slot->corner_radius.mm(),
            port.slot->turn.rad()};
}

Port scaled(const Port& port, double times) {
    Port other = port;
    other.diameter = port.diameter * times;
    if (other.slot) {
        other.slot->width = other.slot->width * times;
        other.slot->height = other.slot->height * times;
        other.slot->corner_radius = other.slot->corner_radius * times;
    }
    return other;
}

std::string size_text(const DuctSection& section) {
    if (section.is_round()) return plain_number(rounded(2.0 * section.half_width_mm, 1)) + " mm";
    return fmt::format("{} x {} mm", plain_number(rounded(2.0 * section.half_width_mm, 1)),
                       plain_number(rounded(2.0 * section.half_height_mm, 1)));
}

std::string port_text(const Port& port) {
    return (port.slot ? "a slot of " : "a port of ") + size_text(port_inside(port));
}

DuctPath port_path(const EnclosureRequest& request, const Plane& baffle, Length length) {
    EXPECTS(request.port.has_value());
    const Port& port = *request.port;
    const Frame frame = space::box_frame(baffle, request.up);
    DuctPath path;
    path.start = port.at - baffle.outward * baffle.height(port.at);
    path.along = frame.y, path.right = frame.x, path.up = frame.z;
    path.length_mm = length.mm();
    if (!port.bend) return path;
    const BendSizes sizes = sizes_of(request);
    path.towards = sizes.towards;
    path.before_mm = sizes.after_mm;
    path.radius_mm = sizes.radius_mm;
    path.angle_rad = port.bend->angle.rad();
    return path;
}

Status check_port_form(const EnclosureRequest& request) {
    EXPECTS(request.port.has_value());
    if (request.port->slot) GAPWRIGHT_CHECK(check_slot(request));
    if (request.port->bend) GAPWRIGHT_CHECK(check_bend(request));
    return Done{};
}

double least_port_mm(const EnclosureRequest& request) {
    const double baffle_mm = request.baffle.thickness.mm();
    if (!request.port->bend) return baffle_mm + kLeastTube_mm;
    const BendSizes sizes = sizes_of(request);
    return sizes.after_mm + sizes.radius_mm * request.port->bend->angle.rad() + kLeastTube_mm;
}

}  // namespace geom::parts

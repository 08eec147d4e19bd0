// What a fault of a port's room tells as fitting: whoever writes it into the job has a box. Oracle: the box made with
// the numbers read from the hint, its tuning solved for the volume that it then has.
#include "geom/core/random.h"
#include "geom/parts/box.h"

#include <catch2/catch.hpp>

#include <cstdio>

using namespace geom;
using namespace geom::parts;

namespace {

BoxRequest block(double width, double height, double depth) {
    BoxRequest request;
    request.sizes = {{BoxSize::Width, Length::mm(width)},
                     {BoxSize::Height, Length::mm(height)},
                     {BoxSize::Depth, Length::mm(depth)}};
    request.enclosure.wall = Length::mm(10);
    request.enclosure.asks_volume = false;
    return request;
}

/// Writes what the hint tells into the request; false where it tells no size.
bool follow(const std::string& hint, Port& port) {
    double a = 0.0, b = 0.0;
    if (std::sscanf(hint.c_str(), "a port of %lf mm", &a) == 1)
        port.diameter = Length::mm(a);
    else if (std::sscanf(hint.c_str(), "a slot of %lf x %lf mm", &a, &b) == 2)
        port.slot->width = Length::mm(a), port.slot->height = Length::mm(b);
    else if (std::sscanf(hint.c_str(), "[enclosure] port.length of %lf mm would fit", &a) == 1)
        port.length = Length::mm(a);
    else
        return false;
    return true;
}

}  // namespace

TEST_CASE("a port has room when its fault's hint is followed", "[parts][port][property]") {
    Random random(7);
    int followed = 0;
    for (int i = 0; i < 30; ++i) {
        const double width = random.uniform(220, 400), height = random.uniform(220, 360),
                     depth = random.uniform(140, 260);
        BoxRequest request = block(width, height, depth);
        Port port;
        port.at = {width / 2.0 + random.uniform(-40, 40), 0, height / 2.0 + random.uniform(20, 70)};
        const double across = random.uniform(40, 70);
        port.diameter = Length::mm(across);
        if (i % 3 == 1)
            port.slot = PortSlot{.width = Length::mm(1.5 * across),
                                 .height = Length::mm(0.4 * across),
                                 .corner_radius = Length::mm(3),
                                 .turn = {}};
        if (i % 4 == 2) port.bend = PortBend{.towards = {0, 0, -1}};
        if (i % 5 == 0)
            port.length = Length::mm(random.uniform(0.8, 1.5) * depth);
        else
            port.tuning_hz = random.uniform(25, 60);
        request.enclosure.port = port;
        const auto first = make_box(request, {});
        if (first) continue;
        const Fault fault = first.error();
        CAPTURE(i, width, height, depth, across, port.tuning_hz, fault.what, fault.hint);
        if (!follow(fault.hint, *request.enclosure.port)) continue;
        ++followed;
        if (const auto second = make_box(request, {}); !second) FAIL_CHECK(second.error().what);
    }
    CHECK(followed > 8);
}

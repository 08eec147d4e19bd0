// Random drivers and boxes within what woofers have.
#pragma once

#include "geom/core/random.h"
#include "geom/sound/box.h"

namespace test {

/// A whole data sheet: qes and qms, physical values to follow from it.
inline geom::sound::SmallSignal random_driver(geom::Random& random) {
    geom::sound::Driver d;
    d.fs_hz = random.uniform(18, 90);
    d.qes = random.uniform(0.2, 1.2);
    d.qms = random.uniform(1.5, 12);
    d.vas = geom::Volume::litres(random.uniform(3, 250));
    d.sd = geom::Area::cm2(random.uniform(60, 800));
    d.re_ohm = random.uniform(1, 8);
    d.xmax = geom::Length::mm(random.uniform(2, 15));
    d.power_w = random.uniform(20, 800);
    return geom::sound::derived(d);
}

inline geom::sound::Box random_closed(geom::Random& random, const geom::sound::SmallSignal& driver) {
    geom::sound::Box box;
    box.net = driver.vas->value / random.uniform(0.2, 8);
    return box;
}

inline geom::sound::Box random_vented(geom::Random& random, const geom::sound::SmallSignal& driver) {
    geom::sound::Box box = random_closed(random, driver);
    box.fb_hz = driver.fs_hz->value * random.uniform(0.5, 1.8);
    box.port_area = geom::Area::cm2(random.uniform(15, 120));
    box.losses = geom::sound::BoxLosses{
        .leakage = random.uniform(5, 30), .absorption = random.uniform(10, 100), .port = random.uniform(20, 100)};
    return box;
}

}  // namespace test

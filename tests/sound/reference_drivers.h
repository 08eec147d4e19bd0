// The invented drivers of the reference, and comparison to its printed digits.
#pragma once

#include "geom/sound/box.h"
#include "geom/sound/derived.h"

#include <catch2/catch.hpp>

#include <cmath>

namespace test {

/// Within half a unit of the last printed decimal.
inline Approx printed(double value, int decimals) {
    return Approx(value).margin(0.5000001 * std::pow(10.0, -decimals)).epsilon(0);
}

/// E1: 200 mm woofer A by its physical values.
inline geom::sound::Driver woofer_a() {
    geom::sound::Driver d;
    d.name = "woofer A";
    d.sd = geom::Area::cm2(214);
    d.mms_kg = 0.030;
    d.cms_m_per_n = 1.0e-3;
    d.rms_kg_per_s = 1.2;
    d.bl_tm = 7.0;
    d.re_ohm = 3.6;
    d.xmax = geom::Length::mm(6);
    return d;
}

inline geom::sound::SmallSignal driver_of(double fs, double qts, double vas_litres) {
    geom::sound::Driver d;
    d.fs_hz = fs, d.qts = qts, d.vas = geom::Volume::litres(vas_litres);
    return geom::sound::derived(d);
}

inline geom::sound::Box closed(double litres) {
    geom::sound::Box box;
    box.net = geom::Volume::litres(litres);
    return box;
}

inline geom::sound::Box vented(double litres, double fb_hz, double leakage = 7.0) {
    geom::sound::Box box = closed(litres);
    box.fb_hz = fb_hz;
    box.losses.emplace();
    box.losses->leakage = leakage;
    return box;
}

inline double db(double ratio2) {
    return 10.0 * std::log10(ratio2);
}

}  // namespace test

// Volumes of finished boxes by what was filled into them; numbers worked by hand, Student's t from its printed table.
#include "geom/measure/as_built.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

using namespace geom;
using namespace geom::measure;

namespace {

Filling grain(double kg, double density_rel = kSettling_rel, double off_kg = 0.01) {
    Filling f;
    f.told = "grain";
    f.full = {kg, off_kg};
    f.kg_per_litre = 0.672;
    f.density_rel = density_rel;
    return f;
}
Filling water(double litres, double off_litres) {
    Filling f;
    f.matter = Filling::Matter::WaterByVolume;
    f.told = "water";
    f.volume = {Volume::litres(litres), Volume::litres(off_litres)};
    return f;
}
Filled of(const std::vector<Filling>& fillings) {
    const auto out = filled(fillings);
    REQUIRE(out);
    return *out;
}

}  // namespace

TEST_CASE("Student's factor is that of the printed table", "[as_built]") {
    for (const auto& [freedom, factor] : {std::pair{1.0, 12.706},
                                          {2.0, 4.303},
                                          {3.0, 3.182},
                                          {4.0, 2.776},
                                          {10.0, 2.228},
                                          {30.0, 2.042},
                                          {120.0, 1.980}})
        CHECK(Uncertain{{}, {}, freedom}.factor() == Approx(factor).margin(5e-4));
    CHECK(Uncertain{{}, {}, std::numeric_limits<double>::infinity()}.factor() == Approx(1.959964).margin(1e-6));
}

TEST_CASE("one weighing: mass over bulk density, spread by scale and settling", "[as_built]") {
    // 8.41/0.672 = 12.51488 L; scale 0.01/sqrt 3/0.672 = 0.0085915 L; settling 0.02/sqrt 3 x 12.51488 = 0.1445094 L.
    const Filled f = of({grain(8.41)});
    REQUIRE(f.each.size() == 1);
    CHECK(f.mean.value.litres() == Approx(12.5148810));
    REQUIRE(f.shares.size() == 2);
    CHECK(f.shares[0].of == "bulk density");
    CHECK(f.shares[0].standard.litres() == Approx(0.1445094).epsilon(1e-6));
    CHECK(f.shares[1].standard.litres() == Approx(0.0085915).epsilon(1e-4));
    CHECK(f.mean.standard.litres() == Approx(0.1447646).epsilon(1e-6));
    CHECK(std::isinf(f.mean.freedom));
    CHECK(f.mean.within().litres() == Approx(1.959964 * 0.1447646).epsilon(1e-6));
    // With a vessel: 9.00 full, 0.59 empty; both readings are off.
    Filling tared = grain(9.00);
    tared.empty = {0.59, 0.01};
    CHECK(of({tared}).mean.value.litres() == Approx(12.5148810));
    CHECK(of({tared}).shares[1].standard.litres() == Approx(0.0085915 * std::sqrt(2.0)).epsilon(1e-4));
}

TEST_CASE("several weighings: mean, scatter, and what they share is not averaged away", "[as_built]") {
    // 8.37, 8.41, 8.45, 8.41 kg: mean 8.41, s = sqrt(0.0032/3) = 0.0326599 kg = 0.0486010 L; of the mean 0.0243005 L.
    const Filled f = of({grain(8.37, 0.0, 0.0), grain(8.41, 0.0, 0.0), grain(8.45, 0.0, 0.0), grain(8.41, 0.0, 0.0)});
    CHECK(f.mean.value.litres() == Approx(12.5148810));
    CHECK(f.scatter.litres() == Approx(0.0486010).epsilon(1e-5));
    CHECK(f.mean.standard.litres() == Approx(0.0243005).epsilon(1e-5));
    CHECK(f.mean.freedom == Approx(3.0));
    CHECK(f.mean.within().litres() == Approx(3.182446 * 0.0243005).epsilon(1e-5));
    // With settling: sqrt(0.0243005^2 + 0.1445094^2) = 0.1465384; freedom 3 (0.1465384/0.0243005)^4 = 3967.
    const Filled g = of({grain(8.37, 0.02, 0.0), grain(8.41, 0.02, 0.0), grain(8.45, 0.02, 0.0), grain(8.41, 0.02, 0)});
    CHECK(g.mean.standard.litres() == Approx(0.1465384).epsilon(1e-5));
    CHECK(g.mean.freedom == Approx(3967).epsilon(1e-3));
}

TEST_CASE("grain and water together: weighted, drawn out where they disagree", "[as_built]") {
    // Water 12.40 L: measure 0.05/sqrt 3 = 0.0288675, corners 0.003/sqrt 3 x 12.4 = 0.0214774: 0.0359807 L.
    const Filled w = of({water(12.40, 0.05)});
    CHECK(w.mean.standard.litres() == Approx(0.0359807).epsilon(1e-5));
    const Filled both = of({grain(8.41), water(12.40, 0.05)});
    const double a = 1.0 / (0.1447646 * 0.1447646), b = 1.0 / (0.0359807 * 0.0359807);
    CHECK(both.mean.value.litres() == Approx((12.5148810 * a + 12.40 * b) / (a + b)).epsilon(1e-6));
    CHECK(both.mean.standard.litres() == Approx(1.0 / std::sqrt(a + b)).epsilon(1e-5));
    CHECK_FALSE(both.ways_disagree);
    // 10 L of water and 12.5 L of grain: one of them is wrong.
    const Filled apart = of({grain(8.41), water(10.0, 0.05)});
    CHECK(apart.ways_disagree);
    CHECK(apart.mean.within() > Volume::litres(0.4));
}

TEST_CASE("against the report: a difference is told from what the measuring cannot know", "[as_built]") {
    const Uncertain by_water = of({water(12.40, 0.05)}).mean;
    const auto same = against(by_water, Volume::litres(12.45), Volume::litres(0.002), Volume::litres(0.025));
    CHECK_FALSE(same.differs);
    CHECK_FALSE(same.can_tell);
    const auto less = against(by_water, Volume::litres(12.60), Volume::litres(0.002), Volume::litres(0.025));
    CHECK(less.differs);
    CHECK(less.matters);
    CHECK(less.difference.value.litres() == Approx(-0.20));
    CHECK(less.difference.within().litres() == Approx(1.959964 * std::hypot(0.0359807, 0.002 / std::sqrt(3.0))));
    // It differs, and the job's tolerance forgives it.
    const auto near = against(by_water, Volume::litres(12.60), Volume::litres(0.002), Volume::litres(0.25));
    CHECK(near.differs);
    CHECK_FALSE(near.matters);
    CHECK(near.can_tell);
}

TEST_CASE("senseless fillings are named", "[as_built]") {
    Filling tared = grain(8.41);
    tared.empty = {9.0, 0.01};
    const auto heavy = filled({tared});
    REQUIRE_FALSE(heavy);
    CHECK_THAT(heavy.error().what, Catch::Contains("8.41 kg full and 9 kg empty"));
    CHECK_FALSE(filled({grain(-1)}));
    CHECK_FALSE(filled({water(0.0, 0.1)}));
    // Nothing said to be off still gives numbers.
    const Filled sure = of({grain(8.41, 0.0, 0.0)});
    CHECK(sure.mean.value.litres() == Approx(12.5148810));
    CHECK(sure.mean.within().litres() < 1e-6);
}

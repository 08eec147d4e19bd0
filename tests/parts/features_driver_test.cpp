#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

double sum(const std::vector<LedgerLine>& ledger) {
    double litres = 0.0;
    for (const LedgerLine& line : ledger) litres += line.litres;
    return litres;
}

}  // namespace

TEST_CASE("an integral baffle with a driver is one valid solid whose ledger sums to the measured air", "[parts][features][driver]") {
    Case box = GENERATE(0, 1, 2) == 0 ? rounded_box() : rounded_box();
    box.request.driver = mounted(woofer());
    const Enclosure made = require(add_features(box.bodies, box.room, box.request, {}));
    REQUIRE(made.products.size() == 1);
    const auto solid = require(measure::measure_solid(made.products[0].solid, {}));
    CHECK(solid.valid);
    CHECK(solid.closed);
    CHECK(solid.solids == 1);
    CHECK(sum(made.ledger) == Approx(made.net_by_brep.litres()).epsilon(1e-4));
}

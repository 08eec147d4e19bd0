#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"

#include <catch2/catch.hpp>

namespace geom::parts::test {

void check_sound(const Case& box, const Enclosure& made, int products) {
    REQUIRE(static_cast<int>(made.products.size()) == products);
    double mesh_air_mm3 = 0.0;
    for (const Product& product : made.products) {
        CAPTURE(product.name);
        const auto solid = require(measure::measure_solid(product.solid, {}));
        CHECK(solid.valid);
        CHECK(solid.closed);
        CHECK(solid.solids == 1);
        CHECK(solid.max_tolerance_mm < 0.02);
        const TriMesh mesh = require(measure::tessellate(product.solid, Length::mm(0.1), {}));
        const auto measured = measure::measure_mesh(mesh);
        CHECK(measured.closed);
        CHECK(measured.oriented);
        CHECK(measured.volume.mm3() == Approx(solid.volume.mm3()).epsilon(2e-3));
        CHECK(require(measure::self_crossings(mesh)).empty());
        for (const AirPiece& piece : made.air_pieces)
            if (piece.product == product.name) {
                CAPTURE(piece.at.x, piece.at.y, piece.at.z);
                const auto air = measure::air_inside(mesh, piece.openings, piece.at);
                INFO((air ? std::string() : air.error().what));
                CHECK(air);
                if (air) mesh_air_mm3 += air->mm3() - piece.filled_mm3;
            }
    }
    double ledger = 0.0;
    for (const LedgerLine& line : made.ledger) ledger += line.litres;
    CHECK(ledger == Approx(made.net_by_brep.litres()).epsilon(1e-4));
    CHECK(mesh_air_mm3 - made.solids_in_air.mm3() == Approx(made.net_by_brep.mm3()).epsilon(1e-3));
    // Independent of the features: what the air body holds is the bare air less the flange and what stands in it.
    const auto air = require(measure::measure_solid(made.air_body, {}));
    const auto bare = require(measure::measure_solid(box.bodies.air, {}));
    CHECK(air.valid);
    double solids_mm3 = 0.0;
    for (const LedgerLine& line : made.ledger)
        if (line.name == "back of the dish" || line.name.starts_with("port tube") || line.name.starts_with("sleeve ") ||
            line.name.starts_with("brace "))
            solids_mm3 -= line.litres * 1e6;
    if (!box.request.baffle.separate) CHECK(air.volume.mm3() == Approx(bare.volume.mm3() - solids_mm3).epsilon(1e-7));
}

}  // namespace geom::parts::test

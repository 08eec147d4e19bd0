// Closed forms by hand, and laws: longer holds more, an insert holds more than its screw's own thread.
#include "geom/fixings/pull_out.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::fixings;

TEST_CASE("an insert shears the plastic round it, a thread strips half of it", "[fixings][pull-out][oracle]") {
    const Thread m4 = *find_thread("M4");
    // pi 5.6 8.1 10 and pi 3.5453 10 48 / 2 [computed].
    CHECK(pull_out_N(m4, Hold::Insert, Holder::Printed, 8.1) == Approx(1425.03).margin(0.01));
    CHECK(pull_out_N(m4, Hold::Thread, Holder::Metal, 10) == Approx(2673.12).margin(0.05));
    CHECK(pull_out_N(m4, Hold::Thread, Holder::Board, 15) == Approx(4 * 15 * 8.0));
    CHECK(pull_out_N(m4, Hold::Insert, Holder::Board, 8.1) == Approx(5.6 * 8.1 * 8.0));
}

TEST_CASE("what holds more holds more", "[fixings][pull-out]") {
    for (const Thread& t : threads())
        for (const Holder holder : {Holder::Printed, Holder::Laminate, Holder::Board, Holder::Metal}) {
            CHECK(pull_out_N(t, Hold::Thread, holder, 0.0) == 0.0);
            CHECK(pull_out_N(t, Hold::Thread, holder, 12) == Approx(2 * pull_out_N(t, Hold::Thread, holder, 6)));
            if (t.insert_pilot_mm > 0.0)
                CHECK(pull_out_N(t, Hold::Insert, holder, t.insert_length_mm) >
                      pull_out_N(t, Hold::Thread, holder, t.insert_length_mm));
            // Steel bolts are stronger than any of these up to the engagement that is wanted at least.
            CHECK(pull_out_N(t, Hold::Thread, holder, t.d_mm) < t.ultimate_8_8_N);
        }
    CHECK(wanted_engagement_d(Holder::Metal) == 2.0);  // [common practice]
    CHECK(wanted_engagement_d(Holder::Board) == 2.5);
}

// Table rows against the standards' formulae: ISO 898-1 stress area [computed], ISO 724 core diameter [computed],
// ISO 273 order fine < medium < coarse [verified].
#include "geom/fixings/threads.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>

using namespace geom;
using namespace geom::fixings;

TEST_CASE("stress areas agree with ISO 898-1's formula to the digits printed there", "[fixings][threads][oracle]") {
    REQUIRE(threads().size() == 6);
    for (const Thread& thread : threads()) {
        CAPTURE(std::string(thread.name));
        const double d = thread.d_mm - 0.938194 * thread.pitch_mm;
        CHECK(thread.stress_area_mm2 == Approx(std::numbers::pi / 4.0 * d * d).epsilon(0.003));
    }
}

TEST_CASE("proof loads are 580 to 600 MPa on the stress area", "[fixings][threads][oracle]") {
    // ISO 898-1: Sp of class 8.8 up to M16 is 580 MPa [memory]; the table rounds.
    for (const Thread& thread : threads()) {
        CAPTURE(std::string(thread.name));
        CHECK(thread.proof_load_8_8_N / thread.stress_area_mm2 == Approx(580.0).epsilon(0.01));
    }
}

TEST_CASE("clearance holes are ISO 273's three series, row by row", "[fixings][threads][oracle]") {
    // ISO 273:1979 Table 1: fine H12, medium H13, coarse H14 [verified].
    const double fine[] = {3.2, 4.3, 5.3, 6.4, 8.4, 10.5}, medium[] = {3.4, 4.5, 5.5, 6.6, 9.0, 11.0},
                 coarse[] = {3.6, 4.8, 5.8, 7.0, 10.0, 12.0};
    for (std::size_t i = 0; i < threads().size(); ++i) {
        const Thread& thread = threads()[i];
        CAPTURE(thread.name);
        CHECK(thread.hole_fine_mm == fine[i]);
        CHECK(thread.hole_medium_mm == medium[i]);
        CHECK(thread.hole_coarse_mm == coarse[i]);
        CHECK(thread.d_mm < thread.hole_fine_mm);
        CHECK(thread.hole_coarse_mm < thread.washer_outside_mm);
    }
}

TEST_CASE("pitches, tap drills and sockets stand row by row", "[fixings][threads][oracle]") {
    // ISO 261 coarse pitch, tap drills [verified]; thin-wall sockets, about [common practice].
    const double d[] = {3, 4, 5, 6, 8, 10}, pitch[] = {0.5, 0.7, 0.8, 1.0, 1.25, 1.5},
                 drill[] = {2.5, 3.3, 4.2, 5.0, 6.8, 8.5}, socket[] = {8.5, 10, 12, 14.5, 18.5, 22.5};
    for (std::size_t i = 0; i < threads().size(); ++i) {
        CHECK(threads()[i].d_mm == d[i]);
        CHECK(threads()[i].pitch_mm == pitch[i]);
        CHECK(threads()[i].tap_drill_mm == drill[i]);
        CHECK(threads()[i].socket_outside_mm == socket[i]);
    }
}

TEST_CASE("inserts stand row by row, none for M10", "[fixings][threads][oracle]") {
    // Pilot M3..M6 a supplier's chart [verified], M8 within 9.6..9.7; boss 2 x the insert, least wall [common
    // practice].
    const double pilot[] = {4.0, 5.6, 6.4, 8.0, 9.7, 0}, boss[] = {8.8, 12.2, 14.2, 17.0, 20.0, 0},
                 wall[] = {1.6, 2.0, 2.5, 3.0, 4.0, 0};
    for (std::size_t i = 0; i < threads().size(); ++i) {
        CHECK(threads()[i].insert_pilot_mm == pilot[i]);
        CHECK(threads()[i].insert_boss_mm == boss[i]);
        CHECK(threads()[i].insert_wall_mm == wall[i]);
    }
}

TEST_CASE("tap drills lie above the core diameter and below the pitch diameter", "[fixings][threads][oracle]") {
    for (const Thread& thread : threads()) {
        CAPTURE(std::string(thread.name));
        CHECK(thread.tap_drill_mm >= thread.d_mm - 1.082532 * thread.pitch_mm);  // D1, ISO 724
        CHECK(thread.tap_drill_mm <= thread.d_mm - 0.649519 * thread.pitch_mm);  // D2
    }
}

TEST_CASE("an insert's boss holds the pilot hole and twice the least wall", "[fixings][threads]") {
    for (const Thread& thread : threads()) {
        if (thread.insert_pilot_mm == 0.0) {
            CHECK(thread.name == "M10");
            continue;
        }
        CAPTURE(std::string(thread.name));
        CHECK(thread.insert_pilot_mm > thread.d_mm);
        CHECK(thread.insert_boss_mm >= thread.insert_pilot_mm + 2.0 * thread.insert_wall_mm);
    }
}

TEST_CASE("a thread is found by its name and an unknown one is answered with the known ones", "[fixings][threads]") {
    CHECK(find_thread("M8")->hole_medium_mm == 9.0);
    const auto wrong = find_thread("M7");
    REQUIRE_FALSE(wrong);
    CHECK(wrong.error().code == FaultCode::BadJob);
    CHECK(wrong.error().what == "thread: \"M7\" is not known");
    CHECK(wrong.error().hint == "known are M3, M4, M5, M6, M8, M10");
}

TEST_CASE("the least edge distance is two diameters in metal and three elsewhere", "[fixings][threads]") {
    const Thread m8 = *find_thread("M8");
    CHECK(least_edge_distance(m8, true).mm() == 16.0);
    CHECK(least_edge_distance(m8, false).mm() == 24.0);
}

// Worked instances of the reference to their printed digits, and the laws that any sum of forces obeys.
#include "geom/fixings/restraint.h"

#include "geom/core/random.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::fixings;

namespace {

/// Four bolts down through the corners of a rectangle: along the load and across it.
std::vector<Held> four(double along_mm, double across_mm, double proof_N = 11600, double seat_mm = 10) {
    std::vector<Held> bolts;
    for (const double x : {-0.5, 0.5})
        for (const double y : {-0.5, 0.5})
            bolts.push_back({.name = "b",
                             .seat = {x * along_mm, y * across_mm, 0},
                             .axis = {0, 0, -1},
                             .proof_N = proof_N,
                             .seat_radius_mm = seat_mm});
    return bolts;
}

std::vector<Held> random_bolts(Random& random, int n) {
    std::vector<Held> bolts;
    for (int i = 0; i < n; ++i)
        bolts.push_back({.name = "b",
                         .seat = {random.uniform(-200, 200), random.uniform(-200, 200), random.uniform(-50, 50)},
                         .axis = unit({random.normal(), random.normal(), random.normal()}),
                         .proof_N = random.uniform(3000, 30000),
                         .seat_radius_mm = random.uniform(5, 25)});
    return bolts;
}

}  // namespace

TEST_CASE("inertia is mass times deceleration", "[fixings][restraint][oracle]") {
    // 5, 12, 20 kg at 20 g: 980.665, 2 353.596, 3 922.66 N [computed].
    for (const auto& [kg, newton] : {std::pair{5.0, 980.665}, {12.0, 2353.596}, {20.0, 3922.66}}) {
        const Restraint r = restrain(kg, {0, 0, 0}, four(250, 200), {"forward", {1, 0, 0}, 20});
        double sum = 0.0;
        for (const BoltForce& b : r.bolts) sum += b.shear_N;
        CHECK(sum == Approx(newton).epsilon(1e-9));
    }
}

TEST_CASE("shear and tension of a rectangle of bolts are those of the reference", "[fixings][restraint][oracle]") {
    // 12 kg, 20 g, four bolts, h 120, d 250, two rear bolts: 588.399 N shear, 564.863 N tension each [computed].
    const Restraint r = restrain(12, {0, 0, 120}, four(250, 200), {"forward", {1, 0, 0}, 20});
    REQUIRE(r.bolts.size() == 4);
    CHECK(r.is_held);
    for (std::size_t i = 0; i < 4; ++i) {
        CHECK(r.bolts[i].shear_N == Approx(588.399).epsilon(1e-9));
        const bool is_rear = i < 2;  // the box tips forward over the front ones
        CHECK(r.bolts[i].tension_N == Approx(is_rear ? 564.86304 : 0.0).margin(1e-6));
    }
    // (T/Fp)^2 + (S/(0.6 Fp))^2 <= 1/SF^2 [common practice]
    const double t = 564.86304 / 11600, s = 588.399 / (0.6 * 11600);
    CHECK(r.bolts[0].use_rel == Approx(std::sqrt(t * t + s * s) * 1.5));
    // That shear on a 6 mm bolt in a 12 mm wall: 8.17221 MPa [computed].
    CHECK(bearing_MPa(588.399, 6, 12) == Approx(8.17221).epsilon(1e-6));
}

TEST_CASE("the forces of all bolts balance the load and its moment", "[fixings][restraint][oracle]") {
    Random random(5);
    for (int i = 0; i < 200; ++i) {
        const auto bolts = random_bolts(random, 4 + i % 4);
        const Point3 com{random.uniform(-100, 100), random.uniform(-100, 100), random.uniform(0, 200)};
        const LoadCase load{"x", unit({random.normal(), random.normal(), random.normal()}), 20};
        const Restraint r = restrain(8, com, bolts, load);
        CHECK(r.is_held);
        Vec3 force, moment;
        for (std::size_t k = 0; k < bolts.size(); ++k) {
            force += r.bolts[k].force_N;
            moment += cross(bolts[k].seat - com, r.bolts[k].force_N) + r.bolts[k].couple_N_mm;
        }
        CHECK(norm(force - load.towards * (8 * 20 * kGravity_m_s2)) < 1e-6);
        CHECK(norm(moment) < 1e-5);  // N mm, of some 1e5
    }
}

TEST_CASE("what is turned and moved is held alike, twice the mass takes twice the force", "[fixings][restraint]") {
    Random random(7);
    for (int i = 0; i < 50; ++i) {
        const auto bolts = random_bolts(random, 1 + i % 6);
        const Point3 com{10, -40, 90};
        const LoadCase load{"x", unit({random.normal(), random.normal(), random.normal()}), 20};
        const Restraint r = restrain(8, com, bolts, load), twice = restrain(16, com, bolts, load);
        const Vec3 x = unit({random.normal(), random.normal(), random.normal()}), y = any_perpendicular(x);
        const Frame to{{100, -300, 50}, x, unit(y), cross(x, unit(y))};
        auto moved = bolts;
        for (Held& b : moved) b.seat = to.to_parent(b.seat), b.axis = to.dir_to_parent(b.axis);
        const Restraint same = restrain(8, to.to_parent(com), moved, {"x", to.dir_to_parent(load.towards), 20});
        for (std::size_t k = 0; k < bolts.size(); ++k) {
            CHECK(twice.bolts[k].tension_N == Approx(2 * r.bolts[k].tension_N).margin(1e-6));
            CHECK(twice.bolts[k].shear_N == Approx(2 * r.bolts[k].shear_N).margin(1e-6));
            CHECK(same.bolts[k].tension_N == Approx(r.bolts[k].tension_N).margin(1e-6));
            CHECK(same.bolts[k].shear_N == Approx(r.bolts[k].shear_N).margin(1e-6));
        }
        CHECK(same.is_held == r.is_held);
    }
}

TEST_CASE("one bolt holds by its seat, and against a twist about itself not at all", "[fixings][restraint]") {
    const std::vector<Held> one{
        {.name = "b", .seat = {0, 0, 0}, .axis = {0, 0, -1}, .proof_N = 21200, .seat_radius_mm = 24}};
    const Restraint over = restrain(5, {0, 0, 100}, one, {"forward", {1, 0, 0}, 20});
    CHECK(over.is_held);
    CHECK(over.bolts[0].shear_N == Approx(980.665));
    CHECK(over.bolts[0].tension_N == Approx(980.665 * 100 / 24));  // the moment as a couple over the seat's radius
    const Restraint beside = restrain(5, {0, 50, 0}, one, {"forward", {1, 0, 0}, 20});
    CHECK_FALSE(beside.is_held);
    CHECK(beside.unheld_N_mm == Approx(980.665 * 50));
}

TEST_CASE("two bolts in a row tip about their row on their seats", "[fixings][restraint]") {
    std::vector<Held> two;
    for (const double y : {-100.0, 100.0})
        two.push_back({.name = "b", .seat = {0, y, 0}, .axis = {0, 0, -1}, .proof_N = 21200, .seat_radius_mm = 24});
    const Restraint across = restrain(5, {0, 0, 100}, two, {"forward", {1, 0, 0}, 20});
    CHECK(across.is_held);
    CHECK(across.bolts[0].tension_N == Approx(980.665 * 100 / 2 / 24));
    // Along the row the bolts' own distance holds it.
    const Restraint along = restrain(5, {0, 0, 100}, two, {"left", {0, 1, 0}, 20});
    CHECK(along.bolts[0].tension_N == Approx(980.665 * 100 / 200));
    CHECK(along.bolts[1].tension_N == 0.0);
}

TEST_CASE("half the deceleration acts rearward, sideways and upward", "[fixings][restraint]") {
    const auto cases = load_cases(20, {0, 0, 1}, Vec3{0, -1, 0.2});
    REQUIRE(cases.size() == 5);
    CHECK(cases[0].g == 20);
    for (std::size_t i = 1; i < 5; ++i) CHECK(cases[i].g == 10);
    CHECK(norm(cases[0].towards - Vec3{0, -1, 0}) < 1e-12);
    CHECK(norm(cases[2].towards - Vec3{1, 0, 0}) < 1e-12);  // left of one who looks forward
    CHECK(norm(cases[4].towards - Vec3{0, 0, 1}) < 1e-12);
    const auto level = load_cases(20, {0, 0, 1}, std::nullopt);
    CHECK(level.size() == 17);
    for (std::size_t i = 0; i < 16; ++i) CHECK(level[i].g == 20);
}

TEST_CASE("torque follows the K rule on three quarters of the proof load", "[fixings][restraint][oracle]") {
    // K 0.2, F = 0.75 Fp [verified], torque [computed].
    const double force[] = {2190, 3825, 6172.5, 8700, 15900, 25275},
                 torque[] = {1.314, 3.060, 6.173, 10.440, 25.440, 50.550};
    for (std::size_t i = 0; i < threads().size(); ++i) {
        const Preload p = preload(threads()[i], Grade::G8_8, {.hole_mm = 9, .outside_mm = 16, .most_MPa = 0}, false);
        CHECK(p.force_N == force[i]);
        CHECK(p.torque_N_m == Approx(torque[i]).margin(5.1e-4));
        CHECK_FALSE(p.wants_sleeve);
    }
}

TEST_CASE("a printed seat takes ten megapascals, a board four, or a metal sleeve", "[fixings][restraint]") {
    const Thread m8 = *find_thread("M8");
    const double area = std::numbers::pi / 4 * (16 * 16 - 9 * 9);
    for (const bool is_board : {false, true}) {
        const Seat seat{9, 16, most_seat_pressure_MPa(true, is_board)};
        CHECK(seat.most_MPa == (is_board ? 4 : 10));  // [common practice]
        const Preload bare = preload(m8, Grade::G8_8, seat, false), held = preload(m8, Grade::G8_8, seat, true);
        CHECK(bare.wants_sleeve);
        CHECK(bare.force_N == Approx(seat.most_MPa * area));
        CHECK(bare.torque_N_m == Approx(0.2 * 0.008 * seat.most_MPa * area));
        CHECK(held.force_N == 15900);
        CHECK(bare.pressure_MPa == Approx(15900 / area));
    }
    CHECK(most_seat_pressure_MPa(false, false) == 0);
}

#include "geom/core/units.h"

#include <catch2/catch.hpp>

#include <numbers>

namespace {

using namespace geom;

template <class A, class B>
concept can_add = requires(A a, B b) {
    a + b;
};
template <class A, class B>
concept can_multiply = requires(A a, B b) {
    a* b;
};
template <class A, class B>
concept can_compare = requires(A a, B b) {
    a < b;
};
template <class From, class To>
concept becomes_silently = std::is_convertible_v<From, To>;

// What must not compile: a quantity and a bare number, or two quantities of different kinds, never mix.
static_assert(can_add<Length, Length> && !can_add<Length, double> && !can_add<Length, Area> && !can_add<Area, Volume>);
static_assert(can_multiply<Length, double> && can_multiply<Length, Length> && can_multiply<Area, Length>);
static_assert(!can_multiply<Area, Area> && !can_multiply<Length, Angle> && !can_multiply<Volume, Length>);
static_assert(can_compare<Length, Length> && !can_compare<Length, double> && !can_compare<Length, Angle>);
static_assert(!becomes_silently<double, Length> && !becomes_silently<Length, double>);
static_assert(!becomes_silently<double, Volume> && !becomes_silently<Length, Area>);

}  // namespace

TEST_CASE("lengths keep the published factors between units", "[core][units]") {
    // The international inch is 25.4 mm by definition, the foot 12 of them.
    CHECK(Length::inch(1.0).mm() == 25.4);
    CHECK(Length::mm(25.4).inch() == 1.0);
    CHECK(Length::cm(2.5).mm() == 25.0);
    CHECK(Length::m(1.2).mm() == Approx(1200.0));
    CHECK((4.5_mm).mm() == 4.5);
    CHECK((4_mm).mm() == 4.0);
}

TEST_CASE("a litre is a cube of 100 mm and a cubic foot one of 304.8 mm", "[core][units]") {
    CHECK((Length::mm(100) * Length::mm(100) * Length::mm(100)).litres() == Approx(1.0));
    CHECK((Length::inch(12) * Length::inch(12) * Length::inch(12)).mm3() ==
          Approx(Volume::ft3(1.0).mm3()).epsilon(1e-12));
    CHECK(Volume::ft3(1.0).litres() == Approx(28.316846592).epsilon(1e-14));
    CHECK(Volume::litres(9.5).mm3() == 9.5e6);
    CHECK(Area::cm2(220).mm2() == 22000.0);
    CHECK((Length::cm(1) * Area::cm2(1)).mm3() == 1000.0);
}

TEST_CASE("angles go between degrees and radians", "[core][units]") {
    CHECK(Angle::deg(180).rad() == Approx(std::numbers::pi));
    CHECK(Angle::rad(std::numbers::pi / 2).deg() == Approx(90.0));
    CHECK((45_deg + 45.0_deg).deg() == Approx(90.0));
}

TEST_CASE("quantities add, scale, compare and divide like the numbers they hold", "[core][units]") {
    Length sum = 3_mm;
    sum += 4_mm;
    sum -= 2_mm;
    CHECK(sum == 5_mm);
    CHECK(-(5_mm) < 0_mm);
    CHECK(2.0 * 5_mm == 5_mm * 2.0);
    CHECK(5_mm / 2.0 == 2.5_mm);
    CHECK(10_mm / 4_mm == 2.5);
    CHECK(Volume::litres(2) - Volume::litres(0.5) > 1_litres);
}

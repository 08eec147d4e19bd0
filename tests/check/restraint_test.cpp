// The vehicle's bolts under the job's deceleration against sums by hand.
#include "tests/check/case.h"

#include "geom/fixings/restraint.h"

using namespace geom;
using namespace geom::check;
using Catch::Matchers::Contains;

namespace {

/// The case stands on two bolts, 140 mm apart along x, at y = 40 and z = -4.5, seats of 18.5 mm.
constexpr double kApart = 140, kSeatY = 40, kSeatZ = -4.5, kSeat = 18.5, kProof = 11600;  // M6, ISO 898-1 [verified]

}  // namespace

TEST_CASE("two bolts share the load, and their seats take what tips about their row", "[check][restraint][oracle]") {
    shapes::TestPart part;
    part.request.forward = Vec3{0, -1, 0};
    const Verdict v = shapes::require(part.judged());
    REQUIRE(v.restraint.bolts.size() == 2);
    CHECK(v.restraint.mass_kg == v.mass_kg);
    CHECK(shapes::failed(v).empty());
    const double force = v.mass_kg * 20 * 9.80665;
    // Forward, square to the row: half the force each across; the moment about the row over the seats' radius; and what
    // turns about the upright, because the centre of mass is not midway, across the arm of half the distance.
    const Point3 com = v.centre_of_mass;
    const double tip = force * (com.z - kSeatZ) / 2 / kSeat;
    const double yaw = force * std::abs(com.x - 100) / kApart;
    double most = 0.0;
    for (const BoltSum& b : v.restraint.bolts) {
        CHECK(b.direction == "forward");
        CHECK(b.g == 20);
        CHECK(b.tension_N == Approx(tip).epsilon(1e-9));
        CHECK(std::abs(b.shear_N - force / 2) == Approx(yaw).epsilon(1e-9));
        CHECK(b.use_rel == Approx(1.5 * std::hypot(b.tension_N / kProof, b.shear_N / (0.6 * kProof))));
        CHECK(b.bearing_MPa == Approx(b.shear_N / (9.6 * 7.2)));
        CHECK(b.torque_N_m == Approx(10.44));  // K rule, M6 [computed]
        most = std::max(most, b.use_rel);
    }
    CHECK(std::max(shapes::line(v, "bolt of \"rail\", proof load").value,
                   shapes::line(v, "bolt of \"rail, right\", proof load").value) == Approx(100 * most));
}

TEST_CASE("a heavier stop is more than the bolts bear", "[check][restraint]") {
    shapes::TestPart part;
    part.request.forward = Vec3{0, -1, 0};
    part.request.driver->driver.mass_kg = 60;
    const Verdict v = shapes::require(part.judged());
    CHECK_FALSE(shapes::line(v, "bolt of \"rail\", proof load").ok);
    CHECK_THAT(shapes::line(v, "bolt of \"rail\", proof load").note, Contains("worst forward at 20 g"));
    CHECK_FALSE(v.fits());
    // A fifth of the deceleration is a fifth of the load.
    const double whole = v.restraint.bolts[0].use_rel;
    part.request.deceleration_g = 4;
    CHECK(shapes::require(part.judged()).restraint.bolts[0].use_rel == Approx(whole / 5));
}

TEST_CASE("without a metal sleeve the preload is what the plastic bears", "[check][restraint]") {
    shapes::TestPart part;
    for (auto& f : part.made.enclosure.fixings) f.has_metal_sleeve = false, f.hole_mm = 6.6;
    const Verdict v = shapes::require(part.judged());
    const BoltSum& b = v.restraint.bolts[0];
    // 10 MPa under a washer of 12 round 6.6 [common practice].
    const double force = 10 * shapes::kPi / 4 * (12 * 12 - 6.6 * 6.6);
    CHECK(b.preload_N == Approx(force));
    CHECK(b.torque_N_m == Approx(0.2 * 6e-3 * force));
    CHECK(b.seat_MPa == Approx(10));
    CHECK_THAT(shapes::line(v, "bolt of \"rail\", tension against its preload").note,
               Contains("a metal sleeve would take 10.4 N m"));
    CHECK(shapes::line(v, "bolt of \"rail\", tension against its preload").ok == (b.tension_N <= force));
}

TEST_CASE("one bolt alone lets the box turn about it", "[check][restraint]") {
    shapes::TestPart part;
    part.request.forward = Vec3{0, -1, 0};
    part.made.enclosure.fixings.resize(1);
    const Verdict v = shapes::require(part.judged());
    const CheckLine& twist = shapes::line(v, "restraint, twist that no bolt holds");
    CHECK_FALSE(twist.ok);
    const double force = v.mass_kg * 20 * 9.80665;
    CHECK(twist.value == Approx(force * std::abs(v.centre_of_mass.x - 30) / 1000));
}

// A rectangle of four feet against the closed forms F/N and F h / (2 d).
#include "tests/check/case.h"

#include "geom/fixings/restraint.h"

using namespace geom;
using namespace geom::check;

namespace {

/// Four feet of M6 under the part's floor, 160 mm along x and 120 mm along y about its centre of mass.
void four_feet(shapes::TestPart& part, Point3 com) {
    part.made.enclosure.fixings.clear();
    for (const double x : {-80.0, 80.0})
        for (const double y : {-60.0, 60.0}) {
            parts::FixingMade f;
            f.name = std::string(x < 0 ? "left" : "right") + (y < 0 ? " front" : " rear");
            f.thread = "M6";
            f.point = {com.x + x, com.y + y, -4.5};
            f.axis = {0, 0, -1};
            f.hole_mm = f.measured_hole_mm = 6.6;
            f.edge_distance_mm = 18.5;
            f.edge_wanted_mm = 18;
            f.web_section_mm2 = 230;
            f.web_wanted_mm2 = 216;
            f.bears_mm = f.grip_mm = 6.0;
            f.seat_radius_mm = 18.5;
            f.bolt.name = f.name;
            f.bolt.thread = "M6";
            f.bolt.head_seat = f.point + Vec3{0, 0, 6};
            f.bolt.axis = f.axis;
            f.bolt.hole.hole_mm = 6.6;
            f.bolt.hole.seat_mm = 12.0;
            f.bolt.product = "shell";
            part.made.enclosure.fixings.push_back(f);
        }
}

const BoltSum& sum_of(const Verdict& verdict, const std::string& name) {
    for (const BoltSum& sum : verdict.restraint.bolts)
        if (sum.name == name) return sum;
    FAIL("no bolt " + name);
    return verdict.restraint.bolts.front();
}

}  // namespace

TEST_CASE("the bolts of a box carry its mass at the job's deceleration", "[check][restraint][oracle]") {
    shapes::TestPart part;
    part.request.forward = Vec3{0, -1, 0};
    const Verdict first = shapes::require(part.judged());
    const Point3 com = first.centre_of_mass;
    four_feet(part, com);
    const Verdict verdict = shapes::require(part.judged());
    const double kg = verdict.mass_kg, height = com.z + 4.5;
    CHECK(verdict.restraint.mass_kg == kg);
    CHECK(verdict.restraint.deceleration_g == 20.0);
    // Forward: F/N shear, F h / (2 d) tension on the two rear ones.
    const double force = kg * 20 * fixings::kGravity_m_s2;
    const BoltSum& rear = sum_of(verdict, "left rear");
    CHECK(rear.direction == "forward");
    CHECK(rear.g == 20.0);
    CHECK(rear.shear_N == Approx(force / 4));
    CHECK(rear.tension_N == Approx(force * height / (2 * 120)));
    const double t = rear.tension_N / 11600, s = rear.shear_N / (0.6 * 11600);  // ISO 898-1, M6 8.8 [verified]
    CHECK(rear.use_rel == Approx(1.5 * std::sqrt(t * t + s * s)));
    CHECK(shapes::line(verdict, "bolt of \"left rear\", proof load").value == Approx(100 * rear.use_rel));
    // Those in front pull hardest when it goes sideways, at half of it, if at all more than their shear forward.
    CHECK(sum_of(verdict, "left front").shear_N == Approx(sum_of(verdict, "right front").shear_N));
    // The floor's plastic under a washer of 12 round 6.6 mm.
    CHECK(rear.washer_MPa == Approx(rear.most_tension_N / (shapes::kPi / 4 * (12 * 12 - 6.6 * 6.6))));
    CHECK(rear.most_tension_N == Approx(rear.tension_N));
    // Bearing: most shear over 6 by 6 mm.
    CHECK(rear.bearing_MPa == Approx(force / 4 / (6.0 * 6.0)));
    CHECK(shapes::line(verdict, "restraint, twist that no bolt holds").ok);
}

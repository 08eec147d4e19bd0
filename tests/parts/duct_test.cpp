// A port's duct in numbers and on the kernel. Oracles: closed forms of prisms and torus pieces; the kernel's own
// revolution, tessellated, for distances (its chords lie within 0.005 mm).
#include "geom/parts/duct.h"
#include "geom/core/random.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/triangle_tree.h"
#include "geom/parts/internal/duct_faces.h"
#include "tests/parts/features_bodies.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using geom::parts::test::require;

namespace {

constexpr double kPi = std::numbers::pi;

DuctPath path(double angle_deg, double length_mm) {
    DuctPath p;
    p.start = {10, -20, 30};
    p.along = unit(Vec3{1, 2, -2});
    p.right = unit(Vec3{2, 1, 2});
    p.up = cross(p.right, p.along);
    p.towards = p.right * std::cos(0.6) + p.up * std::sin(0.6);
    p.before_mm = 25.0, p.radius_mm = 38.0;
    p.angle_rad = Angle::deg(angle_deg).rad();
    p.length_mm = length_mm;
    return p;
}

TopoDS_Solid filled(const DuctPath& p, const DuctSection& s, double from, double to) {
    const Swept side = swept(p, border_wire(p, s, from), from, to);
    const auto lid = [&](double station, const TopoDS_Wire& wire) {
        const DuctPath::Place place = p.at(station);
        return disc({place.at, place.along}, wire);
    };
    std::vector<TopoDS_Face> faces{lid(to, side.to), lid(from, side.from)};
    faces.insert(faces.end(), side.faces.begin(), side.faces.end());
    return require(solid_of_faces("duct", faces));
}

const DuctSection kSlot{30.0, 9.0, 4.0, 0.35}, kStadium{20.0, 8.0, 8.0, 0.0}, kSharp{18.0, 12.0, 0.0, -0.2};

}  // namespace

TEST_CASE("a duct's section is a circle where its corners are all of it", "[parts][port][oracle]") {
    const DuctSection circle = DuctSection::round(34);
    CHECK(circle.is_round());
    CHECK(circle.area_mm2() == Approx(kPi * 17 * 17).epsilon(1e-14));
    CHECK(circle.border_mm() == Approx(kPi * 34).epsilon(1e-14));
    CHECK(circle.hydraulic_mm() == Approx(34).epsilon(1e-14));
    CHECK(circle.distance_to(30, 40) == Approx(33).epsilon(1e-14));
    CHECK(circle.distance_to(3, -4) == Approx(-12).epsilon(1e-14));
    CHECK(circle.grown(3).area_mm2() == Approx(kPi * 400).epsilon(1e-14));

    CHECK_FALSE(kSlot.is_round());
    CHECK(kSlot.area_mm2() == Approx(60 * 18 - (4 - kPi) * 16).epsilon(1e-14));
    CHECK(kSharp.distance_to(0, 0) == Approx(-12).epsilon(1e-14));
    // Growing by w adds border times w and a circle of it (Steiner).
    const double grown = kSlot.area_mm2() + 3 * kSlot.border_mm() + kPi * 9;
    CHECK(kSlot.grown(3).area_mm2() == Approx(grown).epsilon(1e-14));
    for (const auto& [x, y] : kSlot.border(0.7)) {
        CHECK(std::abs(kSlot.distance_to(x, y)) < 1e-12);
        CHECK(std::hypot(x, y) <= kSlot.farthest_mm() + 1e-12);
    }
    // Its reach is that of its border.
    for (double t = 0.0; t < 6.2; t += 0.3) {
        double most = 0.0;
        for (const auto& [x, y] : kSlot.border(0.05)) most = std::max(most, x * std::cos(t) + y * std::sin(t));
        CHECK(kSlot.reach_mm(std::cos(t), std::sin(t)) == Approx(most).margin(1e-3));
    }
}

TEST_CASE("a duct's path runs straight, on a circle and straight again", "[parts][port][oracle]") {
    const DuctPath p = path(90, 140);
    const double arc = kPi / 2 * 38, rest = 140 - 25 - arc;
    CHECK(distance(p.end().at, p.start + p.along * (25 + 38) + p.towards * (38 + rest)) < 1e-12);
    CHECK(distance(p.end().along, p.towards) < 1e-14);
    const Point3 middle = p.start + p.along * 25 + p.towards * 38;
    for (double s = 25; s <= 25 + arc; s += 3) {
        const DuctPath::Place place = p.at(s);
        CHECK(distance(place.at, middle) == Approx(38).epsilon(1e-13));
        CHECK(std::abs(dot(place.along, place.at - middle)) < 1e-11);
        CHECK(std::abs(dot(place.along, place.right)) < 1e-14);
        CHECK(distance(p.at(s + 1e-6).at, place.at) == Approx(1e-6).epsilon(1e-4));
    }
    const DuctPath straight = path(0, 140);
    CHECK(distance(straight.end().at, straight.start + straight.along * 140) < 1e-12);
}

TEST_CASE("a duct on the kernel holds its section times its length", "[parts][port][oracle]") {
    const double angle = GENERATE(0.0, 1.0, 47.0, 90.0);
    for (const DuctSection& s : {DuctSection::round(30), kSlot, kStadium, kSharp}) {
        CAPTURE(angle, s.half_width_mm, s.corner_mm);
        const TopoDS_Solid solid = filled(path(angle, 130), s, 12, 130);
        CHECK(check_solid("duct", solid));
        CHECK(volume_mm3(solid) == Approx(s.area_mm2() * 118).epsilon(1e-9));
    }
    // Pappus by the torus: a quarter of 2 pi^2 R r^2, and two cylinders.
    const double torus = 2 * kPi * kPi * 38 * 15 * 15 / 4, straight = kPi * 15 * 15 * (130 - 12 - kPi / 2 * 38);
    CHECK(volume_mm3(filled(path(90, 130), DuctSection::round(30), 12, 130)) == Approx(torus + straight).epsilon(1e-9));
}

TEST_CASE("the distance to a duct is that to its triangles", "[parts][port][oracle]") {
    const double angle = GENERATE(0.0, 30.0, 90.0);
    for (const DuctSection& s : {DuctSection::round(30), kSlot, kSharp}) {
        CAPTURE(angle, s.half_width_mm);
        const DuctPath p = path(angle, 120);
        const TriMesh mesh = require(measure::tessellate(to_brep(filled(p, s, 12, 120)), Length::mm(0.005), Context{}));
        const measure::TriangleTree tree(mesh);
        Random random(7);
        int inside = 0;
        for (int i = 0; i < 3000; ++i) {
            const DuctPath::Place place = p.at(random.uniform(-20, 150));
            const Vec3 off{random.uniform(-60, 60), random.uniform(-60, 60), random.uniform(-60, 60)};
            const Point3 q = place.at + off * random.uniform(0, 1);
            const double told = p.distance_to(s, 12, 120, q), true_mm = tree.nearest(q).distance_mm;
            CAPTURE(q.x, q.y, q.z);
            if (std::abs(true_mm) < 0.02) continue;
            if (measure::winding_number(mesh, q) < 0.5) {
                REQUIRE(told == Approx(true_mm).margin(0.01));
            } else {
                ++inside;
                REQUIRE(told < 0.0);
                REQUIRE(-told <= true_mm + 0.01);
            }
        }
        CHECK(inside > 100);
    }
}

TEST_CASE("a duct's mouth flares by a quarter circle all round", "[parts][port][oracle]") {
    // Air in the flare: sections grown by g(x) = R - sqrt(R^2 - x^2), A + P g + pi g^2 (Steiner), integrated over R.
    const double R = 5.0;
    const double g = R * R - kPi * R * R / 4, g2 = R * R * R + R * R * R * 2 / 3 - 2 * R * kPi * R * R / 4;
    for (const DuctSection& s : {DuctSection::round(30), kSlot, kStadium}) {
        CAPTURE(s.half_width_mm);
        const DuctPath p = path(0, 60);
        const Swept made = require(flare(p, s, R));
        std::vector<TopoDS_Face> faces{disc({p.start, -p.along}, made.from), disc({p.at(R).at, p.along}, made.to)};
        faces.insert(faces.end(), made.faces.begin(), made.faces.end());
        const TopoDS_Solid solid = require(solid_of_faces("flare", faces));
        CHECK(check_solid("flare", solid));
        CHECK(volume_mm3(solid) == Approx(s.area_mm2() * R + s.border_mm() * g + kPi * g2).epsilon(1e-8));
    }
}

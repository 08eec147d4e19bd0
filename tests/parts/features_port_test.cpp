// A port's tube in the baffle. Oracles: closed forms of tube and flare (pi R^2 L), the cylinders of the finished B-rep,
// Helmholtz's formula worked here; the meshes of every case (check_sound).
#include "tests/parts/features_bodies.h"

#include "geom/measure/brep_measure.h"
#include "geom/parts/port.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kBaffle = 12.0;

Port tube(double diameter, double length, Point3 at = {60, -40, 40}) {
    Port port;
    port.diameter = Length::mm(diameter);
    port.length = Length::mm(length);
    port.at = at;
    return port;
}

const char* const kTube = "port tube, its inside contained";

double material(const Enclosure& made) {
    double sum = 0.0;
    for (const Product& product : made.products) sum += volume_mm3(product.solid);
    return sum;
}

/// Air in the mouth of a bore of radius r, rounded by R: pi times the integral of (r + R - sqrt(R^2 - x^2))^2.
double flare(double r, double R) {
    const double s = r + R;
    return kPi * (s * s * R - s * kPi * R * R / 2.0 + R * R * R * 2.0 / 3.0);
}

}  // namespace

TEST_CASE("a port is one sound solid with its box, integral and separate, on boxes and on splines",
          "[parts][features][port]") {
    const bool is_separate = GENERATE(false, true);
    const double mouth = GENERATE(0.0, 6.0);
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name, is_separate, mouth);
        box.request.baffle.separate = is_separate;
        box.request.driver = small_woofer();
        box.request.port = tube(26, 70, {48, 0, 30});
        box.request.port->mouth = Length::mm(mouth);
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, is_separate ? 2 : 1);
        REQUIRE(enclosure.port);
        CHECK(enclosure.port->tube_mm3 == Approx(kPi * 16 * 16 * (70 - kBaffle)).epsilon(1e-12));
        CHECK(1e6 * ledger(enclosure, kTube) == Approx(-kPi * 16 * 16 * (70 - kBaffle)).epsilon(1e-12));
    }
}

TEST_CASE("the tube on the B-rep is the cylinders that were asked for", "[parts][features][port][oracle]") {
    const double mouth = GENERATE(0.0, 5.0);
    Case box = rounded_box();
    box.request.port = tube(30, 89.25);
    box.request.port->wall = Length::mm(2.5);
    box.request.port->mouth = Length::mm(mouth);
    const Enclosure with = made(box);
    check_sound(box, with, 1);
    const Brep& shell = with.products[0].solid;
    const auto bore = cylinders(shell, 15.0), outside = cylinders(shell, 17.5);
    REQUIRE(bore.size() == 1);
    REQUIRE(outside.size() == 1);
    CHECK(bore[0].area_mm2 == Approx(2 * kPi * 15 * (89.25 - mouth)).epsilon(1e-9));
    CHECK(outside[0].area_mm2 == Approx(2 * kPi * 17.5 * (89.25 - kBaffle)).epsilon(1e-9));
    for (const Cylinder& c : {bore[0], outside[0]}) {
        CHECK(norm(cross(c.axis, {0, 1, 0})) < 1e-12);
        CHECK(distance(c.at, {60, 0, 40}) < 1e-9);
    }
    CHECK(distance(with.port->mouth, {60, 0, 40}) < 1e-9);

    box.request.port.reset();
    const Enclosure without = made(box);
    const double behind = 89.25 - kBaffle;
    CHECK(without.net_by_brep.mm3() - with.net_by_brep.mm3() == Approx(kPi * 17.5 * 17.5 * behind).epsilon(1e-9));
    CHECK(material(without) - material(with) ==
          Approx(flare(15, mouth) + kPi * 15 * 15 * (kBaffle - mouth) - kPi * (17.5 * 17.5 - 15 * 15) * behind)
              .epsilon(1e-8));
}

TEST_CASE("with a separate baffle the tube stands on the baffle's own solid", "[parts][features][port]") {
    Case box = rounded_box();
    box.request.baffle.separate = true;
    box.request.driver = small_woofer();
    box.request.port = tube(26, 70, {48, 0, 30});
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    CHECK(cylinders(enclosure.products[0].solid, 13.0).empty());
    REQUIRE(enclosure.products[1].name == "baffle");
    CHECK(cylinders(enclosure.products[1].solid, 13.0).size() == 1);
    CHECK(cylinders(enclosure.products[1].solid, 16.0).size() == 1);
}

TEST_CASE("a tuning is a length by Helmholtz's formula, flush outside and free inside",
          "[parts][features][port][oracle]") {
    Case box = rounded_box();
    box.request.driver = small_woofer();
    box.request.net_volume = Volume::litres(5.1);
    Port port = tube(30, 0, {50, 0, 40});
    port.length.reset();
    port.tuning_hz = 62;
    box.request.port = port;
    const double gain = GENERATE(1.0, 1.2);
    if (gain > 1.0) box.request.lining = Lining{.kind = Lining::Kind::Foam, .thickness = Length::mm(10), .gain = gain};
    const Enclosure enclosure = made(box);
    REQUIRE(enclosure.port);
    const auto hz = [&](double litres, double length_mm) {
        const double r = 15e-3, area = kPi * r * r, l = length_mm * 1e-3 + (0.6133 + 0.8217) * r;
        return 343.21 / (2 * kPi) * std::sqrt(area / (litres * gain * 1e-3 * l));
    };
    CHECK(hz(5.1, enclosure.port->length_mm) == Approx(62).epsilon(1e-9));
    CHECK(enclosure.port->asked_hz == 62);
    CHECK(enclosure.port->tuning_hz ==
          Approx(hz(enclosure.net_by_brep.litres(), enclosure.port->length_mm)).epsilon(1e-9));
    // The reference's E5: 56.5335 L at 30 Hz with a tube of 75 mm.
    box.request.lining.reset();
    box.request.port->diameter = Length::mm(75);
    box.request.port->tuning_hz = 30;
    CHECK(require(port_length(box.request, Volume::litres(56.5335))).mm() == Approx(205.262).margin(2e-3));
    box.request.port->diameter = Length::mm(100);
    CHECK(require(port_length(box.request, Volume::litres(56.5335))).mm() == Approx(388.827).margin(3e-3));
}

TEST_CASE("what is said of the volume before modelling is what the port takes", "[parts][features][port]") {
    Case box = rounded_box();
    box.request.driver = small_woofer();
    box.request.net_volume = Volume::litres(5.1);
    box.request.port = tube(30, 0, {50, 0, 40});
    box.request.port->length.reset();
    box.request.port->tuning_hz = 62;
    const Enclosure enclosure = made(box);
    double planned = 0.0, done = 0.0;
    for (const LedgerLine& l : features_ledger(box.request)) planned += l.litres;
    for (std::size_t i = 1; i < enclosure.ledger.size(); ++i) done += enclosure.ledger[i].litres;
    CHECK(planned == Approx(done).epsilon(1e-12));
}

TEST_CASE("a port comes out the same from any vehicle frame", "[parts][features][port][property]") {
    Case box = rounded_box();
    box.request.driver = small_woofer();
    box.request.port = tube(28, 80, {48, 0, 30});
    box.request.port->mouth = Length::mm(4);
    const double a = 0.7;
    const Frame to{{400, -120, 90}, {std::cos(a), std::sin(a), 0}, {-std::sin(a), std::cos(a), 0}, {0, 0, 1}};
    Case turned = moved(box, to);
    turned.request.port->at = to.to_parent(box.request.port->at);
    const Enclosure here = made(box), there = made(turned);
    CHECK(there.net_by_brep.mm3() == Approx(here.net_by_brep.mm3()).epsilon(1e-9));
    CHECK(material(there) == Approx(material(here)).epsilon(1e-9));
    CHECK(distance(there.port->mouth, to.to_parent(here.port->mouth)) < 1e-9);
}

TEST_CASE("braces that are placed keep off the port; what stands in its way is refused", "[parts][features][port]") {
    Case box = rounded_box();
    box.request.driver = small_woofer();
    box.request.port = tube(30, 80, {50, 0, 40});
    SECTION("a brace through the tube") {
        box.request.port->at = {50, 0, 50};
        box.request.braces = {Brace{.name = "1", .axis = {1, 0, 0}, .at = {0, 72, 50}, .thickness = Length::mm(12)}};
        const Fault fault = refused(box);
        INFO(fault.what);
        CHECK(fault.what.find("brace \"1\": it comes to 0.0 mm of the port, or the way before its inner end") == 0);
    }
    SECTION("a brace before its inner end") {
        box.request.port->at = {50, 0, 50};
        box.request.braces = {Brace{.name = "1", .axis = {1, 0, 0}, .at = {0, 95, 50}, .thickness = Length::mm(12)}};
        CHECK(refused(box).what.find("brace \"1\": it comes to") == 0);
    }
    SECTION("placed ones") {
        box.request.braces_to_place = 2;
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        CHECK(enclosure.braces.size() == 2);
    }
    SECTION("a terminal whose cable would meet the tube") {
        box.request.port->at = {82, 0, 40};
        box.request.terminal = Terminal{.diameter = Length::mm(18), .at = {110, 60, 40}, .displacement = std::nullopt};
        const Fault fault = refused(box);
        INFO(fault.what);
        CHECK(fault.what.find("terminal: its hole at 110, 60, 40 meets the port or the way before its inner end") == 0);
    }
}

TEST_CASE("a port that cannot be is refused with how much is missing", "[parts][features][port][fault]") {
    Case box = rounded_box();
    box.request.driver = small_woofer();
    box.request.net_volume = Volume::litres(5.1);
    box.request.port = tube(30, 80, {50, 0, 40});
    const auto told = [&] {
        const Fault fault = refused(box);
        CHECK(fault.code == FaultCode::Impossible);
        CHECK_FALSE(fault.hint.empty());
        CHECK(fault.where);
        return fault.what;
    };
    SECTION("over the driver's flange") {
        box.request.port->at = {20, 0, 0};
        // 62 mm from the driver's axis, its flange 58, its own bore 15.
        CHECK(told() == "port: it reaches 11.0 mm into the driver's flange, wanted 1 between them");
    }
    SECTION("past the edge of the cavity's front") {
        box.request.port->at = {90, 0, 40};
        CHECK(told().find("port: its tube of 36 mm stands 4.0 mm over the edge of the cavity's front, wanted 0.3") ==
              0);
    }
    SECTION("before its inner end") {
        box.request.port->length = Length::mm(135);
        // The air ends at 154.
        const std::string what = told();
        CHECK(what.find("port: before its inner end 19.") == 0);
        CHECK(what.find("wanted 30 (its diameter, common practice)") != std::string::npos);
    }
    SECTION("less may be asked for") {
        box.request.port->length = Length::mm(135);
        box.request.port->free_way = Length::mm(15);
        CHECK(made(box).port->free_way_mm == 15);
    }
    SECTION("through the back") {
        box.request.port->length = Length::mm(200);
        CHECK(told().find("port: its tube reaches ") == 0);
    }
    SECTION("a tuning that asks for more than the box holds says what would fit") {
        box.request.port->length.reset();
        box.request.port->tuning_hz = 45;
        const Fault fault = refused(box);
        CHECK(fault.code == FaultCode::Impossible);
        CHECK(fault.hint.find("a port of ") == 0);
    }
    SECTION("a tuning so high that the baffle alone is too long") {
        box.request.port->length.reset();
        box.request.port->tuning_hz = 130;
        CHECK(told().find("port: 30 mm tuned to 130 Hz by 5.10 L is ") == 0);
    }
    SECTION("a mouth rounder than the baffle is thick") {
        box.request.port->mouth = Length::mm(12);
        CHECK(told() == "port: a mouth rounded by 12 mm in a baffle of 12 mm, wanted at most 11 mm");
    }
    SECTION("neither tuning nor length") {
        box.request.port->length.reset();
        CHECK(refused(box).code == FaultCode::BadJob);
    }
}

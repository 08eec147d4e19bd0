// Ports with a bend or as a slot in the baffle. Oracles: section times length in closed form (Pappus), Helmholtz's
// formula worked here, laws (a bend changes no tuning, a turned frame nothing); the meshes of every case (check_sound).
#include "tests/parts/features_bodies.h"

#include "geom/core/random.h"
#include "geom/measure/brep_measure.h"
#include "geom/parts/port.h"

#include <catch2/catch.hpp>

#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;
using Catch::Contains;

namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kBaffle = 12.0;

Port tube(double diameter, double length, Point3 at) {
    Port port;
    port.diameter = Length::mm(diameter);
    port.length = Length::mm(length);
    port.at = at;
    return port;
}

Port slot(double width, double height, double length, Point3 at) {
    Port port = tube(0, length, at);
    port.slot = PortSlot{.width = Length::mm(width), .height = Length::mm(height), .corner_radius = Length::mm(3)};
    return port;
}

Port bent(Port port, Vec3 towards = {0, 0, -1}) {
    port.bend = PortBend{.towards = towards};
    return port;
}

double material(const Enclosure& made) {
    double sum = 0.0;
    for (const Product& product : made.products) sum += volume_mm3(product.solid);
    return sum;
}

double area(const Port& port, double wall = 0.0) {
    if (!port.slot) return kPi * std::pow(port.diameter.mm() / 2 + wall, 2);
    const double w = port.slot->width.mm() + 2 * wall, h = port.slot->height.mm() + 2 * wall;
    return w * h - (4 - kPi) * std::pow(port.slot->corner_radius.mm() + wall, 2);
}

Fault fault_of(const Case& box) {
    const Fault fault = refused(box);
    CHECK(fault.code == FaultCode::Impossible);
    CHECK_FALSE(fault.hint.empty());
    CHECK(fault.where);
    INFO(fault.what << " | " << fault.hint);
    return fault;
}

}  // namespace

TEST_CASE("a bent port or a slot is one sound solid with its box, integral and separate, on boxes and on splines",
          "[parts][features][port]") {
    const bool is_separate = GENERATE(false, true);
    const double mouth = GENERATE(0.0, 6.0);
    const Port port =
        GENERATE(bent(tube(26, 110, {52, 0, 40})), slot(34, 14, 70, {52, 0, 30}), bent(slot(34, 14, 100, {52, 0, 30})));
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name, is_separate, mouth, port.slot.has_value(), port.bend.has_value());
        box.request.baffle.separate = is_separate;
        box.request.driver = small_woofer();
        box.request.port = port;
        box.request.port->mouth = Length::mm(mouth);
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, is_separate ? 2 : 1);
        REQUIRE(enclosure.port);
        CHECK(enclosure.port->tube_mm3 == Approx(area(port, 3) * (port.length->mm() - kBaffle)).epsilon(1e-12));
    }
}

TEST_CASE("a bent slot takes its section times its length, and nothing else", "[parts][features][port][oracle]") {
    const double angle = GENERATE(20.0, 90.0);
    Case box = rounded_box();
    Port port = bent(slot(34, 14, 100, {52, 0, 30}), {0.3, 0.2, -1});
    port.slot->turn = Angle::deg(25);
    port.bend->angle = Angle::deg(angle);
    port.bend->radius = Length::mm(40);
    port.bend->after = Length::mm(20);
    box.request.port = port;
    const Enclosure with = made(box);
    check_sound(box, with, 1);
    box.request.port.reset();
    const Enclosure without = made(box);
    CHECK(without.net_by_brep.mm3() - with.net_by_brep.mm3() == Approx(area(port, 3) * (100 - kBaffle)).epsilon(1e-9));
    CHECK(material(without) - material(with) ==
          Approx(area(port) * kBaffle - (area(port, 3) - area(port)) * (100 - kBaffle)).epsilon(1e-8));
    // Where its inner end lies: along the baffle by what was turned, by hand.
    const double a = angle * kPi / 180, rest = 100 - 20 - 40 * a;
    const Vec3 towards = unit(Vec3{0.3, 0, -1});
    const Point3 end = Point3{52, 0, 30} + Vec3{0, 1, 0} * (20 + 40 * std::sin(a) + rest * std::cos(a)) +
                       towards * (40 * (1 - std::cos(a)) + rest * std::sin(a));
    CHECK(distance(with.port->path.end().at, end) < 1e-9);
}

TEST_CASE("a bend changes neither length nor tuning", "[parts][features][port][property]") {
    Case box = rounded_box();
    box.request.driver = small_woofer();
    box.request.net_volume = Volume::litres(5.1);
    Port port = GENERATE(tube(26, 0, {52, 0, 40}), slot(34, 16, 0, {52, 0, 40}));
    port.length.reset();
    port.tuning_hz = 50;
    box.request.port = port;
    const double straight = require(port_length(box.request, Volume::litres(5.1))).mm();
    for (const double angle : {1.0, 90.0}) {
        box.request.port = bent(port);
        box.request.port->bend->angle = Angle::deg(angle);
        CHECK(require(port_length(box.request, Volume::litres(5.1))).mm() == straight);
        CHECK(port_tube_mm3(box.request) == Approx(area(port, 3) * (straight - kBaffle)).epsilon(1e-12));
    }
    const Enclosure enclosure = made(box);
    CHECK(enclosure.port->length_mm == straight);
    double planned = 0.0, done = 0.0;
    for (const LedgerLine& l : features_ledger(box.request)) planned += l.litres;
    for (std::size_t i = 1; i < enclosure.ledger.size(); ++i) done += enclosure.ledger[i].litres;
    CHECK(planned == Approx(done).epsilon(1e-12));
}

TEST_CASE("a slot is tuned by its area and its rectangle's ends", "[parts][features][port][oracle]") {
    Case box = rounded_box();
    box.request.net_volume = Volume::litres(5.1);
    Port port = slot(90, 12, 0, {0, 0, 0});
    port.length.reset();
    port.tuning_hz = 55;
    box.request.port = port;
    const double length = require(port_length(box.request, Volume::litres(5.1))).mm();
    // Helmholtz; a rectangle's ends are between 0.75 of its circle's (7.5 to 1) and that.
    const double a = area(port) * 1e-6, r = std::sqrt(a / kPi);
    const double moving = a * std::pow(343.21 / (2 * kPi * 55), 2) / 5.1e-3 * 1e3;
    const double ends = (0.6133 + 0.8217) * r * 1e3;
    CHECK(moving - length < ends);
    CHECK(moving - length > 0.75 * ends);
    CHECK(moving - length == Approx(ends * sound::slot_end_factor(port.slot->width, port.slot->height)).epsilon(1e-9));
    // One whose corners are all of it is a circle, but for the ends' shape: a square's 0.988.
    port.slot = PortSlot{.width = Length::mm(30), .height = Length::mm(30), .corner_radius = Length::mm(15)};
    box.request.port = port;
    const double rounded = require(port_length(box.request, Volume::litres(5.1))).mm();
    box.request.port->slot.reset();
    box.request.port->diameter = Length::mm(30);
    const double round = require(port_length(box.request, Volume::litres(5.1))).mm();
    CHECK(rounded - round == Approx(0.012 * (0.6133 + 0.8217) * 15).margin(0.01));
}

TEST_CASE("a bent slot comes out the same from any vehicle frame", "[parts][features][port][property]") {
    Case box = rounded_box();
    box.request.driver = small_woofer();
    box.request.port = bent(slot(34, 14, 100, {52, 0, 30}), {0.2, 0, -1});
    box.request.port->slot->turn = Angle::deg(10);
    box.request.port->mouth = Length::mm(4);
    const double a = 0.7;
    const Frame to{{400, -120, 90}, {std::cos(a), std::sin(a), 0}, {-std::sin(a), std::cos(a), 0}, {0, 0, 1}};
    Case turned = moved(box, to);
    turned.request.port->at = to.to_parent(box.request.port->at);
    turned.request.port->bend->towards = to.dir_to_parent(box.request.port->bend->towards);
    const Enclosure here = made(box), there = made(turned);
    CHECK(there.net_by_brep.mm3() == Approx(here.net_by_brep.mm3()).epsilon(1e-9));
    CHECK(material(there) == Approx(material(here)).epsilon(1e-9));
    CHECK(distance(there.port->path.end().at, to.to_parent(here.port->path.end().at)) < 1e-9);
}

TEST_CASE("what stands beside a slot is no part of its opening", "[parts][features][port][regression]") {
    // A post from the baffle to the back that crosses the inner end's plane within the circle round the slot.
    Case box = rounded_box();
    box.request.port = slot(150, 12, 60, {0, 0, 40});
    box.request.braces = {Brace{.name = "1", .axis = {0, 1, 0}, .at = {20, 62, 5}, .thickness = Length::mm(10)}};
    check_sound(box, made(box), 1);
}

TEST_CASE("what stands in a bent port's way is refused", "[parts][features][port]") {
    Case box = rounded_box();
    box.request.driver = small_woofer();
    box.request.port = bent(tube(26, 110, {52, 0, 40}));
    SECTION("a brace through what has turned") {
        box.request.braces = {Brace{.name = "1", .axis = {0, 0, 1}, .at = {52, 40, 0}, .thickness = Length::mm(10)}};
        CHECK_THAT(fault_of(box).what, Contains("brace \"1\": it comes to 0.0 mm of the port"));
    }
    SECTION("a brace before its inner end") {
        // The end lies at z = 40 - 26 - 55, and looks down.
        box.request.braces = {Brace{.name = "1", .axis = {1, 0, 0}, .at = {0, 40, -58}, .thickness = Length::mm(10)}};
        CHECK_THAT(fault_of(box).what, Contains("brace \"1\": it comes to 0.0 mm of the port"));
    }
    SECTION("the wall that it runs to") {
        box.request.port->length = Length::mm(155);
        // The end lies at z = -86, the air ends at -99.
        const Fault fault = fault_of(box);
        CHECK_THAT(fault.what, Contains("port: before its inner end 1") && Contains("wanted 26"));
    }
    SECTION("through the wall") {
        box.request.port->length = Length::mm(190);
        CHECK_THAT(fault_of(box).what, Contains("port: its tube reaches "));
    }
    SECTION("the driver's body") {
        box.request.port = bent(tube(26, 110, {52, 0, 30}), {-1, 0, 0});
        CHECK_THAT(fault_of(box).what, Contains("the driver's body, wanted 2"));
        // Without a depth it is held to be as deep as the box.
        box.request.driver->driver.mounting_depth.reset();
        CHECK_THAT(fault_of(box).what, Contains("the driver, whose mounting_depth is not given,"));
    }
    SECTION("behind the driver") {
        box.request.port = bent(tube(26, 150, {52, 0, 0}), {-1, 0, 0});
        // The tube's outside is 10 deeper than the bend's beginning; the magnet ends at 58.
        box.request.port->bend->after = Length::mm(53);
        CHECK_THAT(fault_of(box).what, Contains("what stays free behind the driver's magnet"));
        box.request.port->bend->after = Length::mm(59);
        CHECK(made(box).port);
    }
    SECTION("the mouth of a separate baffle") {
        box.request.port->length = Length::mm(160);
        box.request.port->free_way = Length::mm(5);
        CHECK(made(box).port);
        box.request.baffle.separate = true;
        const Fault fault = fault_of(box);
        CHECK_THAT(fault.what, Contains("its bent tube stands") && Contains("goes in through with the baffle"));
        CHECK_THAT(fault.hint, Contains("integral"));
    }
}

TEST_CASE("what looks along the baffle over its flange has its way judged there too", "[parts][features][port]") {
    // So low a slot runs on between the planes of the flange of a separate baffle.
    Case box = rounded_box();
    box.request.baffle.separate = true;
    box.request.port = bent(slot(40, 5, 60, {0, 0, -40}));
    box.request.port->wall = Length::mm(1);
    const double flange = require(rim_flange(box.request)).thickness_mm;
    box.request.port->slot->corner_radius = Length::mm(2);
    // After 14 and a radius of 5.5 its inside begins 17 deep, the flange ends deeper.
    REQUIRE(14 + 5.5 - 2.5 < kBaffle + flange);
    // It ends 16 before the wall, and nearer to the flange.
    box.request.port->free_way = Length::mm(14);
    CHECK_THAT(fault_of(box).what, Contains("port: before its inner end") && Contains("are free, wanted 14"));
    box.request.baffle.separate = false;
    CHECK(made(box).port);
}

TEST_CASE("the drawing of a baffle shows a slot by lines and quarter circles", "[parts][features][port][oracle]") {
    Case box = rounded_box();
    box.request.baffle.separate = true;
    box.request.port = bent(slot(40, 14, 80, {-10, 0, 20}));
    box.request.port->slot->corner_radius = Length::mm(GENERATE(0.0, 3.0, 7.0));
    box.request.port->slot->turn = Angle::deg(30);
    const Enclosure enclosure = made(box);
    REQUIRE(enclosure.flats.size() == 1);
    int found = 0;
    for (const FlatPath& path : enclosure.flats[0].paths) {
        if (path.operation != Operation::ThroughHole) continue;
        ++found;
        CHECK(path.is_closed);
        CHECK(area_mm2(path) == Approx(area(*box.request.port)).epsilon(1e-12));
        double x = 0.0, y = 0.0;
        for (const FlatPoint& p : path.points) x += p.x / path.points.size(), y += p.y / path.points.size();
        CHECK(x == Approx(-10));
        CHECK(y == Approx(20));
        // Its longer way leans by the turn: the farthest corner of the middle line lies up to the right.
        double most = 0.0;
        for (const FlatPoint& p : path.points)
            most = std::max(most, (p.x + 10) * std::cos(kPi / 6) + (p.y - 20) * std::sin(kPi / 6));
        CHECK(most == Approx(20));
    }
    CHECK(found == 1);
}

TEST_CASE("ports by chance are made sound or refused with a way out", "[parts][features][port][property]") {
    Random random(20);
    int made_ones = 0;
    for (int i = 0; i < 40; ++i) {
        Case box = i % 2 == 0 ? rounded_box() : tapered_box();
        box.request.driver = small_woofer();
        box.request.baffle.separate = random.uniform() < 0.3;
        const Point3 at{random.uniform(20, 80), 0, random.uniform(-70, 70)};
        Port port = random.uniform() < 0.4 ? tube(random.uniform(15, 40), 0, at)
                                           : slot(random.uniform(20, 70), random.uniform(8, 25), 0, at);
        if (port.slot) {
            port.slot->turn = Angle::deg(random.uniform(-90, 90));
            port.slot->corner_radius =
                std::min(port.slot->width, port.slot->height) * (0.5 * std::min(1.0, random.uniform(0, 1.3)));
        }
        port.length = Length::mm(random.uniform(40, 150));
        port.free_way = Length::mm(random.uniform(0, 20));
        port.wall = Length::mm(random.uniform(1, 4));
        if (random.uniform() < 0.3) port.mouth = Length::mm(random.uniform(1, 10));
        if (random.uniform() < 0.8) {
            port.bend = PortBend{.towards = {random.uniform(-1, 1), random.uniform(-0.3, 0.3), random.uniform(-1, 1)}};
            port.bend->angle = Angle::deg(random.uniform() < 0.5 ? 90.0 : random.uniform(1, 90));
            if (random.uniform() < 0.4) port.bend->radius = Length::mm(random.uniform(15, 60));
            if (random.uniform() < 0.4) port.bend->after = Length::mm(random.uniform(13, 50));
        }
        box.request.port = port;
        CAPTURE(i, box.name, box.request.baffle.separate, at.x, at.z);
        const auto enclosure = add_features(box.bodies, box.room, box.request, {}, nullptr);
        if (!enclosure) {
            CHECK(enclosure.error().code == FaultCode::Impossible);
            CHECK_FALSE(enclosure.error().hint.empty());
            continue;
        }
        ++made_ones;
        check_sound(box, *enclosure, box.request.baffle.separate ? 2 : 1);
        CHECK(enclosure->port->tube_mm3 ==
              Approx(area(port, port.wall.mm()) * (port.length->mm() - kBaffle)).epsilon(1e-12));
    }
    CHECK(made_ones > 4);
}

TEST_CASE("a bend or slot that cannot be made is refused with what could", "[parts][features][port][fault]") {
    Case box = rounded_box();
    box.request.driver = small_woofer();
    box.request.net_volume = Volume::litres(5.1);
    box.request.port = bent(tube(26, 110, {52, 0, 40}));
    PortBend& bend = *box.request.port->bend;
    SECTION("too tight") {
        bend.radius = Length::mm(17.5);
        CHECK_THAT(fault_of(box).what, Contains("radius of 17.5 mm") && Contains("wanted 18 mm at least"));
        bend.radius = Length::mm(18);
        CHECK(made(box).port);
    }
    SECTION("the radius that is wanted is enough") {
        // 29.66 + 3 of wall and 2 of air: 34.66 and no tenth less.
        box.request.port->diameter = Length::mm(59.32);
        bend.radius = Length::mm(20);
        const std::string what = fault_of(box).what;
        const auto at = what.find("; wanted ");
        REQUIRE(at != std::string::npos);
        bend.radius = Length::mm(std::stod(what.substr(at + 9)));
        CHECK(bend.radius->mm() >= 59.32 / 2 + 3 + 2);
        CHECK(check_port_form(box.request));
    }
    SECTION("too near the baffle") {
        bend.after = Length::mm(13);
        CHECK_THAT(fault_of(box).what, Contains("begins 13 mm behind") && Contains("wanted 14 mm at least"));
    }
    SECTION("towards the box") {
        bend.towards = {0, 1, -0.2};
        CHECK_THAT(fault_of(box).what, Contains("79 degrees out of the baffle's plane"));
    }
    SECTION("back to the baffle") {
        bend.angle = Angle::deg(120);
        CHECK_THAT(fault_of(box).what, Contains("turns by 120 degrees, wanted 1 to 90"));
    }
    SECTION("a given length that ends in the bend") {
        box.request.port->length = Length::mm(50);
        CHECK_THAT(fault_of(box).what, Contains("its bend ends after 54.8 mm (14 and an arc of 40.8)"));
    }
    SECTION("a tuning that asks for less than the bend: each thing that is told would do") {
        box.request.port->length.reset();
        box.request.port->tuning_hz = 60;
        bend.radius = Length::mm(40);
        bend.after = Length::mm(40);
        const Fault fault = fault_of(box);
        CHECK_THAT(fault.what, Contains("port: 26 mm tuned to 60 Hz by 5.10 L is ") && Contains("its bend ends after"));
        double hz = 0.0, diameter = 0.0;
        REQUIRE(std::sscanf(fault.hint.c_str(), "a tuning of %lf Hz, a port of %lf mm", &hz, &diameter) == 2);
        EnclosureRequest other = box.request;
        other.port->tuning_hz = hz;
        CHECK(port_length(other, other.net_volume));
        other.port->tuning_hz = hz + 0.5;
        CHECK_FALSE(port_length(other, other.net_volume));
        other = box.request;
        other.port->diameter = Length::mm(diameter);
        CHECK(port_length(other, other.net_volume));
        other.port->diameter = Length::mm(diameter - 1);
        CHECK_FALSE(port_length(other, other.net_volume));
        CHECK_THAT(fault.hint, Contains("leaving [enclosure] port.bend.after and radius out"));
        other = box.request;
        other.port->bend->after.reset(), other.port->bend->radius.reset();
        CHECK(port_length(other, other.net_volume));
        // Where the straight piece alone is too long, that is told.
        other.port->bend->after = Length::mm(70);
        const auto late = port_length(other, other.net_volume);
        REQUIRE_FALSE(late);
        const std::string hint = late.error().hint;
        const auto at = hint.find("port.bend.after of ");
        REQUIRE(at != std::string::npos);
        const double after = std::stod(hint.substr(at + 19));
        other.port->bend->after = Length::mm(after);
        CHECK(port_length(other, other.net_volume));
        other.port->bend->after = Length::mm(after + 1);
        CHECK_FALSE(port_length(other, other.net_volume));
    }
    SECTION("a slot too flat, corners too round, a sharp one flared") {
        box.request.port = slot(60, 3, 70, {40, 0, 40});
        CHECK_THAT(fault_of(box).what, Contains("a slot of 60 x 3 mm, wanted sides of 4 mm at least"));
        box.request.port = slot(60, 12, 70, {40, 0, 40});
        box.request.port->slot->corner_radius = Length::mm(7);
        CHECK_THAT(fault_of(box).what, Contains("wanted at most 6 mm"));
        box.request.port->slot->corner_radius = Length();
        box.request.port->mouth = Length::mm(4);
        CHECK_THAT(fault_of(box).what, Contains("a rounded mouth on a slot whose corners have a radius of 0 mm"));
    }
    SECTION("glued into board") {
        box.request.baffle.separate = true;
        box.request.baffle.material = *find_material("birch plywood");
        CHECK_THAT(fault_of(box).what, Contains("a tube with a bend in a baffle of board"));
        // Before its length, which the bend does not let be; printing is what the job asks for already.
        box.request.port->length = Length::mm(20);
        CHECK_THAT(fault_of(box).what, Contains("a tube with a bend in a baffle of board"));
        CHECK_THAT(fault_of(box).hint, Contains("baffle.material") && !Contains("method"));
        box.request.port = slot(60, 12, 70, {40, 0, 40});
        CHECK_THAT(fault_of(box).what, Contains("a slot in a baffle of board"));
    }
    SECTION("a slot past the edge of the cavity's front") {
        box.request.port = slot(60, 12, 70, {75, 0, 40});
        // The air's front ends at 104, the tube at 108.
        CHECK_THAT(fault_of(box).what,
                   Contains("its tube of 66 x 18 mm stands 4.0 mm over the edge of the cavity's front, wanted 0.3"));
        // By far more than it is high: the flat ends at 107.
        box.request.port = slot(300, 12, 70, {75, 0, 40});
        CHECK_THAT(fault_of(box).what, Contains("its mouth of 300 x 12 mm stands 118.0 mm over the edge of the flat"));
    }
}

#include "tests/parts/features_bodies.h"

#include "geom/fixings/wood_screws.h"
#include "geom/measure/brep_measure.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace geom;
using namespace geom::parts;
using namespace geom::parts::test;

namespace {

constexpr double kPi = std::numbers::pi;

PanelRim rim() {
    PanelRim r;
    r.name = "panel rim";
    return r;
}

}  // namespace

TEST_CASE("a rim stands out round the baffle by its width, one sound solid with the shell", "[parts][rim][oracle]") {
    for (Case box : {rounded_box(), tapered_box(), bulging_loft()}) {
        CAPTURE(box.name);
        box.request.driver = mounted(woofer());
        const Enclosure plain = made(box);
        box.request.panel_rim = rim();
        const Enclosure enclosure = made(box);
        check_sound(box, enclosure, 1);
        CHECK(enclosure.net_by_brep.mm3() == Approx(plain.net_by_brep.mm3()).epsilon(1e-9));
        // Wood screw 4.0: hole, countersink, at most 80 mm apart, 3 d to the edge, the panel's opening 4 mm off.
        const fixings::WoodScrew wood = *fixings::find_wood_screw("4.0");
        REQUIRE(enclosure.fixings.size() >= 10);
        double least = 1e300;
        for (std::size_t i = 0; i < enclosure.fixings.size(); ++i) {
            const FixingMade& f = enclosure.fixings[i];
            CHECK(f.kind == FixingKind::Rim);
            CHECK(f.measured_hole_mm == Approx(wood.clear_mm).margin(1e-9));
            CHECK(f.measured_off_axis_mm < 1e-6);
            CHECK(f.edge_distance_mm >= 12.0);
            CHECK(f.point.y == Approx(12));
            CHECK(distance(f.point, enclosure.fixings[(i + 1) % enclosure.fixings.size()].point) <= 80 + 1e-6);
            least = std::min(least, f.edge_distance_mm);
        }
        // The screws stand on a line of one distance.
        for (const FixingMade& f : enclosure.fixings) CHECK(f.edge_distance_mm == Approx(least).margin(0.3));
        CHECK(cylinders(enclosure.products[0].solid, wood.clear_mm / 2).size() == enclosure.fixings.size());
    }
}

TEST_CASE("a rim's flange is as large as Steiner's formula says", "[parts][rim][oracle]") {
    // A prism in front: 220 by 210 with corners of 8; the flange runs 24 outside it.
    Case box = rounded_box();
    box.request.panel_rim = rim();
    box.request.panel_rim->width = Length::mm(30);
    box.request.panel_rim->thickness = Length::mm(9);
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 1);
    const auto section = require(measure::section(enclosure.products[0].solid, {{0, 8.5, 0}, {0, 1, 0}}));
    const double area = 220 * 210 - (4 - kPi) * 64, round = 2 * (220 + 210) - (8 - 2 * kPi) * 8;
    const double holes = static_cast<double>(enclosure.fixings.size()) * kPi / 4 *
                         std::pow(fixings::find_wood_screw("4.0")->clear_mm, 2);
    CHECK(section.area.mm2() == Approx(area + round * 30 + kPi * 900 - holes).epsilon(1e-3));
    // Behind it the box is as it was.
    const auto behind = require(measure::section(enclosure.products[0].solid, {{0, 11.9, 0}, {0, 1, 0}}));
    CHECK(behind.area.mm2() == Approx(area).epsilon(1e-6));
}

TEST_CASE("a rim on a separate baffle is the baffle's", "[parts][rim]") {
    Case box = rounded_box();
    box.request.driver = mounted(woofer());
    box.request.baffle.separate = true;
    box.request.panel_rim = rim();
    const Enclosure enclosure = made(box);
    check_sound(box, enclosure, 2);
    REQUIRE(!enclosure.fixings.empty());
    CHECK(enclosure.fixings[0].bolt.product == "baffle");
    CHECK(enclosure.fixings[0].point.y == Approx(11));
    // Its drawing has the flange's outline, its screws, the cut-out and the holes of both.
    REQUIRE(enclosure.flats.size() == 1);
    const FlatDrawing& drawing = enclosure.flats[0];
    CHECK(drawing.name == "baffle");
    CHECK(area_mm2(drawing.paths.at(0)) > 270 * 260);
    const auto cutout = std::find_if(drawing.circles.begin(), drawing.circles.end(), [](const FlatCircle& c) {
        return c.operation == Operation::ThroughHole && std::abs(c.radius_mm - 72.5) < 1e-9;
    });
    CHECK(cutout != drawing.circles.end());
    box.request.panel_rim->thickness = Length::mm(12);
    CHECK(refused(box).what ==
          "fixing \"panel rim\": a flange of 12 mm on a separate baffle of 12 mm, wanted 1 mm less");
}

TEST_CASE("a separate baffle's drawing agrees with its solid", "[parts][drawing][oracle]") {
    Case box = bulging_loft();
    box.request.driver = mounted(woofer());
    box.request.baffle.separate = true;
    const Enclosure enclosure = made(box);
    REQUIRE(enclosure.flats.size() == 1);
    // In the plane of its back, holes that go through and all.
    const auto section = require(measure::section(enclosure.products[1].solid, {{0, 11.999, 0}, {0, 1, 0}}));
    CHECK(area_mm2(enclosure.flats[0]) == Approx(section.area.mm2()).epsilon(1e-3));
}

TEST_CASE("a rim that cannot be is refused with place and number", "[parts][rim][fault]") {
    Case box = rounded_box();
    box.request.panel_rim = rim();
    SECTION("too narrow for its screws") {
        box.request.panel_rim->width = Length::mm(15);
        CHECK(refused(box).what ==
              "fixing \"panel rim\": a width of 15 mm, wanted at least 28 for 4.0 screws: 16 to the hole beside the "
              "panel's opening and 12 from it to the edge");
    }
    SECTION("too thin for their heads") {
        box.request.panel_rim->thickness = Length::mm(3);
        CHECK(refused(box).what.find("under the heads of 4.0 screws") != std::string::npos);
    }
    SECTION("the vehicle before the panel's face") {
        scan::Surface surface;
        for (double z = -60; z <= 60; z += 3) surface.points.push_back({122, -3, z});
        CHECK(
            refused(box, &surface).what ==
            "fixing \"panel rim\": the vehicle stands 15.0 mm before the face that its flange lies on and 3.0 mm from "
            "it, wanted 4 mm clear of it");
        for (Point3& p : surface.points) p.y = 12;  // the panel itself
        CHECK(made(box, &surface).fixings.size() > 4);
    }
    SECTION("a limit beside it") {
        box.request.room.limits.push_back({"door", {{120, 0, 0}, {1, 0, 0}}, Length::mm(0), false});
        CHECK(refused(box).what.find("limit \"door\" stands in its flange's way") != std::string::npos);
    }
}

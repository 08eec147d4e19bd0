// Bolts of the test part against things at known distances. Its baffle lies in y = 0 and looks to -y, the cut-out of
// radius 50 is about (100, 0, 60), the inner back wall at y = 154.
#include "tests/check/case.h"

using namespace shapes;
using Catch::Contains;
using geom::Angle;
using geom::Length;
using geom::Point3;
using geom::Vec3;
using geom::check::CheckLine;
using geom::parts::BoltMade;
using geom::parts::Step;

namespace {

BoltMade bolt(std::string name, Point3 seat, Vec3 axis, Step step, double across = 12, double length = 100) {
    BoltMade b;
    b.name = std::move(name);
    b.thread = "M4";
    b.head_seat = seat;
    b.axis = axis;
    b.tool = {Length::mm(across), Length::mm(length)};
    b.hole.hole_mm = 4.5;
    b.hole.seat_mm = 7;
    b.step = step;
    b.product = "shell";
    return b;
}

/// Lines of access alone, without the rest of the proof.
std::vector<CheckLine> access(const TestPart& part) {
    const geom::check::Written written;
    geom::check::Case c = bare_case(part, written);
    for (std::size_t i = 0; i < part.meshes.size(); ++i) {
        geom::check::ReadBack r;
        r.product = &part.made.enclosure.products[i];
        r.mesh = part.meshes[i];
        c.products.push_back(r);
    }
    geom::check::Verdict verdict;
    geom::check::check_access(c, verdict);
    return verdict.lines;
}

void put(TestPart& part, geom::space::KeepOutShape shape) {
    geom::space::KeepOut keep_out;
    keep_out.name = "arm";
    keep_out.shape = std::move(shape);
    part.request.room.keep_outs.push_back(std::move(keep_out));
}

/// Four screws on a circle of radius 53, their heads 5 before the baffle.
TestPart with_driver_screws() {
    TestPart part;
    for (int i = 0; i < 4; ++i) {
        const double a = kPi / 2 * i;
        part.made.enclosure.screws.push_back(bolt("driver screw " + std::to_string(i + 1),
                                                  {100 + 53 * std::sin(a), -5, 60 + 53 * std::cos(a)}, {0, 1, 0},
                                                  Step::DriverOnBaffle));
    }
    return part;
}

}  // namespace

TEST_CASE("screws before an open gap are free, one line for all of them", "[check][access]") {
    const auto lines = access(with_driver_screws());
    REQUIRE(lines.size() == 1);
    CHECK(lines[0].name == "access, driver screws");
    CHECK(lines[0].ok);
    CHECK(lines[0].value == 10);
    CHECK_THAT(lines[0].note, Contains("nothing within 10 mm"));
    CHECK_FALSE(lines[0].place);
}

TEST_CASE("what stands before a screw blocks it by as much as it reaches into its tool's room",
          "[check][access][oracle]") {
    TestPart part = with_driver_screws();
    double left = 0.0, free = -1.0, margin = 1e-9;
    std::string what = "keep-out \"arm\"";
    SECTION("a sample of the scan 4 beside the axis of the second, 25 before its head") {
        part.add({153, -30, 64});
        left = -2, free = 25, what = "the scanned surface";
    }
    SECTION("a sample just beside the room") {
        part.add({153, -30, 66.5});
        left = 0.5, what = "the scanned surface";
    }
    SECTION("a ball that leaves 1") {
        put(part, geom::space::SphereShape{{153, -60, 75}, 8});
        left = 1;
    }
    SECTION("a ball that reaches 1 in") {
        put(part, geom::space::SphereShape{{153, -60, 75}, 10});
        left = -1, free = 55 - std::sqrt(100.0 - 81);
    }
    SECTION("a box across") {
        put(part, geom::space::BoxShape{{150, -90, 55}, {190, -40, 65}});
        left = -6, free = 35;
    }
    SECTION("a rod along, beside it") {
        put(part, geom::space::CylinderShape{{153, -90, 70}, {153, -10, 70}, 5});
        left = -1, free = 5, margin = 0.006;
    }
    SECTION("a box that the room lies in as a whole") {
        put(part, geom::space::BoxShape{{100, -200, 0}, {200, -1, 100}});
        left = -6, free = 0.1;
    }
    SECTION("the vehicle where the driver's screws are not yet reached counts no more beyond the tool's end") {
        part.add({153, -105.5, 60});
        left = 10, what = "nothing within 10 mm";
    }
    const auto lines = access(part);
    REQUIRE(lines.size() == 1);
    CHECK(lines[0].value == Approx(left).margin(margin));
    CHECK(lines[0].ok == (left >= -0.1));
    CHECK_THAT(lines[0].note, Contains(what));
    if (left < 0.0) {
        CHECK_THAT(lines[0].note, Contains("driver screw 2 of 4"));
        char text[80];
        std::snprintf(text, sizeof text, "a tool no longer than %.1f mm goes in", free);
        CHECK_THAT(lines[0].note, Contains(text));
        REQUIRE(lines[0].place);
        CHECK(std::abs(lines[0].place->x - 153) < 7);
    }
}

TEST_CASE("a keep-out that moves counts where it stands while the box goes in", "[check][access]") {
    using geom::space::OnWayIn;
    TestPart part = with_driver_screws();
    // Drawn far off to the right; slid by 60 it stands across the second screw.
    put(part, geom::space::BoxShape{{210, -60, 50}, {240, -50, 70}});
    auto& keep_out = part.request.room.keep_outs[0];
    keep_out.motion = geom::space::Travel{{{0, 0, 0}, {-60, 0, 0}}};
    for (const auto& [where, ok] :
         {std::pair{OnWayIn::From, true}, {OnWayIn::To, false}, {OnWayIn::Swept, false}, {OnWayIn::None, true}}) {
        keep_out.on_way_in = where;
        const auto lines = access(part);
        CAPTURE(static_cast<int>(where), lines[0].note);
        CHECK(lines[0].ok == ok);
    }
    SECTION("and one that is kept free for the tool never") {
        keep_out.on_way_in = OnWayIn::To;
        keep_out.blocks_tools = false;
        CHECK(access(part)[0].ok);
    }
}

TEST_CASE("a bolt at the back is reached through the cut-out, if it stands before it", "[check][access][oracle]") {
    TestPart part;
    const auto through = [&](double x, double length) {
        part.made.enclosure.screws = {bolt("plate screw", {x, 154, 60}, {0, 1, 0}, Step::BoxOnPlate, 12, length)};
        return access(part).at(0);
    };
    CHECK(through(100, 300).ok);
    CHECK(through(142, 300).value == Approx(2).margin(0.06));  // the hole's edge 8 beside the axis
    CHECK(through(142, 300).ok);
    const CheckLine blocked = through(146, 300);
    CHECK(blocked.value == Approx(-2).margin(0.06));
    CHECK_FALSE(blocked.ok);
    CHECK_THAT(blocked.note, Contains("the shell itself stands 2.0 mm into it, and a tool no longer than 142.0 mm"));
    REQUIRE(blocked.place);
    CHECK(distance(*blocked.place, {150, 12, 60}) < 12.1);
    CHECK(through(146, 141).ok);  // a tool that ends inside
    CHECK_FALSE(through(160, 143).ok);
}

TEST_CASE("bolts may lean: the free way is measured along their own axis", "[check][access][oracle]") {
    TestPart part;
    const Vec3 out = geom::unit({1, -2, 2});
    const Point3 seat{100, -100, 300};
    part.made.enclosure.screws = {bolt("leaning", seat, -out, Step::BoxOnVehicle, 10, 80)};
    const Vec3 aside = geom::unit(cross(out, Vec3{0, 0, 1}));
    part.add(seat + out * 33.0 + aside * 7.5);
    CHECK(access(part)[0].value == Approx(2.5));
    part.add(seat + out * 44.0 - aside * 3.25);
    const CheckLine line = access(part)[0];
    CHECK(line.value == Approx(-1.75));
    CHECK_THAT(line.note, Contains("no longer than 44.0 mm"));
    REQUIRE(line.place);
    CHECK(distance(*line.place, seat + out * 44.0 - aside * 3.25) < 1e-9);
}

TEST_CASE("heads of bolts that are in by then stand in the way, of later ones they do not", "[check][access][oracle]") {
    TestPart part;
    // Seats of 8 mm 9.5 apart leave 9.5 - 4 - 6 to a tool of 12 mm.
    const Point3 a{40, -1, 110}, b{49.5, -1, 110};
    auto& screws = part.made.enclosure.screws;
    screws = {bolt("first", a, {0, 1, 0}, Step::BaffleOnBox), bolt("second", b, {0, 1, 0}, Step::DriverOnBaffle)};
    for (BoltMade& screw : screws) screw.hole.seat_mm = 8;
    auto lines = access(part);
    REQUIRE(lines.size() == 2);
    CHECK(lines[0].name == "access, baffle screws");
    CHECK(lines[0].value == 10);
    CHECK(lines[1].value == Approx(9.5 - 4 - 6).margin(0.011));
    CHECK_THAT(lines[1].note, Contains("the head of first"));

    screws[1].step = Step::BaffleOnBox;  // of one kind each may be in before the other
    lines = access(part);
    REQUIRE(lines.size() == 1);
    CHECK(lines[0].value == Approx(9.5 - 4 - 6).margin(0.011));

    screws[0].head_seat = a - Vec3{0, 3, 0};  // 3 before: its head now reaches 4 + 3 along the other's tool
    CHECK(access(part)[0].value == Approx(9.5 - 4 - 6).margin(0.011));
    screws[0].hole.sink_mm = 8;  // a countersunk head lies in its face
    screws[1].hole.sink_mm = 8;
    CHECK(access(part)[0].value == 10);
}

TEST_CASE("a separate baffle is not yet there when the box is bolted on", "[check][access]") {
    TestPart part;
    part.request.driver.reset();  // its body would be in the way as well
    const TopoDS_Shape plate = box({0, -30, 0}, {200, -20, 120});
    part.made.enclosure.products.push_back(
        {"baffle", geom::to_brep(plate), part.request.material, {0.8f, 0.8f, 0.8f}, false});
    part.meshes.push_back(
        require(geom::measure::tessellate(part.made.enclosure.products[1].solid, Length::mm(0.05), {})));
    part.request.baffle.separate = true;
    auto& screws = part.made.enclosure.screws;
    screws = {bolt("inside", {100, 154, 60}, {0, 1, 0}, Step::BoxOnVehicle, 12, 200)};
    CHECK(access(part)[0].ok);
    screws[0].step = Step::DriverOnBaffle;
    const CheckLine line = access(part)[0];
    CHECK_FALSE(line.ok);
    CHECK(line.value == Approx(-6));
    CHECK_THAT(line.note, Contains("the baffle itself") && Contains("no longer than 174.0 mm"));
    part.request.baffle.separate = false;
    screws[0].step = Step::BoxOnVehicle;
    CHECK_FALSE(access(part)[0].ok);
}

TEST_CASE("each fixing has a line of its own, and a plate on the vehicle knows nothing of the box", "[check][access]") {
    TestPart part;
    auto& e = part.made.enclosure;
    e.fixings.resize(1);
    e.fixings[0].bolt = bolt("\"rail\"", {30, 40, 125}, {0, 0, -1}, Step::BoxOnVehicle, 12, 40);
    geom::parts::FixingMade second = e.fixings[0];
    second.name = "floor";
    second.kind = geom::parts::FixingKind::Plate;
    second.bolt = bolt("\"floor\"", {100, 80, 60}, {0, 0, -1}, Step::PlateOnVehicle, 12, 60);
    second.bolt.product = "plate";
    e.fixings.push_back(second);
    const auto lines = access(part);
    REQUIRE(lines.size() == 2);
    CHECK(lines[0].name == "access, foot \"rail\"");
    CHECK(lines[0].ok);
    CHECK(lines[1].name == "access, plate \"floor\"");
    CHECK(lines[1].ok);  // inside the box, which is not there yet
    CHECK_THAT(lines[1].note, Contains("the box not yet"));
    e.fixings[1].bolt.step = Step::BoxOnVehicle;  // then the lid at z = 114 stands in the way
    const auto late = access(part);
    CHECK_FALSE(late[1].ok);
    CHECK_THAT(late[1].note, Contains("no longer than 54.0 mm"));
}

TEST_CASE("a bolt in a slot is reached at both of its ends", "[check][access][oracle]") {
    TestPart part;
    auto& f = part.made.enclosure.fixings[0];
    f.bolt = bolt("rail", {30, 40, 130}, {0, 0, -1}, Step::BoxOnVehicle, 12, 40);
    part.add({55, 40, 150});  // 25 beside the middle
    CHECK(access(part)[0].value == 10);
    f.use.slot = geom::fixings::Slot{{1, 0, 0.5}, Length::mm(40)};  // 5 beside its end
    const CheckLine line = access(part)[0];
    CHECK(line.value == Approx(-1));
    CHECK_THAT(line.note, Contains("the scanned surface, at the slot's end"));
    f.use.slot->along = {0, 1, 0};
    CHECK(access(part)[0].ok);
}

// Joints and holes told by numbers: pitch, flat, groove, and what stands between two holes in closed form.
#include "tests/check/case.h"

using namespace shapes;
using Catch::Contains;
using geom::Length;
using geom::Point3;
using geom::Vec3;
using geom::check::Verdict;
using geom::parts::BoltMade;
using geom::parts::JointMade;

namespace {

Verdict joints(const TestPart& part) {
    const geom::check::Written written;
    const geom::check::Case c = bare_case(part, written);
    Verdict verdict;
    geom::check::check_joints(c, verdict);
    return verdict;
}

BoltMade hole(std::string name, Point3 seat, Vec3 axis, double length, double across) {
    BoltMade b;
    b.name = std::move(name);
    b.head_seat = seat;
    b.axis = axis;
    b.reach_mm = length;
    b.hole.hole_mm = across;
    return b;
}

}  // namespace

TEST_CASE("joints are held to pitch, flat and groove", "[check][joints]") {
    TestPart part;
    JointMade taped, corded;
    taped.name = "driver";
    taped.screws = 4;
    taped.land_mm = 6;
    corded.name = "baffle";
    corded.screws = 8;
    corded.pitch_mm = 79;
    corded.pitch_asked_mm = 80;
    corded.cord_mm = 3, corded.groove_mm = 4.05, corded.groove_depth_mm = 2.25, corded.left_mm = 1.5;
    part.made.enclosure.joints = {taped, corded};
    Verdict v = joints(part);
    CHECK(v.lines.size() == 3);
    CHECK(failed(v).empty());
    CHECK_THAT(line(v, "baffle screws, pitch").note, Contains("8 screws"));

    part.made.enclosure.joints[0].land_mm = 5.9;
    part.made.enclosure.joints[1].pitch_mm = 80.1;
    part.made.enclosure.joints[1].left_mm = 1.4;
    v = joints(part);
    CHECK(failed(v) == std::vector<std::string>{"driver seal, flat for tape", "baffle screws, pitch",
                                                "baffle seal, beside the groove"});
}

TEST_CASE("what stands between two holes is the distance of their lines less both radii", "[check][joints][oracle]") {
    TestPart part;
    auto& screws = part.made.enclosure.screws;
    double wanted = 0.0;
    SECTION("alongside") {
        screws = {hole("a", {0, 0, 0}, {0, 1, 0}, 20, 5), hole("b", {0, 7, 9}, {0, 1, 0}, 30, 6)};
        wanted = 9 - 5.5;
    }
    SECTION("one behind the other") {
        screws = {hole("a", {0, 0, 0}, {0, 1, 0}, 20, 5), hole("b", {0, 28, 0}, {0, 1, 0}, 30, 6)};
        wanted = 8 - 5.5;
    }
    SECTION("across one another, 8 apart") {
        screws = {hole("a", {-20, 0, 0}, {1, 0, 0}, 60, 5), hole("b", {7, -30, 8}, {0, 1, 0}, 60, 6)};
        wanted = 8 - 5.5;
    }
    SECTION("across one another, one ending short") {
        screws = {hole("a", {-20, 0, 0}, {1, 0, 0}, 60, 5), hole("b", {7, -30, 8}, {0, 1, 0}, 24, 6)};
        wanted = 10 - 5.5;
    }
    SECTION("that meet") {
        screws = {hole("a", {-20, 0, 0}, {1, 0, 0}, 60, 5), hole("b", {7, -30, 0}, {0, 1, 0}, 60, 6)};
        wanted = -5.5;
    }
    SECTION("one of a point, one slotted") {
        screws = {hole("a", {0, 0, 0}, {1, 0, 0}, 0, 5), hole("b", {0, -30, 12}, {0, 1, 0}, 60, 6)};
        screws[1].hole.slot_mm = 4;
        wanted = 12 - 2.5 - 5;
    }
    const geom::check::CheckLine line_of = joints(part).lines.at(0);
    CHECK(line_of.name == "holes, between two");
    CHECK(line_of.value == Approx(wanted).margin(1e-9));
    CHECK(line_of.ok == (wanted >= 1.0));
    CHECK_THAT(line_of.note, Contains("a and b"));

    // Seen from elsewhere it is the same.
    for (BoltMade& screw : screws) {
        std::swap(screw.head_seat.x, screw.head_seat.z), std::swap(screw.axis.x, screw.axis.z);
        screw.head_seat += Vec3{300, -20, 5};
    }
    std::swap(screws[0], screws[1]);
    CHECK(joints(part).lines.at(0).value == Approx(wanted).margin(1e-9));
}

TEST_CASE("a bolt of a fixing and the terminal's hole count among the holes", "[check][joints]") {
    TestPart part;
    auto& e = part.made.enclosure;
    e.fixings[0].bolt = hole("rail", {30, 40, 130}, {0, 0, -1}, 0, 6.6);
    e.fixings[0].grip_mm = 134.5;
    geom::parts::Terminal terminal;
    terminal.diameter = Length::mm(20);
    part.request.terminal = terminal;
    e.openings.push_back({"terminal", {{0, 40, 60}, {-1, 0, 0}}, 10.1});
    // The terminal's hole runs from -6 to 6 along x at z = 60: 24 from the bolt's line, less 10 and 3.3.
    const Verdict v = joints(part);
    CHECK(line(v, "holes, between two").value == Approx(24 - 10 - 3.3));
}

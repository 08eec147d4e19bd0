// The way in by moves, judged: each figure from plane geometry.
#include "tests/check/case.h"

#include "geom/measure/brep_measure.h"

using namespace shapes;
using geom::Length;
using geom::check::Verdict;
using geom::space::Slide;
using geom::space::Turn;
using Names = std::vector<std::string>;

namespace {

constexpr double kDegree = kPi / 180.0;

/// In the open: only what a test puts there is scanned.
TestPart alone() {
    TestPart part;
    part.surface.points.clear(), part.surface.normals.clear(), part.surface.radius_mm.clear(), part.surface.raw.clear();
    part.add({100, 400, 60});  // far behind
    return part;
}

}  // namespace

TEST_CASE("one slide straight in is judged as the straight way is", "[check][way]") {
    TestPart part;
    const Verdict straight = require(part.judged());
    part.request.room.moves = {Slide{{0, 300, 0}}};
    const Verdict slid = require(part.judged());
    CHECK(failed(slid) == Names{});
    CHECK(slid.clearance.along_insertion_min_mm == Approx(straight.clearance.along_insertion_min_mm).margin(0.011));
    REQUIRE(slid.clearance.moves.size() == 1);
    CHECK(slid.clearance.along_insertion_move == 1);
    CHECK(straight.clearance.moves.empty());
}

TEST_CASE("a post in the arc of a tipped part is met in the turn, and the report says where", "[check][way][oracle]") {
    TestPart part = alone();
    // Outside, then 20 degrees up about the lower front edge: the upper rear edge, (160, 120) from it, is seated at
    // 36.87 degrees and begins the turn at 16.87. Over its arc of radius 200 stands a post at 25 degrees.
    part.request.room.moves = {Slide{{0, 400, 0}}, Turn{20 * kDegree, {1, 0, 0}, {0, 0, 0}}};
    const double post = 203.0;
    part.add({100, post * std::cos(25 * kDegree), post * std::sin(25 * kDegree)});
    const Verdict v = require(part.judged());
    CHECK(failed(v) == Names{"clearance, going in"});
    CHECK(v.clearance.min_mm > 15.0);
    CHECK(v.clearance.along_insertion_min_mm == Approx(3.0 - 0.5).margin(0.02));
    CHECK(v.clearance.along_insertion_move == 2);
    REQUIRE(v.clearance.moves.size() == 2);
    const double share = (25.0 - (std::atan2(120.0, 160.0) / kDegree - 20.0)) / 20.0;
    CHECK(v.clearance.moves[1].share == Approx(share).margin(0.003));
    CHECK(v.clearance.moves[1].how_far == "8.1 deg of 20.0 deg done");
    CHECK(v.clearance.moves[0].least_mm > v.clearance.moves[1].least_mm);
    CHECK(line(v, "clearance, going in")
              .note.find("least in move 2 (turn by 20 deg about (1, 0, 0) through (0, 0, 0) mm)") == std::string::npos);
    CHECK(line(v, "clearance, going in")
              .note.find(
                  "least in move 2 (turn by 20 deg about (1, 0, 0) through (0, 0, 0)), 8.1 deg of 20.0 deg done") !=
          std::string::npos);
}

TEST_CASE("what stands before the mouth counts as far as a first slide is carried on", "[check][way]") {
    TestPart part = alone();
    part.request.room.moves = {Slide{{0, 100, 0}}};
    part.add({100, -390, 121.5});
    Verdict v = require(part.judged());
    CHECK(failed(v) == Names{"clearance, going in"});
    CHECK(v.clearance.along_insertion_min_mm == Approx(1.0).margin(0.011));
    CHECK(v.clearance.moves[0].share < 0.0);
    CHECK(v.clearance.moves[0].how_far.find("before it begins") != std::string::npos);
    part.surface.points.back().y = -410;
    CHECK(failed(require(part.judged())) == Names{});
}

TEST_CASE("keep-outs are held against the whole motion", "[check][way][oracle]") {
    TestPart part = alone();
    part.request.room.moves = {Slide{{0, 400, 0}}, Turn{20 * kDegree, {1, 0, 0}, {0, 0, 0}}};
    const double a = 25 * kDegree;
    const auto over = [&](double r) { return Point3{100, r * std::cos(a), r * std::sin(a)}; };
    part.request.room.keep_outs = {
        {"ball", geom::space::SphereShape{over(200 + 10 + 7), 10}, Length::mm(4), false},
        {"rod", geom::space::CylinderShape{over(200 + 12) + Vec3{-300, 0, 0}, over(200 + 12) + Vec3{300, 0, 0}, 10},
         Length::mm(4), false},
        {"bar", geom::space::BoxShape{{-50, -300, 123}, {250, -250, 140}}, Length::mm(1), false},
        {"block",
         require(geom::measure::tessellate(geom::to_brep(box({50, over(206).y, over(206).z}, {70, 300, 300})),
                                           Length::mm(0.1), {})),
         Length::mm(4), false}};
    const Verdict v = require(part.judged());
    CHECK(line(v, "keep-out \"ball\", going in").value == Approx(7.0).margin(0.08));
    CHECK(line(v, "keep-out \"rod\", going in").value == Approx(2.0).margin(0.08));
    // Before the turn the upper edge is lower: 160 sin(-20) + 120 cos(20) behind, 120 cos(20) in front, which passes.
    CHECK(line(v, "keep-out \"bar\", going in").value == Approx(123.0 - 120 * std::cos(20 * kDegree)).margin(0.08));
    CHECK(line(v, "keep-out \"block\", going in").value == Approx(6.0).margin(0.12));
    CHECK(failed(v) == Names{"keep-out \"rod\", going in"});
    CHECK(line(v, "keep-out \"rod\", going in").note.find("least in move 2 of 2") != std::string::npos);
    CHECK(line(v, "keep-out \"bar\", going in").note.find("least in move 1 of 2") != std::string::npos);
}

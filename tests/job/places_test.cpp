#include "geom/job/places.h"

#include <catch2/catch.hpp>

using namespace geom;

TEST_CASE("a job's air, fixings and keep-outs are the places held against its scan", "[job][places]") {
    job::Job job;
    job.enclosure.room.air = {1, 2, 3};
    parts::Foot foot;
    foot.name = "rail";
    foot.point = {10, 20, 30};
    job.enclosure.feet.push_back(foot);
    TriMesh mesh;
    mesh.vertices = {{0, 0, 0}, {5, 0, -1}, {0, 7, 2}};
    for (const space::KeepOutShape& shape :
         {space::KeepOutShape{space::BoxShape{{4, 5, 6}, {1, 2, 3}}},
          space::KeepOutShape{space::CylinderShape{{0, 0, 0}, {0, 0, 100}, 20.0}},
          space::KeepOutShape{space::SphereShape{{1, 1, 1}, 2.0}}, space::KeepOutShape{mesh}}) {
        space::KeepOut keep_out;
        keep_out.name = "k";
        keep_out.shape = shape;
        job.enclosure.room.keep_outs.push_back(keep_out);
    }
    const std::vector<scan::NamedPlace> places = job::places_of(job);
    REQUIRE(places.size() == 6);
    CHECK(places[0].name == "air");
    CHECK(places[0].box.lo == Point3{1, 2, 3});
    CHECK_FALSE(places[0].on_surface);
    CHECK(places[1].name == "fixing \"rail\"");
    CHECK(places[1].on_surface);
    CHECK(places[2].name == "keep-out \"k\"");
    CHECK(places[2].box.lo == Point3{1, 2, 3});
    CHECK(places[2].box.hi == Point3{4, 5, 6});
    CHECK(places[3].box.hi == Point3{20, 20, 120});  // a cylinder's box is taken a radius larger all round
    CHECK(places[4].box.lo == Point3{-1, -1, -1});
    CHECK(places[5].box.hi == Point3{5, 7, 2});
}

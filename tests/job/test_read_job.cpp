// What a good job becomes; what is said about files that are no job at all.
#include "geom/core/random.h"
#include "tests/job/read_jobs.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>

using namespace geom;
using namespace job_test;

namespace {

std::string cube_stl(double side) {
    std::string text = "solid cube\n";
    const auto facet = [&](Vec3 a, Vec3 b, Vec3 c) {
        text += "facet normal 0 0 0\nouter loop\n";
        for (const Vec3& p : {a, b, c})
            text += "vertex " + std::to_string(p.x * side) + " " + std::to_string(p.y * side) + " " +
                    std::to_string(p.z * side) + "\n";
        text += "endloop\nendfacet\n";
    };
    const auto quad = [&](Vec3 a, Vec3 b, Vec3 c, Vec3 d) { facet(a, b, c), facet(a, c, d); };
    quad({0, 0, 0}, {0, 1, 0}, {1, 1, 0}, {1, 0, 0});
    quad({0, 0, 1}, {1, 0, 1}, {1, 1, 1}, {0, 1, 1});
    quad({0, 0, 0}, {1, 0, 0}, {1, 0, 1}, {0, 0, 1});
    quad({0, 1, 0}, {0, 1, 1}, {1, 1, 1}, {1, 1, 0});
    quad({0, 0, 0}, {0, 0, 1}, {0, 1, 1}, {0, 1, 0});
    quad({1, 0, 0}, {1, 1, 0}, {1, 1, 1}, {1, 0, 1});
    return text + "endsolid cube\n";
}

}  // namespace

TEST_CASE("a short job gets every default, and resolved names them", "[job]") {
    const auto job = require_job(kCorpus / "box_gap.toml");
    const auto& request = job.enclosure;
    CHECK(job.name == "box-gap");
    CHECK(request.name == "box-gap");
    CHECK(job.part == "enclosure");
    REQUIRE(job.scans.size() == 1);
    CHECK(job.scans[0].path == kCorpus / "gap.xyz");
    CHECK(job.scans[0].motion.at({1, 2, 3}) == Point3{1, 2, 3});
    CHECK_FALSE(job.join_by_fit);
    CHECK(job.input_files == std::vector<std::filesystem::path>{kCorpus / "box_gap.toml", kCorpus / "gap.xyz"});
    CHECK(job.scan.unit == scan::FileUnit::Millimetre);
    CHECK(request.room.air == Point3{0, 100, 150});
    CHECK(request.net_volume.litres() == Approx(4.0));
    CHECK(request.tolerance_rel == Approx(0.002));
    CHECK(request.wall.mm() == 6.0);
    CHECK(request.inner_radius.mm() == 4.0);
    CHECK(request.material.name == "ASA");
    CHECK(request.baffle.plane.outward == Vec3{0, -1, 0});
    CHECK(request.baffle.plane.point == Point3{0, 40, 0});
    CHECK(request.baffle.thickness.mm() == 12.0);
    CHECK_FALSE(request.baffle.separate);
    CHECK(request.baffle.rim_radius.mm() == 3.0);
    CHECK(request.room.clearance.mm() == 4.0);
    CHECK(request.room.covering.mm() == 0.0);
    CHECK(request.room.edge_radius.mm() == 8.0);
    CHECK_FALSE(request.room.insert.has_value());
    CHECK(request.make.method == parts::Method::Print);
    CHECK(request.make.chord_error.mm() == Approx(0.05));
    CHECK_FALSE(request.make.bed.has_value());
    CHECK_FALSE(request.driver.has_value());
    CHECK_FALSE(request.terminal.has_value());
    CHECK(request.feet.empty());

    CHECK(job.resolved.at("space.clearance") == "4 mm (default)");
    CHECK(job.resolved.at("space.insert_clearance") == "4 mm (default)");
    CHECK(job.resolved.at("space.insert") == "0, 1, 0 (default)");
    CHECK(job.resolved.at("enclosure.net_volume") == "4 L");
    CHECK(job.resolved.at("enclosure.baffle.travel") == "-200, 40 mm");
    CHECK(job.resolved.at("make.method") == "print (default)");
    CHECK(job.resolved.at("driver") == "none (default)");
}

TEST_CASE("the room gets the same baffle, travel, up and wall as the part", "[job]") {
    const auto job = require_job(kCorpus / "every_key.toml");
    const auto& request = job.enclosure;
    CHECK(request.room.baffle.point == request.baffle.plane.point);
    CHECK(request.room.baffle.outward == request.baffle.plane.outward);
    CHECK(request.room.travel_lo_mm == request.baffle.travel_lo_mm);
    CHECK(request.room.travel_hi_mm == request.baffle.travel_hi_mm);
    CHECK(request.room.up == request.up);
    CHECK(request.room.wall == request.wall);
}

TEST_CASE("every key goes where it belongs, in millimetres", "[job]") {
    const auto job = require_job(kCorpus / "every_key.toml");
    const auto& request = job.enclosure;
    CHECK(request.up == Vec3{0, 0, 1});
    CHECK(request.forward == Vec3{0, -1, 0});
    CHECK(job.scans.size() == 2);
    CHECK(job.scan.unit == scan::FileUnit::Inch);
    CHECK(request.room.air == Point3{0, 120, 160});
    CHECK(job.surface.close_holes.mm() == Approx(12.0));

    CHECK(request.room.clearance.mm() == 5.0);
    CHECK(request.room.covering.mm() == 2.5);
    CHECK(request.room.edge_radius.mm() == Approx(12.7));
    CHECK(request.inner_radius.mm() == 5.0);
    REQUIRE(request.room.insert);
    CHECK(norm(*request.room.insert) == Approx(1.0));
    CHECK(request.room.insert->x == Approx(0.1 / std::sqrt(1.01)));
    REQUIRE(request.room.insert_clearance);
    CHECK(request.room.insert_clearance->mm() == 3.0);
    CHECK(request.room.voxel.mm() == 1.5);
    REQUIRE(request.room.limits.size() == 1);
    CHECK(request.room.limits[0].name == "armrest line");
    CHECK(request.room.limits[0].plane.point == Point3{0, 0, 300});
    CHECK(request.room.limits[0].clearance.mm() == 1.0);
    CHECK_FALSE(request.room.limits[0].covering);
    REQUIRE(request.room.open.size() == 1);
    CHECK(request.room.open[0].plane.point == Point3{0, -20, 0});

    REQUIRE(request.room.keep_outs.size() == 3);
    const auto& cylinder = std::get<space::CylinderShape>(request.room.keep_outs[0].shape);
    CHECK(request.room.keep_outs[0].name == "belt buckle");
    CHECK(cylinder.from == Point3{88, 120, 0});
    CHECK(cylinder.to == Point3{80, 100, 230});
    CHECK(cylinder.radius_mm == 25.0);
    CHECK(request.room.keep_outs[0].clearance.mm() == 10.0);
    CHECK(request.room.keep_outs[0].covering);
    const auto& box = std::get<space::BoxShape>(request.room.keep_outs[1].shape);
    CHECK(box.min == Point3{-100, 180, 0});
    CHECK(box.max == Point3{-50, 200, 40});
    CHECK_FALSE(request.room.keep_outs[1].covering);
    CHECK(request.room.keep_outs[0].blocks_tools);
    CHECK_FALSE(request.room.keep_outs[1].blocks_tools);
    const auto& sphere = std::get<space::SphereShape>(request.room.keep_outs[2].shape);
    CHECK(sphere.centre == Point3{0, 150, 250});
    CHECK(sphere.radius_mm == 20.0);

    CHECK(request.net_volume.litres() == Approx(0.35 * 28.316846592));  // 1 ft3 = 28.316846592 L, exact by the inch
    CHECK(request.tolerance_rel == 0.003);
    CHECK(request.wall.mm() == Approx(6.35));
    CHECK(request.material.name == "house mix");
    CHECK(request.material.density_kg_m3 == 1234.0);
    CHECK(request.material.e_GPa == 3.1);
    CHECK(request.material.nu == 0.33);
    CHECK(request.plays_to_Hz == 140.0);
    CHECK(request.baffle.separate);
    CHECK(request.baffle.thickness.mm() == 15.0);
    CHECK(request.baffle.rim_radius.mm() == 2.0);
    CHECK(request.baffle.screw_thread == "M5");
    CHECK(request.baffle.screw_pitch.mm() == 70.0);
    CHECK_FALSE(request.baffle.inserts);
    CHECK(request.baffle.flange_width->mm() == 22.0);
    CHECK(request.baffle.flange_thickness->mm() == 10.0);
    CHECK(request.baffle.material->name == "MDF");
    CHECK(request.baffle.seal.cord->mm() == Approx(3.0));
    REQUIRE(request.baffle.tool);
    CHECK(request.baffle.tool->diameter.mm() == 9.0);
    CHECK(request.baffle.tool->length.mm() == 70.0);
    REQUIRE(request.terminal);
    CHECK(request.terminal->diameter.mm() == 24.0);
    CHECK(request.terminal->at == Point3{60, 40, 40});
    CHECK(request.terminal->displacement->litres() == Approx(0.03));

    REQUIRE(request.feet.size() == 1);
    CHECK(request.feet[0].name == "rail, left front");
    CHECK(request.feet[0].point.x == Approx(-112.0));
    CHECK(request.feet[0].axis == Vec3{0, 0, -1});
    CHECK(request.feet[0].thread == "M6");
    CHECK(request.make.method == parts::Method::Layup);
    CHECK(request.make.chord_error.mm() == Approx(0.04));
    CHECK(*request.make.bed == Vec3{300, 300, 400});
    CHECK(request.make.plug == parts::Make::Plug::Inner);
}

TEST_CASE("what is adjusted is read with its range, and the baffle then stays", "[job][adjust]") {
    const support::TempFolder folder;
    const auto read = [&](const std::string& lines, const std::string& baffle) {
        std::string text = support::read_bytes(kCorpus / "box_gap.toml");
        text.replace(text.find("wall = 6\n"), 9, lines);
        const auto at = text.find("travel = [-200, 40]");
        text.replace(at, 19, baffle);
        text += "[space]\nlimits = [ { name = \"top\", point = [0, 0, 200], outward = [0, 0, 1] } ]\n";
        return require_job(folder.write("job.toml", text));
    };
    using parts::Adjust;
    const auto limit = read("adjust = \"limit:top\"\nadjust_range = [-20, \"1 cm\"]\n", "at = \"2 cm\"");
    CHECK(limit.enclosure.adjust.what == Adjust::What::Limit);
    CHECK(limit.enclosure.adjust.limit == "top");
    CHECK(limit.enclosure.adjust.lo_mm == -20.0);
    CHECK(limit.enclosure.adjust.hi_mm == Approx(10.0));
    CHECK(limit.enclosure.baffle.travel_lo_mm == Approx(20.0));
    CHECK(limit.enclosure.room.travel_hi_mm == Approx(20.0));
    CHECK(limit.resolved.at("enclosure.adjust") == "limit:top");
    CHECK(limit.resolved.at("enclosure.adjust_range") == "-20, 10 mm");
    CHECK(limit.resolved.at("enclosure.baffle.at") == "20 mm");

    const auto wall = read("adjust = \"wall\"\nadjust_range = [4, 12]\n", "travel = [10, 10]");
    CHECK(wall.enclosure.adjust.what == Adjust::What::Wall);
    CHECK(wall.enclosure.wall.mm() == 4.0);
    CHECK(wall.enclosure.baffle.travel_lo_mm == 10.0);

    CHECK(read("adjust = \"fill\"\n", "at = 0").enclosure.adjust.fill == Adjust::Fill::Integral);
    CHECK(read("adjust = \"fill\"\nfill = \"told\"\n", "at = 0").enclosure.adjust.fill == Adjust::Fill::Told);
    const auto separate = read("adjust = \"fill\"\nfill = { made = \"separate\" }\n", "at = 0");
    CHECK(separate.enclosure.adjust.what == Adjust::What::Fill);
    CHECK(separate.enclosure.adjust.fill == Adjust::Fill::Separate);
    CHECK(separate.resolved.at("enclosure.fill.made") == "separate");
    CHECK(read("", "travel = [-200, 40]").resolved.at("enclosure.adjust") == "baffle (default)");
}

TEST_CASE("a limit's edges are rounded, sharp, or sharp outside alone", "[job][sharp]") {
    const support::TempFolder folder;
    const auto edges = [&](const std::string& more) {
        const std::string text = support::read_bytes(kCorpus / "box_gap.toml") +
                                 "[space]\ninner_radius = 7\nlimits = [ { name = \"top\", "
                                 "point = [0, 0, 200], outward = [0, 0, 1]" +
                                 more + " } ]\n";
        const auto job = require_job(folder.write("job.toml", text));
        CHECK(job.enclosure.room.inner_radius.mm() == 7.0);
        return job.enclosure.room.limits.front().edges;
    };
    CHECK(edges("") == space::LimitEdges::Rounded);
    CHECK(edges(", sharp = false") == space::LimitEdges::Rounded);
    CHECK(edges(", sharp = true") == space::LimitEdges::Sharp);
    CHECK(edges(", sharp = \"outside\"") == space::LimitEdges::SharpOutside);
}

TEST_CASE("a limit names those with which its edges stay sharp", "[job][sharp]") {
    const support::TempFolder folder;
    const auto read = [&](const std::string& more) {
        return require_job(folder.write("job.toml", support::read_bytes(kCorpus / "box_gap.toml") +
                                                        "[space]\nlimits = [ { name = \"top\", "
                                                        "point = [0, 0, 200], outward = [0, 0, 1]" +
                                                        more + " } ]\n"));
    };
    using Names = std::vector<std::string>;
    const auto names = [&](const std::string& more) { return read(more).enclosure.room.limits.front().sharp_with; };
    CHECK(names("").empty());
    CHECK(names(", sharp_with = \"rear\"") == Names{"rear"});
    CHECK(names(", sharp_with = [\"rear\", \"side\"]") == Names{"rear", "side"});
    const auto before = read("").resolved, after = read(", sharp_with = \"rear\"").resolved;
    CHECK(before != after);  // a kept field knows that it is another
}

TEST_CASE("a baffle may be shaped round the driver", "[job][baffle]") {
    const auto ring = require_job(kCorpus / "every_key.toml").enclosure.baffle;
    CHECK(ring.shape == parts::BaffleShape::Ring);
    CHECK(ring.ring.height.mm() == 8.0);
    CHECK(ring.ring.width->mm() == 21.0);
    CHECK(ring.ring.edge.mm() == 1.2);
    REQUIRE(ring.grille_room);
    CHECK(ring.grille_room->height.mm() == 15.0);
    CHECK(ring.grille_room->diameter->mm() == 170.0);

    const support::TempFolder folder;
    const std::string driver = "[driver]\ncutout_diameter = 120\nflange_diameter = 140\ncentre = [0, 0, 150]\n";
    const auto with = [&](const std::string& more) {
        std::string text = support::read_bytes(kCorpus / "box_gap.toml");
        text.replace(text.find("thickness = 12"), 14, "thickness = 12" + more);
        return require_job(folder.write("job.toml", text + driver));
    };
    const auto dish = with(", shape = \"dish\", dish = { depth = 6 }, grille_room = 12");
    CHECK(dish.enclosure.baffle.shape == parts::BaffleShape::Dish);
    CHECK(dish.enclosure.baffle.dish.depth.mm() == 6.0);
    CHECK_FALSE(dish.enclosure.baffle.dish.width);
    CHECK(dish.enclosure.baffle.dish.flank.deg() == Approx(45.0));
    CHECK(dish.enclosure.baffle.grille_room->height.mm() == 12.0);
    CHECK_FALSE(dish.enclosure.baffle.grille_room->diameter);
    CHECK(dish.resolved.at("enclosure.baffle.dish.width") == "as the flange needs it (default)");
    const auto leaning = with(", shape = \"dish\", dish = { depth = 6, width = 14, flank = \"20 deg\" }");
    CHECK(leaning.enclosure.baffle.dish.flank.deg() == Approx(20.0));
    CHECK(leaning.enclosure.baffle.dish.width->mm() == 14.0);
    const auto flat = with("");
    CHECK(flat.enclosure.baffle.shape == parts::BaffleShape::Flat);
    CHECK_FALSE(flat.enclosure.baffle.grille_room);
}

TEST_CASE("a port's slot and bend are read with their defaults", "[job][port]") {
    const support::TempFolder folder;
    const auto with = [&](const std::string& keys) {
        std::string text = support::read_bytes(kCorpus / "box_gap.toml");
        text.replace(text.find("wall = 6"), 8, "wall = 6\nport = { at = [1, 2, 3], tuning = 40, " + keys + " }");
        return require_job(folder.write("job.toml", text));
    };
    const auto all = with(
        "slot = [\"12 cm\", 18], corner_radius = 5, turn = \"90 deg\", bend = { towards = [0, 0, 2], "
        "after = 40, radius = 45, angle = \"60 deg\" }");
    const parts::Port& port = *all.enclosure.port;
    REQUIRE(port.slot);
    CHECK(port.slot->width.mm() == 120.0);
    CHECK(port.slot->height.mm() == 18.0);
    CHECK(port.slot->corner_radius.mm() == 5.0);
    CHECK(port.slot->turn.deg() == Approx(90.0));
    REQUIRE(port.bend);
    CHECK(port.bend->towards == Vec3{0, 0, 1});
    // Numbers whose squares are none.
    CHECK(with("slot = [60, 12], bend = { towards = [0, 0, -1e300] }").enclosure.port->bend->towards == Vec3{0, 0, -1});
    CHECK(norm(with("slot = [60, 12], bend = { towards = [1e300, 0, 1e300] }").enclosure.port->bend->towards -
               Vec3{std::sqrt(0.5), 0, std::sqrt(0.5)}) < 1e-12);
    CHECK(port.bend->after->mm() == 40.0);
    CHECK(port.bend->radius->mm() == 45.0);
    CHECK(port.bend->angle.deg() == Approx(60.0));
    const auto bare = with("slot = [60, 4], bend = { towards = [1, 0, 0] }");
    CHECK(bare.enclosure.port->slot->corner_radius.mm() == 2.0);
    CHECK(bare.enclosure.port->slot->turn.deg() == 0.0);
    CHECK_FALSE(bare.enclosure.port->bend->after);
    CHECK_FALSE(bare.enclosure.port->bend->radius);
    CHECK(bare.enclosure.port->bend->angle.deg() == Approx(90.0));
    CHECK(bare.resolved.at("enclosure.port.bend.after") == "as near behind the baffle as it goes (default)");
    const auto wide = with("slot = [60, 14]");
    CHECK(wide.enclosure.port->slot->corner_radius.mm() == 3.0);
    CHECK_FALSE(wide.enclosure.port->bend);
    CHECK_FALSE(with("diameter = 50").enclosure.port->slot);
}

TEST_CASE("place takes scan numbers to a right-handed vehicle frame", "[job][place]") {
    // x = scan's y, z = scan's z, so y = z cross x = -x of the scan; the origin is in file units, inches here.
    const auto job = require_job(kCorpus / "every_key.toml");
    REQUIRE(job.scans.size() == 2);
    for (const auto& file : job.scans) {
        const Point3 at = file.motion.at(Point3{1 + 5, 2 + 7, 2 + 11} * 25.4);
        CHECK(at.x == Approx(7.0 * 25.4));
        CHECK(at.y == Approx(-5.0 * 25.4));
        CHECK(at.z == Approx(11.0 * 25.4));
        CHECK_FALSE(file.motion.mirrors());
    }
}

TEST_CASE("every unit of the contract reads as its published size", "[job][units]") {
    // International inch 25.4 mm, foot 304.8 mm: exact by definition.
    struct Row {
        const char* text;
        double litres;
    };
    const support::TempFolder folder;
    std::string base = support::read_bytes(kCorpus / "box_gap.toml");
    for (const Row& row : {Row{"9.5 L", 9.5},
                           {"9.5l", 9.5},
                           {"9500 ml", 9.5},
                           {"9500 cm3", 9.5},
                           {"0.0095 m3", 9.5},
                           {" 1 ft3 ", 28.316846592},
                           {"1728 in3", 28.316846592},
                           {"+.5 L", 0.5},
                           {"1e1 L", 10.0}}) {
        std::string text = base;
        text.replace(text.find("4 L"), 3, row.text);
        CAPTURE(row.text);
        CHECK(require_job(folder.write("job.toml", text)).enclosure.net_volume.litres() ==
              Approx(row.litres).epsilon(1e-12));
    }
    for (const Row& row : {Row{"6", 6},
                           {"6.0", 6},
                           {"\"6 mm\"", 6},
                           {"\"0.6 cm\"", 6},
                           {"\"0.006 m\"", 6},
                           {"\"0.25 in\"", 6.35},
                           {"\"0.25inch\"", 6.35},
                           {"'0.25\"'", 6.35}}) {
        std::string text = base;
        text.replace(text.find("wall = 6"), 8, std::string("wall = ") + row.text);
        CAPTURE(row.text);
        CHECK(require_job(folder.write("job.toml", text)).enclosure.wall.mm() == Approx(row.litres).epsilon(1e-12));
    }
}

TEST_CASE("bare lengths scale with the job's unit and nothing else does", "[job][units][property]") {
    // Law: the same job written in mm and in inches (every bare length divided by 25.4) asks for the same part.
    const support::TempFolder folder;
    const auto mm = require_job(kCorpus / "box_gap.toml");
    const auto inch =
        require_job(folder.write("job.toml",
                                 "[job]\nlength_unit = \"in\"\n[scan]\nfiles = [\"gap.xyz\"]\nlength_unit = \"mm\"\n"
                                 "air = [0, 3.937007874015748, 5.905511811023622]\n[enclosure]\nnet_volume = \"4 L\"\n"
                                 "wall = 0.2362204724409449\nbaffle = { outward = [0, -7, 0], point = [0, "
                                 "1.574803149606299, 0], travel = [-7.874015748031496, 1.574803149606299], thickness = "
                                 "0.4724409448818898 }\n"));
    CHECK(inch.enclosure.room.air.y == Approx(mm.enclosure.room.air.y));
    CHECK(inch.enclosure.room.air.z == Approx(mm.enclosure.room.air.z));
    CHECK(inch.enclosure.wall.mm() == Approx(mm.enclosure.wall.mm()));
    CHECK(inch.enclosure.baffle.plane.point.y == Approx(mm.enclosure.baffle.plane.point.y));
    CHECK(inch.enclosure.baffle.travel_lo_mm == Approx(mm.enclosure.baffle.travel_lo_mm));
    CHECK(inch.enclosure.baffle.plane.outward == mm.enclosure.baffle.plane.outward);
    CHECK(inch.enclosure.room.clearance == mm.enclosure.room.clearance);
    CHECK(inch.scan.unit == mm.scan.unit);
    CHECK(inch.name == "job");
}

TEST_CASE("a mesh keep-out is read in the job's unit, or in its own", "[job][keep-out]") {
    const support::TempFolder folder;
    folder.write("block.stl", cube_stl(10.0));
    const std::string base = support::read_bytes(kCorpus / "box_gap.toml");
    const std::string keep_out = "[[space.keep_out]]\nname = \"block\"\n";
    auto job = require_job(
        folder.write("job.toml", base + keep_out + "mesh = { file = \"block.stl\", length_unit = \"cm\" }\n"));
    const auto& mesh = std::get<TriMesh>(job.enclosure.room.keep_outs.at(0).shape);
    CHECK(mesh.triangles.size() == 12);
    CHECK(signed_volume_mm3(mesh) == Approx(1e6));
    CHECK(job.input_files.back() == folder.path() / "block.stl");
    CHECK(job.resolved.at("space.keep_out[1].mesh.length_unit") == "cm");

    // A lever of 10 mm is small for a vehicle and good for a keep-out; one of 0.06 mm is a file in another unit.
    job = require_job(folder.write("job.toml", base + keep_out + "mesh = { file = \"block.stl\" }\n"));
    CHECK(signed_volume_mm3(std::get<TriMesh>(job.enclosure.room.keep_outs.at(0).shape)) == Approx(1e3));
    folder.write("metres.stl", cube_stl(0.06));
    const auto tiny = require_fault(folder.write("job.toml", base + keep_out + "mesh = { file = \"metres.stl\" }\n"));
    CHECK(tiny.code == FaultCode::WrongUnit);
    CHECK(tiny.what.rfind("job.toml:17: [[space.keep_out]] 'block' mesh: ", 0) == 0);
    CHECK(tiny.hint == "say the file's own unit beside its name: file = .., length_unit = \"m\"");
    job = require_job(
        folder.write("job.toml", base + keep_out + "mesh = { file = \"metres.stl\", length_unit = \"m\" }\n"));
    CHECK(signed_volume_mm3(std::get<TriMesh>(job.enclosure.room.keep_outs.at(0).shape)) == Approx(216e3));

    folder.write("points.xyz", "0 0 0\n100 0 0\n0 100 0\n0 0 100\n");
    const auto cloud = require_fault(folder.write("job.toml", base + keep_out + "mesh = { file = \"points.xyz\" }\n"));
    CHECK(cloud.what ==
          "job.toml:17: [[space.keep_out]] 'block' mesh: points.xyz holds points alone, wanted triangles");
    CHECK(cloud.code == FaultCode::BadJob);
    const auto missing = require_fault(folder.write("job.toml", base + keep_out + "mesh = { file = \"none.stl\" }\n"));
    CHECK(missing.code == FaultCode::Unreadable);
    CHECK(missing.what.rfind("job.toml:17: [[space.keep_out]] 'block' mesh: ", 0) == 0);
}

TEST_CASE("what is no job file is told apart", "[job][faults]") {
    const support::TempFolder folder;
    const auto told = [&](const std::string& bytes) { return require_fault(folder.write("job.toml", bytes)); };
    const std::string name = "job file " + (folder.path() / "job.toml").string();

    const auto missing = require_fault(folder.path() / "none.toml");
    CHECK(missing.what == "job file " + (folder.path() / "none.toml").string() + ": no such file");
    CHECK(missing.code == FaultCode::Unreadable);
    CHECK(require_fault(folder.path()).what == "job file " + folder.path().string() + ": is a folder, wanted a file");
    CHECK(told("").what == name + ": is empty");
    CHECK(told(" \n\t\n").what == name + ": is empty");
    CHECK(told(std::string("ply\0\1\2", 6)).what == name + ": is not text (it holds zero bytes)");

    const std::string whole = support::read_bytes(kCorpus / "box_gap.toml");
    const auto torn = told(whole.substr(0, whole.find("travel")));
    CHECK(torn.code == FaultCode::Unreadable);
    CHECK(torn.what.rfind("job.toml:14: not TOML: ", 0) == 0);
    CHECK(told("[job]\nname = \"a\"\nname = \"b\"\n").what.rfind("job.toml:3: not TOML: ", 0) == 0);
    CHECK(told("[job]\nname = \"\xff\xfe\"\n").code == FaultCode::Unreadable);
    CHECK(told("hello there\n").code == FaultCode::Unreadable);
}

TEST_CASE("a job cut short anywhere is refused or taken, and never breaks the reader", "[job][faults][property]") {
    // Law: whatever stands in the file, the answer is a job or a fault of the reader's own kinds.
    const support::TempFolder folder;
    for (const char* name : {"box_gap.toml", "every_key.toml"}) {
        const std::string whole = support::read_bytes(kCorpus / name);
        folder.write("woofer.toml", support::read_bytes(kCorpus / "woofer.toml"));
        std::size_t taken = 0;
        for (std::size_t length = 1; length < whole.size(); length += 7) {
            const auto job = job::read_job(folder.write("job.toml", whole.substr(0, length)), Context{});
            if (job) {
                ++taken;
                continue;
            }
            const FaultCode code = job.error().code;
            CHECK((code == FaultCode::Unreadable || code == FaultCode::BadJob));
            CHECK_FALSE(job.error().what.empty());
        }
        CHECK(taken < whole.size() / 20);
    }
}

TEST_CASE("a job with letters changed at random is refused or taken, and never breaks the reader",
          "[job][faults][property]") {
    // Law as above; what it cannot see is whether a job that is taken is read rightly.
    const std::uint64_t seed = 20240611;
    CAPTURE(seed);
    Random random(seed);
    const auto pick = [&](std::size_t n) { return static_cast<std::size_t>(random.next() % n); };
    const support::TempFolder folder;
    folder.write("woofer.toml", support::read_bytes(kCorpus / "woofer.toml"));
    const std::string whole = support::read_bytes(kCorpus / "every_key.toml");
    const std::string letters = "[]{}=\"'\\,.#-+ \n0123456789eax_\x01\xff";
    std::size_t refused = 0;
    for (int round = 0; round < 1500; ++round) {
        std::string text = whole;
        for (std::size_t edits = 1 + pick(4); edits > 0; --edits) {
            const std::size_t at = pick(text.size());
            if (const auto kind = pick(4); kind == 0)
                text.erase(at, 1 + pick(12));
            else if (kind == 1)
                text.insert(at, 1, letters[pick(letters.size())]);
            else if (kind == 2)
                text[at] = letters[pick(letters.size())];
            else
                text.insert(at, text.substr(pick(text.size()), pick(60)));
        }
        const auto job = job::read_job(folder.write("job.toml", text), Context{});
        if (job) continue;
        ++refused;
        // Each names the file it is about; a garbled name of the driver's file need not end in .toml.
        const std::string& what = job.error().what;
        if (what.find(".toml") == std::string::npos && what.rfind("driver file ", 0) != 0)
            FAIL_CHECK(what << "\n" << text);
    }
    CHECK(refused > 700);
    CHECK(refused < 1500);
}

TEST_CASE("the same job reads the same twice", "[job]") {
    CHECK(require_job(kCorpus / "every_key.toml").resolved == require_job(kCorpus / "every_key.toml").resolved);
}

TEST_CASE("the way in may be a list of moves, in the order of going in", "[job]") {
    const support::TempFolder folder;
    const std::string base = support::read_bytes(kCorpus / "box_gap.toml");
    const auto job = require_job(folder.write("job.toml", base + R"(
[space]
insert = [ { slide = [0, "12 cm", -5] }, { turn = "-20 deg", axis = [2, 0, 0], about = [0, 10, 5] }, { slide = [0, 30, 0] } ]
)"));
    const auto& room = job.enclosure.room;
    CHECK_FALSE(room.insert);
    REQUIRE(room.moves.size() == 3);
    CHECK(std::get<space::Slide>(room.moves[0]).by_mm == Vec3{0, 120, -5});
    const auto& turn = std::get<space::Turn>(room.moves[1]);
    CHECK(turn.angle_rad == Approx(-20.0 * std::numbers::pi / 180.0));
    CHECK(turn.axis == Vec3{1, 0, 0});
    CHECK(turn.about == Point3{0, 10, 5});
    CHECK(job.resolved.at("space.insert[1].slide") == "0, 120, -5 mm");
    CHECK(job.resolved.at("space.insert[2].turn") == "-20 deg");
    CHECK(job.resolved.at("space.insert[2].axis") == "2, 0, 0");
    CHECK(job.resolved.at("space.insert[2].about") == "0, 10, 5 mm");
    CHECK(job.resolved.count("space.insert") == 0);
}

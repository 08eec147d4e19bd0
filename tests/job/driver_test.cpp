// The driver of a job: from a file of its own or written in the job, in whose unit, and what is wrong with it.
#include "geom/job/driver_file.h"
#include "tests/job/read_jobs.h"

using namespace geom;
using namespace job_test;

TEST_CASE("a driver's file is in millimetres whatever the job is in", "[job][driver]") {
    const auto job = require_job(kCorpus / "every_key.toml");
    REQUIRE(job.enclosure.driver);
    const auto& mount = *job.enclosure.driver;
    CHECK(mount.centre == Point3{0, 0, 150});
    CHECK(mount.turn.deg() == Approx(45.0));
    CHECK(mount.seal.cord->mm() == 2.5);
    CHECK(mount.tool->diameter.mm() == 10.0);
    CHECK(mount.tool->length.mm() == 120.0);
    const auto& driver = mount.driver;
    CHECK(driver.name == "woofer, 165 mm");
    CHECK(driver.cutout_diameter.mm() == 143.0);
    CHECK(driver.flange_diameter.mm() == 166.0);
    CHECK(driver.flange_thickness->mm() == 5.0);
    CHECK(driver.front_height->mm() == 6.5);
    CHECK(driver.recess->mm() == 4.0);
    CHECK(driver.basket_diameter->mm() == 140.0);
    CHECK(driver.bolt_circle->mm() == 155.0);
    CHECK(driver.bolt_count == 6);
    CHECK(driver.bolt_thread == "M4");
    CHECK(driver.mounting_depth->mm() == Approx(74.93));
    CHECK(driver.magnet_diameter->mm() == 100.0);
    CHECK(driver.magnet_depth->mm() == 20.0);
    CHECK(driver.displacement->litres() == Approx(0.55));
    CHECK(*driver.mass_kg == 1.9);
    CHECK(*driver.fs_hz == 52.0);
    CHECK(*driver.qts == 0.55);
    CHECK(*driver.qes == 0.62);
    CHECK(*driver.qms == 4.9);
    CHECK(driver.vas->litres() == Approx(12.1));
    CHECK(*driver.re_ohm == 3.4);
    CHECK(driver.sd->cm2() == Approx(132.0));
    CHECK(driver.xmax->mm() == 5.5);
    CHECK(*driver.power_w == 75.0);
    CHECK(job.input_files.back() == kCorpus / "woofer.toml");
}

TEST_CASE("a driver's motor values are read in their units, and slips of the unit are refused", "[job][driver]") {
    const support::TempFolder folder;
    const std::string sheet = support::read_bytes(kCorpus / "woofer.toml");
    const auto read = [&](const std::string& more) {
        return job::read_driver_file(folder.write("w.toml", sheet + more));
    };
    const auto file = read("mms = 0.03\ncms = 1.0\nrms = 1.2\nbl = 7\nle = 0.6\n");
    REQUIRE(file);
    CHECK(*file->driver.mms_kg == 0.03);
    CHECK(*file->driver.cms_m_per_n == Approx(1e-3));
    CHECK(*file->driver.rms_kg_per_s == 1.2);
    CHECK(*file->driver.bl_tm == 7.0);
    CHECK(*file->driver.le_h == Approx(0.6e-3));
    CHECK(file->resolved.at("driver.cms") == "1 mm/N");
    const auto refused = [&](const std::string& more, const std::string& what) {
        const auto got = read(more);
        REQUIRE_FALSE(got);
        CHECK(got.error().code == FaultCode::BadJob);
        CHECK_THAT(got.error().what, Catch::Contains(what));
    };
    refused("mms = 30\n", "mms is 30 kg; wanted at most 2 kg");
    refused("cms = 400\n", "cms is 400 mm/N; wanted at most 50 mm/N");
    refused("le = 600\n", "le is 600 mH; wanted at most 50 mH");
    refused("bl = 0\n", "bl");
    refused("blx = 7\n", "bl");
    CHECK(*job::is_job_file(kCorpus / "box_gap.toml"));
    CHECK_FALSE(*job::is_job_file(kCorpus / "woofer.toml"));
}

TEST_CASE("a driver written in the job is in the job's unit and is otherwise the same", "[job][driver]") {
    const support::TempFolder folder;
    std::string text = support::read_bytes(kCorpus / "box_gap.toml");
    text += "[driver]\ncentre = [0, 0, 150]\n" + support::read_bytes(kCorpus / "woofer.toml");
    const auto inside = require_job(folder.write("job.toml", text));
    const auto beside = require_job(kCorpus / "every_key.toml");
    REQUIRE(inside.enclosure.driver);
    CHECK(inside.enclosure.driver->turn.deg() == 0.0);
    CHECK(inside.enclosure.driver->driver.cutout_diameter == beside.enclosure.driver->driver.cutout_diameter);
    CHECK(inside.enclosure.driver->driver.mounting_depth->mm() == beside.enclosure.driver->driver.mounting_depth->mm());
    CHECK(inside.resolved.at("driver.fs") == "52 Hz");
    CHECK(inside.resolved.at("driver.seal") == "tape (default)");
    CHECK(inside.resolved.at("driver.tool") == "of the ISO tool sizes (default)");
    CHECK(beside.resolved.at("driver.seal.cord") == "2.5 mm");
    CHECK(beside.resolved.at("enclosure.baffle.seal.cord") == "3 mm");
    CHECK(inside.resolved.at("driver.fs") == beside.resolved.at("driver.fs"));
}

TEST_CASE("a driver's file may state its unit", "[job][driver]") {
    const support::TempFolder folder;
    folder.write("d.toml", "length_unit = \"in\"\ncutout_diameter = 5.5\nflange_diameter = 6.5\nxmax = \"5 mm\"\n");
    const auto job = require_job(folder.write("job.toml", support::read_bytes(kCorpus / "box_gap.toml") +
                                                              "[[driver]]\nfile = \"d.toml\"\ncentre = [0, 0, 150]\n"));
    REQUIRE(job.enclosure.driver);
    CHECK(job.enclosure.driver->driver.cutout_diameter.mm() == Approx(5.5 * 25.4));
    CHECK(job.enclosure.driver->driver.xmax->mm() == 5.0);
    CHECK(job.enclosure.driver->driver.name == "d");
    CHECK_FALSE(job.enclosure.driver->driver.fs_hz.has_value());
    CHECK(job.resolved.at("driver.fs") == "not given (default)");
}

TEST_CASE("a fault in the driver's file names that file and its line", "[job][driver][faults]") {
    const support::TempFolder folder;
    const auto job = folder.write("job.toml", support::read_bytes(kCorpus / "box_gap.toml") +
                                                  "[driver]\nfile = \"d.toml\"\ncentre = [0, 0, 150]\n");
    CHECK(require_fault(job).what == "driver file " + (folder.path() / "d.toml").string() + ": no such file");
    CHECK(require_fault(job).code == FaultCode::Unreadable);
    folder.write("d.toml", "cutout_diameter = 143\nflange_diametre = 166\n");
    CHECK(require_fault(job).what ==
          "d.toml:2: unknown key 'flange_diametre' in the driver file; did you mean 'flange_diameter'?");
    folder.write("d.toml", "cutout_diameter = 143\n");
    CHECK(require_fault(job).what == "d.toml: flange_diameter is missing");
    folder.write("d.toml", "cutout_diameter = 143\nflange_diameter = 166\nbolt_thread = \"M45\"\n");
    CHECK(require_fault(job).what ==
          "d.toml:3: bolt_thread is \"M45\": unknown thread; wanted M3, M4, M5, M6, M8 or M10");
}

TEST_CASE("further drivers are copies of the first, or drivers of their own", "[job][driver]") {
    const support::TempFolder folder;
    folder.write("mid.toml", "cutout_diameter = 76\nflange_diameter = 96\nfs = 110\n");
    const auto file = folder.write(
        "job.toml", support::read_bytes(kCorpus / "box_gap.toml") +
                        "[[driver]]\nname = \"woofer\"\ncentre = [0, 0, 60]\nwired = { series = 2, parallel = 2 }\n"
                        "cutout_diameter = 140\nflange_diameter = 166\nfs = 40\n"
                        "[[driver]]\ncentre = [0, 0, 120]\nturn = \"30 deg\"\n"
                        "[[driver]]\ncentre = [0, 0, 180]\nfile = \"mid.toml\"\n"
                        "[[driver]]\ncentre = [0, 0, 250]\ncutout_diameter = 60\nflange_diameter = 80\nfs = 150\n");
    const auto job = require_job(file);
    const auto& more = job.enclosure.more_drivers;
    REQUIRE(more.size() == 3);
    CHECK_FALSE(more[0].driver);
    CHECK(more[1].driver->name == "mid");
    CHECK(more[2].driver->name == "driver 4");
    const auto drivers = job.enclosure.drivers();
    REQUIRE(drivers.size() == 4);
    const double fs[] = {40.0, 40.0, 110.0, 150.0}, z[] = {60.0, 120.0, 180.0, 250.0};
    for (std::size_t i = 0; i < 4; ++i) {
        CHECK(*drivers[i].driver.fs_hz == fs[i]);
        CHECK(drivers[i].centre.z == z[i]);
    }
    CHECK(drivers[1].turn.deg() == Approx(30.0));
    CHECK(job.input_files.back() == folder.path() / "mid.toml");
    CHECK(job.resolved.at("driver[3].fs") == "110 Hz");
    CHECK(job.resolved.at("driver[4].fs") == "150 Hz");
    // What is wrong in another driver's file is told of that file.
    folder.write("mid.toml", "cutout_diameter = 76\n");
    CHECK(require_fault(file).what == "mid.toml: flange_diameter is missing");
}

TEST_CASE("a further driver that names the first one's file is a copy of it", "[job][driver]") {
    const support::TempFolder folder;
    folder.write("d.toml", "cutout_diameter = 76\nflange_diameter = 96\n");
    const auto job = require_job(
        folder.write("job.toml", support::read_bytes(kCorpus / "box_gap.toml") +
                                     "[[driver]]\nfile = \"d.toml\"\ncentre = [0, 0, 100]\nwired = { parallel = 2 }\n"
                                     "[[driver]]\nfile = \"d.toml\"\ncentre = [0, 0, 200]\n"));
    REQUIRE(job.enclosure.more_drivers.size() == 1);
    CHECK_FALSE(job.enclosure.more_drivers[0].driver);
    CHECK(std::count(job.input_files.begin(), job.input_files.end(), folder.path() / "d.toml") == 1);
}

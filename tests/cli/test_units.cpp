// A job whose scan is read in a wrong unit: whatever the file's true unit and whichever the job states, the fault names
// the true one.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <fmt/format.h>
#include <catch2/catch.hpp>

namespace {

using Catch::Contains;
using geom::Point3;
using geom::Vec3;

struct Unit {
    const char* name;
    double mm;
};
constexpr Unit kUnits[] = {{"mm", 1.0}, {"cm", 10.0}, {"m", 1000.0}, {"in", 25.4}};

struct Scene {
    const char* name;
    std::vector<Point3> points;  ///< mm, vehicle
    std::string air, more;
};

std::vector<Point3> moved(std::vector<Point3> points, double by, Vec3 shift) {
    for (Point3& p : points) p = p * by + shift;
    return points;
}

std::vector<Scene> scenes() {
    const auto box = support::box_gap_points(10.0);
    return {
        // The origin lies in the gap, as the scanner's own frame has it: air alone would be in it in larger units too.
        {"a fixing on the side wall", box, "[0, 120, 125]",
         "[[fixing]]\nname = \"rail\"\nkind = \"foot\"\npoint = [-100, 120, 125]\naxis = [-1, 0, 0]\nthread = "
         "\"M8\"\n"},
        {"air alone, in the vehicle's frame", moved(box, 1.0, {400, 1500, 300}), "[400, 1620, 425]", ""},
        {"a keep-out in a gap four times as large", moved(box, 4.0, {-900, 600, 200}), "[-900, 1100, 700]",
         "[[space.keep_out]]\nname = \"buckle\"\nbox = { min = [-800, 900, 200], max = [-700, 1000, 500] }\n"},
    };
}

}  // namespace

TEST_CASE("a job whose places lie off its scan in the stated unit names the unit that would fit", "[cli][unit]") {
    int tried = 0;
    for (const Scene& scene : scenes())
        for (const Unit& file : kUnits)
            for (const Unit& stated : kUnits) {
                if (file.name == stated.name) continue;
                CAPTURE(scene.name, file.name, stated.name);
                const support::TempFolder folder;
                std::string job = support::box_gap_job("air = [0, 120, 125]", "air = " + scene.air, scene.more);
                const std::string line = "files = [\"gap.ply\"]\nlength_unit = \"";
                const auto at = job.find(line);
                REQUIRE(at != std::string::npos);
                job.replace(at + line.size(), 2, stated.name);
                folder.write("job.toml", job);
                folder.write("gap.ply", support::as_binary_ply(moved(scene.points, 1.0 / file.mm, {})));
                const auto before = support::contents_of(folder.path());
                const auto ran = support::run_program({"enclosure", (folder.path() / "job.toml").string()});
                INFO(ran.err << ran.out);
                CHECK(ran.exit == 3);
                CHECK_THAT(ran.err, Contains("set [scan] length_unit = ") &&
                                        Contains(fmt::format("\"{}\" (", file.name)) && Contains("of the job lie"));
                CHECK(support::contents_of(folder.path()) == before);
                ++tried;
            }
    CHECK(tried == 36);
}

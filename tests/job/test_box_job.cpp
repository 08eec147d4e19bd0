// [box]: its keys, what stands for them when they are left out, and what is said of those that make no sense.
#include "tests/job/read_jobs.h"

#include <fstream>

using namespace job_test;

namespace {

/// A job of a rectangular box, with one piece of its text changed.
std::filesystem::path edited(const support::TempFolder& folder, const std::string& from = {},
                             const std::string& into = {}) {
    std::string text = R"([job]
name = "box"
part = "box"
[box]
shape = "rectangular"
width = 320
height = "26 cm"
depth = "solve"
wall = 18
walls = { front = [18, 12], top = 9 }
[enclosure]
net_volume = "12 L"
)";
    if (!from.empty()) {
        const auto at = text.find(from);
        REQUIRE(at != std::string::npos);
        text.replace(at, from.size(), into);
    }
    std::ofstream(folder.path() / "job.toml") << text;
    return folder.path() / "job.toml";
}

}  // namespace

TEST_CASE("a box from numbers is read with its sizes, walls and joints", "[job][box]") {
    const support::TempFolder folder;
    const job::Job job = require_job(edited(folder));
    REQUIRE(job.box);
    const parts::BoxRequest& box = *job.box;
    CHECK(job.part == "box");
    CHECK(box.sizes.at(parts::BoxSize::Width).mm() == 320);
    CHECK(box.sizes.at(parts::BoxSize::Height).mm() == Approx(260));
    CHECK(box.solve == parts::BoxSize::Depth);
    CHECK(box.walls.at("front").size() == 2);
    CHECK(box.walls.at("front")[1].mm() == 12);
    CHECK(box.walls.at("top")[0].mm() == 9);
    CHECK(box.through.size() == 6);
    CHECK(box.baffle == "front");
    CHECK(box.enclosure.wall.mm() == 18);
    CHECK(box.enclosure.make.method == parts::Method::Boards);
    CHECK(box.enclosure.material.name == "MDF");
    CHECK(box.enclosure.net_volume.litres() == Approx(12));
    CHECK(job.resolved.at("box.through") == "top, bottom, left, right, back and front (default)");
    CHECK(require_job(edited(folder, "wall = 18", "wall = 18\njoints = \"mitre\"")).box->through.empty());
}

TEST_CASE("keys of a box that make no sense are refused by name, with what to try", "[job][box][faults]") {
    const support::TempFolder folder;
    const auto refused = [&](const std::string& from, const std::string& into, const std::string& what) {
        INFO(into);
        const Fault fault = require_fault(edited(folder, from, into));
        CHECK(fault.code == FaultCode::BadJob);
        CHECK_THAT(fault.what, Catch::Contains(what));
        CHECK(!fault.hint.empty());
    };
    refused("width = 320", "width = \"solve\"", "depth is to be found as well as width");
    refused("depth = \"solve\"", "depth = 200\nsolve_range = [1, 2]", "all given");
    refused("depth = \"solve\"", "depth = \"solve\"\nsolve_range = [200, 100]", "the least");
    refused("net_volume = \"12 L\"", "", "no volume is asked for");
    refused("width = 320", "width = 320\ndiameter = 200", "diameter is no size of this shape");
    refused("width = 320", "width = 320\nsloping = [\"front\"]", "sloping is of a wedge");
    refused("wall = 18", "wall = 1", "wall is 1 mm; wanted at least 3 mm");
    refused("top = 9", "topp = 9", "did you mean 'top'");
    refused("[18, 12]", "[18, -1]", "layer of -1 mm");
    refused("wall = 18", "wall = 18\njoints = \"mitre\"\nthrough = [\"top\"]", "through is of butt joints");
    refused("[enclosure]", "[scan]\nfiles = [\"a.ply\"]\n[enclosure]", "[scan] stands in a job of part = \"box\"");
    refused("[enclosure]", "[[fixing]]\nkind = \"foot\"\n[enclosure]", "stands in a job of part = \"box\"");
    refused("net_volume", "wall = 6\nnet_volume", "[enclosure] wall is of a box that follows a scan");
    refused("net_volume", "baffle = { travel = [0, 1] }\nnet_volume", "baffle travel is of a box that follows a scan");
    refused("net_volume", "baffle = { shape = \"dish\", dish = { depth = 5 } }\nnet_volume",
            "is no plane, and boards are");
    refused("shape = \"rectangular\"", "shape = \"prism\"", "width is no size of this shape");
}

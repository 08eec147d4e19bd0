// Delivery with verdicts and faults of every kind in place of the real judge: what is promised here is what lies in the
// folder afterwards, and that has nothing to do with how a part is measured.
#include "exports/internal/delivery_steps.h"
#include "exports/internal/placing.h"
#include "tests/exports/test_parts.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <unistd.h>
#include <algorithm>
#include <limits>
#include <map>

using namespace exports;
namespace fs = std::filesystem;
using geom::FaultCode;
using geom::check::Kind;
using geom::check::Verdict;

namespace {

/// What lies in a folder: names of files and folders (with a slash) to bytes.
std::map<std::string, std::string> contents(const fs::path& folder) {
    std::map<std::string, std::string> out;
    if (!fs::exists(folder)) return out;
    for (const auto& entry : fs::recursive_directory_iterator(folder)) {
        const std::string name = fs::relative(entry.path(), folder).string();
        if (entry.is_directory())
            out[name + "/"] = "";
        else
            out[name] = support::read_bytes(entry.path());
    }
    return out;
}

Verdict good_verdict() {
    Verdict v;
    v.lines = {{"closed", Kind::SoundSolid, true, 1, 1, "", "every edge of the written STL twice"},
               {"least wall", Kind::Fit, true, 5.72, 5.58, "mm", "at the named place"}};
    v.net_by_mesh = geom::Volume::litres(9.4991);
    v.wall = {6.0, 5.72, 6.0, {10, 20, 30}};
    v.clearance = {.asked_mm = 4.0,
                   .min_mm = 3.9,
                   .along_insertion_min_mm = 3.7,
                   .bound_mm = 0.42,
                   .edge_bound_mm = 0.42,
                   .at = {1, 2, 3},
                   .along_insertion_at = {4, 5, 6},
                   .raw_points_nearer = 17};
    v.mass_kg = 2.41;
    v.box = {{-120, 0, 0}, {120, 260, 330}};
    v.faces = 12;
    v.valid = v.closed = true;
    return v;
}

struct Bench {
    geom::Brep solid = test_parts::plain_box(120, 80, 60);
    geom::parts::Made made = test_parts::made_of(solid, {{-60, 0, 0}, {60, 80, 60}});
    geom::parts::EnclosureRequest request = test_parts::request();
    geom::scan::Surface surface = test_parts::gap_round({{-60, 0, 0}, {60, 80, 60}}, 4, 2000);
    JobRecord job{"seat-gap", "enclosure", "0.1.0", {{"gap.ply", std::string(64, 'a')}}, {{"space.clearance", "4 mm"}}};
    Verdict verdict = good_verdict();
    DeliverySteps steps{
        [](const geom::Brep& shape, geom::Length chord, const geom::Context&) -> geom::Result<geom::TriMesh> {
            return test_parts::mesh_of(shape, chord.mm());
        },
        [this](const auto&, const auto&, const auto&, const geom::check::Written& written,
               const geom::Context&) -> geom::Result<Verdict> {
            // The judge must find whole files: it is the one who reads them back.
            CHECK(fs::file_size(written.step) > 1000);
            for (const auto& p : written.products) CHECK(fs::file_size(p.stl) > 84);
            return verdict;
        },
        [](const auto&, const auto&) {
            return std::vector<geom::check::Caution>{{"drilling", "look behind first"}};
        },
        [](const PictureInput& input, const auto&) -> geom::Result<std::vector<Picture>> {
            // Drawing takes a second and is tested elsewhere; here only what becomes of the bytes matters.
            return std::vector<Picture>{{"iso", "png", "iso of " + input.title}, {"views", "svg", input.facts.at(0)}};
        }};

    geom::Result<Delivered> run(const fs::path& folder, const geom::Context& context = {}) {
        return deliver_by(steps, made, request, surface, job, folder, context);
    }
};

}  // namespace

TEST_CASE("a proved part leaves its files, a report that lists them, and nothing else", "[exports][delivery]") {
    const support::TempFolder temp;
    Bench bench;
    bench.steps.pictures = make_pictures;
    const auto delivered = bench.run(temp.path() / "out");
    REQUIRE(delivered.has_value());
    CHECK(delivered->proved);
    std::vector<std::string> names;
    for (const auto& [name, bytes] : contents(temp.path() / "out")) names.push_back(name);
    auto listed = delivered->files;
    std::sort(listed.begin(), listed.end());
    CHECK(names == listed);
    CHECK(names == std::vector<std::string>{"report.json", "seat-gap-iso.png", "seat-gap-scan.png",
                                            "seat-gap-views.png", "seat-gap-views.svg", "seat-gap.step",
                                            "seat-gap.stl"});
    const auto report = nlohmann::json::parse(support::read_bytes(temp.path() / "out" / "report.json"));
    CHECK(report["files"] == nlohmann::json(delivered->files));
    CHECK(delivered->report_json == support::read_bytes(temp.path() / "out" / "report.json"));
}

TEST_CASE("several products leave one STL each", "[exports][delivery]") {
    const support::TempFolder temp;
    Bench bench;
    auto& products = bench.made.enclosure.products;
    products.push_back(products[0]);
    products[1].name = "baffle";
    products.push_back(products[0]);
    products[2].name = "baffle";
    REQUIRE(bench.run(temp.path()).has_value());
    const auto left = contents(temp.path());
    for (const char* name : {"seat-gap-shell.stl", "seat-gap-baffle.stl", "seat-gap-baffle-2.stl"})
        CHECK(left.count(name) == 1);
    CHECK(left.count("seat-gap.stl") == 0);
}

TEST_CASE("a failed fit check leaves unproved files beside earlier good ones", "[exports][delivery]") {
    const support::TempFolder temp;
    Bench bench;
    REQUIRE(bench.run(temp.path()).has_value());
    const auto before = contents(temp.path());
    bench.verdict.lines[1].ok = false;
    bench.verdict.lines[1].value = 4.1;
    const auto delivered = bench.run(temp.path());
    REQUIRE(delivered.has_value());
    CHECK_FALSE(delivered->proved);
    const auto after = contents(temp.path());
    for (const auto& [name, bytes] : before) CHECK(after.at(name) == bytes);
    CHECK(after.size() == before.size() + delivered->files.size());
    for (const auto& name : delivered->files) CHECK(name.rfind("seat-gap.unproved.", 0) == 0);
    const auto report = nlohmann::json::parse(after.at("seat-gap.unproved.report.json"));
    CHECK(report["proved"] == false);
    CHECK(report["checks"][1]["ok"] == false);
    CHECK(report["checks"][1]["value"] == 4.1);

    // Once the part is proved the unproved files go, and nothing else does.
    bench.verdict.lines[1].ok = true;
    temp.write("notes.txt", "mine");
    REQUIRE(bench.run(temp.path()).has_value());
    const auto proved = contents(temp.path());
    CHECK(proved.count("notes.txt") == 1);
    CHECK(proved.size() == before.size() + 1);
    for (const auto& [name, bytes] : proved) CHECK(name.find(".unproved.") == std::string::npos);
}

TEST_CASE("a failed sound-solid check leaves the folder as it was and says which check failed", "[exports][delivery]") {
    const support::TempFolder temp;
    temp.write("seat-gap.step", "earlier");
    temp.write("notes/own.txt", "mine");
    const auto before = contents(temp.path());
    Bench bench;
    bench.verdict.lines.push_back(
        {"the three volumes agree", Kind::SoundSolid, false, 0.4, 0.1, "%", "mesh against B-rep"});
    bench.verdict.lines.front().place = geom::Point3{1, 2, 3};
    bench.verdict.lines.back().place = geom::Point3{3, 4, 5};
    const auto delivered = bench.run(temp.path());
    REQUIRE_FALSE(delivered.has_value());
    CHECK(delivered.error().code == FaultCode::NotSound);
    // The place is that of the failed line that knows one, not of a line that holds.
    REQUIRE(delivered.error().where);
    CHECK(geom::distance(*delivered.error().where, {3, 4, 5}) == 0.0);
    CHECK(delivered.error().what ==
          "the written part is no sound solid: the three volumes agree: 0.4 %, limit 0.1 % (mesh against B-rep)");
    CHECK_FALSE(delivered.error().hint.empty());
    CHECK(contents(temp.path()) == before);
}

TEST_CASE("whatever step fails, the folder is as it was", "[exports][delivery]") {
    const support::TempFolder temp;
    const fs::path folder = temp.path() / "made" / "by" / "us";
    const bool existed = GENERATE(false, true);
    CAPTURE(existed);
    if (existed) {
        fs::create_directories(folder);
        temp.write("made/by/us/seat-gap.stl", "earlier");
    }
    const auto before = contents(temp.path());
    const geom::Fault fault{FaultCode::Internal, "injected", {}, {}, {}};
    Bench bench;
    SECTION("meshing") {
        bench.steps.tessellate = [&](const auto&, auto, const auto&) -> geom::Result<geom::TriMesh> { return fault; };
        CHECK(bench.run(folder).error().what == "injected");
    }
    SECTION("judging") {
        bench.steps.judge = [&](const auto&, const auto&, const auto&, const auto&,
                                const auto&) -> geom::Result<Verdict> { return fault; };
        CHECK(bench.run(folder).error().what == "injected");
    }
    SECTION("drawing") {
        bench.steps.pictures = [&](const auto&, const auto&) -> geom::Result<std::vector<Picture>> { return fault; };
        CHECK(bench.run(folder).error().what == "injected");
    }
    SECTION("an exception from below") {
        bench.steps.judge = [&](const auto&, const auto&, const auto&, const auto&,
                                const auto&) -> geom::Result<Verdict> { throw std::bad_alloc(); };
        CHECK_THROWS_AS(bench.run(folder), std::bad_alloc);
    }
    SECTION("interrupted while judging") {
        std::atomic<bool> cancel{false};
        geom::Context context;
        context.cancel = &cancel;
        bench.steps.judge = [&](const auto&, const auto&, const auto&, const auto&,
                                const auto&) -> geom::Result<Verdict> {
            cancel = true;
            return bench.verdict;
        };
        CHECK(bench.run(folder, context).error().code == FaultCode::Interrupted);
    }
    CHECK(contents(temp.path()) == before);
}

TEST_CASE("a name that cannot be replaced undoes the files placed before it", "[exports][delivery]") {
    const support::TempFolder temp;
    temp.write("seat-gap.step", "earlier step");
    temp.write("seat-gap.stl", "earlier stl");
    // A folder in the way of one of our names, seen before anything is moved.
    temp.write("seat-gap-views.svg/in-the-way", "x");
    const auto before = contents(temp.path());
    Bench bench;
    const auto delivered = bench.run(temp.path());
    REQUIRE_FALSE(delivered.has_value());
    CHECK(delivered.error().code == FaultCode::CannotWrite);
    CHECK(delivered.error().what == "seat-gap-views.svg in the output folder: a folder of that name is in the way");
    CHECK(contents(temp.path()) == before);
}

TEST_CASE("a rename that fails half way puts every earlier file back", "[exports][delivery]") {
    const support::TempFolder temp;
    temp.write("a", "old a");
    const auto before = contents(temp.path());
    {
        auto target = TargetFolder::open(temp.path());
        REQUIRE(target.has_value());
        std::ofstream(target->temporary() / "a") << "new a";
        std::ofstream(target->temporary() / "b") << "new b";
        // "b/c" is made in the temporary folder but has no folder to go to: its rename fails after a and b are placed.
        fs::create_directory(target->temporary() / "sub");
        std::ofstream(target->temporary() / "sub" / "c") << "new c";
        const auto status = target->place({"a", "b", "sub/c"});
        REQUIRE_FALSE(status.has_value());
        CHECK(status.error().what.find("sub/c cannot be placed in the output folder") == 0);
    }
    CHECK(contents(temp.path()) == before);
}

TEST_CASE("an output folder that cannot be made or written to is a fault with the system's reason",
          "[exports][delivery]") {
    const support::TempFolder temp;
    Bench bench;
    const auto file = temp.write("a-file", "x");
    const auto on_file = bench.run(file);
    REQUIRE_FALSE(on_file.has_value());
    CHECK(on_file.error().code == FaultCode::CannotWrite);
    CHECK(on_file.error().what == "output folder " + file.string() + ": it is a file, not a folder");
    const auto under_file = bench.run(file / "below");
    REQUIRE_FALSE(under_file.has_value());
    CHECK(under_file.error().code == FaultCode::CannotWrite);
    const auto in_proc = bench.run("/proc/gapwright-out");
    REQUIRE_FALSE(in_proc.has_value());
    CHECK(in_proc.error().code == FaultCode::CannotWrite);
    if (::geteuid() != 0) {  // root may write anywhere
        const fs::path locked = temp.path() / "locked";
        fs::create_directory(locked);
        fs::permissions(locked, fs::perms::owner_read | fs::perms::owner_exec);
        const auto in_locked = bench.run(locked);
        fs::permissions(locked, fs::perms::owner_all);
        REQUIRE_FALSE(in_locked.has_value());
        CHECK(in_locked.error().code == FaultCode::CannotWrite);
        CHECK(in_locked.error().what ==
              "output folder " + locked.string() + " cannot be written to: Permission denied");
    }
    CHECK(contents(temp.path()) == std::map<std::string, std::string>{{"a-file", "x"}});
}

TEST_CASE("two runs of the same job leave the same bytes", "[exports][delivery][property]") {
    const support::TempFolder temp;
    REQUIRE(Bench{}.run(temp.path() / "a").has_value());
    REQUIRE(Bench{}.run(temp.path() / "b" / "deeper").has_value());
    CHECK((contents(temp.path() / "a") == contents(temp.path() / "b" / "deeper")));
    const auto first = contents(temp.path() / "a");
    REQUIRE(Bench{}.run(temp.path() / "a").has_value());
    CHECK((contents(temp.path() / "a") == first));
}

TEST_CASE("a job's name never leads out of the folder", "[exports][delivery]") {
    CHECK(file_stem("../../etc/x") == "-..-etc-x");
    CHECK(file_stem("a/b\\c:d") == "a-b-c-d");
    CHECK(file_stem("...") == "part");
    CHECK(file_stem("") == "part");
    CHECK(file_stem("L\xc3\xbc"
                    "cke 9.5") ==
          "L\xc3\xbc"
          "cke 9.5");
}

TEST_CASE("the report has every key of the contract and only finite numbers", "[exports][report]") {
    const support::TempFolder temp;
    Bench bench;
    bench.verdict.wall.min_mm = std::numeric_limits<double>::quiet_NaN();
    const auto report = nlohmann::json::parse(bench.run(temp.path()).value().report_json);
    for (const char* key : {"job", "part", "inputs", "resolved", "net_volume", "ledger", "solid", "wall", "clearance",
                            "fixings", "driver_fit", "sound", "checks", "cautions", "files"})
        CHECK(report.contains(key));
    for (const char* key : {"litres", "asked_litres", "error_rel", "uncertainty_rel", "by"})
        CHECK(report["net_volume"].contains(key));
    for (const char* key : {"field", "brep", "mesh"}) CHECK(report["net_volume"]["by"].contains(key));
    for (const char* key : {"valid", "closed", "faces", "bspline_faces", "plane_faces", "mass_kg", "centre_of_mass_mm",
                            "bounding_box_mm"})
        CHECK(report["solid"].contains(key));
    for (const char* key : {"asked_mm", "min_mm", "median_mm", "at"}) CHECK(report["wall"].contains(key));
    for (const char* key : {"asked_mm", "min_mm", "bound_mm", "at", "along_insertion_min_mm"})
        CHECK(report["clearance"].contains(key));
    for (const char* key : {"name", "ok", "value", "limit", "note"}) CHECK(report["checks"][0].contains(key));
    CHECK(report["wall"]["min_mm"].is_null());
    CHECK(report["net_volume"]["litres"] == 9.5002);
    CHECK(report["net_volume"]["error_rel"].get<double>() == Approx(9.5002 / 9.5 - 1.0).margin(1e-7));
    CHECK(report["net_volume"]["by"]["mesh"] == 9.4991);
    CHECK(report["inputs"][0]["sha256"] == std::string(64, 'a'));
    CHECK(report["resolved"]["space.clearance"] == "4 mm");
    CHECK(report["cautions"][0]["name"] == "drilling");
    double sum = 0.0;
    for (const auto& line : report["ledger"]) sum += line["litres"].get<double>();
    CHECK(sum == Approx(9.5002).margin(1e-6));
}

TEST_CASE("the report says nothing of the time, the machine or the folder", "[exports][report]") {
    const support::TempFolder temp;
    const std::string text = Bench{}.run(temp.path()).value().report_json;
    CHECK(text.find(temp.path().string()) == std::string::npos);
    CHECK(text.find("/tmp") == std::string::npos);
    CHECK(text.find("202") == std::string::npos);  // no year
}

// One edge of two limits that stays sharp, from the job file to the checked files.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"
#include "tests/cli/stl_corners.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <numbers>

namespace {

using Catch::Contains;

constexpr double kEdge_mm = 12.0, kInner_mm = 6.0;

/// The plain gap with two limits that meet in an upright edge; `keys` stand in the first.
std::string cornered_job(const std::string& keys) {
    return support::box_gap_job("voxel = 4\n",
                                "voxel = 3\n"
                                "limits = [ { name = \"side\", point = [80, 0, 0], outward = [1, 0, 0]" +
                                    keys +
                                    " },\n           { name = \"rear\", point = [0, 200, 0], outward = [0, 1, 0] },\n"
                                    "           { name = \"back wall\", point = [0, 220, 0], outward = [0, 1, 0] },\n"
                                    "           { name = \"ahead\", point = [0, -400, 0], outward = [0, -1, 0] } ]\n");
}

struct Made : support::Ran {
    std::string stl{};  ///< bytes; none where none was left
};

Made run(const std::string& keys, std::vector<std::string> words = {"enclosure"}) {
    const support::TempFolder folder;
    folder.write("job.toml", cornered_job(keys));
    folder.write("gap.ply", support::as_binary_ply(support::box_gap_points()));
    words.insert(words.begin() + 1, {(folder.path() / "job.toml").string(), "--json"});
    Made made{support::run_program(words)};
    const auto stl = folder.path() / "box-gap" / "box-gap.stl";
    if (std::filesystem::exists(stl)) made.stl = support::read_bytes(stl);
    return made;
}

/// How near a shell comes to the edge x = 80, y = 200, in its file.
double off_edge_mm(const std::string& stl) {
    double least = 1e300;
    for (const geom::Point3& p : support::stl_corners(stl))
        least = std::min(least, std::hypot(p.x - 80.0, p.y - 200.0));
    return least;
}

double litres_of(const nlohmann::json& report, const std::string& line) {
    for (const auto& l : report.at("ledger"))
        if (l.at("name") == line) return l.at("litres").get<double>();
    return 0.0;
}

/// Of the section between an edge at a right angle and its rounding.
double section_mm2(double radius) {
    return radius * radius * (1.0 - std::numbers::pi / 4.0);
}

}  // namespace

TEST_CASE("a named edge of two limits stays sharp, and the box holds what is asked", "[cli][sharp]") {
    const auto with = run(", sharp_with = \"rear\""), without = run("");
    INFO(with.err << with.out);
    REQUIRE(with.exit == 0);
    REQUIRE(without.exit == 0);
    const auto sharp = nlohmann::json::parse(with.out), rounded = nlohmann::json::parse(without.out);
    for (const auto* report : {&sharp, &rounded})
        for (const char* way : {"field", "brep", "mesh"})
            CHECK(report->at("net_volume").at("by").at(way).get<double>() == Approx(4.0).epsilon(0.002));

    // Upright from floor to lid: 250 less two clearances, two roundings, two run-outs of 3 radii; the air's bar lies in
    // what is sharp outside, run-outs and all. The ground beside it has to be flat, which costs some more at both ends.
    const double gained = litres_of(sharp, "sharp edge side / rear");
    CHECK(litres_of(rounded, "sharp edge side / rear") == 0.0);
    const double sharp_mm = 250.0 - 2.0 * 4.0 - 2.0 * kEdge_mm - 6.0 * kEdge_mm;
    const double most = section_mm2(kInner_mm) * (sharp_mm - 3.0 * kInner_mm) / 1e6;
    CHECK(gained < most);
    CHECK(gained > 0.5 * most);
    CHECK(off_edge_mm(with.stl) < 1e-4);
    // A rounding keeps off the edge by R (sqrt 2 - 1); the skin's is off that by a little.
    CHECK(off_edge_mm(without.stl) == Approx(kEdge_mm * (std::numbers::sqrt2 - 1.0)).margin(0.2));
    // What the edge gains, the baffle gives back.
    const double back_mm = rounded.at("baffle").at("t_mm").get<double>() - sharp.at("baffle").at("t_mm").get<double>();
    CHECK(back_mm > 0.01);
    bool is_told = false;
    for (const auto& note : sharp.at("notes"))
        is_told = is_told || note.get<std::string>().rfind("edge side / rear: sharp outside over ", 0) == 0;
    CHECK(is_told);
}

TEST_CASE("an edge that cannot stay sharp is refused with what to change", "[cli][sharp][faults]") {
    struct Case {
        const char* keys;
        int exit;
        const char *what, *hint;
    };
    for (const Case& c : std::array<Case, 7>{
             {{", sharp_with = \"reer\"", 3, "limit 'side': sharp_with names 'reer', which is no other limit",
               "name a limit whose plane meets this one"},
              {", sharp_with = \"side\"", 3, "limit 'side': sharp_with names 'side', which is no other limit",
               "name a limit whose plane meets this one"},
              {", sharp = true, sharp_with = [\"rear\"]", 3, "all edges of 'side' are sharp already", "leave sharp"},
              {" }, { name = \"beside\", point = [90, 0, 0], outward = [1, 0.05, 0], sharp_with = \"side\"", 3,
               "limits 'beside' and 'side': their planes meet at 177.1 deg through the box", "leave sharp_with out"},
              {", sharp_with = []", 3, "'side' sharp_with names no limit", "sharp_with = "},
              {", sharp_with = [\"rear\", \"back wall\"]", 4, "limits 'side' and 'back wall': the body does not reach",
               "leave sharp_with out, or move the limits in"},
              {", sharp_with = \"ahead\"", 4, "limits 'side' and 'ahead': the body does not reach",
               "leave sharp_with out"}}}) {
        const auto ran = run(c.keys);
        INFO(c.keys << "\n" << ran.err << ran.out);
        CHECK(ran.exit == c.exit);
        CHECK_THAT(ran.err + ran.out, Contains(c.what));
        CHECK_THAT(ran.err + ran.out, Contains(c.hint));
    }
}

TEST_CASE("the price list says what a sharp edge gains", "[cli][capacity][sharp]") {
    const auto ran = run(", sharp_with = \"rear\"", {"capacity", "--prices"});
    INFO(ran.err << ran.out);
    REQUIRE(ran.exit == 0);
    const auto report = nlohmann::json::parse(ran.out);
    double litres = 0.0;
    for (const auto& price : report.at("prices").at("singles"))
        if (price.at("name") == "sharp edge of 'side' and 'rear'") litres = price.at("litres").get<double>();
    CHECK(litres < 0.0);
    CHECK(-litres * 1e6 < section_mm2(kInner_mm) * 150.0);
}

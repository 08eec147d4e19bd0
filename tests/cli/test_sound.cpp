// What the report of an enclosure tells of its driver: for the measured volume, with its spread; linings; a cabin that
// the user measured. Oracles: Small's closed forms worked here, and a box with the same volume asked of `response`.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>

namespace {

using Catch::Contains;
using nlohmann::json;

// No displacement, and no lengths to estimate it: the volume is known to what the measures differ by.
constexpr const char* kDriver = R"(
[driver]
name = "mid 130"
cutout_diameter = 116
flange_diameter = 132
displacement = "0.25 L"
centre = [0, 0, 125]
fs = 61
qts = 0.48
qes = 0.55
vas = "6.5 L"
re = 3.4
sd = "88 cm2"
xmax = 4.5
power = 60
)";

std::string job(const std::string& enclosure = {}, const std::string& in_job = {}) {
    std::string text = support::box_gap_job("edge_radius = 12\ninner_radius = 6\nvoxel = 4",
                                            "edge_radius = 20\ninner_radius = 14\nvoxel = 3", enclosure + kDriver);
    const std::string name = "name = \"box-gap\"\n";
    return text.insert(text.find(name) + name.size(), in_job);
}

struct MadeJob {
    support::TempFolder folder;
    support::Ran ran;
    std::map<std::string, std::string> files;
    json report;

    explicit MadeJob(const std::string& text) {
        folder.write("job.toml", text);
        folder.write("van.csv", "# at the driver's head\n10, 20\n40, 9\n80, 0\n500, 0\n");
        folder.write("gap.ply", support::as_binary_ply(support::box_gap_points()));
        ran = support::run_program({"enclosure", (folder.path() / "job.toml").string()});
        INFO(ran.err << ran.out);
        REQUIRE(ran.exit == 0);
        files = support::contents_of(folder.path() / "box-gap");
        report = json::parse(files.at("report.json"));
    }
    double told(const char* name, const char* which = "value") const {
        return report.at("sound").at(name).at(which).get<double>();
    }
    double ledger(const std::string& name) const {
        double sum = 0.0;
        for (const auto& line : report.at("ledger"))
            if (line.at("name") == name) sum += line.at("litres").get<double>();
        return sum;
    }
};

}  // namespace

TEST_CASE("the report tells what the driver does in the volume that was measured", "[cli][sound]") {
    const MadeJob made(job());
    const double litres = made.report.at("net_volume").at("litres").get<double>();
    const double bound = made.report.at("net_volume").at("uncertainty_rel").get<double>();
    CHECK(made.report.at("sound").at("net_litres").get<double>() == litres);
    const auto qtc = [](double v) { return 0.48 * std::sqrt(1.0 + 6.5 / v); };
    CHECK(made.told("alpha") == Approx(6.5 / litres).margin(1e-4));
    CHECK(made.told("qtc") == Approx(qtc(litres)).margin(1e-4));
    CHECK(made.told("qtc", "most") == Approx(qtc(litres * (1.0 - bound))).margin(1e-4));
    CHECK(made.told("qtc", "least") == Approx(qtc(litres * (1.0 + bound))).margin(1e-4));
    CHECK(made.told("fc_hz") == Approx(61.0 / 0.48 * qtc(litres)).margin(1e-3));
    // p = rho (2 pi f)^2 Sd xmax/(2 pi r sqrt 2) at 40 Hz.
    const double w = 2.0 * M_PI * 40.0, p = 1.2041 * w * w * 88e-4 * 4.5e-3 / (2.0 * M_PI * std::sqrt(2.0));
    CHECK(made.told("xmax_level_40_hz_db") == Approx(20.0 * std::log10(p / 20e-6)).margin(1e-3));
    CHECK(made.report.at("sound").at("port").is_null());
    CHECK(made.report.at("sound").at("lining").is_null());
    CHECK_THAT(made.report.at("sound").at("note").dump(), Contains("does not know your cabin"));
    CHECK_THAT(made.ran.out, Contains("sound        mid 130 closed: Qtc 0.") && Contains("  at 40 Hz"));
    CHECK(made.files.at("box-gap-response.svg").find("mid 130 in 4.00 L") != std::string::npos);
    CHECK(made.files.count("box-gap-port-air.svg") == 0);
    bool is_listed = false;
    for (const auto& file : made.report.at("files")) is_listed |= file == "box-gap-response.svg";
    CHECK(is_listed);
}

TEST_CASE("fibre changes what is heard and no volume; a cabin's gain is drawn and changes no number", "[cli][sound]") {
    const MadeJob plain(job());
    const MadeJob lined(job("lining = { thickness = 20, kind = \"fibre\", gain = 1.15 }\n"));
    CHECK(lined.report.at("net_volume") == plain.report.at("net_volume"));
    CHECK(lined.report.at("ledger") == plain.report.at("ledger"));
    CHECK(lined.files.at("box-gap.stl") == plain.files.at("box-gap.stl"));
    CHECK(lined.told("alpha") == Approx(plain.told("alpha") / 1.15).margin(1e-4));
    CHECK(lined.report.at("sound").at("lining").at("gain") == 1.15);

    const MadeJob cabin(job({}, "cabin = \"van.csv\"\n"));
    json without = cabin.report.at("sound");
    CHECK(without.at("cabin_measured") == "van.csv");
    without["cabin_measured"] = nullptr;
    CHECK(without == plain.report.at("sound"));
    CHECK(cabin.report.at("inputs").size() == plain.report.at("inputs").size() + 1);
    CHECK(cabin.files.at("box-gap-response.svg").find("with the cabin of van.csv") != std::string::npos);
    CHECK(plain.files.at("box-gap-response.svg").find("with the cabin") == std::string::npos);
}

TEST_CASE("damping sheet takes its thickness times the inner walls", "[cli][sound]") {
    const MadeJob plain(job()), sheet(job("lining = { thickness = 2, kind = \"sheet\" }\n"));
    CHECK(sheet.report.at("net_volume").at("litres").get<double>() == Approx(4.0).epsilon(0.002));
    const double taken = -sheet.ledger("damping sheet");
    // The box grew by what the sheet takes, less what its front's cut-out does not carry.
    const double grew = sheet.ledger("air behind the baffle") - plain.ledger("air behind the baffle");
    CHECK(grew == Approx(taken).margin(0.004 * 4.0));
    // The air is nearly a box of about 180 x 230 mm behind the baffle, edges rounded by 14: its area within a tenth.
    const double air = sheet.ledger("air behind the baffle") * 1e6, w = 180.0, h = 230.0, d = air / (w * h);
    const double area = 2.0 * (w * h + (w + h) * d) - M_PI * 58.0 * 58.0;
    CHECK(taken * 1e6 / 2.0 == Approx(area).epsilon(0.1));
    CHECK(sheet.told("alpha") == Approx(6.5 / sheet.report.at("net_volume").at("litres").get<double>()).margin(1e-4));
}

// gapwright response of a job whose drivers are unlike: figures against closed forms of each, limits and faults.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>

namespace {

using Catch::Contains;
using nlohmann::json;
using support::run_program;

const std::string kWoofer =
    "cutout_diameter = 116\nflange_diameter = 140\nfs = 45\nqes = 0.5\nqms = 4\nvas = \"9 L\"\nre = 4\n"
    "sd = \"95 cm2\"\nxmax = 4\npower = 60\n";
const std::string kMid =
    "cutout_diameter = 76\nflange_diameter = 96\nfs = 110\nqes = 0.6\nqms = 3\nvas = \"1 L\"\nre = 6\n"
    "sd = \"45 cm2\"\nxmax = 2.5\npower = 20\n";

std::string place(const char* centre) {
    return std::string("\n[[driver]]\ncentre = ") + centre + "\n";
}

struct Job {
    explicit Job(const std::string& drivers) {
        file = folder.write("job.toml", support::box_gap_job("", "", drivers)).string();
        folder.write("gap.ply", "not read");
    }
    support::TempFolder folder;
    std::string file;
};

std::string woofer_and_mid(const char* wired) {
    return place("[0, 0, 80]") + "name = \"woofer\"\nwired = " + wired + "\n" + kWoofer + place("[0, 0, 190]") +
           "name = \"mid\"\n" + kMid;
}

json told(const Job& job, std::vector<std::string> more = {}) {
    std::vector<std::string> words{"response", job.file, "--json"};
    words.insert(words.end(), more.begin(), more.end());
    const auto ran = run_program(words);
    INFO(ran.err);
    REQUIRE(ran.exit == 0);
    return json::parse(ran.out).at("cases").at(0);
}

/// Of a sheet's values, level of the passband at 2.83 V: eta0 by Small, 112.16 dB at 1.
double level_db(double fs, double litres, double qes, double re) {
    const double eta = 4.0 * M_PI * M_PI * std::pow(fs, 3) * litres * 1e-3 / (std::pow(343.21, 3) * qes);
    return 112.16 + 10.0 * std::log10(eta * 2.83 * 2.83 / re);
}

}  // namespace

TEST_CASE("response of unlike drivers tells each and all together", "[cli][response][mixed]") {
    const Job job(woofer_and_mid("{ series = 1, parallel = 2 }"));
    const auto ran = run_program({"response", job.file});
    INFO(ran.out << ran.err);
    REQUIRE(ran.exit == 0);
    for (const char* words :
         {"woofer + mid in 4 L, closed: -3 dB at", "2 unlike ones: 1 in series, 2 of these in parallel",
          "driver 1     woofer", "driver 2     mid", "watts are into 2.4 ohm", "driver 2 mm",
          "the coil of mid gets more", "through no crossover", "unlike drivers have none in common"})
        CHECK_THAT(ran.out, Contains(words));
    CHECK_THAT(ran.out, !Contains("Qtc 0") && !Contains("flattest     "));

    const json c = told(job);
    const json& unlike = c.at("unlike");
    CHECK(unlike.at("nominal_ohm").get<double>() == Approx(2.4));
    // In parallel the mid gets 4/10 of a watt: its 20 W are 50 of all.
    CHECK(unlike.at("power_w").get<double>() == Approx(50.0));
    CHECK(unlike.at("power_limited_by") == "mid");
    CHECK(c.at("watts").get<double>() == Approx(50.0));
    const double both = 20.0 * std::log10(std::pow(10.0, level_db(45, 9, 0.5, 4) / 20.0) +
                                          std::pow(10.0, level_db(110, 1, 0.6, 6) / 20.0));
    for (const auto& value : c.at("driver"))
        if (value.at("name") == "level at 2.83 V") CHECK(value.at("value").get<double>() == Approx(both).margin(0.01));
    CHECK(c.at("box").at("alpha").is_null());
    CHECK_FALSE(c.contains("closed"));
    const json& curves = c.at("curves");
    CHECK(curves.at("excursion_mm").is_null());
    REQUIRE(curves.at("each_cone").size() == 2);
    CHECK(curves.at("each_cone")[1].at("driver") == "mid");
    CHECK(curves.at("each_cone")[1].at("xmax_mm") == 2.5);
    CHECK(curves.at("most_limited_by_driver").size() == curves.at("hz").size());
    CHECK(unlike.at("each")[0].at("string") == 1);
    CHECK(unlike.at("each")[1].at("string") == 2);
}

TEST_CASE("response of unlike drivers is drawn cone by cone, with the port's air", "[cli][response][mixed]") {
    const Job job(woofer_and_mid("{ series = 2 }"));
    const auto out = job.folder.path() / "out";
    const json c = told(job, {"--tuning", "60", "--port", "40 mm", "--out", out.string()});
    CHECK(c.at("unlike").at("nominal_ohm").get<double>() == Approx(10.0));
    // In series the coils share by resistance: 60 W into 4 of 10 ohm, 20 W into 6 of them.
    CHECK(c.at("unlike").at("power_w").get<double>() == Approx(100.0 / 3.0).margin(1e-3));
    CHECK(c.at("unlike").at("each")[1].at("string") == 1);
    CHECK(c.at("unlike").at("losses_at_hz") == 60.0);
    double fastest = 0.0;
    for (const auto& v : c.at("curves").at("port_air_m_s")) fastest = std::max(fastest, v.get<double>());
    CHECK(c.at("port_air").at("most_m_s").get<double>() == Approx(fastest).epsilon(1e-3));
    CHECK_THAT(support::read_bytes(out / "job-response-excursion.svg"),
               Contains("woofer + mid in 4 L at 60 Hz: woofer") && Contains("60 Hz: mid") && Contains("xmax, mid"));
}

TEST_CASE("a second driver of the same values is a copy of the first", "[cli][response][mixed]") {
    const std::string wired = "wired = { series = 1, parallel = 2 }\n", name = "name = \"woofer\"\n";
    const Job copy(place("[0, 0, 80]") + name + wired + kWoofer + place("[0, 0, 190]"));
    const Job written(place("[0, 0, 80]") + name + wired + kWoofer + place("[0, 0, 190]") + name + kWoofer);
    const auto a = run_program({"response", copy.file, "--json"}),
               b = run_program({"response", written.file, "--json"});
    REQUIRE(a.exit == 0);
    CHECK(a.out == b.out);
    CHECK_THAT(a.out, Contains("2 x woofer in 4 L"));
}

TEST_CASE("response names what unlike drivers lack, and a wiring that is not theirs",
          "[cli][response][mixed][faults]") {
    const Job bare(place("[0, 0, 80]") + "name = \"woofer\"\nwired = { parallel = 2 }\n" + kWoofer +
                   place("[0, 0, 190]") + "name = \"mid\"\ncutout_diameter = 76\nflange_diameter = 96\nfs = 110\n");
    const auto lacks = run_program({"response", bare.file});
    CHECK(lacks.exit != 0);
    CHECK_THAT(lacks.err, Contains("driver \"mid\" lacks qes, qms, vas, sd and re"));
    const Job job(woofer_and_mid("{ parallel = 2 }"));
    const auto wired = run_program({"response", job.file, "--parallel", "3"});
    CHECK(wired.exit != 0);
    CHECK_THAT(wired.err, Contains("make 3 drivers, and the job has 2, which are unlike"));
    // The same number another way is taken.
    CHECK(told(job, {"--series", "2"}).at("unlike").at("nominal_ohm").get<double>() == Approx(10.0));
}

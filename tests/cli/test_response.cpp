// gapwright response: text, JSON, plots and faults. The driver is the reference's woofer A by its physical values, so
// that figures are those of its examples E2 and E6 [computed].
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>

namespace {

using Catch::Contains;
using support::run_program;

const char* const kWoofer = R"(name = "woofer A"
cutout_diameter = 184
flange_diameter = 210
re = 3.6
sd = "214 cm2"
mms = 0.030
cms = 1.0
rms = 1.2
bl = 7.0
xmax = 6
power = 150
)";

struct Sheet {
    explicit Sheet(const std::string& text = kWoofer) { file = folder.write("woofer.toml", text).string(); }
    support::TempFolder folder;
    std::string file;
};

double at(const nlohmann::json& one, const char* curve, double hz) {
    const auto& f = one.at("curves").at("hz");
    const auto it =
        std::find_if(f.begin(), f.end(), [&](const auto& v) { return std::abs(v.template get<double>() - hz) < 1e-3; });
    REQUIRE(it != f.end());
    return one.at("curves").at(curve).at(static_cast<std::size_t>(it - f.begin())).get<double>();
}

}  // namespace

TEST_CASE("response tells a closed box in words, and leaves nothing unless asked", "[cli][response]") {
    const Sheet sheet;
    const auto before = support::contents_of(sheet.folder.path());
    const auto ran = run_program({"response", sheet.file, "--volume", "22 L"});
    INFO(ran.out << ran.err);
    CHECK(ran.exit == 0);
    CHECK(ran.err.empty());
    for (const char* told :
         {"woofer A in 22 L, closed: Qtc 0.735, resonance 57.8 Hz, -3 dB at 55.6 Hz, -10 dB at 32.9 Hz",
          "derived      fs 29.06 Hz, qts 0.3698, qes 0.4024, qms 4.564, vas 64.95 L", "leak none, absorption none",
          "passes xmax of 6 mm below", "does not know your cabin", "beyond xmax"})
        CHECK_THAT(ran.out, Contains(told));
    CHECK(support::contents_of(sheet.folder.path()) == before);
    CHECK(run_program({"response", sheet.file, "--volume", "22 L", "--quiet"}).out.empty());
}

TEST_CASE("response JSON and plots have every volume, the same each run", "[cli][response][json]") {
    const Sheet sheet;
    const auto out = sheet.folder.path() / "out";
    const std::vector<std::string> words{"response", sheet.file, "--volume",  "22 L", "--volume", "40 L",
                                         "--from",   "10",       "--to",      "1000", "--watts",  "27.777777777777778",
                                         "--json",   "--out",    out.string()};
    const auto ran = run_program(words);
    INFO(ran.err);
    REQUIRE(ran.exit == 0);
    const auto told = nlohmann::json::parse(ran.out);
    REQUIRE(told.at("cases").size() == 2);
    const auto& e2 = told.at("cases")[0];
    CHECK(e2.at("closed").at("qtc").get<double>() == Approx(0.735204).margin(1e-6));
    CHECK(e2.at("closed").at("f3_hz").get<double>() == Approx(55.6454).margin(1e-4));
    // E2 at 10 and 100 Hz, 10 V.
    CHECK(at(e2, "excursion_mm", 10) == Approx(6.96984).margin(1e-5));
    CHECK(at(e2, "response_db", 100) == Approx(-0.2585).margin(1e-4));
    CHECK(e2.at("curves").at("port_air_m_s").is_null());
    CHECK(told.at("cases")[1].at("label") == "woofer A in 40 L");
    CHECK(support::read_bytes(out / "woofer-response.json") == ran.out);
    for (const char* plot : {"relative", "level", "most", "excursion", "delay", "impedance"})
        CHECK_THAT(support::read_bytes(out / (std::string("woofer-response-") + plot + ".svg")),
                   Contains("woofer A in 22 L") && Contains("woofer A in 40 L"));
    CHECK_FALSE(std::filesystem::exists(out / "woofer-response-port.svg"));
    const auto before = support::contents_of(out);
    CHECK(run_program(words).out == ran.out);
    CHECK(support::contents_of(out) == before);
}

TEST_CASE("response gives a tuned box its port, and judges the air in it", "[cli][response]") {
    const Sheet sheet;
    const std::vector<std::string> words{"response", sheet.file, "--volume", "40 L",
                                         "--tuning", "32",       "--port",   "70 mm"};
    auto more = words;
    more.insert(more.end(), {"--watts", "27.7777777777778"});
    const auto calm = run_program(more);
    INFO(calm.out << calm.err);
    CHECK_THAT(calm.out, Contains("-3 dB at 35.1 Hz") && Contains("230.1 mm long") &&
                             Contains("ends add 21.5 mm inside") && Contains("28.8 mm outside") && Contains("calm") &&
                             Contains("leak Q 7"));
    CHECK_THAT(run_program(words).out, Contains("fails: above 34 m/s"));
    more.insert(more.end(), {"--json"});
    const auto told = nlohmann::json::parse(run_program(more).out).at("cases")[0];
    CHECK(told.at("port").at("length_mm").get<double>() == Approx(230.116).margin(1e-3));
    CHECK(told.at("port_air").at("verdict") == "calm");
    CHECK(told.at("port_air").at("most_m_s").get<double>() == Approx(16.3).margin(0.1));
    // Two tubes alike have half of the air each.
    more.insert(more.end(), {"--ports", "2"});
    const auto two = nlohmann::json::parse(run_program(more).out).at("cases")[0];
    CHECK(two.at("port_air").at("most_m_s").get<double>() ==
          Approx(told.at("port_air").at("most_m_s").get<double>() / 2).epsilon(1e-4));
    // A slot of the same area on the floor of the box: other ends, the same air.
    const auto slot = nlohmann::json::parse(run_program({"response", sheet.file, "--volume", "40 L", "--tuning", "32",
                                                         "--slot", "192.422550 mm", "20 mm", "--walls", "1", "--watts",
                                                         "27.7777777777778", "--json"})
                                                .out)
                          .at("cases")[0];
    CHECK(slot.at("port_air").at("most_m_s").get<double>() ==
          Approx(told.at("port_air").at("most_m_s").get<double>()).epsilon(1e-4));
    CHECK(slot.at("port").at("length_mm").get<double>() + slot.at("port").at("inner_end_mm").get<double>() +
              slot.at("port").at("outer_end_mm").get<double>() ==
          Approx(280.341).margin(2e-3));
    CHECK(slot.at("port").at("outer_end_mm").get<double>() < 28.0);
    const auto never = run_program({"response", sheet.file, "--volume", "200 L", "--tuning", "60", "--port", "100 mm"});
    CHECK(never.exit == 4);
    CHECK_THAT(never.err, Contains("its ends alone have 71.8 mm"));
}

TEST_CASE("response takes volume and driver of a job, and several drivers as one", "[cli][response]") {
    const Sheet sheet;
    sheet.folder.write("gap.ply", "not read");
    const auto job = sheet.folder.write(
        "job.toml", support::box_gap_job() + "[driver]\nfile = \"woofer.toml\"\ncentre = [0, 0, 125]\n");
    const auto ran = run_program({"response", job.string()});
    INFO(ran.out << ran.err);
    CHECK(ran.exit == 0);
    CHECK_THAT(ran.out, Contains("woofer A in 4 L, closed"));
    // E8: two in twice the volume are E2.
    const auto two = run_program({"response", sheet.file, "--volume", "44 L", "--parallel", "2"});
    CHECK_THAT(two.out, Contains("2 x woofer A in 44 L, closed: Qtc 0.735") && Contains("re 1.8 ohm") &&
                            Contains("power 300 W"));
    CHECK_THAT(run_program({"response", sheet.file, "--volume", "44 L", "--series", "2"}).out, Contains("re 7.2 ohm"));
}

TEST_CASE("response says what a sheet lacks and what it contradicts", "[cli][response]") {
    const Sheet bare(
        "name = \"bare\"\ncutout_diameter = 184\nflange_diameter = 210\nfs = 30\nqts = 0.4\nvas = \"60 L\"\n");
    const auto ran = run_program({"response", bare.file, "--volume", "20 L"});
    CHECK(ran.exit == 0);
    CHECK_THAT(ran.out, Contains("left out     level in dB: wants qes or qms"));
    const Sheet wrong(std::string(kWoofer) + "fs = 34\n");
    CHECK_THAT(run_program({"response", wrong.file, "--volume", "20 L"}).out,
               Contains("disagrees    fs: given as 34 Hz, but 29.1 Hz by mms and cms"));
    const Sheet nothing("cutout_diameter = 184\nflange_diameter = 210\n");
    const auto refused = run_program({"response", nothing.file, "--volume", "20 L"});
    CHECK(refused.exit == 3);
    CHECK_THAT(refused.err, Contains("driver \"woofer\": fs and qts not given"));
}

TEST_CASE("response faults name what is wrong and what to try", "[cli][response][faults]") {
    const Sheet sheet;
    const auto refused = [&](std::vector<std::string> words, int exit, const std::string& told) {
        words.insert(words.begin(), "response");
        const auto ran = run_program(words);
        INFO(ran.out << ran.err);
        CHECK(ran.exit == exit);
        CHECK(ran.out.empty());
        CHECK_THAT(ran.err, Contains(told) && Contains("try:"));
    };
    refused({}, 2, "no driver file or job file named");
    refused({sheet.file}, 3, "no volume is said; wanted --volume");
    refused({sheet.file, "--volume", "22"}, 3, "--volume is \"22\" without a unit");
    refused({sheet.file, "--volume", "22 mm"}, 3, "--volume is \"22 mm\"");
    refused({sheet.file, "--volume", "0 L"}, 3, "wanted more than 0");
    refused({sheet.file, "--volume", "22 L", "--port", "70 mm"}, 3, "--port is said without --tuning");
    refused({sheet.file, "--volume", "22 L", "--tuning", "30", "--port", "70 mm", "--slot", "9 mm", "9 mm"}, 3,
            "--port and --slot are both said");
    refused({sheet.file, "--volume", "22 L", "--from", "100", "--to", "50"}, 3, "wanted --from below --to");
    refused({sheet.file, "--volume", "22 L", "--lining", "1.5"}, 2, "--lining");
    refused({(sheet.folder.path() / "none.toml").string(), "--volume", "22 L"}, 3, "none.toml: no such file");
    sheet.folder.write("gap.ply", "not read");
    const auto job = sheet.folder.write("job.toml", support::box_gap_job());
    refused({job.string()}, 3, "names no driver");
    CHECK(run_program({"response", sheet.file, "--volume", "22 L", "--out", sheet.file}).exit == 1);
}

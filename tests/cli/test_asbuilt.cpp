// gapwright asbuilt: a finished box against its report, by hand-worked numbers.
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>

namespace {

using Catch::Contains;
using support::run_program;
using Json = nlohmann::json;

/// Net 9.5 L: 9.908 of air and 0.192 of the cut-out less 0.6 of the driver; the terminal fills its hole.
Json report() {
    return Json::parse(R"({
      "job": "seat-gap", "part": "enclosure", "made_by": "gapwright 0.1.0",
      "resolved": {"driver.name": "woofer 165", "driver.displacement": "0.6 L", "driver.fs": "48 Hz",
                   "driver.qts": "0.46", "driver.vas": "11 L", "driver.sd": "133 cm2"},
      "net_volume": {"litres": 9.5, "asked_litres": 9.5, "uncertainty_rel": 0.0002, "tolerance_rel": 0.002,
                     "by": {"field": 9.5, "brep": 9.5, "mesh": 9.501}},
      "ledger": [{"name": "air behind the baffle", "litres": 9.908},
                 {"name": "cut-out behind the driver's seat", "litres": 0.192},
                 {"name": "driver", "litres": -0.6},
                 {"name": "terminal hole", "litres": 0.002}, {"name": "terminal", "litres": -0.002}],
      "stiffness": {"weakest_wall": {"flat_area_mm2": 40000.0}}, "sound": null})");
}

struct Box {
    explicit Box(const Json& json = report()) { file = folder.write("report.json", json.dump()).string(); }
    support::Ran run(std::vector<std::string> options) const {
        options.insert(options.begin(), {"asbuilt", file});
        return run_program(options);
    }
    support::TempFolder folder;
    std::string file;
};

double qtc(double litres) {
    return 0.46 * std::sqrt(1.0 + 11.0 / litres);
}

}  // namespace

TEST_CASE("asbuilt: grain in the empty box is held against net, driver and terminal", "[cli][asbuilt]") {
    const Box box;
    // 9.5 + 0.6 + 0.002 = 10.102 L expected; 6.79/0.672 = 10.1042 L filled, within 0.23 L.
    const auto ran = box.run({"--fill", "mass 6.79 kg, bulk 0.672 kg/L", "--json"});
    INFO(ran.out << ran.err);
    CHECK(ran.exit == 0);
    const Json j = Json::parse(ran.out);
    CHECK(j["expected"]["litres"].get<double>() == Approx(10.102));
    CHECK(j["filled"]["litres"].get<double>() == Approx(10.104167));
    CHECK(j["filled"]["within_litres"].get<double>() ==
          Approx(1.959964 * std::hypot(10.104167 * 0.02, 0.01 / 0.672) / std::sqrt(3.0)).epsilon(1e-5));
    CHECK(j["difference"]["litres"].get<double>() == Approx(0.002167).margin(1e-6));
    CHECK(j["difference"]["differs"] == false);
    CHECK(j["difference"]["proves_tolerance"] == false);
    CHECK(j["net_as_built"]["litres"].get<double>() == Approx(9.502167));
    CHECK(j["pad"].is_null());
    CHECK(j["lining"].is_null());
    const auto text = box.run({"--fill", "mass 6.79 kg, bulk 0.672 kg/L"});
    for (const char* told :
         {"seat-gap as built: 9.50 L net, 9.50 L by its report: no difference", "driver and terminal out",
          "cut-out flush with the driver's seat", "the job wants it to 0.02 L"})
        CHECK_THAT(text.out, Contains(told));
    // With the driver in its place it takes 0.6 L less.
    const Json in =
        Json::parse(box.run({"--fill", "mass 6.79 kg, bulk 0.672 kg/L", "--fitted", "driver", "--json"}).out);
    CHECK(in["expected"]["litres"].get<double>() == Approx(9.502));
    CHECK(in["difference"]["litres"].get<double>() == Approx(0.602167).margin(1e-6));
}

TEST_CASE("asbuilt: a box too large gets a pad, one too small a lining, with the driver there", "[cli][asbuilt]") {
    const Box box;
    const auto large = box.run({"--water", "10.502 L", "--json", "--out", (box.folder.path() / "out").string()});
    CHECK(large.exit == 5);
    const Json l = Json::parse(large.out);
    CHECK(l["difference"]["litres"].get<double>() == Approx(0.4));
    // 0.4 L over 400 cm2: 10 mm.
    CHECK(l["pad"]["thickness_mm"].get<double>() == Approx(10.0));
    REQUIRE(l["sound"].size() == 6);
    CHECK(l["sound"][0]["qtc"].get<double>() == Approx(qtc(9.5)).epsilon(1e-5));
    CHECK(l["sound"][2]["name"] == "as built");
    CHECK(l["sound"][2]["qtc"].get<double>() == Approx(qtc(9.9)).epsilon(1e-5));
    CHECK(l["sound"][5]["qtc"].get<double>() == Approx(qtc(9.5)).epsilon(1e-5));
    CHECK(support::read_bytes(box.folder.path() / "out" / "seat-gap-asbuilt.svg").starts_with("<"));
    CHECK(Json::parse(support::read_bytes(box.folder.path() / "out" / "seat-gap-asbuilt.json"))["pad"]["litres"] ==
          l["pad"]["litres"]);
    const auto own = box.run({"--water", "10.502 L", "--pad-area", "200 cm2"});
    CHECK_THAT(own.out, Contains("too large") && Contains("200 cm2 (as asked): 20.0 mm thick"));

    // 0.5 L short: 9.5/9.0 times as large it has to seem.
    const Json s = Json::parse(box.run({"--water", "9.602 L", "--json"}).out);
    CHECK(s["lining"]["gain_wanted"].get<double>() == Approx(9.5 / 9.0).epsilon(1e-4));
    CHECK(s["sound"][5]["name"] == "lined");
    CHECK(s["sound"][5]["qtc"].get<double>() == Approx(qtc(9.5)).epsilon(1e-4));
    // 3.5 L short is more than lining can do: 1.4 x 6 = 8.4 L.
    const auto far = box.run({"--water", "6.602 L", "--json"});
    CHECK(far.exit == 5);
    CHECK(Json::parse(far.out)["lining"]["still_small_litres"].get<double>() == Approx(1.1).epsilon(1e-4));
}

TEST_CASE("asbuilt: several fillings, and a port that stays as it is", "[cli][asbuilt]") {
    Json ported = report();
    ported["sound"] = {{"port", {{"tuning_hz", 40.0}}}};
    const Box box(ported);
    const auto ran = box.run({"--water", "9.60 kg", "--water", "9.62 kg", "--water", "9.58 kg", "--json"});
    const Json j = Json::parse(ran.out);
    // Mean 9.6/0.9982 L; s = 0.02/0.9982, of the mean over sqrt 3, two degrees of freedom.
    CHECK(j["filled"]["litres"].get<double>() == Approx(9.6 / 0.9982));
    CHECK(j["filled"]["each_litres"].size() == 3);
    const double scatter = 0.02 / 0.9982 / std::sqrt(3.0),
                 rest = std::hypot(9.6 * 0.003, 0.01) / 0.9982 / std::sqrt(3.0);
    CHECK(j["filled"]["standard_litres"].get<double>() == Approx(std::hypot(scatter, rest)).epsilon(1e-4));
    CHECK(j["filled"]["freedom"].get<double>() ==
          Approx(2.0 * std::pow(std::hypot(scatter, rest) / scatter, 4)).epsilon(1e-3));
    const double net = 9.5 - (10.102 - 9.6 / 0.9982);
    CHECK(j["sound"][2]["tuning_hz"].get<double>() == Approx(40.0 * std::sqrt(9.5 / net)).epsilon(1e-5));
    CHECK_THAT(box.run({"--water", "9.60 kg"}).out, Contains("the port at its inner end"));
}

TEST_CASE("asbuilt: several drivers come out all, and sound as one; unlike ones are left out", "[cli][asbuilt]") {
    const Json one = report();
    Json two = one;
    two["resolved"] = Json::object();
    for (const auto& [key, value] : one["resolved"].items()) two["resolved"]["driver[1]" + key.substr(6)] = value;
    two["ledger"].push_back({{"name", "driver 2"}, {"litres", -0.6}});
    two["ledger"][0]["litres"] = 10.508;
    two["sound"] = {{"drivers", {{"count", 2}, {"in_series", 1}, {"in_parallel", 2}}}};
    const Json j = Json::parse(Box(two).run({"--water", "10.702 L", "--json"}).out);
    CHECK(j["expected"]["litres"].get<double>() == Approx(9.5 + 1.2 + 0.002));
    CHECK(j["sound"][2]["qtc"].get<double>() == Approx(0.46 * std::sqrt(1.0 + 22.0 / 9.5)).epsilon(1e-5));
    CHECK_THAT(Box(two).run({"--water", "10.702 L"}).out,
               Contains("2 x woofer 165") && Contains("the cut-outs flush with their drivers' seats"));
    two["sound"]["unlike_drivers"] = Json::array({{{"driver", "woofer 165"}}, {{"driver", "mid"}}});
    CHECK_THAT(Box(two).run({"--water", "10.702 L"}).out, Contains("left out: the box has unlike drivers"));
}

TEST_CASE("asbuilt: a driver that is turned round takes the hollow of its cone out with it", "[cli][asbuilt]") {
    Json turned = report();
    for (auto& line : turned["ledger"])
        if (line["name"] == "driver") line["litres"] = 0.4;
    // Net with the driver there; without it the hollow of its cone is missing.
    const double net = turned["net_volume"]["litres"].get<double>();
    Json j = Json::parse(Box(turned).run({"--water", "9.2 L", "--json"}).out);
    CHECK(j["expected"]["litres"].get<double>() == Approx(net - 0.4 + 0.002));
    CHECK_THAT(Box(turned).run({"--water", "9.2 L"}).out, Contains("the cut-out flush with the driver's seat"));
    j = Json::parse(Box(turned).run({"--water", "9.5 L", "--fitted", "driver", "--json"}).out);
    CHECK(j["expected"]["litres"].get<double>() == Approx(net + 0.002));
}

TEST_CASE("asbuilt: what makes no sense is named", "[cli][asbuilt][fault]") {
    const Box box;
    const auto fault = [&](std::vector<std::string> options, int exit, const char* told) {
        const auto ran = box.run(std::move(options));
        INFO(ran.out << ran.err);
        CHECK(ran.exit == exit);
        CHECK_THAT(ran.err, Contains(told) && Contains("try:"));
    };
    fault({}, 2, "says no filling");
    fault({"--fill", "mass 6.79 kg"}, 3, "does not say 'bulk'");
    fault({"--fill", "mass -6.79 kg, bulk 0.672 kg/L"}, 3, "more than 0");
    fault({"--fill", "mass 6.79 kg, empty 7 kg, bulk 0.672 kg/L"}, 3, "6.79 kg full and 7 kg empty");
    fault({"--fill", "mass 6.79 lb, bulk 0.672 kg/L"}, 3, "wanted between half of it and twice");
    fault({"--water", "21 L"}, 3, "wanted between half of it and twice");
    fault({"--water", "10 L", "--fitted", "magnet"}, 3, "it knows driver and terminal");
    fault({"--water", "10 L", "--scale", "5"}, 3, "--scale is \"5\" without a unit");
    fault({"--water", "10 L", "--pad-area", "5 mm"}, 3, "--pad-area is \"5 mm\"");
    const auto of = [&](const std::string& bytes) {
        const support::TempFolder folder;
        return run_program({"asbuilt", folder.write("r.json", bytes).string(), "--water", "10 L"});
    };
    CHECK_THAT(of("").err, Contains("is empty"));
    CHECK_THAT(of("{\"made_by\": ").err, Contains("no JSON, or cut off"));
    CHECK_THAT(of("[1, 2]").err, Contains("no report of this program"));
    CHECK_THAT(of(R"({"made_by": "gapwright 0.1.0", "part": "ring"})").err, Contains("the report of a ring"));
    Json cut = report();
    cut.erase("ledger");
    CHECK_THAT(of(cut.dump()).err, Contains("has no ledger"));
    cut = report();
    cut["net_volume"]["litres"] = "much";
    CHECK_THAT(of(cut.dump()).err, Contains("no net volume above 0"));
    CHECK(run_program({"asbuilt", "/no/such.json", "--water", "10 L"}).exit == 3);
    // No driver in the report: said, and left out.
    Json bare = report();
    bare["resolved"] = {{"driver", "none (default)"}};
    CHECK_THAT(of(bare.dump()).out, Contains("left out: the report knows no driver"));
}

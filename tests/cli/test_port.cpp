// A ported box as a user makes it: from a scan to files that were read back. Oracles: Helmholtz's formula worked here;
// what the tube takes in closed form; the same box without the port.
#include "tests/cli/box_gap.h"
#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <cmath>

namespace {

using Catch::Contains;
using nlohmann::json;

constexpr double kPi = 3.14159265358979323846;

constexpr const char* kDriver = R"(
[driver]
name = "mid 130"
cutout_diameter = 116
flange_diameter = 132
mounting_depth = 60
magnet_diameter = 80
magnet_depth = 25
displacement = "0.25 L"
centre = [-12, 0, 82]
fs = 61
qts = 0.48
qes = 0.55
vas = "6.5 L"
re = 3.4
sd = "88 cm2"
xmax = 4.5
power = 10
)";

std::string job(const std::string& port, const std::string& separate = {}) {
    std::string text = support::box_gap_job("edge_radius = 12\ninner_radius = 6\nvoxel = 4",
                                            "edge_radius = 20\ninner_radius = 14\nvoxel = 3", port + kDriver);
    const std::string volume = "net_volume = \"4 L\"", baffle = "thickness = 12";
    text.replace(text.find(volume), volume.size(), "net_volume = \"6 L\"");
    return text.insert(text.find(baffle) + baffle.size(), separate);
}

struct Made {
    support::TempFolder folder;
    support::Ran ran;
    json report;
    explicit Made(const std::string& text, int exit = 0, const std::string& command = "enclosure") {
        folder.write("job.toml", text);
        folder.write("gap.ply", support::as_binary_ply(support::box_gap_points()));
        ran = support::run_program({command, (folder.path() / "job.toml").string(), "--json"});
        INFO(ran.err << ran.out);
        REQUIRE(ran.exit == exit);
        report = json::parse(ran.out);
    }
    double ledger(const std::string& name) const {
        double sum = 0.0;
        for (const auto& line : report.at("ledger"))
            if (line.at("name") == name) sum += line.at("litres").get<double>();
        return sum;
    }
    json check(const std::string& name) const {
        for (const auto& line : report.at("checks"))
            if (line.at("name") == name) return line;
        throw std::runtime_error("no check " + name);
    }
};

constexpr const char* kPort = "port = { tuning = 60, diameter = 34, at = [45, 0, 190] }\n";
const std::string kTube = "port tube, its inside contained";

}  // namespace

TEST_CASE("a ported box holds its volume and is in tune by its own measures", "[cli][port]") {
    const std::string separate = GENERATE(as<std::string>{}, "", ", made = \"separate\"");
    const Made made(job(kPort, separate));
    const json net = made.report.at("net_volume"), port = made.report.at("sound").at("port");
    CHECK(net.at("litres").get<double>() == Approx(6.0).epsilon(0.002));
    double least = 1e9, most = 0.0;
    for (const char* way : {"field", "brep", "mesh"}) {
        least = std::min(least, net.at("by").at(way).get<double>());
        most = std::max(most, net.at("by").at(way).get<double>());
    }
    CHECK((most - least) / 6.0 < 1e-3);
    double sum = 0.0;
    for (const auto& line : made.report.at("ledger")) sum += line.at("litres").get<double>();
    CHECK(sum == Approx(net.at("litres").get<double>()).epsilon(1e-5));

    const double length = port.at("length_mm").get<double>(), r = 17e-3;
    CHECK(made.ledger(kTube) == Approx(-kPi * 20 * 20 * (length - 12) / 1e6).margin(1e-6));
    const double hz =
        343.21 / (2 * kPi) *
        std::sqrt(kPi * r * r / (net.at("litres").get<double>() * 1e-3 * (length * 1e-3 + (0.6133 + 0.8217) * r)));
    CHECK(hz == Approx(60.0).epsilon(1e-3));
    CHECK(port.at("tuning_hz").get<double>() == Approx(hz).epsilon(1e-5));
    CHECK(made.report.at("sound").at("tuning_hz").at("value").get<double>() == Approx(hz).epsilon(1e-5));
    CHECK(made.check("port, tuning").at("value").get<double>() < 0.1);
    CHECK(made.check("port, way before its inner end").at("value").get<double>() >= 34.0);
    CHECK(made.check("port, way before its mouth").at("value").get<double>() >= 34.0);
    for (const auto& line : made.report.at("checks")) CHECK(line.at("ok").get<bool>());
    CHECK(std::filesystem::exists(made.folder.path() / "box-gap" / "box-gap-port-air.svg"));
}

TEST_CASE("a port grows the box by its tube and nothing else", "[cli][port]") {
    const Made with(job(kPort)), without(job(""));
    const double grew = with.ledger("air behind the baffle") - without.ledger("air behind the baffle");
    CHECK(grew == Approx(-with.ledger(kTube)).margin(0.002 * 6.0));
    CHECK(without.report.at("sound").at("port").is_null());
    CHECK(without.ledger(kTube) == 0.0);
}

TEST_CASE("air too fast in a port fails, air that is heard is a caution", "[cli][port]") {
    SECTION("heard") {
        const Made made(job(kPort));
        const double fastest = made.check("port, fastest air").at("value").get<double>();
        CHECK(fastest > 17.0);
        CHECK(fastest < 34.0);
        CHECK_THAT(made.report.at("cautions").dump(), Contains("air in the port"));
    }
    SECTION("choked") {
        std::string loud = job(kPort);
        loud.replace(loud.find("power = 10"), 10, "power = 60");
        const Made made(loud, 5);
        CHECK_FALSE(made.check("port, fastest air").at("ok").get<bool>());
    }
}

TEST_CASE("a port's mouth keeps a diameter free of what slides before it", "[cli][port]") {
    // A lever that slides away before the box goes in; it stands 20 mm before where the baffle comes to lie.
    const double y = Made(job(kPort)).report.at("baffle").at("point")[1].get<double>();
    const auto at = [](double v) { return std::to_string(v); };
    std::string text = job(kPort);
    text.insert(text.find("[enclosure]\n"), "[[space.keep_out]]\nname = \"lever\"\nslide = { box = { min = [40, " +
                                                at(y - 420) + ", 180], max = [50, " + at(y - 400) +
                                                ", 200] }, path = [[0, 0, 0], [0, 380, 0]], way_in = \"none\" }\n");
    const Made made(text, 5);
    const json line = made.check("port, way before its mouth");
    CHECK_FALSE(line.at("ok").get<bool>());
    CHECK(line.at("value").get<double>() == Approx(20.0).margin(0.1));
    CHECK_THAT(line.at("note").get<std::string>(), Contains("lever"));
}

TEST_CASE("a box from numbers has a port too, whether its volume is asked or only told", "[cli][port][box]") {
    const bool is_asked = GENERATE(true, false);
    std::string text =
        "[job]\nname = \"box\"\npart = \"box\"\n[box]\nshape = \"rectangular\"\nwidth = 220\nheight = 270\n"
        "depth = " +
        std::string(is_asked ? "\"solve\"" : "200") + "\nwall = 8\n[enclosure]\n" +
        (is_asked ? "net_volume = \"8 L\"\n" : "") + "port = { tuning = 55, diameter = 36, at = [170, 0, 220] }\n" +
        kDriver + "[make]\nmethod = \"print\"\n";
    text.replace(text.find("centre = [-12, 0, 82]"), 21, "centre = [90, 0, 95]");
    const Made made(text, 0, "box");
    const double litres = made.report.at("net_volume").at("litres").get<double>(), r = 18e-3;
    if (is_asked) CHECK(litres == Approx(8.0).epsilon(1e-6));
    const double length = made.report.at("sound").at("port").at("length_mm").get<double>();
    const double hz =
        343.21 / (2 * kPi) * std::sqrt(kPi * r * r / (litres * 1e-3 * (length * 1e-3 + (0.6133 + 0.8217) * r)));
    CHECK(hz == Approx(55.0).epsilon(1e-3));
    CHECK(made.check("port, tuning").at("value").get<double>() < 0.1);
    CHECK(made.ledger(kTube) == Approx(-kPi * 21 * 21 * (length - 8) / 1e6).margin(1e-6));
}

TEST_CASE("a printed box gets a slot that turns and passes every check", "[cli][port]") {
    const std::string separate = GENERATE(as<std::string>{}, "", ", made = \"separate\"");
    const Made made(
        job("port = { slot = [56, 14], turn = \"90 deg\", corner_radius = 4, at = [-46, 0, 190], tuning = 60, "
            "mouth = 4, bend = { towards = [1, 0, 0], radius = 20 } }\n",
            separate));
    for (const auto& line : made.report.at("checks")) {
        INFO(line.dump());
        CHECK(line.at("ok").get<bool>());
    }
    const json port = made.report.at("sound").at("port"), net = made.report.at("net_volume");
    CHECK(port.at("section") == "slot");
    CHECK(port.at("diameter_mm").is_null());
    CHECK(port.at("slot").at("width_mm") == 56.0);
    CHECK(port.at("bend").at("radius_mm") == 20.0);
    CHECK(port.at("bend").at("after_mm") == 14.0);
    const double length = port.at("length_mm").get<double>(), litres = net.at("litres").get<double>();
    // The slot's outside, 62 x 20 with corners of 7, from the baffle's inner face on.
    const double outside = 62 * 20 - (4 - kPi) * 49, inside = 56 * 14 - (4 - kPi) * 16;
    CHECK(made.ledger(kTube) == Approx(-outside * (length - 12) / 1e6).margin(1e-6));
    CHECK(port.at("area_cm2").get<double>() == Approx(inside / 100).epsilon(1e-4));
    CHECK(litres == Approx(6.0).epsilon(0.002));
    // Helmholtz with the ends that the report tells.
    const double ends = port.at("outer_end_mm").get<double>() + port.at("inner_end_mm").get<double>();
    const double hz = 343.21 / (2 * kPi) * std::sqrt(inside * 1e-6 / (litres * 1e-3 * (length + ends) * 1e-3));
    CHECK(hz == Approx(60.0).epsilon(1e-3));
    CHECK(made.check("port, tuning").at("value").get<double>() < 0.1);
    CHECK_THAT(made.check("port, tuning").at("note").get<std::string>(), Contains("turned by 90.0 degrees"));
    // The tube's outside comes down to 190 - 31; the driver's basket, 57.5 about 82, is the widest of its body.
    CHECK(made.check("port, beside the driver").at("value").get<double>() >= 190 - 31 - (82 + 57.5) - 0.2);
    CHECK(made.check("port, beside the driver").at("value").get<double>() < 40);
    // The inner end lies where a straight piece, a quarter circle and the rest lead, and looks to the right.
    const double y = port.at("mouth")[1].get<double>(), rest = length - 14 - 20 * kPi / 2;
    CHECK(port.at("inner_end")[0].get<double>() == Approx(-46 + 20 + rest).margin(2e-3));
    CHECK(port.at("inner_end")[1].get<double>() == Approx(y + 34).margin(2e-3));
    CHECK(port.at("inner_way")[0].get<double>() == Approx(1.0));
    CHECK_THAT(made.report.at("notes").dump(), Contains("a slot of 56 x 14 mm with a wall of 3 mm") &&
                                                   Contains("a bend of 90 degrees about a radius of 20 mm"));
    if (separate.empty()) return;
    const std::string dxf = support::read_bytes(made.folder.path() / "box-gap" / "box-gap-baffle.dxf");
    CHECK_THAT(dxf, Contains("62 x 20 mm across outside"));
}

// [driver] says where the driver sits; what it is stands in a file of its own or in the same table.
#include "geom/core/text.h"
#include "geom/job/driver_file.h"
#include "geom/job/internal/sections.h"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include <algorithm>
#include <string_view>

namespace geom::job {

namespace {

const char* const kDriverKeys[] = {"name",
                                   "cutout_diameter",
                                   "flange_diameter",
                                   "flange_thickness",
                                   "front_height",
                                   "recess",
                                   "basket_diameter",
                                   "bolt_circle",
                                   "bolt_count",
                                   "bolt_thread",
                                   "mounting_depth",
                                   "magnet_diameter",
                                   "magnet_depth",
                                   "displacement",
                                   "front_volume",
                                   "mass",
                                   "fs",
                                   "qts",
                                   "qes",
                                   "qms",
                                   "vas",
                                   "re",
                                   "sd",
                                   "xmax",
                                   "power",
                                   "mms",
                                   "cms",
                                   "rms",
                                   "bl",
                                   "le"};

/// Two lengths of the driver that must stand in order.
void check_order(const Table& table, const char* less_key, const std::optional<Length>& less, const char* more_key,
                 const std::optional<Length>& more) {
    if (less && more && less->mm() > 0.0 && more->mm() > 0.0 && *less > *more)
        table.refuse(less_key,
                     fmt::format("is {} mm, more than {} of {} mm", plain_number(less->mm()), more_key,
                                 plain_number(more->mm())),
                     "see the driver's drawing; bolt_circle and the others are diameters");
}

/// Sheets print some values in smaller units than this file's: more than any driver has is a slip of the unit.
struct Most {
    double value;
    const char* unit;
    const char* hint;
};

std::optional<double> number_up_to(const Table& table, const char* key, const Most& most) {
    const auto value = table.maybe_number(key, Allowed::Positive, "not given", most.unit);
    if (value && *value > most.value)
        table.refuse(key,
                     fmt::format("is {}{}; wanted at most {}{}", plain_number(*value), most.unit,
                                 plain_number(most.value), most.unit),
                     most.hint);
    return value;
}

/// Sizes that no driver of these dimensions has: slips of a unit or a point.
void check_sizes(const Table& table, const sound::Driver& driver) {
    const double flange = driver.flange_diameter.mm(), across = flange * flange * std::numbers::pi / 4.0;
    if (flange <= 0.0) return;
    if (driver.flange_thickness && driver.flange_thickness->mm() > flange / 4.0)
        table.refuse("flange_thickness",
                     fmt::format("is {} mm; wanted at most a quarter of flange_diameter, {} mm",
                                 plain_number(driver.flange_thickness->mm()), plain_number(flange / 4.0)),
                     "it is what stands on the baffle beside the screws' heads");
    const auto most = [&](const char* key, const std::optional<Volume>& value, double deep, const std::string& how) {
        if (!value || std::abs(value->mm3()) <= across * deep) return;
        table.refuse(key,
                     fmt::format("is {} L; wanted at most {} L{}, {}", plain_number(value->litres()),
                                 plain_number(rounded(across * deep / 1e6, 3)),
                                 std::string(key) == "front_volume" ? " either way" : "", how),
                     "check its unit; 550 cm3 is \"0.55 L\"");
    };
    const double deep = driver.mounting_depth ? driver.mounting_depth->mm() : flange;
    most("displacement", driver.displacement, deep,
         driver.mounting_depth ? "a cylinder as wide as its flange and as deep as mounting_depth"
                               : "a cylinder as wide and as deep as its flange");
    most("front_volume", driver.front_volume, flange / 2.0, "a cylinder as wide as its flange and half as deep");
}

sound::Driver driver_of(const Table& table, const std::string& default_name) {
    const std::string not_given = "not given";
    const auto length = [&](const char* key, Allowed allowed = Allowed::Positive) {
        return table.maybe_length(key, allowed, not_given);
    };
    const auto number = [&](const char* key, const char* unit = "") {
        return table.maybe_number(key, Allowed::Positive, not_given, unit);
    };

    sound::Driver driver;
    driver.name = table.text("name", default_name);
    driver.cutout_diameter = table.length("cutout_diameter", Allowed::Positive);
    driver.flange_diameter = table.length("flange_diameter", Allowed::Positive);
    driver.flange_thickness = length("flange_thickness");
    driver.front_height = length("front_height", Allowed::NotNegative);
    driver.recess = length("recess", Allowed::NotNegative);
    driver.basket_diameter = length("basket_diameter");
    driver.bolt_circle = length("bolt_circle");
    driver.bolt_count = table.count("bolt_count", 1, 0);
    driver.bolt_thread = thread_of(table, "bolt_thread", "");
    if (!table.has("bolt_thread")) table.note("bolt_thread", not_given, true);
    driver.mounting_depth = length("mounting_depth");
    driver.magnet_diameter = length("magnet_diameter");
    driver.magnet_depth = length("magnet_depth");
    driver.displacement = table.maybe_volume("displacement", Allowed::NotNegative, not_given);
    driver.front_volume = table.maybe_volume("front_volume", Allowed::Any, not_given);
    driver.mass_kg = number("mass", " kg");
    driver.fs_hz = number("fs", " Hz");
    driver.qts = number("qts");
    driver.qes = number("qes");
    driver.qms = number("qms");
    driver.vas = table.maybe_volume("vas", Allowed::Positive, not_given);
    driver.re_ohm = number("re", " ohm");
    driver.sd = table.maybe_area("sd", Allowed::Positive, not_given);
    driver.xmax = length("xmax");
    driver.power_w = number("power", " W");
    driver.mms_kg = number_up_to(table, "mms", {2.0, " kg", "30 g is mms = 0.030"});
    if (const auto mm_per_n = number_up_to(table, "cms", {50.0, " mm/N", "400 um/N is cms = 0.4"}))
        driver.cms_m_per_n = *mm_per_n * 1e-3;
    driver.rms_kg_per_s = number("rms", " kg/s");
    driver.bl_tm = number("bl", " T m");
    if (const auto millihenry = number_up_to(table, "le", {50.0, " mH", "it is in mH, such as le = 0.8"}))
        driver.le_h = *millihenry * 1e-3;

    check_order(table, "cutout_diameter", driver.cutout_diameter, "flange_diameter", driver.flange_diameter);
    check_order(table, "basket_diameter", driver.basket_diameter, "cutout_diameter", driver.cutout_diameter);
    check_order(table, "bolt_circle", driver.bolt_circle, "flange_diameter", driver.flange_diameter);
    check_order(table, "cutout_diameter", driver.cutout_diameter, "bolt_circle", driver.bolt_circle);
    check_order(table, "magnet_diameter", driver.magnet_diameter, "cutout_diameter", driver.cutout_diameter);
    check_order(table, "magnet_depth", driver.magnet_depth, "mounting_depth", driver.mounting_depth);
    check_sizes(table, driver);
    if (table.has("bolt_circle") != table.has("bolt_count"))
        table.refuse(table.has("bolt_circle") ? "bolt_circle" : "bolt_count",
                     "stands alone; wanted bolt_circle and bolt_count together",
                     "bolt_circle is a diameter, bolt_count the number of bolts on it");
    return driver;
}

constexpr double kLeastPlayed_Hz = 20.0, kMostPlayed_Hz = 5000.0;

/// The highest frequency that the driver is used at, for the walls' resonance.
void read_played_band(const Table& section, Job& job) {
    const auto hz = section.maybe_number("plays_to", Allowed::Positive, "not said", " Hz");
    if (!hz || *hz <= 0.0) return;
    if (*hz < kLeastPlayed_Hz || *hz > kMostPlayed_Hz) {
        section.refuse("plays_to",
                       fmt::format("is {} Hz; wanted {} to {}", plain_number(*hz), plain_number(kLeastPlayed_Hz),
                                   plain_number(kMostPlayed_Hz)),
                       "it is the highest frequency that this driver gets, such as 120 of a woofer");
        return;
    }
    if (job.enclosure.material.e_GPa <= 0.0)
        section.refuse("plays_to",
                       fmt::format("asks for the walls' resonance, and the modulus of elasticity of \"{}\" is not "
                                   "known",
                                   job.enclosure.material.name),
                       "give [enclosure] material = { name, density, e } with e in GPa");
    job.enclosure.plays_to_Hz = *hz;
}

}  // namespace

std::optional<parts::GrilleRoom> grille_room_of(const Table& table) {
    parts::GrilleRoom room;
    table.known("grille_room");
    if (!table.has("grille_room")) {
        table.note("grille_room", "none: the space before the driver is told, not judged", true);
        return std::nullopt;
    }
    if (!table.is_table("grille_room")) {
        room.height = table.length("grille_room", Allowed::Positive);
        table.note("grille_room.diameter", "that of the driver's flange", true);
    } else {
        const Table inner = table.table("grille_room");
        room.height = inner.length("height", Allowed::Positive);
        room.diameter = inner.maybe_length("diameter", Allowed::Positive, "that of the driver's flange");
    }
    return room;
}

Result<DriverFile> read_driver_file(const std::filesystem::path& path) {
    GAPWRIGHT_TRY(opened, FileReading::open(path, "driver file"));
    const Table table = opened->root("driver");
    opened->set_length_unit(length_unit_of(table, "length_unit", "mm"));
    DriverFile file;
    file.driver = driver_of(table, path.stem().string());
    GAPWRIGHT_CHECK(opened->finish());
    file.resolved = std::move(opened->resolved);
    return file;
}

Result<bool> is_job_file(const std::filesystem::path& path) {
    GAPWRIGHT_TRY(opened, FileReading::open(path, "job or driver file"));
    const Table top = opened->root();
    return top.has("job") || top.has("scan") || top.has("enclosure");
}

namespace {

/// Which face of the baffle its flange rests on, and whether it is turned round.
struct Stance {
    bool from_behind = false, is_turned = false;
};
Stance stance_of(const Table& section, const Job& job) {
    const Stance stance{
        section.choice<bool>("from", {{"front", false}, {"behind", true}}, {}, std::optional<bool>(false)),
        section.flag("turned", false)};
    if (!stance.from_behind) return stance;
    if (!job.enclosure.baffle.separate)
        section.refuse("from",
                       "is \"behind\" with a baffle that is one piece with the shell; wanted one that the driver is "
                       "screwed to before it goes on",
                       "give [enclosure] baffle.made = \"separate\"");
    if (job.enclosure.baffle.shape != parts::BaffleShape::Flat)
        section.refuse("from", "is \"behind\" a baffle with a ring or a dish, which is not built yet",
                       "give [enclosure] baffle.shape = \"flat\"", FaultCode::NotBuilt);
    return stance;
}

/// From behind and turned round, depths count from the other face of the flange.
void check_flanges(const std::vector<Table>& several, const Table& first, const Job& job) {
    if (job.ring) return;
    const std::vector<parts::DriverMount> mounts = job.enclosure.drivers();
    for (std::size_t i = 0; i < mounts.size(); ++i) {
        if (mounts[i].driver.flange_thickness || (!mounts[i].from_behind && !mounts[i].is_turned)) continue;
        (several.empty() ? first : several[i])
            .refuse(mounts[i].from_behind ? "from" : "turned",
                    fmt::format("is {}, and the driver's flange_thickness is not given; wanted it, since its depth "
                                "counts from the other face of the flange then",
                                mounts[i].from_behind ? "\"behind\"" : "true"),
                    "measure the flange and give flange_thickness with the driver's values");
    }
}

/// How several drivers are wired: `wired = { series, parallel }`, strings of so many in series, so many strings.
sound::Wiring wiring_of(const Table& section, std::size_t count) {
    sound::Wiring wiring;
    section.known("wired");
    if (!section.has("wired")) {
        if (count > 1)
            section.refuse("wired", fmt::format("is missing, and {} drivers share the box; wanted their wiring", count),
                           fmt::format("in the first [[driver]]: wired = {{ series = 1, parallel = {} }}", count));
        return wiring;
    }
    const Table wired = section.table("wired");
    wiring.in_series = wired.count("series", 1, 1);
    wiring.in_parallel = wired.count("parallel", 1, 1);
    if (static_cast<std::size_t>(wiring.count()) != count)
        section.refuse("wired",
                       fmt::format("has {} in series and {} of these in parallel, which makes {}; wanted {}, one for "
                                   "each [[driver]]",
                                   wiring.in_series, wiring.in_parallel, wiring.count(), count),
                       "series times parallel is the number of drivers");
    return wiring;
}

/// What the driver is: in a file of its own, or in the same table. `place` goes before its keys in `resolved`.
Result<sound::Driver> driver_in(const Table& section, const std::string& place, const std::string& default_name,
                                Job& job) {
    section.known("file");
    for (const char* key : kDriverKeys) section.known(key);
    if (!section.has("file")) return driver_of(section, default_name);
    for (const char* key : kDriverKeys)
        if (section.has(key))
            section.refuse(key, "stands beside file; wanted the driver's keys in one place",
                           "take the key into the driver's file, or take file out and write all keys here");
    const std::string name = section.text("file");
    const std::filesystem::path path = section.file().folder() / name;
    if (std::find(job.input_files.begin(), job.input_files.end(), path) == job.input_files.end())
        job.input_files.push_back(path);
    GAPWRIGHT_TRY(file, read_driver_file(path));
    for (const auto& [key, text] : file.resolved)
        job.resolved.emplace(place + key.substr(std::string_view("driver").size()), text);
    return file.driver;
}

/// Whether a driver after the first is one of its own, or only another place for the first.
bool says_what_it_is(const Table& section, const Table& first) {
    if (section.has("file") && (!first.has("file") || section.text("file") != first.text("file"))) return true;
    return std::any_of(std::begin(kDriverKeys), std::end(kDriverKeys), [&](const char* k) { return section.has(k); });
}

/// The drivers after the first. A fault of one does not keep the others from being read.
Status read_more_drivers(const std::vector<Table>& several, Job& job) {
    Status status = Done{};
    for (std::size_t i = 1; i < several.size(); ++i) {
        const Table& section = several[i];
        for (const char* key : {"wired", "plays_to", "seal", "tool"}) {
            section.known(key);
            if (section.has(key))
                section.refuse(key, "is said of all drivers in the first [[driver]]", "leave it out here");
        }
        const Stance stance = stance_of(section, job);
        parts::DriverPlace place{.centre = section.point("centre"),
                                 .turn = section.angle("turn", Angle::deg(0)),
                                 .driver = {},
                                 .from_behind = stance.from_behind,
                                 .is_turned = stance.is_turned};
        section.known("file");
        if (says_what_it_is(section, several.front())) {
            auto own = driver_in(section, fmt::format("driver[{}]", i + 1), fmt::format("driver {}", i + 1), job);
            if (own)
                place.driver = *own;
            else if (status)
                status = std::move(own).error();
        }
        job.enclosure.more_drivers.push_back(std::move(place));
    }
    return status;
}

}  // namespace

Status read_driver_section(const Table& top, Job& job) {
    const std::vector<Table> several = top.is_list("driver") ? top.tables("driver") : std::vector<Table>{};
    if (several.size() > 1 && job.ring) {
        for (const Table& each : several) each.judge_no_keys();
        top.refuse("driver", fmt::format("stands {} times; a ring holds one driver", several.size()),
                   "keep one [driver]");
        return Done{};
    }
    const Table section = several.empty() ? top.table("driver") : several.front();
    if (!section.is_there()) {
        top.note("driver", "none", true);
        return Done{};
    }

    parts::DriverMount mount;
    if (job.ring) {
        parts::RingRequest& ring = job.ring->request;
        mount.centre = section.point("centre", ring.seat.plane.point);
        section.known("turn");
        if (section.has("turn"))
            ring.turn = section.angle("turn");
        else
            section.note("turn", "0 deg, or the nearest that keeps every rule", true);
        for (const char* key : {"plays_to", "seal", "tool", "from", "turned"})
            section.not_built(key, "leave it out of a ring's driver");
    } else {
        if (!job.box)
            mount.centre = section.point("centre");
        else if (section.has("centre"))
            job.box->driver_at = section.point("centre");
        else
            section.known("centre"), section.note("centre", "the middle of the baffle", true);
        mount.turn = section.angle("turn", Angle::deg(0));
        read_played_band(section, job);
        mount.seal = seal_of(section);
        mount.tool = tool_of(section);
        const Stance stance = stance_of(section, job);
        mount.from_behind = stance.from_behind;
        mount.is_turned = stance.is_turned;
    }
    if (!job.ring) job.enclosure.wiring = wiring_of(section, std::max<std::size_t>(1, several.size()));
    const auto driver = driver_in(section, "driver", "driver", job);
    const Status more = read_more_drivers(several, job);
    if (!driver) return driver.error();
    mount.driver = *driver;
    job.enclosure.driver = mount;
    check_flanges(several, section, job);
    return more;
}

}  // namespace geom::job

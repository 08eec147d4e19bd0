#include "cli/made_report.h"

#include "geom/job/resolved_driver.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <iterator>
#include <map>
#include <nlohmann/json.hpp>

namespace cli {

namespace {

using Json = nlohmann::json;
using geom::Fault;
using geom::FaultCode;
using geom::Volume;

/// Ledger lines of what a shop fits at the end.
constexpr std::array<std::string_view, 3> kComesOut{"terminal", "heads of the screws into plates",
                                                    "to be filled by hand"};

Fault no_report(const std::filesystem::path& file, const std::string& why) {
    return {FaultCode::Unreadable,
            fmt::format("{}: {}; wanted the report of a box that this program made", file.string(), why),
            "give the report.json that `gapwright enclosure` or `gapwright box` left beside its files",
            {},
            {}};
}

/// None where it is not there or no finite number.
std::optional<double> number_at(const Json& json, const char* key) {
    const auto it = json.find(key);
    if (it == json.end() || !it->is_number()) return std::nullopt;
    const double v = it->get<double>();
    return std::isfinite(v) ? std::optional(v) : std::nullopt;
}
/// An object, empty where there is none.
const Json& part_of(const Json& json, const char* key) {
    static const Json none = Json::object();
    if (!json.is_object()) return none;
    const auto it = json.find(key);
    return it == json.end() || !it->is_object() ? none : *it;
}
std::string text_at(const Json& json, const char* key) {
    const auto it = json.find(key);
    return it != json.end() && it->is_string() ? it->get<std::string>() : std::string();
}

geom::Result<Json> read_json(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    if (!in || std::filesystem::is_directory(file)) return no_report(file, "cannot be read");
    const std::string bytes{std::istreambuf_iterator<char>(in), {}};
    Json json = Json::parse(bytes, nullptr, false);
    if (json.is_discarded()) return no_report(file, bytes.empty() ? "is empty" : "is no JSON, or cut off");
    if (!json.is_object() || !text_at(json, "made_by").starts_with("gapwright"))
        return no_report(file, "is JSON, but no report of this program");
    return json;
}

geom::Result<std::vector<LedgerEntry>> ledger_of(const Json& json, const std::filesystem::path& file) {
    std::vector<LedgerEntry> out;
    const auto it = json.find("ledger");
    if (it == json.end() || !it->is_array() || it->empty()) return no_report(file, "has no ledger");
    for (const Json& line : *it) {
        const auto litres = line.is_object() ? number_at(line, "litres") : std::nullopt;
        if (!litres) return no_report(file, "has a ledger line without litres");
        LedgerEntry entry{text_at(line, "name"), Volume::litres(*litres), false};
        // A driver that is turned round adds air where its cone is hollow; what else comes out takes some.
        entry.comes_out = is_driver(entry.name) ? *litres != 0.0
                                                : *litres < 0.0 && std::find(kComesOut.begin(), kComesOut.end(),
                                                                             entry.name) != kComesOut.end();
        out.push_back(std::move(entry));
    }
    return out;
}

}  // namespace

bool is_driver(const std::string& ledger_name) {
    return ledger_name == "driver" || ledger_name.starts_with("driver ");
}

geom::Result<MadeReport> read_made_report(const std::filesystem::path& file) {
    GAPWRIGHT_TRY(json, read_json(file));
    MadeReport out;
    out.job = text_at(json, "job");
    const Json& net = part_of(json, "net_volume");
    if (net.empty()) {
        const std::string part = text_at(json, "part");
        return Fault{FaultCode::BadJob,
                     fmt::format("{}: is the report of {}, which holds no air of its own; wanted that of a box",
                                 file.string(), part.empty() ? "a part" : "a " + part),
                     "give the report.json that `gapwright enclosure` or `gapwright box` left beside its files",
                     {},
                     {}};
    }
    const auto litres = number_at(net, "litres"), asked = number_at(net, "asked_litres");
    if (!litres || *litres <= 0.0) return no_report(file, "says no net volume above 0");
    out.net = Volume::litres(*litres);
    out.asked = Volume::litres(asked && *asked > 0.0 ? *asked : *litres);
    for (const auto& way : part_of(net, "by"))
        if (way.is_number())
            out.ways_off = std::max(out.ways_off, Volume::litres(std::abs(way.get<double>() - *litres)));
    out.net_off = std::max(out.ways_off, out.net * std::abs(number_at(net, "uncertainty_rel").value_or(0.0)));
    out.tolerance = out.net * std::abs(number_at(net, "tolerance_rel").value_or(0.002));
    GAPWRIGHT_TRY(ledger, ledger_of(json, file));
    out.ledger = std::move(ledger);

    std::map<std::string, std::string> resolved;
    for (const auto& [key, value] : part_of(json, "resolved").items())
        if (value.is_string()) resolved[key] = value.get<std::string>();
    out.driver = geom::job::driver_of_resolved(resolved);
    const Json& sound = part_of(json, "sound");
    const Json& drivers = part_of(sound, "drivers");
    out.wiring.in_series = static_cast<int>(std::clamp(number_at(drivers, "in_series").value_or(1.0), 1.0, 1e3));
    out.wiring.in_parallel = static_cast<int>(std::clamp(number_at(drivers, "in_parallel").value_or(1.0), 1.0, 1e3));
    out.has_unlike_drivers = sound.is_object() && sound.contains("unlike_drivers");
    const double gain = number_at(part_of(sound, "lining"), "gain").value_or(1.0);
    out.lining_gain = std::clamp(gain, geom::sound::kLeastGain, geom::sound::kMostGain);
    out.fb_hz = std::max(0.0, number_at(part_of(sound, "port"), "tuning_hz").value_or(0.0));
    if (const auto flat = number_at(part_of(part_of(json, "stiffness"), "weakest_wall"), "flat_area_mm2");
        flat && *flat > 0)
        out.flat_wall = geom::Area::mm2(*flat);
    return out;
}

}  // namespace cli

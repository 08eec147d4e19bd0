#include "exports/kept_gap.h"

#include "exports/internal/sha256.h"
#include "exports/write_files.h"
#include "geom/space/field_file.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <bit>
#include <fstream>
#include <string_view>
#include <system_error>

namespace exports {

namespace fs = std::filesystem;

namespace {

static_assert(std::endian::native == std::endian::little, "fields are kept as they lie in memory");

constexpr std::string_view kMagic = "GWKEEP1\n";
constexpr std::size_t kHash = 64;  // letters of a SHA-256

using Numbers = std::vector<double>;

Numbers numbers_of(const geom::Vec3& v) {
    return {v.x, v.y, v.z};
}
geom::Vec3 vector_of(const nlohmann::json& j) {
    return {j.at(0).get<double>(), j.at(1).get<double>(), j.at(2).get<double>()};
}

nlohmann::ordered_json edge_bytes(const geom::space::SharpEdge& edge) {
    nlohmann::ordered_json j;
    j["of"] = {edge.first, edge.second};
    for (const geom::Plane& plane : {edge.a, edge.b})
        j["planes"].push_back({numbers_of(plane.point), numbers_of(plane.outward)});
    j["at"] = numbers_of(edge.at);
    j["along"] = numbers_of(edge.along);
    j["free"] = nlohmann::ordered_json::array();
    for (const geom::space::Stretch& s : edge.free) j["free"].push_back(Numbers{s.from_mm, s.to_mm});
    return j;
}

geom::space::SharpEdge edge_of(const nlohmann::json& j) {
    const auto plane = [&](int i) {
        const auto& p = j.at("planes").at(static_cast<std::size_t>(i));
        return geom::Plane{vector_of(p.at(0)), vector_of(p.at(1))};
    };
    geom::space::SharpEdge edge{.first = j.at("of").at(0).get<std::string>(),
                                .second = j.at("of").at(1).get<std::string>(),
                                .a = plane(0),
                                .b = plane(1),
                                .at = vector_of(j.at("at")),
                                .along = vector_of(j.at("along")),
                                .free = {}};
    for (const auto& s : j.at("free")) edge.free.push_back({s.at(0).get<double>(), s.at(1).get<double>()});
    return edge;
}

std::string report_bytes(const geom::space::Room& room) {
    const geom::space::RoomReport& r = room.report;
    nlohmann::ordered_json j;
    j["voxel_mm"] = r.voxel_mm;
    j["bound_mm"] = r.bound_mm;
    j["edge_bound_mm"] = r.edge_bound_mm;
    j["field_bound_mm"] = r.field_bound_mm;
    j["nodes"] = r.nodes;
    j["widest_leak_mm"] = r.widest_leak_mm;
    j["notes"] = r.notes;
    j["edges"] = nlohmann::ordered_json::array();
    for (const geom::space::SharpEdge& edge : room.edges) j["edges"].push_back(edge_bytes(edge));
    return j.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
}

/// A room without its fields.
std::optional<geom::space::Room> report_of(std::string_view bytes) {
    const auto j = nlohmann::json::parse(bytes, nullptr, false);
    if (j.is_discarded() || !j.is_object()) return std::nullopt;
    try {
        geom::space::Room room;
        geom::space::RoomReport& r = room.report;
        j.at("voxel_mm").get_to(r.voxel_mm);
        j.at("bound_mm").get_to(r.bound_mm);
        j.at("edge_bound_mm").get_to(r.edge_bound_mm);
        j.at("field_bound_mm").get_to(r.field_bound_mm);
        j.at("nodes").get_to(r.nodes);
        j.at("widest_leak_mm").get_to(r.widest_leak_mm);
        j.at("notes").get_to(r.notes);
        for (const auto& edge : j.at("edges")) room.edges.push_back(edge_of(edge));
        return room;
    } catch (const nlohmann::json::exception&) {
        return std::nullopt;
    }
}

std::optional<geom::parts::GapField> gap_of(std::string_view bytes) {
    const std::size_t line = bytes.find('\n');
    if (line == std::string_view::npos) return std::nullopt;
    auto room = report_of(bytes.substr(0, line));
    bytes.remove_prefix(line + 1);
    auto outer = geom::space::take_field(bytes);
    if (!room || !outer) return std::nullopt;
    auto air = geom::space::take_field(bytes);
    if (!air || !bytes.empty()) return std::nullopt;
    room->outer = std::move(*outer);
    return geom::parts::GapField{std::move(*room), std::move(*air)};
}

/// All of a file, none when it cannot be read.
std::optional<std::string> bytes_of(const fs::path& file) {
    std::ifstream in(file, std::ios::binary | std::ios::ate);
    if (!in) return std::nullopt;
    const std::streamoff size = in.tellg();
    if (size < 0) return std::nullopt;
    std::string bytes(static_cast<std::size_t>(size), '\0');
    in.seekg(0);
    in.read(bytes.data(), size);
    if (!in) return std::nullopt;
    return bytes;
}

bool begins_as_ours(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    std::string head(kMagic.size(), '\0');
    in.read(head.data(), static_cast<std::streamsize>(head.size()));
    return in.gcount() == 0 || std::string_view(head).substr(0, static_cast<std::size_t>(in.gcount())) ==
                                   kMagic.substr(0, static_cast<std::size_t>(in.gcount()));
}

}  // namespace

std::string sha256_of(const std::string& bytes) {
    Sha256 hash;
    hash.add(bytes);
    return hash.hex();
}

KeptGap load_gap(const fs::path& file, const std::string& key) {
    std::error_code error;
    if (!fs::exists(file, error)) return {};
    const auto no = [&](const std::string& why) {
        return KeptGap{{}, fmt::format("{} is left out of account: {}", file.string(), why)};
    };
    if (!fs::is_regular_file(file, error)) return no("it is no file");
    try {
        const auto all = bytes_of(file);
        if (!all) return no("it cannot be read");
        std::string_view bytes = *all;
        if (bytes.substr(0, kMagic.size()) != kMagic) return no("it is not one this program keeps");
        if (bytes.size() < kMagic.size() + 2 * kHash) return no("it is cut short or damaged");
        if (bytes.substr(kMagic.size(), kHash) != key)
            return no("it is of another scan, other values or another build of the program");
        const std::string_view end = bytes.substr(bytes.size() - kHash);
        bytes.remove_suffix(kHash);
        Sha256 hash;
        hash.add(bytes);
        if (hash.hex() != end) return no("it is cut short or damaged");
        bytes.remove_prefix(kMagic.size() + kHash);
        auto gap = gap_of(bytes);
        if (!gap) return no("it is cut short or damaged");
        return {std::move(*gap), {}};
    } catch (const std::bad_alloc&) {
        return no("it does not fit into memory");
    }
}

std::string keep_gap(const fs::path& file, const std::string& key, const geom::parts::GapField& gap) {
    EXPECTS(key.size() == kHash);
    const auto not_kept = [&](const std::string& why) {
        return fmt::format("the field is not kept in {}: {}", file.string(), why);
    };
    std::error_code error;
    if (fs::exists(file, error) && !(fs::is_regular_file(file, error) && begins_as_ours(file)))
        return not_kept("what is there is not one this program keeps");
    std::string bytes(kMagic);
    bytes += key;
    bytes += report_bytes(gap.room) + "\n";
    geom::space::append_field(bytes, gap.room.outer);
    geom::space::append_field(bytes, gap.air);
    bytes += sha256_of(bytes);
    const auto written = write_whole(file, std::move(bytes));
    return written ? std::string() : not_kept(written.error().what);
}

}  // namespace exports

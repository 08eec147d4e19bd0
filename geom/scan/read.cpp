// A file is read whole and its format told from its content: a PLY and an OFF say so in their first word, a binary STL
// has the size its count asks for, a text STL begins with "solid" and has facets, an OBJ has lines that begin with v;
// what is left is text with columns, if it is text. The ending of the name decides only which fault a broken file gets.
//
// The joined points are then placed, converted to millimetres and held against what a vehicle scan can be. The extent
// is that of the middle 98 % of the points on each axis, so that one stray point neither hides nor fakes a wrong unit.
#include "geom/scan/read.h"

#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/formats.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <memory>
#include <new>

namespace geom::scan {

namespace internal {

Fault unreadable(const FileBytes& file, const std::string& rest, const std::string& hint) {
    return {FaultCode::Unreadable, file.name + ": " + rest, hint, {}, {}};
}

std::size_t find_binary_byte(std::string_view bytes, std::size_t limit) {
    limit = std::min(limit, bytes.size());
    for (std::size_t i = 0; i < limit; ++i) {
        const auto c = static_cast<unsigned char>(bytes[i]);
        if ((c < 32 && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != 0x1A) || c == 127) return i;
    }
    return kNoByte;
}

void add_fan(const std::vector<std::uint32_t>& corners, std::vector<std::array<std::uint32_t, 3>>& triangles) {
    for (std::size_t k = 2; k < corners.size(); ++k) triangles.push_back({corners[0], corners[k - 1], corners[k]});
}

}  // namespace internal

namespace {

using internal::FileBytes;
using internal::Parsed;
using internal::unreadable;

constexpr const char* kKnownFormats = "known formats: PLY, STL, OBJ, OFF, and text with x, y, z in columns (XYZ, CSV)";

Result<std::string> read_bytes(const std::filesystem::path& path) {
    const FileBytes name{path.string(), {}};
    std::error_code error;
    const auto status = std::filesystem::status(path, error);
    if (error || status.type() == std::filesystem::file_type::not_found)
        return unreadable(name, "no such file", "check the name; it is looked for beside the job file");
    if (status.type() == std::filesystem::file_type::directory)
        return unreadable(name, "a folder, wanted a file", "name the scan file in it");
    std::unique_ptr<std::FILE, int (*)(std::FILE*)> stream(std::fopen(path.c_str(), "rb"), &std::fclose);
    if (!stream) return unreadable(name, "cannot be opened", "check that you may read it");
    std::string bytes;
    const auto size = std::filesystem::file_size(path, error);
    if (!error) bytes.reserve(static_cast<std::size_t>(size));
    constexpr std::size_t kBlock = std::size_t{1} << 20;
    while (true) {
        const std::size_t before = bytes.size();
        bytes.resize(before + kBlock);
        const std::size_t got = std::fread(bytes.data() + before, 1, kBlock, stream.get());
        bytes.resize(before + got);
        if (got < kBlock) break;
    }
    if (std::ferror(stream.get()) != 0)
        return unreadable(name, fmt::format("reading failed after {} bytes", bytes.size()),
                          "copy the file to a sound disk");
    return bytes;
}

std::string lower_ending(const std::filesystem::path& path) {
    std::string ending = path.extension().string();
    for (char& c : ending)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return ending;
}

bool is_off_word(std::string_view w) {
    for (const char* known : {"OFF", "COFF", "NOFF", "CNOFF", "STOFF", "STCOFF", "STNOFF", "STCNOFF", "4OFF", "nOFF"})
        if (w == known) return true;
    return false;
}

bool looks_like_obj(std::string_view bytes) {
    internal::Cursor c(bytes.substr(0, 1 << 16));
    for (int i = 0; i < 50; ++i) {
        c.skip_empty_lines('#');
        const std::string_view w = c.token();
        if (w.empty()) return false;
        for (const char* known : {"v", "vn", "vt", "f", "o", "g", "s", "mtllib", "usemtl"})
            if (w == known) return true;
        c.next_line();
    }
    return false;
}

Result<Parsed> parse(const std::filesystem::path& path, std::string_view bytes) {
    if (bytes.starts_with("\xEF\xBB\xBF")) bytes.remove_prefix(3);  // byte order mark of UTF-8
    const FileBytes file{path.string(), bytes};
    const std::string ending = lower_ending(path);
    if (bytes.empty()) return unreadable(file, "the file is empty", "copy or export the scan again");

    if (bytes.starts_with("ply") && (bytes.size() == 3 || bytes[3] == '\n' || bytes[3] == '\r' || bytes[3] == ' '))
        return internal::parse_ply(file);
    if (ending == ".ply")
        return unreadable(
            file,
            fmt::format("line 1 is {}, wanted \"ply\"", internal::quoted(bytes.substr(0, bytes.find_first_of("\r\n")))),
            "the file is no PLY, or was damaged in copying");
    if (bytes.starts_with("\xFF\xFE") || bytes.starts_with("\xFE\xFF"))
        return unreadable(file, "the text is UTF-16, wanted plain text", "save it as UTF-8 text");
    if (bytes.starts_with("# .PCD"))
        return unreadable(file, "a PCD file, which is not read", std::string("save it as PLY; ") + kKnownFormats);

    const std::size_t bad = internal::find_binary_byte(bytes, bytes.size());
    if (bytes.size() >= 84) {
        std::uint64_t count = 0;
        for (std::size_t i = 4; i-- > 0;) count = count << 8 | static_cast<unsigned char>(bytes[80 + i]);
        if (bytes.size() == 84 + 50 * count) return internal::parse_stl_binary(file);
    }
    if (bad != internal::kNoByte) {
        if (ending == ".stl") return internal::parse_stl_binary(file);
        for (const char* text : {".obj", ".off", ".xyz", ".csv", ".txt", ".asc", ".pts"})
            if (ending == text)
                return unreadable(file,
                                  fmt::format("byte {} is binary (0x{:02x}), wanted text", bad,
                                              static_cast<unsigned char>(bytes[bad])),
                                  "copy or export the file again as text");
        return unreadable(file, "the format is not known", kKnownFormats);
    }
    internal::Cursor c(bytes);
    c.skip_empty_lines('#');
    const std::string_view first = c.token();
    if (ending == ".stl" || (first == "solid" && bytes.find("facet") != std::string_view::npos))
        return internal::parse_stl_ascii(file);
    if (is_off_word(first)) return internal::parse_off(file);
    if (ending == ".off")
        return unreadable(file, "line 1 begins with " + internal::quoted(first) + ", wanted \"OFF\"",
                          "the file is no OFF, or was damaged in copying");
    if (ending == ".obj" || looks_like_obj(bytes)) return internal::parse_obj(file);
    return internal::parse_text(file);
}

/// Coordinates past this are no places: a thousand times what georeferenced scans have.
constexpr double kFarthest_mm = 1e12;

/// Appends one file's vertices, converted and placed; drops what is not finite.
void append(Parsed parsed, const ReadOptions& options, RawScan& scan, bool& all_normals) {
    const double unit_mm = one(options.unit).mm();
    const auto base = static_cast<std::uint32_t>(scan.points.size());
    constexpr std::uint32_t kGone = 0xFFFFFFFFu;
    std::vector<std::uint32_t> place;
    const bool has_normals = !parsed.normals.empty();
    all_normals = all_normals && has_normals;
    const std::size_t dropped_before = scan.not_finite;
    if (!parsed.triangles.empty()) place.resize(parsed.points.size());
    scan.points.reserve(scan.points.size() + parsed.points.size());
    for (std::size_t i = 0; i < parsed.points.size(); ++i) {
        Point3 p = parsed.points[i];
        if (options.placed) p = options.vehicle_place.to_local(p);
        p = p * unit_mm;
        const bool good = std::abs(p.x) < kFarthest_mm && std::abs(p.y) < kFarthest_mm && std::abs(p.z) < kFarthest_mm;
        if (!place.empty()) place[i] = good ? static_cast<std::uint32_t>(scan.points.size()) : kGone;
        if (!good) {
            ++scan.not_finite;
            continue;
        }
        scan.points.push_back(p);
        if (!all_normals) continue;
        Vec3 n = parsed.normals[i];
        if (options.placed) n = options.vehicle_place.dir_to_local(n);
        n = unit(n);
        if (!is_finite(n) || std::abs(norm2(n) - 1.0) > 1e-6)
            all_normals = false;
        else
            scan.normals.push_back(n);
    }
    scan.triangles.reserve(scan.triangles.size() + parsed.triangles.size());
    const bool dropped = scan.not_finite != dropped_before;
    for (const auto& t : parsed.triangles) {
        if (!dropped) {
            scan.triangles.push_back({t[0] + base, t[1] + base, t[2] + base});
        } else if (place[t[0]] != kGone && place[t[1]] != kGone && place[t[2]] != kGone) {
            scan.triangles.push_back({place[t[0]], place[t[1]], place[t[2]]});
        }
    }
}

Status check_extent(const std::string& names, const RawScan& scan, FileUnit unit) {
    const Vec3 size = middle_box(scan.points).size();
    const double largest_mm = std::max({size.x, size.y, size.z});
    if (is_plausible_extent(Length::mm(largest_mm))) return Done{};
    const Vec3 in_file = size / one(unit).mm();
    const std::string plausible = plausible_text(likely_units(in_file));
    return Fault{
        FaultCode::WrongUnit,
        fmt::format("{}: extent {:.4g} x {:.4g} x {:.4g} {} ({:.4g} mm at most), wanted 50 mm to 20 m for a vehicle",
                    names, in_file.x, in_file.y, in_file.z, name_of(unit), largest_mm),
        plausible.empty() ? "no unit makes sense of it; check that the file is a scan of the gap"
                          : "set [scan] length_unit to a plausible one, likeliest first: " + plausible,
        {},
        {}};
}

/// The middle points must not lie on one line.
Status check_not_a_line(const std::string& names, const RawScan& scan) {
    const Aabb box = middle_box(scan.points);
    const std::vector<Point3>& points = scan.points;
    const auto is_inside = [&](Point3 p) {
        return p.x >= box.lo.x && p.y >= box.lo.y && p.z >= box.lo.z && p.x <= box.hi.x && p.y <= box.hi.y &&
               p.z <= box.hi.z;
    };
    // Two points far apart, then the largest distance from the line through them: exact on exact data.
    const auto farthest_from = [&](Point3 from) {
        Point3 best = from;
        for (const Point3& p : points)
            if (norm2(p - from) > norm2(best - from) && is_inside(p)) best = p;
        return best;
    };
    const Point3 a = farthest_from((box.lo + box.hi) / 2.0), b = farthest_from(a);
    const double length_mm = distance(a, b);
    if (length_mm <= 0.0)
        return Fault{FaultCode::BadScan,
                     fmt::format("{}: all {} points lie in one place, wanted a surface", names, points.size()),
                     "scan the gap again",
                     a,
                     {}};
    const Vec3 along = (b - a) / length_mm;
    double off_mm = 0.0;
    for (const Point3& p : points)
        if (is_inside(p)) off_mm = std::max(off_mm, norm(cross(p - a, along)));
    if (off_mm > 1e-3 * length_mm) return Done{};
    return Fault{FaultCode::BadScan,
                 fmt::format("{}: all {} points lie on one line (within {:.2g} mm over {:.4g} mm), wanted a surface",
                             names, points.size(), off_mm, length_mm),
                 "check that columns x, y and z are those meant, or scan the gap again",
                 a,
                 {}};
}

}  // namespace

Result<RawScan> read_scans(const std::vector<std::filesystem::path>& files, const ReadOptions& options,
                           const Context& context) try {
    EXPECTS(!files.empty());
    const Stage stage(context, "scan/read");
    RawScan scan;
    bool all_normals = true;
    std::string names;
    for (const auto& path : files) {
        if (context.is_cancelled()) return Context::interrupted();
        GAPWRIGHT_TRY(bytes, read_bytes(path));
        GAPWRIGHT_TRY(parsed, parse(path, bytes));
        names += (names.empty() ? "" : " + ") + path.string();
        scan.files.push_back({path, parsed.format, parsed.points.size(), parsed.triangles.size(),
                              !parsed.normals.empty(), parsed.has_colours, std::nullopt});
        append(std::move(parsed), options, scan, all_normals);
    }
    if (!all_normals) scan.normals = {};
    if (scan.points.empty())
        return Fault{FaultCode::BadScan,
                     scan.not_finite > 0
                         ? fmt::format("{}: all {} points have a coordinate that is no finite number, wanted a surface",
                                       names, scan.not_finite)
                         : fmt::format("{}: no point, wanted a surface", names),
                     "export the scan again without empty points",
                     {},
                     {}};
    if (scan.points.size() == 1)
        return Fault{FaultCode::BadScan,
                     fmt::format("{}: one point, wanted a surface", names),
                     "scan the gap again",
                     scan.points.front(),
                     {}};
    GAPWRIGHT_CHECK(check_not_a_line(names, scan));
    if (!options.any_extent) GAPWRIGHT_CHECK(check_extent(names, scan, options.unit));
    return scan;
} catch (const std::bad_alloc&) {
    std::string names;
    for (const auto& path : files) names += (names.empty() ? "" : " + ") + path.string();
    return Fault{FaultCode::MemoryLimit,
                 names + ": more points than this machine's memory holds",
                 "thin the scan before, to some millions of points",
                 {},
                 {}};
}

}  // namespace geom::scan

// A file is read whole and its format told from its content: a PLY and an OFF say so in their first word, a binary STL
// has the size its count asks for, a text STL begins with "solid" and has facets, an OBJ has lines that begin with v;
// what is left is text with columns, if it is text. The ending of the name decides only which fault a broken file gets.
//
// The joined points are then placed, converted to millimetres and held against what a vehicle scan can be. The extent
// is that of the middle 98 % of the points on each axis, so that one stray point neither hides nor fakes a wrong unit.
#include "geom/scan/read.h"

#include "geom/core/parallel.h"
#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/formats.h"
#include "geom/scan/internal/mesh_samples.h"
#include "geom/scan/internal/unit_remark.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <new>
#include <numeric>

namespace geom::scan {

namespace internal {

Fault unreadable(const FileBytes& file, const std::string& rest, const std::string& hint) {
    return {FaultCode::Unreadable, file.name + ": " + rest, hint, {}, {}};
}

std::size_t find_binary_byte(std::string_view bytes, std::size_t limit) {
    const auto is_binary = [](char byte) {
        const auto c = static_cast<unsigned char>(byte);
        return (c < 32 && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != 0x1A) || c == 127;
    };
    limit = std::min(limit, bytes.size());
    constexpr std::size_t kBlock = 4096;
    for (std::size_t first = 0; first < limit; first += kBlock) {
        const std::size_t last = std::min(first + kBlock, limit);
        unsigned any = 0;  // without a branch a block, so that it goes many bytes at a time
        for (std::size_t i = first; i < last; ++i) any |= is_binary(bytes[i]) ? 1u : 0u;
        if (any == 0) continue;
        for (std::size_t i = first; i < last; ++i)
            if (is_binary(bytes[i])) return i;
    }
    return kNoByte;
}

}  // namespace internal

namespace {

using internal::FileBytes;
using internal::FileContent;
using internal::kKnownFormats;
using internal::Parsed;
using internal::unreadable;

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

/// Formats that are known by their first bytes and not read.
const char* known_but_unread(std::string_view bytes, const std::string& ending) {
    struct Mark {
        std::string_view bytes;
        const char* name;
    };
    static constexpr Mark kMarks[] = {{"LASF", "a LAS or LAZ file"},
                                      {"ASTM-E57", "an E57 file"},
                                      {"PK\x03\x04", "a ZIP archive (USDZ is such a one)"},
                                      {"\x1F\x8B", "a gzip archive"},
                                      {"Rar!", "a RAR archive"},
                                      {"7z\xBC\xAF", "a 7z archive"},
                                      {"Kaydara FBX", "an FBX file"},
                                      {"# vtk", "a VTK file"},
                                      {"ISO-10303-21", "a STEP file"},
                                      {"<?xml", "an XML file"},
                                      {"%PDF", "a PDF"}};
    for (const Mark& mark : kMarks)
        if (bytes.starts_with(mark.bytes)) return mark.name;
    return ending == ".ptx" ? "a PTX file" : nullptr;
}

bool looks_like_gltf(std::string_view bytes) {
    const std::size_t first = bytes.find_first_not_of(" \t\r\n");
    return first != std::string_view::npos && bytes[first] == '{' &&
           bytes.substr(0, std::size_t{1} << 22).find("\"asset\"") != std::string_view::npos;
}

Result<Parsed> parse(const std::filesystem::path& path, FileBytes file) {
    if (file.bytes.starts_with("\xEF\xBB\xBF")) {  // byte order mark of UTF-8
        file.bytes.remove_prefix(3);
        file.offset += 3;
    }
    const std::string_view bytes = file.bytes;
    const std::string ending = lower_ending(path);
    if (bytes.empty()) return unreadable(file, "the file is empty", "copy or export the scan again");

    if (bytes.starts_with("ply") && (bytes.size() == 3 || bytes[3] == '\n' || bytes[3] == '\r' || bytes[3] == ' '))
        return internal::parse_ply(file);
    if (ending == ".ply")
        return unreadable(file,
                          fmt::format("line 1 is {}, wanted \"ply\"",
                                      internal::in_quotes(bytes.substr(0, bytes.find_first_of("\r\n")))),
                          "the file is no PLY, or was damaged in copying");
    if (bytes.starts_with("\xFF\xFE") || bytes.starts_with("\xFE\xFF"))
        return unreadable(file, "the text is UTF-16, wanted plain text", "save it as UTF-8 text");
    if (bytes.starts_with("# .PCD") || ending == ".pcd") return internal::parse_pcd(file);
    if (bytes.starts_with("glTF") || ending == ".glb") {
        if (!bytes.starts_with("glTF"))
            return unreadable(file, "begins with " + internal::in_quotes(bytes.substr(0, 4)) + ", wanted \"glTF\"",
                              "the file is no GLB, or was damaged in copying");
        return internal::parse_gltf(file, true);
    }
    if (ending == ".gltf" || looks_like_gltf(bytes)) return internal::parse_gltf(file, false);
    if (ending == ".3mf" || (bytes.starts_with("PK\x03\x04") && bytes.find("3D/") != std::string_view::npos &&
                             bytes.find("_rels/.rels") != std::string_view::npos))
        return internal::parse_3mf(file);
    if (const char* name = known_but_unread(bytes, ending))
        return unreadable(file, std::string(name) + ", which is not read",
                          std::string("save the scan as PLY; ") + kKnownFormats);

    if (bytes.size() >= 84) {
        std::uint64_t count = 0;
        for (std::size_t i = 4; i-- > 0;) count = count << 8 | static_cast<unsigned char>(bytes[80 + i]);
        if (bytes.size() == 84 + 50 * count) return internal::parse_stl_binary(file);
    }
    const std::size_t bad = internal::find_binary_byte(bytes, bytes.size());
    file.release_before(bytes.size());
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
        return unreadable(file, "line 1 begins with " + internal::in_quotes(first) + ", wanted \"OFF\"",
                          "the file is no OFF, or was damaged in copying");
    if (ending == ".obj" || looks_like_obj(bytes)) return internal::parse_obj(file);
    return internal::parse_text(file);
}

/// Coordinates past this are no places: a thousand times what georeferenced scans have.
constexpr double kFarthest_mm = 1e12;
/// Triangles name their corners by 32 bits.
constexpr std::size_t kMostPoints = 0xFFFFFFF0u;

/// Takes the numbers of one file to the vehicle: millimetres, placed. What is not finite, or too far to be a place,
/// becomes NaN; how many there are.
std::size_t place_points(Parsed& parsed, FileUnit unit, const ReadOptions& options) {
    const double unit_mm = one(unit).mm();
    constexpr std::size_t kGrain = 1 << 15;
    const std::size_t count = parsed.points.size();
    std::vector<std::size_t> bad(count / kGrain + 1, 0);
    parallel_for(count, kGrain, [&](std::size_t begin, std::size_t end) {
        std::size_t here = 0;
        for (std::size_t i = begin; i < end; ++i) {
            Point3& p = parsed.points[i];
            if (options.placed) p = options.vehicle_place.to_local(p);
            p = p * unit_mm;
            if (std::abs(p.x) < kFarthest_mm && std::abs(p.y) < kFarthest_mm && std::abs(p.z) < kFarthest_mm) continue;
            p.x = std::numeric_limits<double>::quiet_NaN();
            ++here;
        }
        bad[begin / kGrain] = here;
    });
    return std::accumulate(bad.begin(), bad.end(), std::size_t{0});
}

/// Unit length, in the vehicle's axes; false when one of them is no direction.
bool place_normals(std::vector<Vec3>& normals, const ReadOptions& options) {
    std::atomic<bool> all = true;
    parallel_for(normals.size(), 1 << 15, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) {
            Vec3& n = normals[i];
            if (options.placed) n = options.vehicle_place.dir_to_local(n);
            n = unit(n);
            if (!is_finite(n) || std::abs(norm2(n) - 1.0) > 1e-6) all = false;
        }
    });
    return all;
}

/// Takes out the points that are NaN, and the triangles on them.
void drop_bad(Parsed& parsed) {
    constexpr std::uint32_t kGone = 0xFFFFFFFFu;
    std::vector<std::uint32_t> place(parsed.triangles.empty() ? 0 : parsed.points.size());
    std::size_t n = 0;
    for (std::size_t i = 0; i < parsed.points.size(); ++i) {
        const bool is_good = !std::isnan(parsed.points[i].x);
        if (!place.empty()) place[i] = is_good ? static_cast<std::uint32_t>(n) : kGone;
        if (!is_good) continue;
        parsed.points[n] = parsed.points[i];
        if (!parsed.normals.empty()) parsed.normals[n] = parsed.normals[i];
        ++n;
    }
    parsed.points.resize(n);
    if (!parsed.normals.empty()) parsed.normals.resize(n);
    std::size_t kept = 0;
    for (const auto& t : parsed.triangles)
        if (place[t[0]] != kGone && place[t[1]] != kGone && place[t[2]] != kGone)
            parsed.triangles[kept++] = {place[t[0]], place[t[1]], place[t[2]]};
    parsed.triangles.resize(kept);
}

template <class T>
void append(std::vector<T>&& more, std::vector<T>& all) {
    if (all.empty())
        all = std::move(more);
    else
        all.insert(all.end(), more.begin(), more.end());
}

/// One file's part of the scan. Points without triangles and points of triangles are kept apart until all are there.
struct Piece {
    std::size_t file = 0;  ///< its place among the files
    std::vector<Point3> points;
    std::vector<Vec3> normals;
    std::vector<std::array<std::uint32_t, 3>> triangles;
};

/// Some files are clouds and some meshes: even points of the meshes count like those of the clouds.
void sample_meshes(std::vector<Piece>& pieces, std::vector<FileRead>& files) {
    for (Piece& piece : pieces) {
        if (piece.triangles.empty()) continue;
        RawScan mesh;
        mesh.files = {files[piece.file]};
        mesh.points = std::move(piece.points);
        mesh.normals = std::move(piece.normals);
        mesh.triangles = std::move(piece.triangles);
        turn_into_points(mesh);
        files[piece.file] = mesh.files.front();
        piece = {piece.file, std::move(mesh.points), std::move(mesh.normals), {}};
    }
}

void join(std::vector<Piece>& pieces, RawScan& scan) {
    bool any_cloud = false, any_mesh = false, all_normals = true;
    for (const Piece& piece : pieces) (piece.triangles.empty() ? any_cloud : any_mesh) = true;
    if (any_cloud && any_mesh) sample_meshes(pieces, scan.files);
    std::size_t points = 0;
    for (const Piece& piece : pieces) {
        points += piece.points.size();
        all_normals = all_normals && piece.normals.size() == piece.points.size();
    }
    if (pieces.size() > 1) scan.points.reserve(points);
    for (Piece& piece : pieces) {
        const auto base = static_cast<std::uint32_t>(scan.points.size());
        if (pieces.size() > 1) {
            scan.points.insert(scan.points.end(), piece.points.begin(), piece.points.end());
            piece.points = {};
        } else {
            scan.points = std::move(piece.points);
        }
        if (all_normals) append(std::move(piece.normals), scan.normals);
        if (base > 0)
            for (auto& t : piece.triangles)
                for (std::uint32_t& corner : t) corner += base;
        append(std::move(piece.triangles), scan.triangles);
        piece = {};
    }
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

Result<Parsed> read_file(const std::filesystem::path& path, const internal::Budget& budget) {
    GAPWRIGHT_TRY(content, FileContent::open(path));
    FileBytes file{path.string(), content.bytes(), path.parent_path(), budget, &content, 0};
    Result<Parsed> parsed = parse(path, std::move(file));
    if (parsed && !parsed->own_unit) parsed->said_unit = internal::unit_remark(content.bytes());
    GAPWRIGHT_CHECK(content.check_unchanged());  // before what was found in it: it may be zeros
    return parsed;
}

}  // namespace

Status check_extent(const RawScan& scan, FileUnit stated) {
    std::string names;
    for (const FileRead& file : scan.files) names += (names.empty() ? "" : " + ") + file.path.string();
    if (names.empty()) names = "the scan";
    const bool own = !scan.files.empty() && std::all_of(scan.files.begin(), scan.files.end(),
                                                        [](const FileRead& f) { return f.own_unit.has_value(); });
    const FileUnit unit = own ? *scan.files.front().own_unit : stated;
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
        : own
            ? "glTF is in metres; this file breaks that: save it as PLY and set [scan] length_unit, likeliest first: " +
                  plausible
            : "set [scan] length_unit to a plausible one, likeliest first: " + plausible,
        {},
        {}};
}

void turn_into_points(RawScan& scan) {
    constexpr std::size_t kMostSamples = 900000;
    if (scan.triangles.empty()) return;
    internal::MeshSamples samples = internal::sample_mesh(scan, kMostSamples);
    for (FileRead& file : scan.files)
        if (file.triangles > 0) file.sampled = samples.points.size(), file.sampled_mm = samples.spacing_mm;
    scan.points = std::move(samples.points);
    scan.normals = std::move(samples.normals);
    scan.triangles = {};
}

Result<RawScan> read_scans(const std::vector<std::filesystem::path>& files, const ReadOptions& options,
                           const Context& context) try {
    EXPECTS(!files.empty());
    const Stage stage(context, "scan/read");
    RawScan scan;
    std::vector<Piece> pieces;
    std::string names;
    internal::Budget budget{options.memory_limit_bytes, 0.0, options.keep_every};
    std::size_t points = 0;
    for (const auto& path : files) {
        if (context.is_cancelled()) return Context::interrupted();
        names += (names.empty() ? "" : " + ") + path.string();
        GAPWRIGHT_TRY(read, read_file(path, budget));
        const FileUnit unit = read.own_unit.value_or(options.unit);
        scan.files.push_back({path, read.format, std::max(read.in_file, read.points.size()), read.triangles.size(),
                              !read.normals.empty(), read.has_colours, read.own_unit, read.said_unit, read.kept_every});
        const std::size_t bad = place_points(read, unit, options);
        if (bad > 0) drop_bad(read);
        scan.not_finite += bad;
        if (!place_normals(read.normals, options)) read.normals = {};
        budget.used_bytes += internal::Budget::cost(read.points.size(), read.triangles.size(), !read.normals.empty());
        points += read.points.size();
        if (points > kMostPoints)
            return Fault{FaultCode::MemoryLimit,
                         fmt::format("{}: {} points, wanted at most {}", names, points, kMostPoints),
                         "thin the files before, to some millions of points",
                         {},
                         {}};
        if (!read.points.empty())
            pieces.push_back(
                {scan.files.size() - 1, std::move(read.points), std::move(read.normals), std::move(read.triangles)});
    }
    join(pieces, scan);
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
    if (!options.any_extent) GAPWRIGHT_CHECK(check_extent(scan, options.unit));
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

// The parsers behind read_scans(): each takes the bytes of one file and gives its vertices as they stand there.
//
// Units     those of the file; nothing is converted, placed or dropped here.
// Faults    all Unreadable; the text names file, line (text) or byte (binary), what was found and what was wanted.
// Memory    nothing is allocated from a count in a file before the bytes for it have been seen; what is allocated is
//           held against a Budget (budget.h), which may ask for a cloud's every k-th point alone: MemoryLimit.
#pragma once

#include "geom/core/result.h"
#include "geom/core/vec.h"
#include "geom/scan/internal/budget.h"
#include "geom/scan/internal/file_content.h"
#include "geom/scan/unit.h"

#include <array>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace geom::scan::internal {

struct FileBytes {
    std::string name;  ///< as the user gave it; every fault begins with it
    std::string_view bytes;
    std::filesystem::path folder;  ///< where files named in it lie
    Budget budget;
    const FileContent* content = nullptr;  ///< what `bytes` is part of, when they may be released
    std::size_t offset = 0;                ///< of `bytes` in it

    void release_before(std::size_t place) const {
        if (content != nullptr) content->release_before(offset + place);
    }
};

/// Vertices as written, non-finite ones included. `normals` has one a point, unchecked, or is empty.
struct Parsed {
    std::vector<Point3> points;
    std::vector<Vec3> normals;
    std::vector<std::array<std::uint32_t, 3>> triangles;
    std::string format;                 ///< for people: "PLY, binary"
    bool has_colours = false;           ///< one a vertex; they are not kept
    std::size_t kept_every = 1;         ///< `points` holds every k-th of the file
    std::size_t in_file = 0;            ///< points the file holds, when that is more than `points`
    std::optional<FileUnit> own_unit;   ///< by the definition of the format, or said in it
    std::optional<FileUnit> said_unit;  ///< by a remark in the file
};

Result<Parsed> parse_ply(const FileBytes& file);
Result<Parsed> parse_stl_ascii(const FileBytes& file);
Result<Parsed> parse_stl_binary(const FileBytes& file);
Result<Parsed> parse_obj(const FileBytes& file);
Result<Parsed> parse_off(const FileBytes& file);
Result<Parsed> parse_text(const FileBytes& file);
Result<Parsed> parse_pcd(const FileBytes& file);
/// `is_binary`: a GLB; a JSON otherwise.
Result<Parsed> parse_gltf(const FileBytes& file, bool is_binary);
/// Everything that is to be built, in place; objects that are not parts (supports and the like) are left out.
Result<Parsed> parse_3mf(const FileBytes& file);

/// "<file>: <rest>", code Unreadable.
Fault unreadable(const FileBytes& file, const std::string& rest, const std::string& hint);

/// First byte that no text file has (control bytes except tab, line ends and form feed), if there is one within
/// `limit`.
std::size_t find_binary_byte(std::string_view bytes, std::size_t limit);
inline constexpr std::size_t kNoByte = static_cast<std::size_t>(-1);

inline constexpr const char* kKnownFormats =
    "known formats: PLY, STL, OBJ, OFF, PCD, glTF / GLB, 3MF, and text with x, y, z in columns (XYZ, CSV, PTS)";

}  // namespace geom::scan::internal

// The parsers behind read_scans(): each takes the bytes of one file and gives its vertices as they stand there.
//
// Units     those of the file; nothing is converted, placed or dropped here.
// Faults    all Unreadable; the text names file, line (text) or byte (binary), what was found and what was wanted.
// Memory    nothing is allocated from a count in a file before the bytes for it have been seen.
#pragma once

#include "geom/core/result.h"
#include "geom/core/vec.h"

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace geom::scan::internal {

struct FileBytes {
    std::string name;  ///< as the user gave it; every fault begins with it
    std::string_view bytes;
};

/// Vertices as written, non-finite ones included. `normals` has one a point, unchecked, or is empty.
struct Parsed {
    std::vector<Point3> points;
    std::vector<Vec3> normals;
    std::vector<std::array<std::uint32_t, 3>> triangles;
    std::string format;        ///< for people: "PLY, binary"
    bool has_colours = false;  ///< one a vertex; they are not kept
};

Result<Parsed> parse_ply(const FileBytes& file);
Result<Parsed> parse_stl_ascii(const FileBytes& file);
Result<Parsed> parse_stl_binary(const FileBytes& file);
Result<Parsed> parse_obj(const FileBytes& file);
Result<Parsed> parse_off(const FileBytes& file);
Result<Parsed> parse_text(const FileBytes& file);

/// "<file>: <rest>", code Unreadable.
Fault unreadable(const FileBytes& file, const std::string& rest, const std::string& hint);

/// First byte that no text file has (control bytes except tab, line ends and form feed), if there is one within
/// `limit`.
std::size_t find_binary_byte(std::string_view bytes, std::size_t limit);
inline constexpr std::size_t kNoByte = static_cast<std::size_t>(-1);

/// Polygon `corners` as a fan; nothing for fewer than three.
void add_fan(const std::vector<std::uint32_t>& corners, std::vector<std::array<std::uint32_t, 3>>& triangles);

}  // namespace geom::scan::internal

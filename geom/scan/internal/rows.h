// Rows of numbers as a header declares them: elements (vertices, faces) of properties, as text or as packed numbers.
// PLY is made of them, and the data of a PCD is one such element.
#pragma once

#include "geom/scan/internal/formats.h"

#include <string>
#include <vector>

namespace geom::scan::internal::rows {

enum class Type { I8, U8, I16, U16, I32, U32, I64, U64, F32, F64 };
std::size_t size_of(Type t);

/// Where a value goes: slots 0..5 are x y z nx ny nz.
enum Role : int { kSkip = -1, kX = 0, kY, kZ, kNx, kNy, kNz, kCorners, kStrip };

struct Property {
    Type type = Type::F32;
    bool is_list = false;
    Type count_type = Type::U8;
    int role = kSkip;
};

struct Element {
    std::string name;
    std::size_t count = 0;
    std::vector<Property> properties;

    bool is_vertex() const { return name == "vertex"; }
    bool has(int role) const;
    bool has_lists() const;
    bool has_normals() const { return has(kNx) && has(kNy) && has(kNz); }
};

enum class Encoding { Ascii, Little, Big };

struct Header {
    std::string format = "PLY";  ///< for faults
    Encoding encoding = Encoding::Ascii;
    bool has_encoding = false;
    bool has_colours = false;
    std::vector<Element> elements;
    std::size_t data_offset = 0;
    std::size_t data_line = 1;
};

/// The data that begin at header.data_offset; header.format, what is kept and colours are filled in.
Result<Parsed> parse_declared(const FileBytes& file, const Header& header);

}  // namespace geom::scan::internal::rows

// PLY: a text header that declares elements and their properties, then the rows (rows.h) as text or as packed numbers
// of either byte order. Vertex rows give x, y, z and, where all three are there, nx, ny, nz; face rows give polygons,
// rows of strips give triangles. What has no meaning here is walked past.
#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/formats.h"
#include "geom/scan/internal/rows.h"

#include <fmt/format.h>

#include <optional>

namespace geom::scan::internal {

namespace {

using namespace rows;

std::optional<Type> type_named(std::string_view name) {
    if (name == "char" || name == "int8") return Type::I8;
    if (name == "uchar" || name == "uint8") return Type::U8;
    if (name == "short" || name == "int16") return Type::I16;
    if (name == "ushort" || name == "uint16") return Type::U16;
    if (name == "int" || name == "int32") return Type::I32;
    if (name == "uint" || name == "uint32") return Type::U32;
    if (name == "float" || name == "float32") return Type::F32;
    if (name == "double" || name == "float64") return Type::F64;
    return std::nullopt;
}

int role_of(const std::string& element, const std::string& name, bool is_list) {
    if (element == "vertex" && !is_list) {
        static constexpr std::string_view kNames[] = {"x", "y", "z", "nx", "ny", "nz"};
        for (int i = 0; i < 6; ++i)
            if (name == kNames[i]) return i;
    }
    if (is_list && (name == "vertex_indices" || name == "vertex_index" || name == "vertex_indexes")) {
        if (element == "face") return kCorners;
        if (element == "tristrips") return kStrip;
    }
    return kSkip;
}

Result<Header> parse_header(const FileBytes& file) {
    // A header of a hundred properties is a few kilobytes; a file without end_header is not searched to its end.
    constexpr std::size_t kMostHeader = 1 << 18;
    const std::string hint = "export the scan again as PLY, or as XYZ text";
    Cursor c(file.bytes.substr(0, kMostHeader));
    Header header;
    c.next_line();
    while (true) {
        if (c.at_end())
            return unreadable(file, fmt::format("the PLY header has no \"end_header\" in its {} lines", c.line()),
                              hint);
        const std::size_t line = c.line();
        auto fault = [&](const std::string& text) {
            return unreadable(file, fmt::format("line {} of the PLY header: {}", line, text), hint);
        };
        const std::string_view word = c.token();
        if (word == "end_header") {
            c.next_line();
            break;
        }
        if (word == "format") {
            const std::string_view e = c.token();
            if (e == "ascii")
                header.encoding = Encoding::Ascii;
            else if (e == "binary_little_endian")
                header.encoding = Encoding::Little;
            else if (e == "binary_big_endian")
                header.encoding = Encoding::Big;
            else
                return fault("format " + in_quotes(e) + ", wanted ascii, binary_little_endian or binary_big_endian");
            header.has_encoding = true;
        } else if (word == "element") {
            Element element;
            element.name = c.token();
            long long count = -1;
            if (element.name.empty() || !c.integer(count) || count < 0)
                return fault("element " + in_quotes(element.name) + " with count " + in_quotes(c.token()) +
                             ", wanted a count of 0 or more");
            element.count = static_cast<std::size_t>(count);
            header.elements.push_back(std::move(element));
        } else if (word == "property") {
            if (header.elements.empty()) return fault("a property before the first element");
            Element& element = header.elements.back();
            Property property;
            std::string_view type = c.token();
            if (type == "list") {
                property.is_list = true;
                const std::string_view count_type = c.token();
                const auto t = type_named(count_type);
                if (!t || *t == Type::F32 || *t == Type::F64)
                    return fault("list count of type " + in_quotes(count_type) + ", wanted a whole-number type");
                property.count_type = *t;
                type = c.token();
            }
            const auto t = type_named(type);
            if (!t) return fault("property of type " + in_quotes(type) + ", wanted one of char .. double");
            property.type = *t;
            std::string name(c.token());
            if (name.empty()) return fault("a property without a name");
            for (char& letter : name)
                if (letter >= 'A' && letter <= 'Z') letter = static_cast<char>(letter - 'A' + 'a');
            property.role = role_of(element.name, name, property.is_list);
            if (element.is_vertex() && (name == "red" || name == "diffuse_red" || name == "r"))
                header.has_colours = true;
            element.properties.push_back(property);
        } else if (word != "comment" && word != "obj_info" && !word.empty()) {
            return fault(in_quotes(word) + " where format, element, property, comment or end_header was wanted");
        }
        c.next_line();
    }
    if (!header.has_encoding) return unreadable(file, "the PLY header has no \"format\" line", hint);
    header.data_offset = c.offset();
    header.data_line = c.line();
    return header;
}

}  // namespace

Result<Parsed> parse_ply(const FileBytes& file) {
    GAPWRIGHT_TRY(header, parse_header(file));
    return parse_declared(file, header);
}

}  // namespace geom::scan::internal

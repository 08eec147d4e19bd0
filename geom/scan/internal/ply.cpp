// PLY: a text header that declares elements and their properties, then the rows as text or as packed numbers of
// either byte order. One walk over the declared properties serves all three; what has no meaning here is walked past.
// Rows of the text form are lines: a line with more or fewer values than declared is a fault, not a shift of all the
// values after it. Vertex rows give x, y, z and, where all three are there, nx, ny, nz; face rows give polygons.
#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/formats.h"

#include <fmt/format.h>

#include <bit>
#include <cstring>
#include <optional>

namespace geom::scan::internal {
namespace {

enum class Type { I8, U8, I16, U16, I32, U32, F32, F64 };

std::size_t size_of(Type t) {
    switch (t) {
        case Type::I8:
        case Type::U8:
            return 1;
        case Type::I16:
        case Type::U16:
            return 2;
        case Type::I32:
        case Type::U32:
        case Type::F32:
            return 4;
        case Type::F64:
            return 8;
    }
    return 0;
}

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
};

enum class Encoding { Ascii, Little, Big };

struct Header {
    Encoding encoding = Encoding::Ascii;
    bool has_encoding = false;
    std::vector<Element> elements;
    std::size_t data_offset = 0;
    std::size_t data_line = 1;
};

int role_of(const std::string& element, std::string_view name, bool is_list) {
    if (element == "vertex" && !is_list) {
        static constexpr std::string_view kNames[] = {"x", "y", "z", "nx", "ny", "nz"};
        for (int i = 0; i < 6; ++i)
            if (name == kNames[i]) return i;
    }
    if (is_list && (name == "vertex_indices" || name == "vertex_index")) {
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
                return fault("format " + quoted(e) + ", wanted ascii, binary_little_endian or binary_big_endian");
            header.has_encoding = true;
        } else if (word == "element") {
            Element element;
            element.name = c.token();
            long long count = -1;
            if (element.name.empty() || !c.integer(count) || count < 0)
                return fault("element " + quoted(element.name) + " with count " + quoted(c.token()) +
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
                    return fault("list count of type " + quoted(count_type) + ", wanted a whole-number type");
                property.count_type = *t;
                type = c.token();
            }
            const auto t = type_named(type);
            if (!t) return fault("property of type " + quoted(type) + ", wanted one of char .. double");
            property.type = *t;
            const std::string_view name = c.token();
            if (name.empty()) return fault("a property without a name");
            property.role = role_of(element.name, name, property.is_list);
            element.properties.push_back(property);
        } else if (word != "comment" && word != "obj_info" && !word.empty()) {
            return fault(quoted(word) + " where format, element, property, comment or end_header was wanted");
        }
        c.next_line();
    }
    if (!header.has_encoding) return unreadable(file, "the PLY header has no \"format\" line", hint);
    header.data_offset = c.offset();
    header.data_line = c.line();
    return header;
}

/// Values one after the other from packed numbers.
class BinaryRows {
public:
    BinaryRows(std::string_view bytes, std::size_t offset, bool swap) : bytes_(bytes), at_(offset), swap_(swap) {}
    bool begin_row() { return at_ < bytes_.size(); }
    bool end_row() { return true; }
    bool take(Type type, double& value) {
        switch (type) {
            case Type::I8:
                return load<std::int8_t>(value);
            case Type::U8:
                return load<std::uint8_t>(value);
            case Type::I16:
                return load<std::int16_t>(value);
            case Type::U16:
                return load<std::uint16_t>(value);
            case Type::I32:
                return load<std::int32_t>(value);
            case Type::U32:
                return load<std::uint32_t>(value);
            case Type::F32:
                return load<float>(value);
            case Type::F64:
                return load<double>(value);
        }
        return false;
    }
    std::size_t left() const { return bytes_.size() - at_; }
    static std::size_t least_size(Type t) { return size_of(t); }
    std::string place() const { return fmt::format("byte {}", at_); }
    std::string problem() const { return "the file ends"; }

private:
    template <class T>
    bool load(double& value) {
        if (left() < sizeof(T)) return false;
        std::array<char, sizeof(T)> raw;
        std::memcpy(raw.data(), bytes_.data() + at_, sizeof(T));
        if (swap_) std::reverse(raw.begin(), raw.end());
        value = static_cast<double>(std::bit_cast<T>(raw));
        at_ += sizeof(T);
        return true;
    }
    std::string_view bytes_;
    std::size_t at_;
    bool swap_;
};

/// Values one after the other from lines of text.
class TextRows {
public:
    TextRows(std::string_view bytes, std::size_t offset, std::size_t lines_before)
        : cursor_(bytes.substr(offset)), lines_before_(lines_before) {}
    bool begin_row() {
        while (!cursor_.at_end() && cursor_.at_line_end()) cursor_.next_line();
        return !cursor_.at_end();
    }
    bool end_row() {
        if (!cursor_.at_line_end()) {
            problem_ = "more values than the header declares, next is " + quoted(cursor_.token());
            return false;
        }
        cursor_.next_line();
        return true;
    }
    bool take(Type, double& value) {
        if (cursor_.number(value)) return true;
        const std::string_view found = cursor_.peek_token();
        if (!found.empty())
            problem_ = quoted(found) + " where a number was wanted";
        else if (cursor_.left() == 0)
            problem_ = "the file ends";
        else
            problem_ = "fewer values than the header declares";
        return false;
    }
    std::size_t left() const { return cursor_.left(); }
    static std::size_t least_size(Type) { return 2; }
    std::string place() const { return fmt::format("line {}", lines_before_ + cursor_.line() - 1); }
    std::string problem() const { return problem_.empty() ? "the file ends" : problem_; }

private:
    Cursor cursor_;
    std::size_t lines_before_;
    std::string problem_;
};

template <class Rows>
Result<Parsed> parse_rows(const FileBytes& file, const Header& header, Rows rows) {
    Parsed parsed;
    parsed.format = header.encoding == Encoding::Ascii ? "PLY, text" : "PLY, binary";
    std::vector<std::uint32_t> corners;
    const std::string hint = "copy or export the file again; its counts and its data do not agree";
    std::size_t vertices = 0;
    for (const Element& element : header.elements)
        if (element.name == "vertex") vertices = element.count;

    for (const Element& element : header.elements) {
        if (element.properties.empty()) continue;
        bool seen[6] = {};
        std::size_t least_row = 0;
        for (const Property& p : element.properties) {
            least_row += p.is_list ? rows.least_size(p.count_type) : rows.least_size(p.type);
            if (p.role >= kX && p.role <= kNz) seen[p.role] = true;
        }
        const bool is_vertex = element.name == "vertex";
        const bool has_normals = seen[kNx] && seen[kNy] && seen[kNz];
        if (is_vertex && !(seen[kX] && seen[kY] && seen[kZ]))
            return unreadable(file, "the PLY header declares no x, y and z for its vertices",
                              "export the scan with vertex positions");
        // One byte may be spared at the very end of a text, whose last value needs no separator.
        if (element.count > (rows.left() + 1) / least_row)
            return unreadable(
                file,
                fmt::format("{} {} declared in the PLY header, but the {} bytes left at {} hold at most {}",
                            element.count, element.name, rows.left(), rows.place(), (rows.left() + 1) / least_row),
                hint);
        if (is_vertex) {
            parsed.points.reserve(element.count);
            if (has_normals) parsed.normals.reserve(element.count);
        }
        for (std::size_t row = 0; row < element.count; ++row) {
            auto fault = [&](const std::string& text) {
                return unreadable(
                    file,
                    fmt::format("{}: {}, in {} {} of {}", rows.place(), text, element.name, row + 1, element.count),
                    hint);
            };
            double slot[6] = {};
            if (!rows.begin_row()) return fault("the file ends");
            for (const Property& p : element.properties) {
                double value = 0.0;
                if (!p.is_list) {
                    if (!rows.take(p.type, value)) return fault(rows.problem());
                    if (p.role >= kX && p.role <= kNz) slot[p.role] = value;
                    continue;
                }
                if (!rows.take(p.count_type, value)) return fault(rows.problem());
                if (!(value >= 0.0) || value > static_cast<double>((rows.left() + 1) / rows.least_size(p.type)))
                    return fault(fmt::format("a list of {} values, more than the file holds", value));
                const auto entries = static_cast<std::size_t>(value);
                corners.clear();
                for (std::size_t k = 0; k < entries; ++k) {
                    if (!rows.take(p.type, value)) return fault(rows.problem());
                    if (p.role != kCorners && p.role != kStrip) continue;
                    if (p.role == kStrip && value == -1.0) {
                        corners.push_back(static_cast<std::uint32_t>(-1));
                        continue;
                    }
                    if (!(value >= 0.0) || value >= static_cast<double>(vertices) || value != std::floor(value))
                        return fault(fmt::format("vertex index {}, wanted 0 to {}", value,
                                                 static_cast<long long>(vertices) - 1));
                    corners.push_back(static_cast<std::uint32_t>(value));
                }
                if (p.role == kCorners) add_fan(corners, parsed.triangles);
                if (p.role == kStrip) {
                    std::size_t first = 0;  // of the running strip; -1 begins a new one
                    for (std::size_t k = 0; k < corners.size(); ++k) {
                        if (corners[k] == static_cast<std::uint32_t>(-1))
                            first = k + 1;
                        else if (k >= first + 2) {
                            const bool odd = (k - first) % 2 == 1;
                            parsed.triangles.push_back(
                                {corners[k - 2 + (odd ? 1 : 0)], corners[k - 1 - (odd ? 1 : 0)], corners[k]});
                        }
                    }
                }
            }
            if (!rows.end_row()) return fault(rows.problem());
            if (is_vertex) {
                parsed.points.push_back({slot[kX], slot[kY], slot[kZ]});
                if (has_normals) parsed.normals.push_back({slot[kNx], slot[kNy], slot[kNz]});
            }
        }
    }
    // A stray line end after packed numbers is common and harmless; whole rows are not.
    if (rows.left() > 4 && rows.begin_row())
        return unreadable(
            file, fmt::format("{}: {} bytes of data after all that the PLY header declares", rows.place(), rows.left()),
            hint);
    return parsed;
}

}  // namespace

Result<Parsed> parse_ply(const FileBytes& file) {
    GAPWRIGHT_TRY(header, parse_header(file));
    if (header.encoding == Encoding::Ascii) {
        const std::string_view body = file.bytes.substr(header.data_offset);
        if (const std::size_t bad = find_binary_byte(body, body.size()); bad != kNoByte)
            return unreadable(file,
                              fmt::format("byte {} is binary (0x{:02x}) in a PLY whose header says ascii",
                                          header.data_offset + bad, static_cast<unsigned char>(body[bad])),
                              "copy the file again in binary mode, or export it again");
        return parse_rows(file, header, TextRows(file.bytes, header.data_offset, header.data_line));
    }
    const bool big = header.encoding == Encoding::Big;
    const bool swap = big != (std::endian::native == std::endian::big);
    return parse_rows(file, header, BinaryRows(file.bytes, header.data_offset, swap));
}

}  // namespace geom::scan::internal

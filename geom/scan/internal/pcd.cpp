// PCD: a text header of one line a key, then one row a point, as text, packed, or packed field by field and compressed
// (LZF). The header is turned into the rows it declares (rows.h). Points are taken as they stand: VIEWPOINT says where
// the sensor was, not where the points are.
//
// No library in the distribution reads the format without bringing a whole point-cloud toolkit and a renderer along.
#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/formats.h"
#include "geom/scan/internal/rows.h"

#include <fmt/format.h>

#include <cstring>
#include <optional>

namespace geom::scan::internal {
namespace {

using namespace rows;

struct Field {
    std::string name;
    std::size_t size = 4;
    char kind = 'F';
    std::size_t count = 1;
};

struct PcdHeader {
    std::vector<Field> fields;
    std::size_t points = 0;
    std::string data;
    std::size_t data_offset = 0, data_line = 1;
};

std::optional<Type> type_of(const Field& field) {
    if (field.kind == 'F') {
        if (field.size == 4) return Type::F32;
        if (field.size == 8) return Type::F64;
        return std::nullopt;
    }
    const bool is_signed = field.kind == 'I';
    if (!is_signed && field.kind != 'U') return std::nullopt;
    switch (field.size) {
        case 1:
            return is_signed ? Type::I8 : Type::U8;
        case 2:
            return is_signed ? Type::I16 : Type::U16;
        case 4:
            return is_signed ? Type::I32 : Type::U32;
        case 8:
            return is_signed ? Type::I64 : Type::U64;
        default:
            return std::nullopt;
    }
}

Result<PcdHeader> parse_header(const FileBytes& file) {
    constexpr std::size_t kMostHeader = 1 << 16;
    Cursor c(file.bytes.substr(0, kMostHeader));
    PcdHeader header;
    std::optional<std::size_t> points, width, height;
    while (header.data.empty()) {
        c.skip_empty_lines('#');
        const std::size_t line = c.line();
        auto fault = [&](const std::string& text) {
            return unreadable(file, fmt::format("line {} of the PCD header: {}", line, text),
                              "export the scan again as PCD or PLY");
        };
        if (c.at_end()) return fault("the header has no \"DATA\" line");
        const std::string_view key = c.token();
        auto whole = [&](std::size_t least, std::size_t& value) {
            long long number = -1;
            if (c.at_line_end() || !c.integer(number) || number < static_cast<long long>(least)) return false;
            value = static_cast<std::size_t>(number);
            return true;
        };
        if (key == "FIELDS" || key == "COLUMNS") {
            while (!c.at_line_end()) header.fields.push_back({std::string(c.token()), 4, 'F', 1});
        } else if (key == "SIZE" || key == "COUNT") {
            for (Field& field : header.fields)
                if (!whole(1, key == "SIZE" ? field.size : field.count))
                    return fault(fmt::format("{} of field {} is {}, wanted a number of 1 or more", key,
                                             in_quotes(field.name), in_quotes(c.peek_token())));
        } else if (key == "TYPE") {
            for (Field& field : header.fields) {
                const std::string_view kind = c.token();
                if (kind != "F" && kind != "I" && kind != "U")
                    return fault(fmt::format("TYPE of field {} is {}, wanted F, I or U", in_quotes(field.name),
                                             in_quotes(kind)));
                field.kind = kind.front();
            }
        } else if (key == "WIDTH" || key == "HEIGHT" || key == "POINTS") {
            std::size_t value = 0;
            if (!whole(0, value))
                return fault(fmt::format("{} {}, wanted a count of 0 or more", key, in_quotes(c.peek_token())));
            (key == "WIDTH" ? width : key == "HEIGHT" ? height : points) = value;
        } else if (key == "DATA") {
            header.data = c.token();
            if (header.data != "ascii" && header.data != "binary" && header.data != "binary_compressed")
                return fault("DATA " + in_quotes(header.data) + ", wanted ascii, binary or binary_compressed");
        } else if (key != "VERSION" && key != "VIEWPOINT") {
            return fault(in_quotes(key) + " where a key of a PCD header was wanted");
        }
        c.next_line();
    }
    if (header.fields.empty())
        return unreadable(file, "the PCD header has no \"FIELDS\" line", "export the scan again as PCD or PLY");
    const std::size_t grid = width.value_or(0) > 0 && height.value_or(1) > file.bytes.size() / width.value_or(1)
                                 ? file.bytes.size() + 1
                                 : width.value_or(0) * height.value_or(1);
    header.points = points.value_or(grid);
    for (const Field& field : header.fields)
        if (!type_of(field) || field.count > 4096)
            return unreadable(
                file,
                fmt::format("the PCD header declares field {} as {} of {} bytes, {} times; wanted F of 4 or "
                            "8 bytes, I or U of 1, 2, 4 or 8",
                            in_quotes(field.name), field.kind, field.size, field.count),
                "export the scan again as PCD or PLY");
    header.data_offset = c.offset();
    header.data_line = c.line();
    return header;
}

int role_of(const Field& field) {
    static constexpr std::string_view kNames[] = {"x", "y", "z", "normal_x", "normal_y", "normal_z"};
    if (field.count == 1)
        for (int i = 0; i < 6; ++i)
            if (field.name == kNames[i]) return i;
    return kSkip;
}

/// LZF: a byte under 32 says how many bytes more one follow as they are; above, its upper three bits are a length (7:
/// one more byte of it) and the rest with the next byte how far back to copy from. Nothing when the bytes are not that.
std::optional<std::string> unpacked_lzf(std::string_view in, std::size_t size) {
    std::string out;
    out.reserve(size);
    std::size_t at = 0;
    const auto byte = [&](std::size_t i) { return static_cast<std::size_t>(static_cast<unsigned char>(in[i])); };
    while (at < in.size()) {
        const std::size_t control = byte(at++);
        if (control < 32) {
            const std::size_t run = control + 1;
            if (in.size() - at < run || size - out.size() < run) return std::nullopt;
            out.append(in.substr(at, run));
            at += run;
            continue;
        }
        std::size_t length = control >> 5;
        if (length == 7) {
            if (at == in.size()) return std::nullopt;
            length += byte(at++);
        }
        if (at == in.size()) return std::nullopt;
        const std::size_t back = ((control & 31) << 8 | byte(at++)) + 1;
        length += 2;
        if (back > out.size() || size - out.size() < length) return std::nullopt;
        for (std::size_t i = 0, from = out.size() - back; i < length; ++i) out.push_back(out[from + i]);
    }
    if (out.size() != size) return std::nullopt;
    return out;
}

std::uint32_t little_u32(std::string_view bytes, std::size_t at) {
    std::uint32_t value = 0;
    for (std::size_t i = 4; i-- > 0;) value = value << 8 | static_cast<unsigned char>(bytes[at + i]);
    return value;
}

/// The compressed data as rows: they are stored field after field, all points of one before the next.
Result<std::string> unpacked_rows(const FileBytes& file, const PcdHeader& header) {
    const std::string hint = "copy or export the file again";
    const std::string_view body = file.bytes.substr(header.data_offset);
    if (body.size() < 8) return unreadable(file, "the file ends before its compressed points", hint);
    const std::size_t packed = little_u32(body, 0), size = little_u32(body, 4);
    if (packed > body.size() - 8)
        return unreadable(file,
                          fmt::format("{} bytes of compressed points declared at byte {}, but {} follow", packed,
                                      header.data_offset, body.size() - 8),
                          hint);
    std::size_t row = 0;
    for (const Field& field : header.fields) row += field.size * field.count;
    // One byte in three unpacks to 264 at most.
    if (header.points > packed * 264 || size != header.points * row || size / 264 > packed)
        return unreadable(file,
                          fmt::format("{} points of {} bytes declared, but the compressed data are {} bytes",
                                      header.points, row, size),
                          hint);
    if (2.0 * static_cast<double>(size) > file.budget.limit_bytes - file.budget.used_bytes)
        return Fault{FaultCode::MemoryLimit,
                     fmt::format("{}: the compressed points unpack to {} MB, wanted at most {:.0f} MB", file.name,
                                 size / 1000000, (file.budget.limit_bytes - file.budget.used_bytes) / 2e6),
                     "save it as binary PCD or PLY, which need not be unpacked, and set [scan] keep_every",
                     {},
                     {}};
    const auto columns = unpacked_lzf(body.substr(8, packed), size);
    if (!columns)
        return unreadable(file, fmt::format("the compressed points at byte {} cannot be unpacked", header.data_offset),
                          hint);
    std::string bytes(size, '\0');
    std::size_t column = 0, in_row = 0;
    for (const Field& field : header.fields) {
        const std::size_t width = field.size * field.count;
        for (std::size_t i = 0; i < header.points; ++i)
            std::memcpy(bytes.data() + i * row + in_row, columns->data() + column + i * width, width);
        column += width * header.points;
        in_row += width;
    }
    return bytes;
}

}  // namespace

Result<Parsed> parse_pcd(const FileBytes& file) {
    GAPWRIGHT_TRY(pcd, parse_header(file));
    Header header;
    header.format = "PCD";
    header.encoding = pcd.data == "ascii" ? Encoding::Ascii : Encoding::Little;
    header.data_offset = pcd.data_offset;
    header.data_line = pcd.data_line;
    Element element;
    element.name = "vertex";
    element.count = pcd.points;
    for (const Field& field : pcd.fields) {
        if (field.name == "rgb" || field.name == "rgba") header.has_colours = true;
        for (std::size_t k = 0; k < field.count; ++k) {
            Property property;
            property.type = *type_of(field);
            property.role = role_of(field);
            element.properties.push_back(property);
        }
    }
    header.elements.push_back(std::move(element));
    if (pcd.data != "binary_compressed") return parse_declared(file, header);
    GAPWRIGHT_TRY(rows, unpacked_rows(file, pcd));
    FileBytes unpacked = file;
    unpacked.bytes = rows;
    unpacked.content = nullptr;
    header.data_offset = 0;
    auto parsed = parse_declared(unpacked, header);
    if (parsed) parsed->format = "PCD, compressed";
    return parsed;
}

}  // namespace geom::scan::internal

// One walk over the declared properties serves text and packed numbers. Rows of the text form are lines: a line with
// more or fewer values than declared is a fault, not a shift of all the values after it.
//
// A cloud is most of a large file, and its rows are alike. Packed rows without lists have one length, so they are read
// at the same time in blocks; lines are cut into pieces that are. Whatever is odd about a file is left to the walk,
// which finds it again and says where.
#include "geom/scan/internal/rows.h"

#include "geom/core/parallel.h"
#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/pieces.h"
#include "geom/scan/internal/polygons.h"

#include <fmt/format.h>

#include <atomic>
#include <bit>
#include <cstring>
#include <optional>

namespace geom::scan::internal::rows {

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
        case Type::I64:
        case Type::U64:
        case Type::F64:
            return 8;
    }
    return 0;
}

bool Element::has(int role) const {
    return std::any_of(properties.begin(), properties.end(), [&](const Property& p) { return p.role == role; });
}

bool Element::has_lists() const {
    return std::any_of(properties.begin(), properties.end(), [](const Property& p) { return p.is_list; });
}

namespace {

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
            case Type::I64:
                return load<std::int64_t>(value);
            case Type::U64:
                return load<std::uint64_t>(value);
            case Type::F32:
                return load<float>(value);
            case Type::F64:
                return load<double>(value);
        }
        return false;
    }
    std::size_t left() const { return bytes_.size() - at_; }
    std::size_t at() const { return at_; }
    void skip(std::size_t bytes) { at_ += bytes; }
    bool is_swapped() const { return swap_; }
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
            problem_ = "more values than the header declares, next is " + in_quotes(cursor_.token());
            return false;
        }
        cursor_.next_line();
        return true;
    }
    bool take(Type, double& value) {
        if (cursor_.number(value)) return true;
        const std::string_view found = cursor_.peek_token();
        if (!found.empty())
            problem_ = in_quotes(found) + " where a number was wanted";
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

/// What the walk and the fast ways share: the room that is there, and which points of a cloud are kept.
struct Plan {
    std::size_t vertices = 0;
    std::size_t keep_every = 1;
};

Result<Plan> plan_of(const FileBytes& file, const Header& header) {
    Plan plan;
    bool has_normals = false;
    std::size_t faces = 0;
    for (const Element& element : header.elements) {
        if (element.is_vertex()) {
            plan.vertices = element.count;
            has_normals = element.has_normals();
        }
        if (element.has(kCorners)) faces += element.count;
        if (element.has(kStrip)) faces += plan.vertices * 2;
    }
    if (faces > 0) {
        GAPWRIGHT_CHECK(file.budget.check_mesh(file.name, plan.vertices, faces, has_normals));
    } else {
        GAPWRIGHT_TRY(keep, file.budget.keep_of_cloud(file.name, plan.vertices, has_normals));
        plan.keep_every = keep;
    }
    return plan;
}

template <class T, bool Swap>
double load_as(const char* at) {
    std::array<char, sizeof(T)> raw;
    std::memcpy(raw.data(), at, sizeof(T));
    if constexpr (Swap && sizeof(T) > 1) std::reverse(raw.begin(), raw.end());
    return static_cast<double>(std::bit_cast<T>(raw));
}

template <bool Swap>
double (*loader_of(Type type))(const char*) {
    switch (type) {
        case Type::I8:
            return &load_as<std::int8_t, Swap>;
        case Type::U8:
            return &load_as<std::uint8_t, Swap>;
        case Type::I16:
            return &load_as<std::int16_t, Swap>;
        case Type::U16:
            return &load_as<std::uint16_t, Swap>;
        case Type::I32:
            return &load_as<std::int32_t, Swap>;
        case Type::U32:
            return &load_as<std::uint32_t, Swap>;
        case Type::I64:
            return &load_as<std::int64_t, Swap>;
        case Type::U64:
            return &load_as<std::uint64_t, Swap>;
        case Type::F32:
            return &load_as<float, Swap>;
        case Type::F64:
            return &load_as<double, Swap>;
    }
    return nullptr;
}

/// The packed rows of the vertices, all of one length; how many bytes they take, or nothing when they are not all
/// there.
std::optional<std::size_t> take_packed_vertices(const FileBytes& file, const Element& vertex, bool swap,
                                                std::size_t offset, std::size_t keep, Parsed& parsed) {
    std::size_t row = 0;
    struct Slot {
        std::size_t at = 0;
        double (*load)(const char*) = nullptr;
    };
    std::array<Slot, 6> slot;
    for (const Property& p : vertex.properties) {
        if (p.role >= kX && p.role <= kNz)
            slot[static_cast<std::size_t>(p.role)] = {row, swap ? loader_of<true>(p.type) : loader_of<false>(p.type)};
        row += size_of(p.type);
    }
    if (vertex.has_lists() || row == 0 || (file.bytes.size() - offset) / row < vertex.count) return std::nullopt;
    const bool has_normals = vertex.has_normals();
    const std::size_t kept = (vertex.count + keep - 1) / keep;
    parsed.points.resize(kept);
    if (has_normals) parsed.normals.resize(kept);
    // Blocks that are released behind, so that a mapped file never needs more memory than a block.
    const std::size_t block = std::size_t{1} << 21;
    for (std::size_t first = 0; first < kept; first += block) {
        const std::size_t count = std::min(block, kept - first);
        parallel_for(count, 1 << 14, [&](std::size_t begin, std::size_t end) {
            for (std::size_t i = first + begin; i < first + end; ++i) {
                const char* at = file.bytes.data() + offset + i * keep * row;
                const auto value = [&](std::size_t k) { return slot[k].load(at + slot[k].at); };
                parsed.points[i] = {value(0), value(1), value(2)};
                if (has_normals) parsed.normals[i] = {value(3), value(4), value(5)};
            }
        });
        file.release_before(offset + std::min(vertex.count, (first + count) * keep) * row);
    }
    return vertex.count * row;
}

/// One piece of vertex lines; false when a line is not exactly as declared.
bool take_lines(std::string_view text, const Element& vertex, std::size_t keep, Parsed& out, std::size_t& rows) {
    Cursor c(text);
    const bool has_normals = vertex.has_normals();
    rows = 0;
    for (; !c.at_end(); c.next_line()) {
        if (c.at_line_end()) continue;
        const bool is_kept = rows++ % keep == 0;
        double slot[7] = {};
        for (const Property& p : vertex.properties)
            if (!c.number(slot[p.role >= kX && p.role <= kNz ? p.role : 6])) return false;
        if (!c.at_line_end()) return false;
        if (!is_kept) continue;
        out.points.push_back({slot[kX], slot[kY], slot[kZ]});
        if (has_normals) out.normals.push_back({slot[kNx], slot[kNy], slot[kNz]});
    }
    return true;
}

/// The lines of a cloud, which end with the file; false when anything is odd about them.
bool take_vertex_lines(const FileBytes& file, const Element& vertex, std::size_t offset, std::size_t keep,
                       Parsed& parsed) {
    if (vertex.has_lists()) return false;
    const std::vector<std::string_view> pieces = pieces_at_lines(file.bytes.substr(offset));
    constexpr std::size_t kAtOnce = 32;
    std::size_t row = 0;
    for (std::size_t first = 0; first < pieces.size(); first += kAtOnce) {
        const std::size_t count = std::min(kAtOnce, pieces.size() - first);
        std::array<Parsed, kAtOnce> part;
        std::array<std::size_t, kAtOnce> rows{};
        std::atomic<bool> is_odd = false;
        // Which rows are kept is counted from the piece's first, so that no piece waits for the one before.
        parallel_for(count, 1, [&](std::size_t begin, std::size_t end) {
            for (std::size_t i = begin; i < end; ++i)
                if (!take_lines(pieces[first + i], vertex, keep, part[i], rows[i])) is_odd = true;
        });
        if (is_odd) return false;
        for (std::size_t i = 0; i < count; ++i) {
            row += rows[i];
            if (row > vertex.count) return false;
            parsed.points.insert(parsed.points.end(), part[i].points.begin(), part[i].points.end());
            parsed.normals.insert(parsed.normals.end(), part[i].normals.begin(), part[i].normals.end());
        }
        const std::string_view last = pieces[first + count - 1];
        file.release_before(static_cast<std::size_t>(last.data() + last.size() - file.bytes.data()));
    }
    return row == vertex.count;
}

/// A file whose last declared element is its vertices, on lines; nothing when the walk has to look at it.
std::optional<Parsed> parse_lines_fast(const FileBytes& file, const Header& header, const Plan& plan) {
    const Element* vertex = nullptr;
    for (const Element& element : header.elements) {
        if (element.count == 0 || element.properties.empty()) continue;
        if (!element.is_vertex() || vertex != nullptr) return std::nullopt;
        vertex = &element;
    }
    if (vertex == nullptr || !(vertex->has(kX) && vertex->has(kY) && vertex->has(kZ))) return std::nullopt;
    if (vertex->count > file.bytes.size()) return std::nullopt;
    Parsed parsed;
    const std::size_t kept = vertex->count / plan.keep_every + 1;
    parsed.points.reserve(kept);
    if (vertex->has_normals()) parsed.normals.reserve(kept);
    if (!take_vertex_lines(file, *vertex, header.data_offset, plan.keep_every, parsed)) return std::nullopt;
    return parsed;
}

template <class Rows>
Result<Parsed> parse_rows(const FileBytes& file, const Header& header, const Plan& plan, Rows rows) {
    Parsed parsed;
    Polygons polygons;
    std::vector<std::uint32_t> corners;
    const std::string hint = "copy or export the file again; its counts and its data do not agree";
    const std::size_t vertices = plan.vertices;
    for (const Element& element : header.elements) {
        if (element.properties.empty()) continue;
        std::size_t least_row = 0;
        for (const Property& p : element.properties)
            least_row += p.is_list ? rows.least_size(p.count_type) : rows.least_size(p.type);
        const bool is_vertex = element.is_vertex();
        const bool has_normals = element.has_normals();
        if (is_vertex && !(element.has(kX) && element.has(kY) && element.has(kZ)))
            return unreadable(file, fmt::format("the {} header declares no x, y and z for its vertices", header.format),
                              "export the scan with vertex positions");
        // One byte may be spared at the very end of a text, whose last value needs no separator.
        if (element.count > (rows.left() + 1) / least_row)
            return unreadable(
                file,
                fmt::format("{} {} declared in the {} header, but the {} bytes left at {} hold at most {}",
                            element.count, element.name, header.format, rows.left(), rows.place(),
                            (rows.left() + 1) / least_row),
                hint);
        if (is_vertex) {
            if constexpr (std::is_same_v<Rows, BinaryRows>) {
                const auto taken =
                    take_packed_vertices(file, element, rows.is_swapped(), rows.at(), plan.keep_every, parsed);
                if (taken) {
                    rows.skip(*taken);
                    continue;
                }
            }
            parsed.points.reserve(element.count / plan.keep_every + 1);
            if (has_normals) parsed.normals.reserve(element.count / plan.keep_every + 1);
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
                if (p.role == kCorners) polygons.add(corners, parsed.triangles);
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
            if (is_vertex && row % plan.keep_every == 0) {
                parsed.points.push_back({slot[kX], slot[kY], slot[kZ]});
                if (has_normals) parsed.normals.push_back({slot[kNx], slot[kNy], slot[kNz]});
            }
        }
    }
    // A stray line end after packed numbers is common and harmless; whole rows are not.
    if (rows.left() > 4 && rows.begin_row())
        return unreadable(file,
                          fmt::format("{}: {} bytes of data after all that the {} header declares", rows.place(),
                                      rows.left(), header.format),
                          hint);
    polygons.finish(parsed.points, parsed.triangles);
    return parsed;
}

Result<Parsed> parse_data(const FileBytes& file, const Header& header, const Plan& plan) {
    if (header.encoding == Encoding::Ascii) {
        if (auto fast = parse_lines_fast(file, header, plan)) return *std::move(fast);
        const std::string_view body = file.bytes.substr(header.data_offset);
        if (const std::size_t bad = find_binary_byte(body, body.size()); bad != kNoByte)
            return unreadable(
                file,
                fmt::format("byte {} is binary (0x{:02x}) in a {} whose header says ascii", header.data_offset + bad,
                            static_cast<unsigned char>(body[bad]), header.format),
                "copy the file again in binary mode, or export it again");
        return parse_rows(file, header, plan, TextRows(file.bytes, header.data_offset, header.data_line));
    }
    const bool big = header.encoding == Encoding::Big;
    const bool swap = big != (std::endian::native == std::endian::big);
    return parse_rows(file, header, plan, BinaryRows(file.bytes, header.data_offset, swap));
}

}  // namespace

Result<Parsed> parse_declared(const FileBytes& file, const Header& header) {
    // Counts that the file cannot hold are found by the walk, which says so better than a budget could.
    const bool can_hold = std::all_of(header.elements.begin(), header.elements.end(),
                                      [&](const Element& element) { return element.count <= file.bytes.size(); });
    Plan plan;
    if (can_hold) {
        GAPWRIGHT_TRY(planned, plan_of(file, header));
        plan = planned;
    } else {
        for (const Element& element : header.elements)
            if (element.is_vertex()) plan.vertices = element.count;
    }
    GAPWRIGHT_TRY(parsed, parse_data(file, header, plan));
    parsed.format = header.format + (header.encoding == Encoding::Ascii ? ", text" : ", binary");
    parsed.has_colours = header.has_colours;
    parsed.kept_every = plan.keep_every;
    parsed.in_file = plan.vertices;
    return std::move(parsed);  // a name for what the Result holds, so it would be copied otherwise
}

}  // namespace geom::scan::internal::rows

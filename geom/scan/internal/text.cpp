// Points as lines of text: columns apart by blanks, tabs, commas or semicolons, decimal point, or decimal comma where
// semicolons or tabs keep the columns apart. Lines before the first line of numbers are a header; when one of them
// names columns x, y and z (and nx, ny, nz) those are taken, otherwise the first three. Further columns are walked
// past. Lines that begin with #, // or % are remarks. An empty field, "nan", "n/a", "null" or "-" is a missing
// coordinate; any other word among the coordinates is a fault.
//
// The lines of numbers are parsed in pieces at the same time; when one of them is odd, all are walked once more in
// order to say which line it is.
#include "geom/core/parallel.h"
#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/formats.h"
#include "geom/scan/internal/pieces.h"

#include <fmt/format.h>

#include <atomic>
#include <optional>

namespace geom::scan::internal {
namespace {

struct Style {
    bool decimal_comma = false;
    char only = 0;  // ';' or ',': that alone keeps columns apart, blanks belong to the fields; 0: any does
    std::array<int, 6> column = {0, 1, 2, -1, -1, -1};  // of x y z nx ny nz
    bool has_colours = false;                           // by the names of the columns

    int last() const { return *std::max_element(column.begin(), column.end()); }
    bool has_normals() const { return column[3] >= 0; }
};

bool is_separator(char c, const Style& style) {
    if (style.only != 0) return c == style.only;
    return c == ' ' || c == '\t' || c == ';' || (c == ',' && !style.decimal_comma);
}

/// Takes the next field off the front of `line`; false when the line holds no more.
bool take_field(std::string_view& line, const Style& style, std::string_view& field) {
    auto is_blank = [](char c) { return c == ' ' || c == '\t'; };
    std::size_t i = 0;
    while (i < line.size() && is_blank(line[i])) ++i;
    if (i == line.size()) return false;
    std::size_t j = i;
    while (j < line.size() && !is_separator(line[j], style)) ++j;
    field = line.substr(i, j - i);
    while (!field.empty() && is_blank(field.back())) field.remove_suffix(1);
    while (j < line.size() && is_blank(line[j])) ++j;
    if (j < line.size() && !is_blank(line[j]) && is_separator(line[j], style)) ++j;
    line.remove_prefix(j);
    return true;
}

bool to_number(std::string_view field, const Style& style, double& value) {
    char buffer[64];
    if (field.size() >= 2 && field.front() == '"' && field.back() == '"') field = field.substr(1, field.size() - 2);
    if (style.decimal_comma && field.size() < sizeof buffer && field.find(',') != std::string_view::npos) {
        std::copy(field.begin(), field.end(), buffer);
        std::replace(buffer, buffer + field.size(), ',', '.');
        field = {buffer, field.size()};
    }
    if (field.empty()) return false;
    Cursor c(field);
    return c.number(value) && c.at_end();
}

bool is_missing(std::string_view field) {
    std::string lower(field.substr(0, 8));
    for (char& c : lower)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return lower.empty() || lower == "-" || lower == "n/a" || lower == "na" || lower == "null" || lower == "none" ||
           lower == "#n/a" || lower == "-nan" || lower == "1.#qnan" || lower == "-1.#ind";
}

/// Strips what makes a line a remark; true when it was one.
bool strip_remark(std::string_view& line) {
    while (!line.empty() && (line.front() == ' ' || line.front() == '\t')) line.remove_prefix(1);
    if (line.starts_with("//")) return line.remove_prefix(2), true;
    if (!line.empty() && (line.front() == '#' || line.front() == '%')) return line.remove_prefix(1), true;
    return false;
}

/// What keeps the columns of this line apart.
char separator_of(std::string_view line, bool decimal_comma) {
    if (line.find(';') != std::string_view::npos) return ';';
    return !decimal_comma && line.find(',') != std::string_view::npos ? ',' : '\0';
}

/// Looks for column names; true when x, y and z are all there.
bool find_columns(std::string_view line, Style& style) {
    std::array<int, 6> column;
    column.fill(-1);
    style.only = separator_of(line, false);
    static constexpr std::string_view kNames[6] = {"x", "y", "z", "nx", "ny", "nz"};
    std::string_view field;
    for (int i = 0; take_field(line, style, field); ++i) {
        std::string name;
        for (char c : field)
            if (c != '"' && c != '\'') name += (c >= 'A' && c <= 'Z') ? static_cast<char>(c - 'A' + 'a') : c;
        if (name == "red" || name == "r" || name == "rgb") style.has_colours = true;
        name = name.substr(0, name.find_first_of("_[( "));
        for (std::size_t k = 0; k < 6; ++k)
            if (name == kNames[k] && column[k] < 0) column[k] = i;
    }
    if (column[0] < 0 || column[1] < 0 || column[2] < 0) return false;
    style.column = column;
    if (column[3] < 0 || column[4] < 0 || column[5] < 0) style.column[3] = style.column[4] = style.column[5] = -1;
    return true;
}

bool looks_like_data(std::string_view line, const Style& style) {
    std::string_view field;
    int numbers = 0;
    double value;
    for (int i = 0; take_field(line, style, field); ++i) {
        const bool wanted = i == style.column[0] || i == style.column[1] || i == style.column[2];
        if (!wanted) continue;
        if (!to_number(field, style, value) && !is_missing(field)) return false;
        numbers += to_number(field, style, value) ? 1 : 0;
    }
    return numbers >= (style.column[0] == 0 ? 2 : 1);
}

bool has_decimal_commas(std::string_view line) {
    const bool other = line.find(';') != std::string_view::npos || line.find('\t') != std::string_view::npos;
    if (!other || line.find(',') == std::string_view::npos || line.find('.') != std::string_view::npos) return false;
    for (std::size_t i = 0; i < line.size(); ++i)
        if (line[i] == ',' && (i == 0 || i + 1 == line.size() || line[i - 1] < '0' || line[i - 1] > '9' ||
                               line[i + 1] < '0' || line[i + 1] > '9'))
            return false;
    return true;
}

/// What is odd about a line.
struct Odd {
    std::size_t line = 0;
    std::string what;
};

/// The points of a piece of text, every `keep`th of them; stops at the first odd line.
std::optional<Odd> take_lines(Cursor c, const Style& style, std::size_t keep, Parsed& out, std::size_t& rows) {
    const int last = style.last();
    const bool has_normals = style.has_normals();
    rows = 0;
    for (; !c.at_end(); c.next_line()) {
        const std::string_view whole = c.rest_of_line();
        std::string_view line = whole;
        if (line.empty() || strip_remark(line) || line.empty()) continue;
        double value[6] = {};
        int found = 0;
        std::string_view field;
        for (int i = 0; i <= last && take_field(line, style, field); ++i) {
            ++found;
            for (std::size_t k = 0; k < 6; ++k) {
                if (style.column[k] != i || to_number(field, style, value[k])) continue;
                if (!is_missing(field)) return Odd{c.line(), in_quotes(field) + " where a number was wanted"};
                value[k] = std::numeric_limits<double>::quiet_NaN();
            }
        }
        if (found <= last)
            return Odd{c.line(), fmt::format("{} columns, wanted at least {}: {}", found, last + 1, in_quotes(whole))};
        if (rows++ % keep != 0) continue;
        out.points.push_back({value[0], value[1], value[2]});
        if (has_normals) out.normals.push_back({value[3], value[4], value[5]});
    }
    return std::nullopt;
}

/// All lines from `begin` on, in pieces, as many of them at once as a few tens of megabytes hold.
Status read_lines(const FileBytes& file, const Cursor& begin, const Style& style, Parsed& parsed) {
    const std::vector<std::string_view> pieces = pieces_at_lines(file.bytes.substr(begin.offset()));
    constexpr std::size_t kAtOnce = 32;
    std::size_t rows = 0, keep = 1;
    for (std::size_t first = 0; first < pieces.size();) {
        // The first piece alone tells how many points there will be.
        const std::size_t count = first == 0 ? 1 : std::min(kAtOnce, pieces.size() - first);
        std::array<Parsed, kAtOnce> part;
        std::array<std::size_t, kAtOnce> part_rows{};
        std::array<std::optional<Odd>, kAtOnce> odd;
        parallel_for(count, 1, [&](std::size_t from, std::size_t to) {
            for (std::size_t i = from; i < to; ++i)
                odd[i] = take_lines(Cursor(pieces[first + i]), style, keep, part[i], part_rows[i]);
        });
        for (std::size_t i = 0; i < count; ++i) {
            if (odd[i]) {
                Cursor c(file.bytes);
                while (c.offset() < static_cast<std::size_t>(pieces[first + i].data() - file.bytes.data()))
                    c.next_line();
                return unreadable(file, fmt::format("line {}: {}", c.line() + odd[i]->line - 1, odd[i]->what),
                                  "check the file at that line, or export the scan as PLY");
            }
            rows += part_rows[i];
        }
        if (first == 0) {
            const double all = static_cast<double>(file.bytes.size()) / static_cast<double>(pieces[0].size());
            const auto expected = static_cast<std::size_t>(static_cast<double>(rows) * (pieces.size() > 1 ? all : 1.0));
            GAPWRIGHT_TRY(wanted, file.budget.keep_of_cloud(file.name, expected, style.has_normals()));
            const std::size_t room = expected / wanted + expected / (50 * wanted) + 16;
            parsed.points.reserve(room);
            if (style.has_normals()) parsed.normals.reserve(room);
            if (wanted != keep) {  // the first piece again, thinned
                keep = wanted;
                part[0] = {};
                take_lines(Cursor(pieces[0]), style, keep, part[0], part_rows[0]);
            }
        }
        for (std::size_t i = 0; i < count; ++i) {
            parsed.points.insert(parsed.points.end(), part[i].points.begin(), part[i].points.end());
            parsed.normals.insert(parsed.normals.end(), part[i].normals.begin(), part[i].normals.end());
        }
        first += count;
        const std::string_view last = pieces[first - 1];
        file.release_before(static_cast<std::size_t>(last.data() + last.size() - file.bytes.data()));
    }
    parsed.kept_every = keep;
    parsed.in_file = rows;
    return Done{};
}

}  // namespace

Result<Parsed> parse_text(const FileBytes& file) {
    constexpr int kMostHeaderLines = 200;
    Cursor c(file.bytes);
    Style style;
    int header_lines = 0;
    Parsed parsed;
    parsed.format = "text with columns";
    // The header, up to the first line of numbers.
    while (true) {
        if (c.at_end() || header_lines > kMostHeaderLines)
            return unreadable(file, fmt::format("no line with three numbers among the first {}", c.line()),
                              kKnownFormats);
        const Cursor here = c;
        std::string_view line = c.rest_of_line();
        const bool remark = strip_remark(line);
        if (!remark && !line.empty()) {
            style.decimal_comma = has_decimal_commas(line);
            style.only = separator_of(line, style.decimal_comma);
            bool is_data = looks_like_data(line, style);
            if (!is_data && style.only != 0) {  // a comma in some remark behind columns kept apart by blanks
                style.only = 0;
                is_data = looks_like_data(line, style);
            }
            if (is_data) {
                c = here;
                break;
            }
        }
        if (!line.empty()) find_columns(line, style);
        ++header_lines;
        c.next_line();
    }
    GAPWRIGHT_CHECK(read_lines(file, c, style, parsed));
    parsed.has_colours = style.has_colours;
    return parsed;
}

}  // namespace geom::scan::internal

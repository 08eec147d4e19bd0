// Works on the text alone. The kernel breaks lines at 72 characters, puts blanks round '=' and prints 15 digits; a
// skin of 50 000 control points pays for that with a third of its file. It also numbers the uses of components in an
// assembly on from the last file of the same run; here they start from one in every file.
#include "exports/internal/part21.h"

#include <charconv>
#include <cmath>
#include <cstdint>

namespace exports {
namespace {

constexpr std::string_view kPoint = "=CARTESIAN_POINT(";
constexpr std::string_view kOccurrence = "=NEXT_ASSEMBLY_USAGE_OCCURRENCE('";
constexpr std::size_t kLine = 100;

/// Appends `entity` in lines of at most kLine characters where commas outside strings allow it: the kernel's own
/// reader loses entities on lines of a hundred thousand.
void append_wrapped(std::string& out, std::string_view entity) {
    std::size_t line = 0, allowed = 0;  // starts of the line and of what comes after the last comma
    bool in_string = false;
    for (std::size_t i = 0; i < entity.size(); ++i) {
        if (entity[i] == '\'') in_string = !in_string;
        if (i - line >= kLine && allowed > line) {
            out.append(entity.substr(line, allowed - line));
            out += '\n';
            line = allowed;
        }
        if (entity[i] == ',' && !in_string) allowed = i + 1;
    }
    out.append(entity.substr(line));
    out += '\n';
}

/// Appends `entity` (no blanks outside strings) with its reals rounded.
void append_point(std::string& out, std::string_view entity, int decimals) {
    std::size_t i = entity.find(kPoint) + kPoint.size();
    out.append(entity.substr(0, i));
    bool in_string = false;
    while (i < entity.size()) {
        const char c = entity[i];
        if (c == '\'') in_string = !in_string;
        const bool starts_number = !in_string && (c == '-' || c == '+' || (c >= '0' && c <= '9'));
        if (!starts_number) {
            out += c;
            ++i;
            continue;
        }
        const char* first = entity.data() + i + (c == '+' ? 1 : 0);
        double value = 0.0;
        const auto [end, error] = std::from_chars(first, entity.data() + entity.size(), value);
        if (error != std::errc{}) {
            out += c;
            ++i;
            continue;
        }
        out += part21_real(value, decimals);
        i = static_cast<std::size_t>(end - entity.data());
    }
}

}  // namespace

std::string part21_real(double value, int decimals) {
    char buffer[400];
    const auto [end, error] = std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::fixed, decimals);
    if (error != std::errc{}) return "0.";
    std::string text(buffer, end);
    if (text.find('.') == std::string::npos) text += '.';
    while (text.back() == '0') text.pop_back();
    if (text == "-0." || text == "0.") return "0.";
    return text;
}

std::string part21_string(std::string_view utf8) {
    static constexpr char kHex[] = "0123456789ABCDEF";
    std::string out;
    for (std::size_t i = 0; i < utf8.size();) {
        const unsigned char c = static_cast<unsigned char>(utf8[i]);
        if (c < 0x80) {
            if (c == '\'' || c == '\\') out += static_cast<char>(c);
            out += (c >= 0x20 && c < 0x7f) ? static_cast<char>(c) : ' ';
            ++i;
            continue;
        }
        const int more = c >= 0xf0 ? 3 : c >= 0xe0 ? 2 : c >= 0xc0 ? 1 : 0;
        std::uint32_t code = more == 3 ? c & 0x07u : more == 2 ? c & 0x0fu : more == 1 ? c & 0x1fu : '?';
        std::size_t used = 1;
        for (; used <= static_cast<std::size_t>(more) && i + used < utf8.size(); ++used) {
            const unsigned char d = static_cast<unsigned char>(utf8[i + used]);
            if ((d & 0xc0) != 0x80) break;
            code = code << 6 | (d & 0x3fu);
        }
        const bool is_wide = code > 0xffff;
        out += is_wide ? "\\X4\\" : "\\X2\\";
        for (int shift = is_wide ? 28 : 12; shift >= 0; shift -= 4) out += kHex[(code >> shift) & 0xf];
        out += "\\X0\\";
        i += used;
    }
    return out;
}

std::string compact_part21(std::string_view text, int decimals) {
    std::string out, entity, rounded;
    out.reserve(text.size());
    bool in_string = false;
    int occurrences = 0;
    for (const char c : text) {
        if (c == '\'') in_string = !in_string;  // a doubled quote leaves and enters again
        const bool is_blank = c == '\n' || c == '\r' || (!in_string && (c == ' ' || c == '\t'));
        if (!is_blank) entity += c;
        if (c != ';' || in_string) continue;
        if (entity.find(kPoint) != std::string::npos) {
            rounded.clear();
            append_point(rounded, entity, decimals);
            entity.swap(rounded);
        } else if (const auto at = entity.find(kOccurrence); at != std::string::npos) {
            const auto from = at + kOccurrence.size(), to = entity.find('\'', from);
            if (to != std::string::npos) entity.replace(from, to - from, std::to_string(++occurrences));
        }
        append_wrapped(out, entity);
        entity.clear();
    }
    out += entity;
    return out;
}

}  // namespace exports

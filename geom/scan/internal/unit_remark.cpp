#include "geom/scan/internal/unit_remark.h"

#include <algorithm>
#include <cstdint>
#include <string>
#include <vector>

namespace geom::scan::internal {
namespace {

constexpr std::size_t kHead = 4096;

struct Word {
    const char* text;
    FileUnit unit;
    bool is_plain;  ///< says it without "unit" beside it
};
constexpr Word kWords[] = {{"millimetres", FileUnit::Millimetre, true},
                           {"millimeters", FileUnit::Millimetre, true},
                           {"centimetres", FileUnit::Centimetre, true},
                           {"centimeters", FileUnit::Centimetre, true},
                           {"metres", FileUnit::Metre, true},
                           {"meters", FileUnit::Metre, true},
                           {"inches", FileUnit::Inch, true},
                           {"millimetre", FileUnit::Millimetre, false},
                           {"millimeter", FileUnit::Millimetre, false},
                           {"centimetre", FileUnit::Centimetre, false},
                           {"centimeter", FileUnit::Centimetre, false},
                           {"metre", FileUnit::Metre, false},
                           {"meter", FileUnit::Metre, false},
                           {"inch", FileUnit::Inch, false},
                           {"mm", FileUnit::Millimetre, false},
                           {"cm", FileUnit::Centimetre, false},
                           {"m", FileUnit::Metre, false},
                           {"in", FileUnit::Inch, false}};

bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}
bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/// Words in small letters, and numbers as "0".
std::vector<std::string> words_of(std::string_view line) {
    std::vector<std::string> words;
    for (std::size_t i = 0; i < line.size();) {
        std::size_t j = i;
        if (is_letter(line[i])) {
            std::string word;
            for (; j < line.size() && is_letter(line[j]); ++j) word += static_cast<char>(line[j] | 0x20);
            words.push_back(word);
        } else if (is_digit(line[i])) {
            while (j < line.size() && (is_digit(line[j]) || line[j] == '.')) ++j;
            words.push_back("0");
        } else {
            ++j;
        }
        i = j;
    }
    return words;
}

/// The units that a remark names.
void add_units(std::string_view remark, std::vector<FileUnit>& units) {
    const std::vector<std::string> words = words_of(remark);
    const bool is_of_units =
        std::any_of(words.begin(), words.end(), [](const std::string& w) { return w == "unit" || w == "units"; });
    for (std::size_t i = 0; i < words.size(); ++i)
        for (const Word& word : kWords) {
            if (words[i] != word.text) continue;
            if (!is_of_units && (!word.is_plain || (i > 0 && words[i - 1] == "0"))) continue;
            units.push_back(word.unit);
        }
}

bool is_text(std::string_view line) {
    return std::none_of(line.begin(), line.end(), [](char c) {
        const auto byte = static_cast<unsigned char>(c);
        return (byte < 32 && c != '\t') || byte == 127;
    });
}

bool is_packed_stl(std::string_view bytes) {
    if (bytes.size() < 84 || bytes.starts_with("ply")) return false;
    std::uint64_t count = 0;
    for (std::size_t i = 4; i-- > 0;) count = count << 8 | static_cast<unsigned char>(bytes[80 + i]);
    return bytes.size() == 84 + 50 * count;
}

}  // namespace

std::optional<FileUnit> unit_remark(std::string_view bytes) {
    std::vector<FileUnit> units;
    if (is_packed_stl(bytes)) {
        add_units(bytes.substr(0, 80), units);
    } else {
        std::string_view head = bytes.substr(0, kHead);
        while (!head.empty()) {
            const std::string_view line = head.substr(0, head.find_first_of("\r\n"));
            head.remove_prefix(std::min(head.size(), line.size() + 1));
            if (!is_text(line) || line.starts_with("end_header")) break;
            for (const char* mark : {"#", "//", "%", "comment", "obj_info", "solid "})
                if (line.starts_with(mark)) add_units(line.substr(std::string_view(mark).size()), units);
        }
    }
    if (units.empty() || std::any_of(units.begin(), units.end(), [&](FileUnit u) { return u != units.front(); }))
        return std::nullopt;
    return units.front();
}

}  // namespace geom::scan::internal

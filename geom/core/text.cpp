#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

namespace geom {

std::size_t edit_distance(std::string_view a, std::string_view b) {
    // Three rows of the usual table: the swap looks two rows back.
    std::vector<std::size_t> before(b.size() + 1), last(b.size() + 1), row(b.size() + 1);
    for (std::size_t j = 0; j <= b.size(); ++j) last[j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i) {
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t change = last[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
            row[j] = std::min({change, last[j] + 1, row[j - 1] + 1});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = std::min(row[j], before[j - 2] + 1);
        }
        before.swap(last);
        last.swap(row);
    }
    return last[b.size()];
}

std::string nearest_word(std::string_view word, const std::vector<std::string>& known) {
    const auto lower = [](std::string_view text) {
        std::string s(text);
        for (char& c : s) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
        return s;
    };
    const std::string wanted = lower(word);
    std::size_t best_distance = std::max<std::size_t>(1, std::max<std::size_t>(word.size(), 1) / 3) + 1;
    std::string best;
    for (const std::string& candidate : known) {
        const std::size_t d = edit_distance(wanted, lower(candidate));
        if (d < best_distance && d < candidate.size()) best_distance = d, best = candidate;
    }
    return best;
}

std::string plain_number(double value) {
    std::string text = fmt::format("{:.10g}", value);
    return text == "-0" ? "0" : text;
}

double rounded(double value, int decimals) {
    const double scale = std::pow(10.0, decimals);
    const double r = std::round(value * scale) / scale;
    return r == 0.0 ? 0.0 : r;
}

std::string grouped(std::size_t n) {
    const std::string digits = std::to_string(n);
    std::string text;
    for (std::size_t i = 0; i < digits.size(); ++i) {
        if (i > 0 && (digits.size() - i) % 3 == 0) text += ' ';
        text += digits[i];
    }
    return text;
}

std::string plain_vector(Vec3 v) {
    return fmt::format("{}, {}, {}", plain_number(v.x), plain_number(v.y), plain_number(v.z));
}

std::string listed(const std::vector<std::string>& words, std::string_view last) {
    std::string text;
    for (std::size_t i = 0; i < words.size(); ++i) {
        if (i > 0) text += i + 1 == words.size() && !last.empty() ? fmt::format(" {} ", last) : ", ";
        text += words[i];
    }
    return text;
}

}  // namespace geom

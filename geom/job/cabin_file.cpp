#include "geom/job/cabin_file.h"

#include "geom/core/text.h"
#include "geom/job/quantity.h"

#include <fmt/format.h>

#include <cmath>
#include <fstream>
#include <optional>
#include <vector>

namespace geom::job {

namespace {

constexpr double kLeast_hz = 1.0, kMost_hz = 20000.0, kMost_db = 60.0;
constexpr const char* kForm = "two columns, Hz and dB: one pair a line, such as 31.5, 9.2";

std::vector<std::string> words_of(const std::string& line) {
    std::vector<std::string> words(1);
    bool has_comma = false;
    for (const char c : line) {
        const bool is_blank = c == ' ' || c == '\t' || c == '\r', is_comma = c == ',' || c == ';';
        if (!is_blank && !is_comma) {
            words.back() += c;
            continue;
        }
        // Blanks beside a comma part nothing more; two commas leave an empty word.
        if (!words.back().empty() || (is_comma && has_comma)) words.emplace_back(), has_comma = false;
        has_comma |= is_comma;
    }
    if (words.back().empty()) words.pop_back();
    return words;
}

}  // namespace

Result<sound::CabinGain> read_cabin_file(const std::filesystem::path& path) {
    const std::string name = path.filename().string();
    const auto bad = [&](std::size_t number, std::string what, std::string hint = kForm) {
        return Fault{FaultCode::BadJob, fmt::format("{}:{}: {}", name, number, what), std::move(hint), {}, "job"};
    };
    std::error_code ignored;
    std::ifstream in(path);
    if (!in || std::filesystem::is_directory(path, ignored))
        return Fault{FaultCode::Unreadable, name + ": no such file, wanted a measured cabin gain", kForm, {}, "job"};
    sound::CabinGain cabin;
    cabin.name = name;
    std::string line;
    bool may_be_heading = true;
    std::size_t number = 0;
    while (std::getline(in, line)) {
        ++number;
        if (line.find('\0') != std::string::npos)
            return Fault{FaultCode::Unreadable, name + ": is no text, wanted a measured cabin gain", kForm, {}, "job"};
        const std::vector<std::string> words = words_of(line);
        if (words.empty() || words.front().rfind('#', 0) == 0) continue;
        const auto f = parse_number(words.front());
        if (!f && may_be_heading) {
            may_be_heading = false;
            continue;
        }
        may_be_heading = false;
        const auto db = words.size() == 2 ? parse_number(words.back()) : std::nullopt;
        if (!f || !db)
            return bad(number,
                       fmt::format("\"{}\" is no pair of numbers, wanted Hz and dB",
                                   line.substr(0, line.find_last_not_of("\r ") + 1)),
                       words.size() > 2 ? std::string("a decimal point, no comma; two columns alone") : kForm);
        if (!(*f >= kLeast_hz && *f <= kMost_hz))
            return bad(number, fmt::format("{} Hz; wanted {} to {} Hz", plain_number(*f), plain_number(kLeast_hz),
                                           plain_number(kMost_hz)));
        if (!cabin.f_hz.empty() && *f <= cabin.f_hz.back())
            return bad(number,
                       fmt::format("{} Hz follows {} Hz; wanted frequencies that rise", plain_number(*f),
                                   plain_number(cabin.f_hz.back())),
                       "sort the lines, each frequency once");
        if (!(std::abs(*db) <= kMost_db))
            return bad(
                number,
                fmt::format("a gain of {} dB; wanted at most {} either way", plain_number(*db), plain_number(kMost_db)),
                "the second column is the cabin's gain over the free field, no sound level");
        cabin.f_hz.push_back(*f), cabin.db.push_back(*db);
    }
    if (cabin.f_hz.size() < 2)
        return Fault{FaultCode::BadJob,
                     fmt::format("{}: {} measured frequencies, wanted at least 2", name, cabin.f_hz.size()),
                     kForm,
                     {},
                     "job"};
    return cabin;
}

}  // namespace geom::job

#include "geom/measure/step_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

namespace geom::measure {

namespace {

struct Named {
    std::uint64_t name = 0;
    std::size_t line = 0;
    friend bool operator<(const Named& a, const Named& b) { return a.name < b.name; }
};

/// Walks the characters that mean something: strings and remarks are passed over.
class Walk {
public:
    explicit Walk(const std::string& text) : text_(text) {}
    /// The next character outside blanks, strings and remarks; a string counts as one quote. 0 at the end.
    char next() {
        while (at_ < text_.size()) {
            const char c = text_[at_++];
            if (c == '\n') ++line_;
            if (c == ' ' || c == '\t' || c == '\r' || c == '\n') continue;
            if (c == '/' && at_ < text_.size() && text_[at_] == '*') {
                const std::size_t end = text_.find("*/", at_ + 1);
                pass(end == std::string::npos ? text_.size() : end + 2);
                continue;
            }
            if (c == '\'') {
                const std::size_t end = text_.find('\'', at_);
                if (end == std::string::npos) {
                    unfinished_ = line_;
                    at_ = text_.size();
                    return 0;
                }
                pass(end + 1);
            }
            return c;
        }
        return 0;
    }
    char peek() const { return at_ < text_.size() ? text_[at_] : '\0'; }
    std::uint64_t number() {
        std::uint64_t n = 0;
        while (at_ < text_.size() && text_[at_] >= '0' && text_[at_] <= '9' && n < (std::uint64_t{1} << 59))
            n = n * 10 + static_cast<std::uint64_t>(text_[at_++] - '0');
        return n;
    }
    std::size_t line() const { return line_; }
    std::size_t unfinished() const { return unfinished_; }

private:
    void pass(std::size_t end) {
        line_ += static_cast<std::size_t>(std::count(text_.begin() + static_cast<std::ptrdiff_t>(at_),
                                                     text_.begin() + static_cast<std::ptrdiff_t>(end), '\n'));
        at_ = end;
    }
    const std::string& text_;
    std::size_t at_ = 0, line_ = 1, unfinished_ = 0;
};

}  // namespace

Status check_step_text(const std::filesystem::path& file) {
    const auto fault = [&](const std::string& what, const char* hint) {
        return Fault{FaultCode::Unreadable, file.string() + ": " + what, hint, {}, {}};
    };
    std::ifstream in(file, std::ios::binary);
    if (!in) return fault("cannot be opened", "check name and permissions");
    const std::string text{std::istreambuf_iterator<char>(in), {}};
    if (text.empty()) return fault("the file is empty", "copy or export it again");
    if (!text.starts_with("ISO-10303-21"))
        return fault("does not begin with ISO-10303-21", "the file is no STEP file, or was damaged in copying");
    constexpr const char* kAgain = "the file was cut off or edited: export it again";
    if (text.find("END-ISO-10303-21", 12) == std::string::npos) return fault("has no END-ISO-10303-21", kAgain);

    std::vector<Named> defined, used;
    Walk walk(text);
    bool at_start = true, in_data = false;
    std::string word;
    for (char c = walk.next(); c != 0; c = walk.next()) {
        if (c == '#') {
            const std::size_t line = walk.line();
            const std::uint64_t name = walk.number();
            (at_start && in_data ? defined : used).push_back({name, line});
            at_start = false;
        } else if (c == ';') {
            if (word == "DATA") in_data = true;
            if (word == "ENDSEC") in_data = false;
            word.clear();
            at_start = true;
        } else {
            at_start = false;
            if (word.size() < 16) word += c;
        }
    }
    if (walk.unfinished() > 0)
        return fault(fmt::format("line {}: a text without its closing quote", walk.unfinished()), kAgain);
    if (defined.empty()) return fault("its DATA section names no entity", kAgain);
    std::stable_sort(defined.begin(), defined.end());
    const auto twice = std::adjacent_find(defined.begin(), defined.end(),
                                          [](const Named& a, const Named& b) { return a.name == b.name; });
    if (twice != defined.end())
        return fault(fmt::format("line {}: #{} is defined a second time, first in line {}", (twice + 1)->line,
                                 twice->name, twice->line),
                     kAgain);
    for (const Named& use : used)
        if (!std::binary_search(defined.begin(), defined.end(), use))
            return fault(fmt::format("line {}: refers to #{}, which is nowhere", use.line, use.name), kAgain);
    return Done{};
}

}  // namespace geom::measure

// A place in a text: tokens, numbers and line ends, with the line counted. No locale, no allocation.
#pragma once

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstddef>
#include <limits>
#include <string>
#include <string_view>
#include <system_error>

namespace geom::scan::internal {

class Cursor {
public:
    explicit Cursor(std::string_view text) : at_(text.data()), begin_(text.data()), end_(text.data() + text.size()) {}

    std::size_t line() const { return line_; }
    std::size_t offset() const { return static_cast<std::size_t>(at_ - begin_); }
    std::size_t left() const { return static_cast<std::size_t>(end_ - at_); }
    bool at_end() const { return at_ == end_; }

    void skip_blanks() {
        while (at_ != end_ && (*at_ == ' ' || *at_ == '\t')) ++at_;
    }
    /// True at a line end or at the end of the text, after blanks.
    bool at_line_end() {
        skip_blanks();
        return at_ == end_ || *at_ == '\n' || *at_ == '\r';
    }
    /// To the first character of the next line; "\n", "\r\n" and a lone "\r" end a line.
    void next_line() {
        while (at_ != end_ && *at_ != '\n' && *at_ != '\r') ++at_;
        if (at_ == end_) return;
        if (*at_ == '\r' && at_ + 1 != end_ && at_[1] == '\n') ++at_;
        ++at_;
        ++line_;
    }
    /// Past blank lines, blanks and lines that begin with `comment`.
    void skip_empty_lines(char comment = '#') {
        while (at_ != end_) {
            skip_blanks();
            if (at_ == end_) return;
            if (*at_ == '\n' || *at_ == '\r' || *at_ == comment) {
                next_line();
            } else {
                return;
            }
        }
    }
    /// The run of non-blank characters here; empty at a line end.
    std::string_view token() {
        skip_blanks();
        const char* start = at_;
        while (at_ != end_ && *at_ != ' ' && *at_ != '\t' && *at_ != '\n' && *at_ != '\r') ++at_;
        return {start, static_cast<std::size_t>(at_ - start)};
    }
    std::string_view peek_token() {
        const char* keep = at_;
        const std::string_view t = token();
        at_ = keep;
        return t;
    }
    /// The rest of this line, without its end; the place stays before the end.
    std::string_view rest_of_line() {
        const char* start = at_;
        while (at_ != end_ && *at_ != '\n' && *at_ != '\r') ++at_;
        return {start, static_cast<std::size_t>(at_ - start)};
    }
    /// A number; false leaves the place before it. "nan" and "inf" are numbers, a number out of range is infinite.
    bool number(double& value) {
        skip_blanks();
        const char* start = at_;
        if (at_ != end_ && *at_ == '+') ++at_;
        const auto [stop, error] = std::from_chars(at_, end_, value);
        const bool ends = stop == end_ || *stop == ' ' || *stop == '\t' || *stop == '\n' || *stop == '\r';
        if (error == std::errc::invalid_argument || !ends) {
            at_ = start;
            return false;
        }
        if (error == std::errc::result_out_of_range)
            value = out_of_range(std::string_view(at_, static_cast<std::size_t>(stop - at_)));
        at_ = stop;
        return true;
    }
    /// A whole number; false leaves the place before it.
    bool integer(long long& value) {
        skip_blanks();
        const char* start = at_;
        if (at_ != end_ && *at_ == '+') ++at_;
        const auto [stop, error] = std::from_chars(at_, end_, value);
        const bool ends = stop == end_ || *stop == ' ' || *stop == '\t' || *stop == '\n' || *stop == '\r';
        if (error != std::errc() || !ends) {
            at_ = start;
            return false;
        }
        at_ = stop;
        return true;
    }

private:
    /// from_chars gives nothing for both 1e-400 and 1e400; the sign of the exponent tells them apart.
    static double out_of_range(std::string_view text) {
        const auto e = text.find_first_of("eE");
        if (e != std::string_view::npos && e + 1 < text.size() && text[e + 1] == '-') return 0.0;
        return std::numeric_limits<double>::infinity();
    }

    const char* at_;
    const char* begin_;
    const char* end_;
    std::size_t line_ = 1;
};

/// A piece of a file for a fault's text: printable, in quotes, cut after 24 characters.
inline std::string in_quotes(std::string_view found) {
    std::string text = "\"";
    for (char c : found.substr(0, 24)) text += (c >= 32 && c < 127) ? c : '?';
    if (found.size() > 24) text += "...";
    return text + "\"";
}

}  // namespace geom::scan::internal

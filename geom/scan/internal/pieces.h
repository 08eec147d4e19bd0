// A text cut at line ends into pieces that are parsed at the same time. The cut depends on the text alone.
#pragma once

#include <cstring>
#include <string_view>
#include <vector>

namespace geom::scan::internal {

/// Pieces of about `size` bytes, each but the last ending with "\n".
inline std::vector<std::string_view> pieces_at_lines(std::string_view text, std::size_t size = std::size_t{1} << 20) {
    std::vector<std::string_view> pieces;
    while (text.size() > size) {
        const void* end = std::memchr(text.data() + size, '\n', text.size() - size);
        if (end == nullptr) break;
        const auto length = static_cast<std::size_t>(static_cast<const char*>(end) - text.data()) + 1;
        pieces.push_back(text.substr(0, length));
        text.remove_prefix(length);
    }
    if (!text.empty()) pieces.push_back(text);
    return pieces;
}

}  // namespace geom::scan::internal

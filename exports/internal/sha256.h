// SHA-256 (FIPS 180-4) of bytes given piece by piece.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace exports {

class Sha256 {
public:
    Sha256();
    void add(std::string_view bytes);
    /// The digest in lower-case hexadecimal; the object is used up by it.
    std::string hex();

private:
    void compress(const unsigned char* block);

    std::array<std::uint32_t, 8> state_{};
    std::array<unsigned char, 64> block_{};
    std::size_t filled_ = 0;
    std::uint64_t length_ = 0;
};

}  // namespace exports

// SHA-256 as FIPS 180-4 (August 2015) defines it: section 4.1.2 the functions, 5.1.1 the padding, 5.3.3 the initial
// hash value, 6.2.2 the compression. The constants of 4.2.2 and 5.3.3 are the first 32 bits of the fractional parts of
// the cube and square roots of the first primes; they are computed here by integer roots, so no table can be mistyped.
#include "exports/internal/sha256.h"

#include "exports/delivery.h"

#include <bit>
#include <fstream>
#include <vector>

namespace exports {
namespace {

__extension__ typedef unsigned __int128 Wide;

constexpr std::array<std::uint32_t, 64> first_primes() {
    std::array<std::uint32_t, 64> primes{};
    std::size_t found = 0;
    for (std::uint32_t n = 2; found < primes.size(); ++n) {
        bool is_prime = true;
        for (std::size_t i = 0; i < found && is_prime; ++i) is_prime = n % primes[i] != 0;
        if (is_prime) primes[found++] = n;
    }
    return primes;
}

/// floor(2^32 * p^(1/power)) modulo 2^32: the first 32 bits of the fraction. power is 2 or 3.
constexpr std::uint32_t root_fraction(std::uint32_t p, int power) {
    const Wide target = power == 2 ? static_cast<Wide>(p) << 64 : static_cast<Wide>(p) << 96;
    std::uint64_t root = 0;
    for (int bit = 36; bit >= 0; --bit) {
        const std::uint64_t trial = root | (std::uint64_t{1} << bit);
        Wide raised = static_cast<Wide>(trial) * trial;
        if (power == 3) raised *= trial;  // below 2^111
        if (raised <= target) root = trial;
    }
    return static_cast<std::uint32_t>(root);
}

constexpr std::array<std::uint32_t, 64> round_constants() {
    std::array<std::uint32_t, 64> k = first_primes();
    for (auto& value : k) value = root_fraction(value, 3);
    return k;
}

constexpr auto kRound = round_constants();
static_assert(kRound[0] == 0x428a2f98u && kRound[63] == 0xc67178f2u);

}  // namespace

Sha256::Sha256() {
    constexpr auto primes = first_primes();
    for (std::size_t i = 0; i < state_.size(); ++i) state_[i] = root_fraction(primes[i], 2);
}

void Sha256::compress(const unsigned char* block) {
    std::array<std::uint32_t, 64> w{};
    for (std::size_t t = 0; t < 16; ++t)
        w[t] = static_cast<std::uint32_t>(block[4 * t]) << 24 | static_cast<std::uint32_t>(block[4 * t + 1]) << 16 |
               static_cast<std::uint32_t>(block[4 * t + 2]) << 8 | static_cast<std::uint32_t>(block[4 * t + 3]);
    for (std::size_t t = 16; t < 64; ++t) {
        const std::uint32_t s0 = std::rotr(w[t - 15], 7) ^ std::rotr(w[t - 15], 18) ^ (w[t - 15] >> 3);
        const std::uint32_t s1 = std::rotr(w[t - 2], 17) ^ std::rotr(w[t - 2], 19) ^ (w[t - 2] >> 10);
        w[t] = w[t - 16] + s0 + w[t - 7] + s1;
    }
    auto [a, b, c, d, e, f, g, h] = state_;
    for (std::size_t t = 0; t < 64; ++t) {
        const std::uint32_t sum1 = std::rotr(e, 6) ^ std::rotr(e, 11) ^ std::rotr(e, 25);
        const std::uint32_t choose = (e & f) ^ (~e & g);
        const std::uint32_t t1 = h + sum1 + choose + kRound[t] + w[t];
        const std::uint32_t sum0 = std::rotr(a, 2) ^ std::rotr(a, 13) ^ std::rotr(a, 22);
        const std::uint32_t majority = (a & b) ^ (a & c) ^ (b & c);
        h = g;
        g = f;
        f = e;
        e = d + t1;
        d = c;
        c = b;
        b = a;
        a = t1 + sum0 + majority;
    }
    const std::array<std::uint32_t, 8> worked{a, b, c, d, e, f, g, h};
    for (std::size_t i = 0; i < state_.size(); ++i) state_[i] += worked[i];
}

void Sha256::add(std::string_view bytes) {
    length_ += bytes.size();
    for (const char byte : bytes) {
        block_[filled_++] = static_cast<unsigned char>(byte);
        if (filled_ == block_.size()) {
            compress(block_.data());
            filled_ = 0;
        }
    }
}

std::string Sha256::hex() {
    const std::uint64_t bits = length_ * 8;
    add(std::string_view("\x80", 1));
    while (filled_ != 56) add(std::string_view("\0", 1));
    for (int shift = 56; shift >= 0; shift -= 8) {
        const char byte = static_cast<char>((bits >> shift) & 0xff);
        add(std::string_view(&byte, 1));
    }
    std::string text;
    for (const std::uint32_t word : state_)
        for (int shift = 28; shift >= 0; shift -= 4) text += "0123456789abcdef"[(word >> shift) & 0xf];
    return text;
}

std::string sha256_of_file(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    if (!in) return {};
    Sha256 hash;
    std::vector<char> buffer(std::size_t{1} << 16);
    while (in.read(buffer.data(), static_cast<std::streamsize>(buffer.size())), in.gcount() > 0)
        hash.add({buffer.data(), static_cast<std::size_t>(in.gcount())});
    if (in.bad()) return {};
    return hash.hex();
}

}  // namespace exports

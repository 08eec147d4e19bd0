// Seeded numbers that are the same on every machine (the standard library's distributions are not). SplitMix64:
// Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014 (cited from memory).
#pragma once

#include <cmath>
#include <cstdint>
#include <numbers>

namespace geom {

class Random {
public:
    explicit Random(std::uint64_t seed) : state_(seed) {}
    std::uint64_t next() {
        std::uint64_t z = (state_ += 0x9E3779B97F4A7C15ull);
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ull;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBull;
        return z ^ (z >> 31);
    }
    /// In [0, 1).
    double uniform() { return static_cast<double>(next() >> 11) * 0x1.0p-53; }
    double uniform(double lo, double hi) { return lo + (hi - lo) * uniform(); }
    /// Standard normal, Box-Muller.
    double normal() {
        const double u = 1.0 - uniform();
        return std::sqrt(-2.0 * std::log(u)) * std::cos(2.0 * std::numbers::pi * uniform());
    }

private:
    std::uint64_t state_;
};

}  // namespace geom

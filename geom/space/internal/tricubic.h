// Catmull-Rom value and gradient of a grid of floats, in voxel coordinates. Single precision throughout: the values
// are a few tens of millimetres, so rounding stays below 0.00002 mm.
#pragma once

#include "geom/space/field.h"

#include <algorithm>
#include <cstring>

namespace geom::space::internal {

struct Vec3f {
    float x = 0, y = 0, z = 0;
    friend Vec3f operator+(Vec3f a, Vec3f b) { return {a.x + b.x, a.y + b.y, a.z + b.z}; }
    friend Vec3f operator-(Vec3f a, Vec3f b) { return {a.x - b.x, a.y - b.y, a.z - b.z}; }
    friend Vec3f operator*(Vec3f a, float s) { return {a.x * s, a.y * s, a.z * s}; }
};
inline float dot(Vec3f a, Vec3f b) {
    return a.x * b.x + a.y * b.y + a.z * b.z;
}
inline float norm(Vec3f a) {
    return std::sqrt(dot(a, a));
}

/// Value in the field's unit, gradient in the field's unit a voxel.
struct Sample {
    float value = 0.0f;
    Vec3f gradient;
};

class Tricubic {
public:
    Tricubic(const GridSpec& grid, const float* values)
        : v_(values),
          nx_(grid.nx),
          ny_(grid.ny),
          nz_(grid.nz),
          sy_(static_cast<std::size_t>(grid.nx)),
          sz_(sy_ * static_cast<std::size_t>(grid.ny)) {}

    /// Clamped to where the 4 x 4 x 4 support fits.
    Sample at(Vec3f p) const {
        Lanes wx, dx;
        float wy[4], dy[4], wz[4], dz[4];
        const int i = locate(p.x, nx_, reinterpret_cast<float*>(&wx), reinterpret_cast<float*>(&dx));
        const int j = locate(p.y, ny_, wy, dy);
        const int k = locate(p.z, nz_, wz, dz);
        const float* base = v_ + static_cast<std::size_t>(k - 1) * sz_ + static_cast<std::size_t>(j - 1) * sy_ +
                            static_cast<std::size_t>(i - 1);
        Lanes s{}, sdy{}, sdz{};
        for (std::size_t c = 0; c < 4; ++c) {
            Lanes t{}, tdy{};
            for (std::size_t b = 0; b < 4; ++b) {
                Lanes row;
                std::memcpy(&row, base + c * sz_ + b * sy_, sizeof row);
                t += row * wy[b];
                tdy += row * dy[b];
            }
            s += t * wz[c];
            sdy += tdy * wz[c];
            sdz += t * dz[c];
        }
        return {sum(s * wx), {sum(s * dx), sum(sdy * wx), sum(sdz * wx)}};
    }

    float value(Vec3f p) const {
        Lanes wx, dx;
        float wy[4], dy[4], wz[4], dz[4];
        const int i = locate(p.x, nx_, reinterpret_cast<float*>(&wx), reinterpret_cast<float*>(&dx));
        const int j = locate(p.y, ny_, wy, dy);
        const int k = locate(p.z, nz_, wz, dz);
        const float* base = v_ + static_cast<std::size_t>(k - 1) * sz_ + static_cast<std::size_t>(j - 1) * sy_ +
                            static_cast<std::size_t>(i - 1);
        Lanes s{};
        for (std::size_t c = 0; c < 4; ++c) {
            Lanes t{};
            for (std::size_t b = 0; b < 4; ++b) {
                Lanes row;
                std::memcpy(&row, base + c * sz_ + b * sy_, sizeof row);
                t += row * wy[b];
            }
            s += t * wz[c];
        }
        return sum(s * wx);
    }

private:
    typedef float Lanes __attribute__((vector_size(16)));
    static float sum(Lanes a) { return (a[0] + a[1]) + (a[2] + a[3]); }

    static int locate(float p, int n, float* w, float* d) {
        const float t0 = std::clamp(p, 1.0f, static_cast<float>(n - 2) - 0.0001f);
        const int i = std::min(static_cast<int>(t0), n - 3);
        const float t = t0 - static_cast<float>(i), t2 = t * t, t3 = t2 * t;
        w[0] = -0.5f * t + t2 - 0.5f * t3;
        w[1] = 1.0f - 2.5f * t2 + 1.5f * t3;
        w[2] = 0.5f * t + 2.0f * t2 - 1.5f * t3;
        w[3] = 0.5f * (t3 - t2);
        d[0] = -0.5f + 2.0f * t - 1.5f * t2;
        d[1] = -5.0f * t + 4.5f * t2;
        d[2] = 0.5f + 4.0f * t - 4.5f * t2;
        d[3] = -t + 1.5f * t2;
        return i;
    }

    const float* v_;
    int nx_, ny_, nz_;
    std::size_t sy_, sz_;
};

}  // namespace geom::space::internal

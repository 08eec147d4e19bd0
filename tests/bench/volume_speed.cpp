// bench_volume_speed [TRIANGLES]: a binary STL of so many triangles (10 million), a bumpy ball: seconds of reading it
// alone and of reading and measuring it, and their ratio. The volume is held against the same sum in long double.
#include "geom/core/parallel.h"
#include "geom/measure/shape_file.h"
#include "geom/measure/shape_volume.h"
#include "geom/scan/read.h"

#include <fmt/format.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <numbers>

namespace {

double seconds_since(std::chrono::steady_clock::time_point start) {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

struct Corner {
    float x, y, z;
};

/// Rings times steps quadrangles and two caps, vertices shared to the bit; its volume.
long double write_ball(const std::filesystem::path& file, std::size_t triangles) {
    const auto rings = static_cast<std::size_t>(std::sqrt(static_cast<double>(triangles) / 4.0)), steps = 2 * rings;
    const auto at = [&](std::size_t ring, std::size_t step) {
        const double b = std::numbers::pi * static_cast<double>(ring) / static_cast<double>(rings);
        const double a = 2 * std::numbers::pi * static_cast<double>(step % steps) / static_cast<double>(steps);
        const double r = 200 + 10 * std::sin(9 * a) * std::sin(b) * std::sin(7 * b);
        if (ring == 0 || ring == rings) return Corner{0, 0, ring == 0 ? 200.0f : -200.0f};
        return Corner{static_cast<float>(r * std::sin(b) * std::cos(a)),
                      static_cast<float>(r * std::sin(b) * std::sin(a)), static_cast<float>(r * std::cos(b))};
    };
    std::ofstream out(file, std::ios::binary);
    const std::uint32_t count = static_cast<std::uint32_t>(2 * steps * (rings - 1));
    out.write(std::string(80, ' ').data(), 80);
    out.write(reinterpret_cast<const char*>(&count), 4);
    long double six = 0;
    const auto add = [&](Corner a, Corner b, Corner c) {
        char record[50] = {};
        std::memcpy(record + 12, &a, 12);
        std::memcpy(record + 24, &b, 12);
        std::memcpy(record + 36, &c, 12);
        out.write(record, 50);
        const long double ax = a.x, ay = a.y, az = a.z, bx = b.x, by = b.y, bz = b.z, cx = c.x, cy = c.y, cz = c.z;
        six += ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx);
    };
    std::vector<Corner> upper(steps), lower(steps);
    for (std::size_t s = 0; s < steps; ++s) lower[s] = at(0, s);
    for (std::size_t r = 0; r < rings; ++r) {
        upper.swap(lower);
        for (std::size_t s = 0; s < steps; ++s) lower[s] = at(r + 1, s);
        for (std::size_t s = 0; s < steps; ++s) {
            const Corner a = upper[s], b = upper[(s + 1) % steps], c = lower[s], d = lower[(s + 1) % steps];
            if (r > 0) add(a, c, b);
            if (r + 1 < rings) add(b, c, d);
        }
    }
    return six / 6;
}

}  // namespace

int main(int argc, char** argv) {
    const std::size_t triangles = argc > 1 ? std::strtoull(argv[1], nullptr, 10) : 10000000;
    const auto file = std::filesystem::temp_directory_path() / "gapwright-volume-speed.stl";
    const long double truth = write_ball(file, triangles);
    const geom::Context quiet;
    double best_read = 1e9, best_all = 1e9;
    geom::measure::ShapeVolume told;
    for (int round = 0; round < 3; ++round) {
        auto start = std::chrono::steady_clock::now();
        {
            geom::scan::ReadOptions options;
            options.any_extent = true;
            options.memory_limit_bytes = 6e9;
            const auto read = geom::scan::read_scans({file}, options, quiet);
            if (!read) return fmt::print("{}\n", read.error().what), 1;
        }
        best_read = std::min(best_read, seconds_since(start));
        start = std::chrono::steady_clock::now();
        auto shape = geom::measure::read_shape(file, geom::scan::FileUnit::Millimetre, quiet);
        if (!shape) return fmt::print("{}\n", shape.error().what), 1;
        const double middle = seconds_since(start);
        auto volume = geom::measure::volume_of_mesh(std::move(*shape->mesh), quiet);
        if (!volume) return fmt::print("{}\n", volume.error().what), 1;
        best_all = std::min(best_all, seconds_since(start));
        told = std::move(*volume);
        fmt::print("round {}: read {:.2f} s, read and measured {:.2f} s\n", round + 1, middle, seconds_since(start));
    }
    std::filesystem::remove(file);
    fmt::print("{} triangles: reading alone {:.2f} s, reading and measuring {:.2f} s, ratio {:.2f}\n",
               told.mesh.triangles.size(), best_read, best_all, best_all / best_read);
    fmt::print("volume {:.12f} L, in long double {:.12f} L; {}\n", told.volume.litres(),
               static_cast<double>(truth) / 1e6, told.exact ? "exact" : "bounded");
}

// What a scan's size costs: the example's scan at 30 k to 5 M points, each as packed PLY, text PLY and plain text, read
// alone and with the surface after it. Every measure runs in a process of its own, so that its peak memory is its own.
// Prints wall and processor seconds, peak MiB, and the ratios to copying the file's bytes and to 30 k points.
//
//     bench_scan_size [POINTS ...]
#include "examples/camper_seat_gap/scene.h"
#include "geom/scan/surface.h"

#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <bit>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <vector>

using namespace geom;

namespace {

struct Cost {
    double wall_s = 0.0, cpu_s = 0.0, peak_mib = 0.0;
    bool done = false;
};

Cost cost_of(const std::function<bool()>& work) {
    std::fflush(stdout);
    const auto start = std::chrono::steady_clock::now();
    const pid_t child = ::fork();
    if (child == 0) ::_exit(work() ? 0 : 1);
    int status = 0;
    rusage usage{};
    ::wait4(child, &status, 0, &usage);
    Cost cost;
    cost.wall_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    const auto seconds = [](const timeval& t) {
        return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
    };
    cost.cpu_s = seconds(usage.ru_utime) + seconds(usage.ru_stime);
    cost.peak_mib = static_cast<double>(usage.ru_maxrss) / 1024.0;
    cost.done = WIFEXITED(status) && WEXITSTATUS(status) == 0;
    return cost;
}

enum class Form { Packed, TextPly, Text };

bool write_scan(const std::filesystem::path& path, std::size_t count, Form form) {
    camper_seat_gap::ScanOptions options;
    options.points = count;
    const std::vector<Point3> points = camper_seat_gap::scan(options);
    std::string bytes;
    if (form != Form::Text)
        bytes = fmt::format(
            "ply\nformat {} 1.0\nelement vertex {}\nproperty float x\nproperty float y\nproperty float z\nend_header\n",
            form == Form::Packed ? "binary_little_endian" : "ascii", points.size());
    for (const Point3& p : points) {
        if (form != Form::Packed) {
            fmt::format_to(std::back_inserter(bytes), "{:.4f} {:.4f} {:.4f}\n", p.x, p.y, p.z);
            continue;
        }
        for (const double v : {p.x, p.y, p.z}) {
            const auto bits = std::bit_cast<std::uint32_t>(static_cast<float>(v));
            for (int shift = 0; shift < 32; shift += 8) bytes += static_cast<char>(bits >> shift & 0xFF);
        }
    }
    std::ofstream file(path, std::ios::binary);
    file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    return static_cast<bool>(file);
}

bool copy_bytes(const std::filesystem::path& path) {
    std::ifstream file(path, std::ios::binary);
    std::string block(std::size_t{8} << 20, '\0');
    std::size_t sum = 0;
    while (file.read(block.data(), static_cast<std::streamsize>(block.size())) || file.gcount() > 0)
        sum += static_cast<unsigned char>(block[0]);
    return sum > 0;
}

}  // namespace

int main(int argc, char** argv) {
    std::vector<std::size_t> counts;
    for (int i = 1; i < argc; ++i) counts.push_back(static_cast<std::size_t>(std::atoll(argv[i])));
    if (counts.empty()) counts = {30000, 300000, 3000000, 5000000};
    const std::filesystem::path folder =
        std::filesystem::temp_directory_path() / fmt::format("scan-size-{}", ::getpid());
    std::filesystem::create_directories(folder);
    fmt::print("{:>9} {:9} {:>7} | {:>24} | {:>40} | {:>31}\n", "points", "form", "MB", "bytes alone: wall cpu MiB",
               "read: wall cpu MiB, wall/bytes, x first", "read+surface: wall cpu MiB, x read");
    for (const Form form : {Form::Packed, Form::TextPly, Form::Text}) {
        double first_s = 0.0;
        for (const std::size_t count : counts) {
            const auto path = folder / (form == Form::Text ? "scan.xyz" : "scan.ply");
            // In a process of its own as well: what this one holds would count for all its children.
            if (!cost_of([&] { return write_scan(path, count, form); }).done) return 1;
            const Cost bytes = cost_of([&] { return copy_bytes(path); });
            const Cost read = cost_of([&] { return scan::read_scans({path}, {}, {}).has_value(); });
            Cost both;
            if (form == Form::Packed)
                both = cost_of([&] {
                    auto raw = scan::read_scans({path}, {}, {});
                    return raw && scan::estimate_surface(std::move(*raw), {}, {}).has_value();
                });
            if (count == counts.front()) first_s = read.wall_s;
            fmt::print(
                "{:>9} {:9} {:>7.1f} | {:>8.3f} {:>6.3f} {:>7.1f}  | {:>8.3f} {:>6.3f} {:>7.1f} {:>7.1f} {:>7.1f}    "
                "| ",
                count,
                form == Form::Packed    ? "PLY"
                : form == Form::TextPly ? "PLY, text"
                                        : "text",
                static_cast<double>(std::filesystem::file_size(path)) / 1e6, bytes.wall_s, bytes.cpu_s, bytes.peak_mib,
                read.wall_s, read.cpu_s, read.peak_mib, read.wall_s / bytes.wall_s, read.wall_s / first_s);
            if (both.done)
                fmt::print("{:>7.2f} {:>6.2f} {:>7.1f} {:>6.1f}\n", both.wall_s, both.cpu_s, both.peak_mib,
                           both.wall_s / read.wall_s);
            else
                fmt::print("\n");
            if (!read.done) fmt::print("    not read\n");
        }
    }
    std::filesystem::remove_all(folder);
    return 0;
}

// Writes the example's scan as a binary PLY (little endian, float x y z, millimetres): the same bytes every time.
//
//     recipe_camper_seat_gap OUT.ply [--noise MM] [--points N] [--exact]
//
// --exact leaves out noise, outliers and holes. The file is written beside and renamed, so that OUT.ply is whole or
// as it was.
#include "examples/camper_seat_gap/scene.h"

#include <bit>
#include <charconv>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>
#include <vector>

namespace {

template <class T>
bool to_number(std::string_view text, T& value) {
    const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    return error == std::errc() && stop == text.data() + text.size();
}

int usage(const char* problem) {
    std::fprintf(stderr, "%s\nusage: recipe_camper_seat_gap OUT.ply [--noise MM] [--points N] [--exact]\n", problem);
    return 2;
}

void put(std::string& bytes, float value) {
    const auto bits = std::bit_cast<std::uint32_t>(value);
    for (int shift = 0; shift < 32; shift += 8) bytes += static_cast<char>(bits >> shift & 0xFF);
}

}  // namespace

int main(int argc, char** argv) {
    std::string out;
    camper_seat_gap::ScanOptions options;
    bool is_exact = false;
    for (int i = 1; i < argc; ++i) {
        const std::string_view word = argv[i];
        if (word == "--exact") {
            is_exact = true;
        } else if (word == "--noise") {
            if (++i == argc || !to_number(argv[i], options.noise_mm) ||
                !(options.noise_mm >= 0.0 && options.noise_mm < 10.0))
                return usage("--noise wants a length of 0 to 10 mm");
        } else if (word == "--points") {
            if (++i == argc || !to_number(argv[i], options.points) || options.points < 1000 ||
                options.points > 50000000)
                return usage("--points wants a number of 1000 to 50000000");
        } else if (word.starts_with("-") || !out.empty()) {
            return usage(("not understood: " + std::string(word)).c_str());
        } else {
            out = word;
        }
    }
    if (out.empty()) return usage("no file named to write to");
    if (is_exact) options = camper_seat_gap::ScanOptions::exact(options.points);

    const std::vector<geom::Point3> points = camper_seat_gap::scan(options);
    std::string bytes =
        "ply\nformat binary_little_endian 1.0\ncomment gap between the front seats of a camper van, mm\n"
        "element vertex " +
        std::to_string(points.size()) + "\nproperty float x\nproperty float y\nproperty float z\nend_header\n";
    bytes.reserve(bytes.size() + points.size() * 12);
    for (const geom::Point3& p : points)
        for (const double v : {p.x, p.y, p.z}) put(bytes, static_cast<float>(v));

    const std::string beside = out + ".part";
    std::ofstream file(beside, std::ios::binary);
    file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    file.close();
    std::error_code error;
    if (file) std::filesystem::rename(beside, out, error);
    if (!file || error) {
        std::filesystem::remove(beside, error);
        std::fprintf(stderr, "cannot write %s\n", out.c_str());
        return 1;
    }
    return 0;
}

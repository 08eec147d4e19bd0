// Writes the example's scan as a binary PLY (little endian, float x y z, millimetres): the same bytes every time.
//
//     recipe_ring_on_scan OUT.ply
//
// The file is written beside and renamed, so that OUT.ply is whole or as it was.
#include "examples/ring_on_scan/scene.h"

#include <bit>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>

int main(int argc, char** argv) {
    if (argc != 2 || argv[1][0] == '-') {
        std::fprintf(stderr, "usage: recipe_ring_on_scan OUT.ply\n");
        return 2;
    }
    const std::string out = argv[1], beside = out + ".part";
    const std::vector<geom::Point3> points = ring_on_scan::scan();
    std::string bytes = "ply\nformat binary_little_endian 1.0\ncomment inner skin of a door, mm\nelement vertex " +
                        std::to_string(points.size()) +
                        "\nproperty float x\nproperty float y\nproperty float z\nend_header\n";
    for (const geom::Point3& p : points)
        for (const double v : {p.x, p.y, p.z}) {
            const auto bits = std::bit_cast<std::uint32_t>(static_cast<float>(v));
            for (int shift = 0; shift < 32; shift += 8) bytes += static_cast<char>(bits >> shift & 0xFF);
        }
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

// A plain gap for the program's tests: a box of 200 x 250 x 250 mm, open in front, sampled every 5 mm without noise.
//
//   x from -100 to 100, y from 0 (mouth) to 250 (bulkhead), z from 0 (floor) to 250 (lid); millimetres.
#pragma once

#include "geom/core/vec.h"
#include "tests/support/temp_folder.h"

#include <cstring>
#include <string>
#include <vector>

namespace support {

inline std::vector<geom::Point3> box_gap_points(double step = 5.0) {
    std::vector<geom::Point3> points;
    const auto last = [&](double length) { return static_cast<int>(length / step + 0.5); };
    for (int i = 0; i <= last(200); ++i)
        for (int j = 0; j <= last(250); ++j)
            for (const double z : {0.0, 250.0}) points.push_back({-100 + i * step, j * step, z});
    for (int j = 0; j <= last(250); ++j)
        for (int k = 1; k < last(250); ++k)
            for (const double x : {-100.0, 100.0}) points.push_back({x, j * step, k * step});
    for (int i = 1; i < last(200); ++i)
        for (int k = 1; k < last(250); ++k) points.push_back({-100 + i * step, 250.0, k * step});
    return points;
}

inline std::string as_xyz(const std::vector<geom::Point3>& points) {
    std::string text;
    for (const geom::Point3& p : points)
        text += std::to_string(p.x) + " " + std::to_string(p.y) + " " + std::to_string(p.z) + "\n";
    return text;
}

inline std::string as_binary_ply(const std::vector<geom::Point3>& points) {
    std::string bytes = "ply\nformat binary_little_endian 1.0\nelement vertex " + std::to_string(points.size()) +
                        "\nproperty float x\nproperty float y\nproperty float z\nend_header\n";
    for (const geom::Point3& p : points)
        for (const double c : {p.x, p.y, p.z}) {
            const auto f = static_cast<float>(c);
            char raw[4];
            std::memcpy(raw, &f, 4);  // the test machines are little-endian, as the header says
            bytes.append(raw, 4);
        }
    return bytes;
}

/// A job for that gap, with lines to change: text of `change` becomes `into`.
inline std::string box_gap_job(const std::string& change = {}, const std::string& into = {},
                               const std::string& more = {}) {
    std::string text = R"([job]
name = "box-gap"
length_unit = "mm"
[scan]
files = ["gap.ply"]
length_unit = "mm"
air = [0, 120, 125]
[space]
clearance = 4
edge_radius = 12
inner_radius = 6
voxel = 4
[enclosure]
net_volume = "4 L"
wall = 6
baffle = { outward = [0, -1, 0], point = [0, 20, 0], travel = [-190, 0], thickness = 12 }
)";
    if (!change.empty()) {
        const auto at = text.find(change);
        if (at == std::string::npos) throw std::runtime_error("the job has no " + change);
        text.replace(at, change.size(), into);
    }
    return text + more;
}

}  // namespace support

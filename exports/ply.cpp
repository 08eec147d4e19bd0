// Bytes are put together by hand, low byte first, so that they are the same on every machine.
#include "exports/ply.h"

#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <cstdint>

namespace exports {
namespace {

using geom::Point3;
using geom::Vec3;

constexpr double kSingleUpTo_mm = 1e5;

template <class Unsigned>
void put(std::string& bytes, Unsigned bits) {
    for (unsigned shift = 0; shift < 8 * sizeof(bits); shift += 8)
        bytes += static_cast<char>(static_cast<unsigned char>(bits >> shift));
}
void put_single(std::string& bytes, double v) {
    put(bytes, std::bit_cast<std::uint32_t>(static_cast<float>(v)));
}
void put_double(std::string& bytes, double v) {
    put(bytes, std::bit_cast<std::uint64_t>(v));
}

bool is_near(const std::vector<Point3>& points) {
    for (const Point3& p : points)
        if (!(std::abs(p.x) < kSingleUpTo_mm && std::abs(p.y) < kSingleUpTo_mm && std::abs(p.z) < kSingleUpTo_mm))
            return false;
    return true;
}

std::string header(std::size_t points, bool single, bool normals, std::size_t triangles) {
    const char* real = single ? "float" : "double";
    std::string text = fmt::format(
        "ply\nformat binary_little_endian 1.0\ncomment millimetres\nelement vertex {0}\n"
        "property {1} x\nproperty {1} y\nproperty {1} z\n",
        points, real);
    if (normals) text += "property float nx\nproperty float ny\nproperty float nz\n";
    if (triangles > 0) text += fmt::format("element face {}\nproperty list uchar int vertex_indices\n", triangles);
    return text + "end_header\n";
}

void put_point(std::string& bytes, Point3 p, bool single) {
    for (const double v : {p.x, p.y, p.z}) single ? put_single(bytes, v) : put_double(bytes, v);
}

}  // namespace

std::string ply_of_surface(const geom::scan::Surface& surface) {
    EXPECTS(surface.points.size() == surface.normals.size());
    const std::size_t count = surface.from_mesh ? surface.points.size() : surface.edge_begin;
    const bool single = is_near(surface.points);
    std::string bytes = header(count, single, true, 0);
    bytes.reserve(bytes.size() + count * (single ? 24 : 36));
    for (std::size_t i = 0; i < count; ++i) {
        put_point(bytes, surface.points[i], single);
        const Vec3 n = surface.normals[i];
        for (const double v : {n.x, n.y, n.z}) put_single(bytes, v);
    }
    return bytes;
}

std::string ply_of_mesh(const geom::TriMesh& mesh) {
    const bool single = is_near(mesh.vertices);
    std::string bytes = header(mesh.vertices.size(), single, false, mesh.triangles.size());
    bytes.reserve(bytes.size() + mesh.vertices.size() * (single ? 12 : 24) + mesh.triangles.size() * 13);
    for (const Point3& p : mesh.vertices) put_point(bytes, p, single);
    for (const auto& t : mesh.triangles) {
        bytes += '\3';
        for (const std::uint32_t corner : t) put(bytes, corner);
    }
    return bytes;
}

}  // namespace exports

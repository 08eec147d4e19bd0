// A point takes its place and, where the file has them, its normal; a cloud is sorted once into cells afterwards, which
// takes a key a point more. A triangle takes its corners and a place in the tables that join and sample them.
#include "geom/scan/internal/budget.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::scan::internal {
namespace {

constexpr double kPoint = 24.0, kNormal = 24.0, kKey = 16.0, kTriangle = 20.0;

std::string megabytes(double bytes) {
    return fmt::format("{:.0f} MB", std::ceil(bytes / 1e6));
}

}  // namespace

double Budget::cost(std::size_t points, std::size_t triangles, bool has_normals) {
    return static_cast<double>(points) * (kPoint + kKey + (has_normals ? kNormal : 0.0)) +
           static_cast<double>(triangles) * kTriangle;
}

Result<std::size_t> Budget::keep_of_cloud(const std::string& file, std::size_t points, bool has_normals) const {
    const double need = cost(points, 0, has_normals), left = std::max(0.0, limit_bytes - used_bytes);
    const std::size_t asked = std::max<std::size_t>(keep_every, 1);
    if (need <= left * static_cast<double>(asked)) return asked;
    const double fitting = left / cost(1, 0, has_normals);
    constexpr double kLeastUseful = 1000.0;
    const auto times = fitting > 0.0 ? static_cast<std::size_t>(std::ceil(static_cast<double>(points) / fitting)) : 0;
    if (keep_every == 0 && fitting >= kLeastUseful) return times;
    const std::string what =
        fmt::format("{}: {} points{} take {}{}, wanted at most {}", file, points,
                    asked > 1 ? fmt::format(", every {}th of them kept,", asked) : "",
                    megabytes(need / static_cast<double>(asked)), has_normals ? " with their normals" : "",
                    used_bytes > 0.0 ? megabytes(left) + " beside the files before it" : megabytes(left));
    if (fitting < kLeastUseful)
        return Fault{FaultCode::MemoryLimit, what, "raise the memory limit, or leave files out", {}, {}};
    return Fault{FaultCode::MemoryLimit,
                 what,
                 fmt::format("set [scan] keep_every = {} (keeps {} points), or thin the file before to at most {:.0f} "
                             "points: one a voxel {:.2g} times as wide as the points lie apart",
                             times, points / times, std::floor(fitting), std::sqrt(static_cast<double>(times)) * 1.05),
                 {},
                 {}};
}

Status Budget::check_mesh(const std::string& file, std::size_t points, std::size_t triangles, bool has_normals) const {
    const double need = cost(points, triangles, has_normals), left = std::max(0.0, limit_bytes - used_bytes);
    if (need <= left) return Done{};
    return Fault{FaultCode::MemoryLimit,
                 fmt::format("{}: {} points and {} triangles take {}, wanted at most {}", file, points, triangles,
                             megabytes(need), megabytes(left)),
                 fmt::format("reduce the mesh to at most {:.0f} triangles and read it again",
                             std::floor(static_cast<double>(triangles) * left / need)),
                 {},
                 {}};
}

}  // namespace geom::scan::internal

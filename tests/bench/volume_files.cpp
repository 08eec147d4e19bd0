// bench_volume_files FILE...: what files or folders of meshes hold against an independent library's sum over the same
// triangles; where a mesh is not closed or crosses itself, its bounds and what is wrong with it.
#include "geom/measure/shape_file.h"
#include "geom/measure/shape_volume.h"
#include "tests/measure/volume_oracle.h"

#include <fmt/format.h>

#include <cmath>
#include <filesystem>

using namespace geom;
using namespace geom::measure;

namespace {

/// The relative difference, or less than 0 where there is none to tell.
double told(const std::filesystem::path& path) {
    auto file = read_shape(path, scan::FileUnit::Millimetre, Context{});
    if (!file || !file->mesh) return -1.0;
    const auto v = volume_of_mesh(std::move(*file->mesh), Context{});
    if (!v || !v->known) {
        fmt::print("{:<44} no volume\n", path.filename().string());
        return -1.0;
    }
    std::string flaws;
    for (const FlawFound& f : v->flaws) flaws += fmt::format("{}{}", flaws.empty() ? "" : ", ", name_of(f.flaw));
    if (!v->exact) {
        fmt::print("{:<44} {:>12} triangles  {:.6g} to {:.6g} L: {}\n", path.filename().string(),
                   v->mesh.triangles.size(), v->low.litres(), v->high.litres(), flaws);
        return -1.0;
    }
    const double off = std::abs(std::abs(support::oracle_volume_mm3(v->mesh)) / v->volume.mm3() - 1.0);
    fmt::print("{:<44} {:>12} triangles  {:.9g} L, the library {:.2g} off {}\n", path.filename().string(),
               v->mesh.triangles.size(), v->volume.litres(), off, flaws);
    return off;
}

}  // namespace

int main(int argc, char** argv) {
    double worst = 0.0;
    std::size_t closed = 0;
    const auto add = [&](const std::filesystem::path& path) {
        const double off = told(path);
        if (off >= 0.0) worst = std::max(worst, off), ++closed;
    };
    for (int i = 1; i < argc; ++i) {
        if (!std::filesystem::is_directory(argv[i])) {
            add(argv[i]);
            continue;
        }
        for (const auto& entry : std::filesystem::recursive_directory_iterator(argv[i]))
            if (entry.is_regular_file()) add(entry.path());
    }
    fmt::print("{} closed meshes, worst {:.2g}\n", closed, worst);
    return worst < 1e-6 ? 0 : 1;
}

// Walls scanned twice and thin sheets scanned from both sides: how much farther than the nearer layer the told surface
// lies, in closed form. Of each scene: bias, 95 % and worst of the error of distances 3 to 8 mm from the surface, the
// stated bound, and the share of places beyond it.
#include "tests/support/layered_scene.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <ctime>

using namespace geom;

namespace {

void print(const test::LayeredScene& scene) {
    const std::clock_t begin = std::clock();
    const auto made = scan::estimate_surface(test::scan_of(scene), {}, {});
    const double cpu = static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC;
    if (!made) {
        fmt::print("{}: {}\n", test::name_of(scene), made.error().what);
        return;
    }
    std::vector<double> error = test::errors_of(scene, *made, 20000);
    double sum = 0.0;
    std::vector<double> size;
    for (const double e : error) sum += e, size.push_back(std::abs(e));
    std::sort(error.begin(), error.end());
    std::sort(size.begin(), size.end());
    const auto beyond = error.end() - std::upper_bound(error.begin(), error.end(), made->bound_mm);
    const auto split = std::count_if(made->layer_mm.begin(), made->layer_mm.end(), [](float l) { return l > 0.0f; });
    fmt::print(
        "{:58} bias {:+.3f} p95 {:.3f} max {:+.3f}  noise {:.3f} bound {:.3f} beyond {:6.2f} %  in layers {:3.0f} %  "
        "kept {:.1f} %  {:.2f} s\n",
        test::name_of(scene), sum / static_cast<double>(error.size()), size[size.size() * 95 / 100], error.back(),
        made->noise_mm, made->bound_mm, 100.0 * static_cast<double>(beyond) / static_cast<double>(error.size()),
        100.0 * static_cast<double>(split) / static_cast<double>(made->points.size()),
        100.0 * static_cast<double>(made->points.size()) / static_cast<double>(made->raw_points), cpu);
    std::fflush(stdout);
}

}  // namespace

int main(int argc, char**) {
    const bool all = argc > 1;
    for (const double spacing : {1.2, 2.5})
        for (const double bend : {0.0, 60.0}) {
            if (bend > 0.0 && spacing > 2.0) continue;
            for (const double noise : {0.1, 0.3, 0.7}) {
                print({.apart_mm = 0.0, .noise_mm = noise, .spacing_mm = spacing, .bend_mm = bend});
                for (const double apart : {1.0, 2.0, 3.0})
                    for (const double share : {0.5, 0.3, 0.1})
                        if (all || share < 0.2 || share > 0.4)
                            print({.apart_mm = apart,
                                   .near_share = share,
                                   .noise_mm = noise,
                                   .spacing_mm = spacing,
                                   .bend_mm = bend});
            }
        }
    for (const double spacing : {1.2, 2.5})
        for (const double noise : {0.1, 0.3, 0.7})
            for (const bool normals : {false, true})
                for (const bool uneven : {false, true})
                    for (const double apart : {1.0, 2.0})
                        print({.apart_mm = apart,
                               .noise_mm = noise,
                               .spacing_mm = spacing,
                               .both_sides = true,
                               .normals = normals,
                               .uneven = uneven});
    for (const double noise : {0.1, 0.3, 0.7}) print({.apart_mm = 0.0, .noise_mm = noise, .uneven = true});
    return 0;
}

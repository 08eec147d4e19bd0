// The skin of a dumped field (`gapwright ... --dump DIR`): quality, attempt, seconds of the processor.
//
//   bench_skin_of_field FILE.field BAFFLE_Y RIM_RADIUS
#include "geom/skin/skin.h"
#include "geom/space/field_file.h"

#include <cstdio>
#include <cstdlib>
#include <ctime>

int main(int argc, char** argv) {
    if (argc < 4) return std::puts("usage: bench_skin_of_field FILE.field BAFFLE_Y RIM_RADIUS"), 2;
    const auto field = geom::space::load_field(argv[1]);
    if (!field) return std::puts(field.error().what.c_str()), 1;
    geom::skin::SkinOptions options;
    options.baffle_y_mm = std::atof(argv[2]);
    options.rim_radius = geom::Length::mm(std::atof(argv[3]));
    const std::clock_t start = std::clock();
    const auto skin = geom::skin::make_skin(*field, options, {});
    const double seconds = static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
    if (!skin) {
        const auto& fault = skin.error();
        const geom::Point3 at = fault.where.value_or(geom::Point3{});
        return std::printf("%s at %.1f %.1f %.1f, cpu %.2f s\n", fault.what.c_str(), at.x, at.y, at.z, seconds), 1;
    }
    const auto& q = skin->quality;
    std::printf(
        "%s: %d faces, %zu control points, deviation p99 %.3f max %.3f mm, break median %.2f p99 %.2f max %.2f deg, "
        "least regularity %.2f, %.4f L, cpu %.2f s\n",
        q.attempt.c_str(), q.faces, q.control_points, q.deviation_p99_mm, q.deviation_max_mm, q.break_median_deg,
        q.break_p99_deg, q.break_max_deg, q.least_jacobian, skin->volume.litres(), seconds);
    return 0;
}

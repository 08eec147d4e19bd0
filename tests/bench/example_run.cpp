// The example as a whole against wrapping the same points: seconds of the program from job file to proved files, its
// peak memory, and the seconds CGAL::alpha_wrap_3 takes for the same points at alpha 3 mm, offset 4 mm, in one run.
// Judged as a ratio; the load of the machine is printed beside it.
//
//   bench_example_run PROGRAM JOB SCAN.ply [RUNS]
#include "geom/scan/read.h"
#include "tests/support/child_run.h"

#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Surface_mesh.h>
#include <CGAL/alpha_wrap_3.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

using support::ChildRun;
using support::run_child;
using support::seconds_since;

namespace {

double wrap_seconds(const std::vector<geom::Point3>& points) {
    using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
    std::vector<Kernel::Point_3> cloud;
    for (const auto& p : points) cloud.emplace_back(p.x, p.y, p.z);
    CGAL::Surface_mesh<Kernel::Point_3> wrap;
    const auto start = std::chrono::steady_clock::now();
    CGAL::alpha_wrap_3(cloud, 3.0, 4.0, wrap);
    const double s = seconds_since(start);
    std::printf("alpha_wrap_3, alpha 3, offset 4: %zu points, %zu faces, %.2f s\n", cloud.size(),
                static_cast<std::size_t>(num_faces(wrap)), s);
    return s;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 4) return std::puts("usage: bench_example_run PROGRAM JOB SCAN.ply [RUNS]"), 2;
    const int runs = argc > 4 ? std::atoi(argv[4]) : 3;
    double load[3] = {0, 0, 0};
    if (getloadavg(load, 3) > 0) std::printf("load average before: %.2f\n", load[0]);
    const auto out = std::filesystem::temp_directory_path() / "gapwright_bench_example";
    std::vector<double> seconds;
    for (int i = 0; i < runs; ++i) {
        const ChildRun run = run_child({argv[1], "enclosure", argv[2], "--quiet", "--json", "--out", out.string(),
                                        "--timings", (out.string() + "-timings.json")});
        std::printf("whole run %d: exit %d, %.2f s wall, %.2f s cpu, %.0f MiB at the peak\n", i + 1, run.exit,
                    run.wall_s, run.cpu_s, run.peak_MiB);
        seconds.push_back(run.wall_s);
    }
    std::sort(seconds.begin(), seconds.end());
    const auto scan = geom::scan::read_scans({argv[3]}, {}, {});
    if (!scan) return std::printf("%s\n", scan.error().what.c_str()), 1;
    const double wrap = wrap_seconds(scan->points);
    const double median = seconds[seconds.size() / 2];
    std::printf("median whole run %.2f s; whole run / wrap = %.2f\n", median, median / wrap);
    if (getloadavg(load, 3) > 0) std::printf("load average after: %.2f\n", load[0]);
    std::filesystem::remove_all(out);
    return 0;
}

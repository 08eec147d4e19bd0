// The ring command as a whole, from job file to proved files: least wall time and CPU time of several runs, against the
// program's own start (`--version`), and what share each stage has. The load of the machine is printed beside it.
//
//   bench_ring_run PROGRAM JOB...        each job's scan lies beside it
#include "tests/support/child_run.h"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>

using support::ChildRun;

namespace {

constexpr int kRuns = 5;

ChildRun least_of(const std::vector<std::string>& words) {
    ChildRun least;
    for (int i = 0; i < kRuns; ++i) {
        const ChildRun run = support::run_child(words);
        if (run.exit != 0) return run;
        if (i == 0 || run.wall_s < least.wall_s) least = run;
    }
    return least;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 3) return std::puts("usage: bench_ring_run PROGRAM JOB..."), 2;
    double load[1] = {0};
    if (getloadavg(load, 1) > 0) std::printf("load average before: %.2f\n", load[0]);
    const auto out = std::filesystem::temp_directory_path() / "gapwright_bench_ring";
    const ChildRun start = least_of({argv[1], "--version"});
    std::printf("start alone: %.3f s\n", start.wall_s);
    for (int i = 2; i < argc; ++i) {
        const auto folder = out / std::to_string(i);
        const std::string timings = (out / (std::to_string(i) + ".json")).string();
        std::filesystem::create_directories(folder);
        const ChildRun run =
            least_of({argv[1], "ring", argv[i], "--out", folder.string(), "--quiet", "--timings", timings});
        if (run.exit != 0) return std::printf("%s: exit %d\n", argv[i], run.exit), 1;
        std::printf("%s: %.2f s wall, %.2f s CPU, %.0f times the start, %.0f MiB\n", argv[i], run.wall_s, run.cpu_s,
                    run.wall_s / start.wall_s, run.peak_MiB);
        std::ifstream file(timings);
        const auto told = nlohmann::json::parse(file);
        for (const auto& stage : told["stages"])
            std::printf("    %-10s %.2f s\n", stage["name"].get<std::string>().c_str(), stage["seconds"].get<double>());
    }
    std::filesystem::remove_all(out);
    return 0;
}

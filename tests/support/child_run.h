// A program run to its end for a bench: its wall time, CPU time and peak memory.
#pragma once

#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <string>
#include <vector>

namespace support {

inline double seconds_since(std::chrono::steady_clock::time_point start) {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

struct ChildRun {
    double wall_s = 0, cpu_s = 0, peak_MiB = 0;
    int exit = -1;
};

inline ChildRun run_child(const std::vector<std::string>& words) {
    const auto start = std::chrono::steady_clock::now();
    std::fflush(stdout);  // the child would print what still waits as well
    const pid_t child = fork();
    if (child == 0) {
        std::vector<char*> argv;
        for (const auto& w : words) argv.push_back(const_cast<char*>(w.c_str()));
        argv.push_back(nullptr);
        if (std::freopen("/dev/null", "w", stdout) == nullptr) _exit(126);  // the report is not asked for here
        execv(argv[0], argv.data());
        _exit(127);
    }
    int status = 0;
    rusage usage{};
    wait4(child, &status, 0, &usage);
    ChildRun run;
    run.wall_s = seconds_since(start);
    run.cpu_s = static_cast<double>(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
                1e-6 * static_cast<double>(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec);
    run.peak_MiB = static_cast<double>(usage.ru_maxrss) / 1024.0;
    run.exit = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    return run;
}

}  // namespace support

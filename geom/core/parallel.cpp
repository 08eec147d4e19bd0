#include "geom/core/parallel.h"

#include <oneapi/tbb/global_control.h>
#include <oneapi/tbb/parallel_for.h>
#include <numeric>

#include <algorithm>

namespace geom {

void parallel_for(std::size_t count, std::size_t grain, const std::function<void(std::size_t, std::size_t)>& body) {
    if (count == 0) return;
    grain = std::max<std::size_t>(grain, 1);
    const std::size_t chunks = (count + grain - 1) / grain;
    if (chunks == 1) return body(0, count);
    tbb::parallel_for(std::size_t{0}, chunks,
                      [&](std::size_t c) { body(c * grain, std::min(count, (c + 1) * grain)); });
}

void parallel_invoke(const std::vector<std::function<void()>>& work) {
    parallel_for(work.size(), 1, [&](std::size_t begin, std::size_t end) {
        for (std::size_t i = begin; i < end; ++i) work[i]();
    });
}

double parallel_sum(std::size_t count, std::size_t grain,
                    const std::function<double(std::size_t, std::size_t)>& chunk) {
    grain = std::max<std::size_t>(grain, 1);
    std::vector<double> sums((count + grain - 1) / grain, 0.0);
    parallel_for(count, grain, [&](std::size_t begin, std::size_t end) { sums[begin / grain] = chunk(begin, end); });
    return std::accumulate(sums.begin(), sums.end(), 0.0);
}

ThreadLimit::ThreadLimit(int threads) : control_(nullptr) {
    if (threads > 0)
        control_ =
            new tbb::global_control(tbb::global_control::max_allowed_parallelism, static_cast<std::size_t>(threads));
}

ThreadLimit::~ThreadLimit() {
    delete static_cast<tbb::global_control*>(control_);
}

}  // namespace geom

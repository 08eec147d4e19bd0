// Work split over threads so that the result never depends on how many there are: the split into chunks is fixed by
// `count` and `grain` alone, and sums are taken chunk by chunk in order.
#pragma once

#include <cstddef>
#include <functional>
#include <vector>

namespace geom {

/// Calls body(begin, end) over [0, count) in chunks of `grain`, on as many threads as allowed.
/// Chunks run in any order; body must write only to what belongs to its chunk.
void parallel_for(std::size_t count, std::size_t grain, const std::function<void(std::size_t, std::size_t)>& body);

/// Runs the given pieces of work at the same time and waits for all of them.
void parallel_invoke(const std::vector<std::function<void()>>& work);

/// Sum of chunk(begin, end) over the chunks of [0, count), added in order of the chunks.
double parallel_sum(std::size_t count, std::size_t grain, const std::function<double(std::size_t, std::size_t)>& chunk);

/// Limits threads for as long as it lives; 0 means all the machine has.
class ThreadLimit {
public:
    explicit ThreadLimit(int threads);
    ~ThreadLimit();
    ThreadLimit(const ThreadLimit&) = delete;
    ThreadLimit& operator=(const ThreadLimit&) = delete;

private:
    void* control_;
};

}  // namespace geom

#include "geom/core/parallel.h"
#include "geom/core/random.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <atomic>
#include <numeric>
#include <stdexcept>

namespace {

using namespace geom;

/// Numbers of very different size: the order in which they are added shows in the last bits.
std::vector<double> awkward(std::size_t n) {
    Random random(11);
    std::vector<double> values(n);
    for (double& v : values) v = random.normal() * std::pow(10.0, random.uniform(-12, 12));
    return values;
}

double summed(const std::vector<double>& values, std::size_t grain) {
    return parallel_sum(values.size(), grain, [&](std::size_t begin, std::size_t end) {
        return std::accumulate(values.begin() + static_cast<std::ptrdiff_t>(begin),
                               values.begin() + static_cast<std::ptrdiff_t>(end), 0.0);
    });
}

}  // namespace

TEST_CASE("a parallel sum is the same to the bit for any number of threads", "[core][parallel][property]") {
    const auto values = awkward(100003);
    double one;
    {
        const ThreadLimit limit(1);
        one = summed(values, 97);
    }
    for (const int threads : {0, 1, 2, 3, 8}) {
        const ThreadLimit limit(threads);
        for (int again = 0; again < 5; ++again) CHECK(summed(values, 97) == one);
    }
    // Guard: the values are awkward enough for the order to show.
    CHECK(std::accumulate(values.rbegin(), values.rend(), 0.0) != std::accumulate(values.begin(), values.end(), 0.0));
}

TEST_CASE("every index is visited once, and no chunk is longer than the grain", "[core][parallel]") {
    for (const std::size_t count : {0u, 1u, 7u, 64u, 1000u}) {
        for (const std::size_t grain : {0u, 1u, 3u, 64u, 5000u}) {
            std::vector<int> visits(count, 0);
            std::atomic<bool> too_long{false};
            parallel_for(count, grain, [&](std::size_t begin, std::size_t end) {
                if (end - begin > std::max<std::size_t>(grain, 1)) too_long = true;
                for (std::size_t i = begin; i < end; ++i) ++visits[i];
            });
            CAPTURE(count, grain);
            CHECK(std::all_of(visits.begin(), visits.end(), [](int v) { return v == 1; }));
            CHECK_FALSE(too_long);
        }
    }
}

TEST_CASE("a sum over nothing is nothing", "[core][parallel]") {
    CHECK(parallel_sum(0, 8, [](std::size_t, std::size_t) { return 1.0; }) == 0.0);
}

TEST_CASE("all pieces of work are done when the call returns", "[core][parallel]") {
    std::vector<int> done(5, 0);
    std::vector<std::function<void()>> work;
    for (std::size_t i = 0; i < done.size(); ++i) work.emplace_back([&done, i] { done[i] = static_cast<int>(i) + 1; });
    parallel_invoke(work);
    CHECK(done == std::vector<int>{1, 2, 3, 4, 5});
    parallel_invoke({});
}

TEST_CASE("an exception in a piece of work reaches the caller", "[core][parallel]") {
    CHECK_THROWS_AS(parallel_for(1000, 10,
                                 [](std::size_t begin, std::size_t) {
                                     if (begin == 500) throw std::runtime_error("no");
                                 }),
                    std::runtime_error);
}

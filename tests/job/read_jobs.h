// Jobs of the corpus, read or refused.
#pragma once

#include "geom/job/job.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

namespace job_test {

using namespace geom;

inline const std::filesystem::path kCorpus = std::filesystem::path(GAPWRIGHT_SOURCE) / "tests/corpus/jobs";

inline job::Job require_job(const std::filesystem::path& file) {
    auto job = job::read_job(file, Context{});
    if (!job) FAIL(job.error().what);
    return *std::move(job);
}

inline Fault require_fault(const std::filesystem::path& file) {
    auto job = job::read_job(file, Context{});
    REQUIRE_FALSE(job);
    return std::move(job).error();
}

}  // namespace job_test

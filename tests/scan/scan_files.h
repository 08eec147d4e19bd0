// What the tests of the scan readers share: reading one file, its points or its fault, and packed numbers.
#pragma once

#include "geom/scan/read.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <bit>
#include <cstring>
#include <filesystem>
#include <string>
#include <vector>

namespace scan_files {

using geom::scan::FileUnit;
using geom::scan::RawScan;

inline geom::Result<RawScan> read(const std::filesystem::path& file, FileUnit unit = FileUnit::Millimetre) {
    return geom::scan::read_scans({file}, {.unit = unit, .vehicle_place = {}, .placed = false}, {});
}

inline RawScan require(geom::Result<RawScan> result) {
    if (!result) FAIL(result.error().what);
    return *std::move(result);
}

inline geom::Fault require_fault(geom::Result<RawScan> result) {
    REQUIRE_FALSE(result.has_value());
    CHECK_FALSE(result.error().what.empty());
    CHECK_FALSE(result.error().hint.empty());
    return result.error();
}

inline void check_points(const std::vector<geom::Point3>& found, const std::vector<geom::Point3>& wanted,
                         double within = 1e-9) {
    REQUIRE(found.size() == wanted.size());
    for (std::size_t i = 0; i < found.size(); ++i) {
        CAPTURE(i);
        CHECK(distance(found[i], wanted[i]) <= within);
    }
}

template <class T>
void put(std::string& bytes, T value, bool big = false) {
    char raw[sizeof(T)];
    std::memcpy(raw, &value, sizeof(T));
    if (big != (std::endian::native == std::endian::big)) std::reverse(raw, raw + sizeof(T));
    bytes.append(raw, sizeof(T));
}

}  // namespace scan_files

// Rings drawn at random over all seats, level and up to 30 degrees: each that is made is sound and keeps every rule, by
// rays through its triangles; each that is not says which rule it would break and what to try. Exit 1 where one does
// neither.
//
// Usage   bench_random_rings [COUNT [SEED [FIRST]]]        the ring at work is told on stderr
#include "tests/support/random_rings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <map>

using namespace geom;

int main(int argc, char** argv) {
    const int count = argc > 1 ? std::atoi(argv[1]) : 500;
    const auto seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 20251129ull;
    const int first = argc > 3 ? std::atoi(argv[3]) : 0;
    const auto door = support::scanned_door({});
    if (!door) {
        fmt::print("no door: {}\n", door.error().what);
        return 2;
    }
    struct Row {
        int made = 0, refused = 0, broken = 0;
    };
    std::map<std::string, Row> rows;
    std::map<std::string, int> rules;
    int broken = 0, undrawn = 0;
    for (int i = first; i < first + count; ++i) {
        Random random(seed * 1000003u + static_cast<std::uint64_t>(i));
        auto drawn = support::random_ring(random);
        if (!drawn) {  // an outline that its own rules refuse is no ring; the next is drawn
            ++undrawn;
            continue;
        }
        std::fprintf(stderr, "ring %d\n", i);
        const auto outcome = support::outcome_of(*drawn, *door, {});
        Row& row = rows[outcome.kind];
        ++(outcome.is_made ? row.made : row.refused);
        if (!outcome.broken.empty()) {
            ++row.broken, ++broken;
            fmt::print("ring {} ({}): {}\n", i, outcome.kind, outcome.broken);
            std::fflush(stdout);
        }
        if (outcome.is_made) continue;
        std::string rule = outcome.rule;
        std::erase_if(rule, [](char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; });
        ++rules[rule.substr(0, 70)];
    }
    fmt::print("\n{:<12} {:>6} {:>8} {:>7}\n", "seat", "made", "refused", "broken");
    Row all;
    for (const auto& [kind, row] : rows) {
        fmt::print("{:<12} {:>6} {:>8} {:>7}\n", kind, row.made, row.refused, row.broken);
        all.made += row.made, all.refused += row.refused, all.broken += row.broken;
    }
    fmt::print("{:<12} {:>6} {:>8} {:>7}   ({} outlines refused when drawn)\n\nrules that were named\n", "all",
               all.made, all.refused, all.broken, undrawn);
    for (const auto& [rule, times] : rules) fmt::print("{:>4}  {}\n", times, rule);
    return broken == 0 ? 0 : 1;
}

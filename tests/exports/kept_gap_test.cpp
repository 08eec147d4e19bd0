// A kept field is taken only whole and of the key asked for; what is not ours is never touched.
#include "exports/kept_gap.h"

#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

using Catch::Contains;

namespace {

geom::parts::GapField small_gap() {
    geom::parts::GapField gap;
    gap.room.report.voxel_mm = 2.5;
    gap.room.report.bound_mm = 0.3;
    gap.room.report.notes = {"a note\nof two lines", "another"};
    auto& g = gap.room.outer.grid;
    g.lo = {1, 2, 3};
    g.h_mm = 2.5;
    g.nx = 3, g.ny = 4, g.nz = 5;
    for (std::size_t i = 0; i < g.count(); ++i) gap.room.outer.mm.push_back(static_cast<float>(i) - 20.5f);
    gap.air = gap.room.outer;
    for (float& v : gap.air.mm) v += 6.0f;
    gap.room.edges = {{.first = "top",
                       .second = "front",
                       .a = {{0, 0, 0.1}, {0, 0, 1}},
                       .b = {{0, 1.0 / 3.0, 0}, {0, 1, 0}},
                       .at = {7, 1.0 / 3.0, 0.1},
                       .along = {-1, 0, 0},
                       .free = {{-3.5, 0.7}, {1.1, 9}}}};
    return gap;
}

const std::string kKey = exports::sha256_of("this job"), kOther = exports::sha256_of("another job");

}  // namespace

TEST_CASE("a kept field comes back bit for bit", "[exports][kept]") {
    const support::TempFolder folder;
    const auto file = folder.path() / "deeper" / "gap.field";
    const auto gap = small_gap();
    CHECK(exports::load_gap(file, kKey).note.empty());  // nothing there is nothing to say
    CHECK(exports::keep_gap(file, kKey, gap).empty());
    const auto kept = exports::load_gap(file, kKey);
    REQUIRE(kept.gap);
    CHECK(kept.note.empty());
    CHECK(kept.gap->room.outer.mm == gap.room.outer.mm);
    CHECK(kept.gap->air.mm == gap.air.mm);
    CHECK(kept.gap->air.grid.lo == gap.air.grid.lo);
    CHECK(kept.gap->room.report.bound_mm == 0.3);
    CHECK(kept.gap->room.report.notes == gap.room.report.notes);
    REQUIRE(kept.gap->room.edges.size() == 1);
    const auto &edge = kept.gap->room.edges.front(), &given = gap.room.edges.front();
    CHECK(edge.first == "top");
    CHECK(edge.second == "front");
    CHECK(edge.a.point == given.a.point);
    CHECK(edge.a.outward == given.a.outward);
    CHECK(edge.b.point == given.b.point);
    CHECK(edge.b.outward == given.b.outward);
    CHECK(edge.at == given.at);
    CHECK(edge.along == given.along);
    REQUIRE(edge.free.size() == 2);
    CHECK(edge.free[1].from_mm == 1.1);
    CHECK(edge.free[1].to_mm == 9.0);
}

TEST_CASE("a kept field of another key, cut short or with one bit changed is left out of account with a note",
          "[exports][kept]") {
    const support::TempFolder folder;
    const auto file = folder.path() / "gap.field";
    REQUIRE(exports::keep_gap(file, kKey, small_gap()).empty());
    CHECK_THAT(exports::load_gap(file, kOther).note, Contains("another scan, other values or another build"));
    CHECK_FALSE(exports::load_gap(file, kOther).gap);
    const std::string whole = support::read_bytes(file);
    for (std::size_t length = 0; length < whole.size(); length += length < 160 ? 7 : 61) {
        folder.write("gap.field", whole.substr(0, length));
        CAPTURE(length);
        CHECK_FALSE(exports::load_gap(file, kKey).gap);
        CHECK_FALSE(exports::load_gap(file, kKey).note.empty());
    }
    for (std::size_t at = 0; at < whole.size(); at += 37) {
        std::string changed = whole;
        changed[at] = static_cast<char>(changed[at] ^ 1);
        folder.write("gap.field", changed);
        CAPTURE(at);
        CHECK_FALSE(exports::load_gap(file, kKey).gap);
        CHECK_FALSE(exports::load_gap(file, kKey).note.empty());
    }
    folder.write("gap.field", whole.substr(0, whole.size() / 2));
    CHECK(exports::keep_gap(file, kKey, small_gap()).empty());  // one of ours is replaced
    CHECK(exports::load_gap(file, kKey).gap);
}

TEST_CASE("a file that is not ours is neither read nor written over", "[exports][kept]") {
    const support::TempFolder folder;
    const auto file = folder.write("gap.field", "my own notes about this gap");
    CHECK_THAT(exports::load_gap(file, kKey).note, Contains("not one this program keeps"));
    CHECK_THAT(exports::keep_gap(file, kKey, small_gap()), Contains("not one this program keeps"));
    CHECK(support::read_bytes(file) == "my own notes about this gap");
    std::filesystem::create_directories(folder.path() / "taken.field");
    CHECK_FALSE(exports::load_gap(folder.path() / "taken.field", kKey).note.empty());
    CHECK_FALSE(exports::keep_gap(folder.path() / "taken.field", kKey, small_gap()).empty());
}

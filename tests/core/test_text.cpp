#include "geom/core/text.h"

#include <catch2/catch.hpp>

using namespace geom;

TEST_CASE("the edit distance counts letters put in, left out, changed and swapped", "[core][text]") {
    CHECK(edit_distance("", "") == 0);
    CHECK(edit_distance("wall", "wall") == 0);
    CHECK(edit_distance("", "wall") == 4);
    CHECK(edit_distance("wal", "wall") == 1);
    CHECK(edit_distance("walls", "wall") == 1);
    CHECK(edit_distance("wale", "wall") == 1);
    CHECK(edit_distance("wlal", "wall") == 1);
    CHECK(edit_distance("kitten", "sitting") == 3);   // the usual example of the literature
    CHECK(edit_distance("saturday", "sunday") == 3);  // and the other one
}

TEST_CASE("the edit distance is the same both ways", "[core][text][property]") {
    const std::vector<std::string> words = {"clearance", "covering", "edge_radius", "insert",
                                            "",          "x",        "clarence",    "limits"};
    for (const auto& a : words)
        for (const auto& b : words) {
            CHECK(edit_distance(a, b) == edit_distance(b, a));
            CHECK((edit_distance(a, b) == 0) == (a == b));
            CHECK(edit_distance(a, b) <= std::max(a.size(), b.size()));
        }
}

TEST_CASE("the nearest word is the one that was meant, and none when none is near", "[core][text]") {
    const std::vector<std::string> keys = {"clearance", "covering",         "edge_radius",
                                           "insert",    "insert_clearance", "limits"};
    CHECK(nearest_word("clearence", keys) == "clearance");
    CHECK(nearest_word("Clearance", keys) == "clearance");
    CHECK(nearest_word("inserts", keys) == "insert");
    CHECK(nearest_word("edgeradius", keys) == "edge_radius");
    CHECK(nearest_word("limit", keys) == "limits");
    CHECK(nearest_word("colour", keys).empty());
    CHECK(nearest_word("", keys).empty());
    CHECK(nearest_word("x", {"y"}).empty());
    CHECK(nearest_word("insert", {}).empty());
}

TEST_CASE("numbers are written as short as they are", "[core][text]") {
    CHECK(plain_number(4.0) == "4");
    CHECK(plain_number(44.45) == "44.45");
    CHECK(plain_number(0.1 + 0.2) == "0.3");
    CHECK(plain_number(-0.0) == "0");
    CHECK(plain_number(-12.5) == "-12.5");
    CHECK(plain_vector({0, -1, 0.5}) == "0, -1, 0.5");
}

TEST_CASE("lists read as sentences do", "[core][text]") {
    CHECK(listed({}) == "");
    CHECK(listed({"a"}) == "a");
    CHECK(listed({"a", "b"}) == "a and b");
    CHECK(listed({"a", "b", "c"}, "or") == "a, b or c");
    CHECK(listed({"a", "b", "c"}, "") == "a, b, c");
}

TEST_CASE("large counts are written in groups of three digits", "[core][text]") {
    CHECK(geom::grouped(0) == "0");
    CHECK(geom::grouped(999) == "999");
    CHECK(geom::grouped(1000) == "1 000");
    CHECK(geom::grouped(117274) == "117 274");
    CHECK(geom::grouped(5000000) == "5 000 000");
}

#include "geom/check/verdict.h"

#include <catch2/catch.hpp>

#include <algorithm>

using geom::check::Caution;
using geom::check::cautions;
using geom::check::Verdict;
using geom::parts::EnclosureRequest;

namespace {

std::string text_of(const std::vector<Caution>& list, const std::string& name) {
    for (const Caution& c : list)
        if (c.name == name) return c.text;
    return {};
}

bool says(const std::string& text, const std::string& words) {
    return text.find(words) != std::string::npos;
}

}  // namespace

TEST_CASE("a loose box's pull is its mass times 20 g", "[check][caution][oracle]") {
    // 12 kg at 20 g: 2 353.596 N [computed].
    Verdict v;
    v.mass_kg = 12.0;
    CHECK(says(text_of(cautions({}, v), "loose mass"), "would pull with 2.35 kN at 20 g"));
    v.mass_kg = 5.0;  // 980.665 N
    CHECK(says(text_of(cautions({}, v), "loose mass"), "would pull with 0.98 kN at 20 g"));
}

TEST_CASE("the cautions of every job are there by name", "[check][caution]") {
    const auto list = cautions({}, {});
    for (const char* name : {"airbags and sensors", "belt buckles and anchorages", "loose mass", "drilling",
                             "heat in a parked cabin", "dust", "interior fire and edges", "local rules"})
        CHECK_FALSE(text_of(list, name).empty());
    CHECK(says(text_of(list, "local rules"), "local authority"));
    CHECK(says(text_of(list, "local rules"), "licensed workshop"));
}

TEST_CASE("cautions follow the job", "[check][caution]") {
    EnclosureRequest r;
    SECTION("feet") {
        CHECK_FALSE(text_of(cautions(r, {}), "no fixings").empty());
        r.feet.emplace_back();
        CHECK(text_of(cautions(r, {}), "no fixings").empty());
        CHECK(says(text_of(cautions(r, {}), "a sum, not a crash test"), "20 g forward and half of it"));
        CHECK(says(text_of(cautions(r, {}), "a sum, not a crash test"), "belts and child seats are never used"));
    }
    SECTION("a material that softens in the sun") {
        r.material = {"PETG", 1270, false, 80};
        CHECK(
            says(text_of(cautions(r, {}), "heat in a parked cabin"), "PETG softens at about 80 degrees and can creep"));
        r.material = {"ASA", 1070, false, 105};
        CHECK(says(text_of(cautions(r, {}), "heat in a parked cabin"), "margin of 5 degrees"));
        r.material = {"own", 1070, false, 0};
        CHECK(says(text_of(cautions(r, {}), "heat in a parked cabin"), "not known here"));
    }
    SECTION("method") {
        r.make.method = geom::parts::Method::Layup;
        CHECK(says(text_of(cautions(r, {}), "resins"), "styrene"));
        r.make.method = geom::parts::Method::Cnc;
        CHECK(says(text_of(cautions(r, {}), "dust"), "wood"));
        r.make.method = geom::parts::Method::Print;
        CHECK(says(text_of(cautions(r, {}), "dust"), "print"));
        r.wall = geom::Length::mm(3);
        CHECK(says(text_of(cautions(r, {}), "thin printed wall"), "3.0 mm"));
    }
}

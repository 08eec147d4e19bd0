#include "geom/parts/enclosure.h"

#include <catch2/catch.hpp>

using namespace geom::parts;

TEST_CASE("materials have the densities of the reference table and are found in any case",
          "[parts][materials][oracle]") {
    // Middle of the ranges: PETG 1250..1290 [verified], MDF 680..800 [verified], ASA 1050..1100 [memory].
    CHECK(find_material("PETG")->density_kg_m3 == 1270);
    CHECK(find_material("mdf")->density_kg_m3 == 740);
    CHECK(find_material("asa")->density_kg_m3 == 1075);
    CHECK(find_material("Aluminium 6082")->density_kg_m3 == 2700);
    CHECK_FALSE(find_material("unobtainium"));
    CHECK(Material{}.density_kg_m3 == find_material(Material{}.name)->density_kg_m3);
}

TEST_CASE("only aluminium is metal, and PETG softens in a parked cabin", "[parts][materials]") {
    for (const std::string& name : known_materials()) {
        CAPTURE(name);
        const Material material = *find_material(name);
        CHECK(material.is_metal == (name.find("aluminium") == 0));
        CHECK(material.density_kg_m3 > 600);
        CHECK(material.density_kg_m3 < 2800);
    }
    CHECK(find_material("PETG")->softens_c == 75);  // 75..85 C [verified], the lower end
    CHECK(find_material("PETG")->softens_c < 80);   // parts near glass reach 80..100 C [common practice]
    CHECK(find_material("ABS")->softens_c > 80);
}

// Fillings as an option writes them, masses and densities, and a driver back from a report's values.
#include "geom/job/driver_file.h"
#include "geom/job/filling_text.h"
#include "geom/job/quantity.h"
#include "geom/job/resolved_driver.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

using namespace geom;
using namespace geom::job;
using measure::Filling;

TEST_CASE("masses and densities in their units, and the last digit of a number", "[job][filling]") {
    CHECK(*parse_quantity("8410 g", QuantityKind::Mass) == Approx(8.41));
    CHECK(*parse_quantity("1 lb", QuantityKind::Mass) == Approx(0.45359237));
    CHECK(*parse_quantity("672 kg/m3", QuantityKind::Density) == Approx(0.672));
    CHECK(*parse_quantity("62.42796 lb/ft3", QuantityKind::Density) == Approx(1.0).epsilon(1e-6));
    CHECK_THAT(parse_quantity("8.41 L", QuantityKind::Mass).error().what, Catch::Contains("which is a volume"));
    for (const auto& [text, digit] : {std::pair{"8.41 kg", 0.01}, {"12 L", 1.0}, {"12.40", 0.01}, {"1.5e3 g", 100.0}})
        CHECK(last_digit_of(text) == Approx(digit));
}

TEST_CASE("grain and water are read with what their readings may be off", "[job][filling]") {
    const Filling f = *read_grain("mass 8.41 kg, bulk 0.672 kg/L");
    CHECK(f.matter == Filling::Matter::Grain);
    CHECK(f.full.kg == Approx(8.41));
    CHECK(f.full.off_kg == Approx(0.01));
    CHECK(f.empty.kg == 0.0);
    CHECK(f.kg_per_litre == Approx(0.672));
    CHECK(f.density_rel == Approx(measure::kSettling_rel));
    const Filling g = *read_grain(" bulk 1.344 kg in 2 L within 1 %,empty 690 g , mass 20.06 lb",
                                  {.scale_off_kg = 0.005, .settling_rel = {}});
    CHECK(g.full.kg == Approx(20.06 * 0.45359237));
    CHECK(g.full.off_kg == Approx(0.005));
    CHECK(g.empty.kg == Approx(0.69));
    CHECK(g.kg_per_litre == Approx(0.672));
    CHECK(g.density_rel == Approx(std::hypot(0.01, 0.005 / 1.344)));
    CHECK(read_grain("mass 8.41 kg, bulk 0.672 kg/L", {.scale_off_kg = {}, .settling_rel = 0.05})->density_rel ==
          Approx(0.05));
    const Filling w = *read_water("12.4 L");
    CHECK(w.matter == Filling::Matter::WaterByVolume);
    CHECK(w.volume.volume.litres() == Approx(12.4));
    CHECK(w.volume.off.litres() == Approx(0.1));
    const Filling m = *read_water("mass 12.90 kg, empty 0.5 kg");
    CHECK(m.matter == Filling::Matter::WaterByMass);
    CHECK(m.empty.off_kg == Approx(0.1));
    CHECK(read_water("12.37 kg")->full.kg == Approx(12.37));
    CHECK(read_water("0.44 ft3")->volume.off.litres() == Approx(0.28316846592));
}

TEST_CASE("fillings that make no sense name what they lack", "[job][filling][fault]") {
    using Catch::Contains;
    for (const auto& [text, told] : {std::pair{"mass 8.41 kg", "does not say 'bulk'"},
                                     {"bulk 0.672 kg/L", "does not say 'mass'"},
                                     {"mass 8,41 kg, bulk 0.672 kg/L", "comma in a number"},
                                     {"mass 8.41, bulk 0.672 kg/L", "without a unit"},
                                     {"mass 8.41 L, bulk 0.672 kg/L", "which is a volume"},
                                     {"mass 8.41 kg, bulk 0.672 kg", "which is a mass"},
                                     {"mass -8.41 kg, bulk 0.672 kg/L", "wanted more than 0"},
                                     {"mas 8.41 kg, bulk 0.672 kg/L", "'mas' is not known"},
                                     {"mass 8.41 kg, mass 8.42 kg, bulk 0.672 kg/L", "says 'mass' twice"},
                                     {"8.41 kg, mass 8 kg, bulk 0.672 kg/L", "stands without a word"},
                                     {"mass 8.41 kg, bulk 0.672 kg/L within 80 %", "'within' wants"},
                                     {"mass 8.41 kg, bulk 0.672 kg/L within", "'within' wants"},
                                     {"mass, bulk 1 kg/L", "does not begin with a number"},
                                     {"", "does not say 'mass'"}}) {
        INFO(text);
        const auto read = read_grain(text);
        REQUIRE_FALSE(read);
        CHECK_THAT(read.error().what, Contains(told) && Contains("--fill"));
    }
    for (const auto& [text, told] : {std::pair{"", "says no quantity"},
                                     {"12.4", "without a unit"},
                                     {"12.4 L, empty 1 kg", "'empty' beside a volume"},
                                     {"12.4 kg, mass 3 kg", "says a quantity and 'mass'"},
                                     {"12.4 gal", "unknown unit 'gal'"},
                                     {"-2 L", "wanted more than 0"}}) {
        INFO(text);
        const auto read = read_water(text);
        REQUIRE_FALSE(read);
        CHECK_THAT(read.error().what, Contains(told));
    }
}

TEST_CASE("a driver comes back from the values that a report was made with", "[job][filling]") {
    const support::TempFolder folder;
    const auto file =
        folder.write("d.toml",
                     "name = \"woofer\"\ncutout_diameter = 142\nflange_diameter = 166\ndisplacement = "
                     "\"0.6 L\"\nfs = 48\nqts = 0.46\nqes = 0.5\nqms = 5.75\nvas = \"11 L\"\nre = 3.4\nsd "
                     "= \"133 cm2\"\nxmax = 6\npower = 80\nmms = 0.015\ncms = 0.7\nrms = 0.9\nbl = "
                     "6.1\nle = 0.8\n");
    const auto read = read_driver_file(file);
    REQUIRE(read);
    const sound::Driver& a = read->driver;
    const auto b = driver_of_resolved(read->resolved);
    REQUIRE(b);
    CHECK(b->name == a.name);
    CHECK(b->displacement == a.displacement);
    CHECK(b->fs_hz == a.fs_hz);
    CHECK(b->qts == a.qts);
    CHECK(b->qes == a.qes);
    CHECK(b->qms == a.qms);
    CHECK(b->vas == a.vas);
    CHECK(b->re_ohm == a.re_ohm);
    CHECK(b->sd == a.sd);
    CHECK(b->xmax == a.xmax);
    CHECK(b->power_w == a.power_w);
    CHECK(b->mms_kg == a.mms_kg);
    CHECK(b->cms_m_per_n == a.cms_m_per_n);
    CHECK(b->rms_kg_per_s == a.rms_kg_per_s);
    CHECK(b->bl_tm == a.bl_tm);
    CHECK(b->le_h == a.le_h);
    CHECK_FALSE(driver_of_resolved({{"driver", "none (default)"}}));
}

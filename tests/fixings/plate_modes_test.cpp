#include "geom/fixings/plate_modes.h"

#include <catch2/catch.hpp>

#include <cmath>

using namespace geom;
using namespace geom::fixings;

TEST_CASE("clamped plates resonate where Leissa has it", "[fixings][plate][oracle]") {
    // Leissa (NASA SP-160, 1969; JSV 31, 1973) as tabulated [verified]: upper bounds of 36 terms, up to 0.02 % high.
    for (const auto& [ratio, published] :
         {std::pair{0.4, 23.65}, {2.0 / 3.0, 27.01}, {1.0, 35.99}, {1.5, 60.77}, {2.5, 147.80}}) {
        CAPTURE(ratio);
        CHECK(lambda_clamped(ratio) == Approx(published).epsilon(1e-3));
    }
    // An independent Ritz computation with 49 terms [computed].
    for (const auto& [ratio, computed] : {std::pair{0.4, 23.6438},
                                          {2.0 / 3.0, 27.0049},
                                          {1.0, 35.9852},
                                          {1.5, 60.7611},
                                          {2.0, 98.3108},
                                          {2.5, 147.7736}}) {
        CAPTURE(ratio);
        CHECK(lambda_clamped(ratio) == Approx(computed).margin(5.1e-5).epsilon(0));
    }
}

TEST_CASE("supported plates have the exact value", "[fixings][plate][oracle]") {
    for (const auto& [ratio, value] : {std::pair{0.4, 11.4487},
                                       {2.0 / 3.0, 14.2561},
                                       {1.0, 19.7392},
                                       {1.5, 32.0762},
                                       {2.0, 49.3480},
                                       {2.5, 71.5546}})
        CHECK(lambda_supported(ratio) == Approx(value).margin(5.1e-5));
}

TEST_CASE("a long clamped plate comes down to a clamped strip", "[fixings][plate]") {
    double last = 1e300;
    for (const double ratio : {1.0, 2.0, 4.0, 7.0, 9.99, 10.01, 20.0}) {
        const double strip = lambda_clamped(ratio) / (ratio * ratio);
        CHECK(strip < last + 1e-9);
        CHECK(strip >= 22.37);
        CHECK(lambda_clamped(ratio) > lambda_supported(ratio));
        last = strip;
    }
}

TEST_CASE("first resonances of walls are those of the reference to all digits", "[fixings][plate][oracle]") {
    // a = 300 mm [computed]: supported / clamped at a/b 1, 1.5, 2.
    struct Row {
        const char* name;
        PlateMaterial material;
        double h, hz[6];
    };
    const PlateMaterial mdf{2.8, 720, 0.25}, birch{8.0, 680, 0.1}, petg{2.0, 1270, 0.38};
    const Row rows[] = {{"MDF 12", mdf, 12, {246.278, 448.972, 400.201, 758.090, 615.694, 1226.58}},
                        {"MDF 18", mdf, 18, {369.416, 673.458, 600.302, 1137.14, 923.541, 1839.87}},
                        {"birch 15", birch, 15, {521.052, 949.894, 846.709, 1603.90, 1302.63, 2595.09}},
                        {"PETG 4", petg, 4, {54.6832, 99.6893, 88.8603, 168.326, 136.708, 272.349}},
                        {"PETG 6", petg, 6, {82.0249, 149.534, 133.290, 252.489, 205.062, 408.524}}};
    for (const Row& row : rows)
        for (int i = 0; i < 3; ++i) {
            CAPTURE(row.name, i);
            const double ratio = 1.0 + 0.5 * i;
            const FirstResonance f =
                first_resonance(Length::mm(300), Length::mm(300 / ratio), Length::mm(row.h), row.material);
            // The table cuts digits off rather than rounding them.
            const auto last_digit = [](double v) { return 1.0 * std::pow(10.0, std::floor(std::log10(v)) - 5.0); };
            CHECK(f.supported_Hz == Approx(row.hz[2 * i]).margin(last_digit(row.hz[2 * i])).epsilon(0));
            CHECK(f.clamped_Hz == Approx(row.hz[2 * i + 1]).margin(last_digit(row.hz[2 * i + 1])).epsilon(0));
        }
    // f goes as h and as 1/a^2.
    const FirstResonance one = first_resonance(Length::mm(300), Length::mm(200), Length::mm(6), petg),
                         two = first_resonance(Length::mm(600), Length::mm(400), Length::mm(12), petg);
    CHECK(two.clamped_Hz == Approx(one.clamped_Hz / 2));
}

// Named materials: densities are the middle of the range met in practice, kg/m^3:
//   MDF 680..800, 12..19 mm boards                 IS 12406:2003 grade II as a panel maker quotes it [verified]
//   PETG 1250..1290                                published print data and data sheet              [verified]
//   aluminium 6082 T6, 2700                        alloy sheets quoting EN 755-2                    [verified]
//   birch plywood 640..720, ABS 1030..1070, ASA 1050..1100, PA12 930..1020, GRP 1400..1600,
//   aluminium 5754 2660..2670, acrylic 1180..1190                                                   [memory]
// Softening: PETG at 75..85 C, the lower end taken [verified]; ABS, ASA, PA12, acrylic and GRP (general polyester
// resin, heat deflection) [memory]. Boards and metals have none that a parked cabin reaches.
// Modulus of elasticity, the least of its range, and Poisson's ratio: MDF IS 12406:2003 grade II [verified]; PETG, ABS
// and PA12 published print data [verified]; the rest [memory].
#include "geom/parts/enclosure.h"

#include <algorithm>
#include <cctype>

namespace geom::parts {
namespace {

const std::vector<Material>& table() {
    static const std::vector<Material> rows = {
        {"ASA", 1075, false, 95, 1.6, 0.36, false},
        {"ABS", 1050, false, 95, 1.79, 0.36, false},
        {"PETG", 1270, false, 75, 2.0, 0.38, false},
        {"PA12", 975, false, 140, 1.5, 0.40, false},
        {"MDF", 740, false, 0, 2.2, 0.25, true},
        {"birch plywood", 680, false, 0, 7.0, 0.1, true},
        {"GRP", 1500, false, 70, 6.0, 0.32, false},
        {"acrylic", 1185, false, 90, 2.8, 0.37, false},
        {"aluminium 5754", 2665, true, 0, 68, 0.33, false},
        {"aluminium 6082", 2700, true, 0, 70, 0.33, false},
    };
    return rows;
}

std::string lower(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return std::tolower(c); });
    return text;
}

}  // namespace

std::optional<Material> find_material(const std::string& name) {
    for (const Material& row : table()) {
        if (lower(row.name) == lower(name)) return row;
    }
    return std::nullopt;
}

std::vector<std::string> known_materials() {
    std::vector<std::string> names;
    for (const Material& row : table()) names.push_back(row.name);
    return names;
}

}  // namespace geom::parts

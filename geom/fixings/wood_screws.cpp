// Countersunk head about twice the screw's diameter, pilot about 0.7 of it in board, clearance half a millimetre over
// it [all common practice].
#include "geom/fixings/wood_screws.h"

namespace geom::fixings {

const std::vector<WoodScrew>& wood_screws() {
    static const std::vector<WoodScrew> table = {
        {.name = "3.0", .d_mm = 3.0, .head_mm = 6.0, .pilot_mm = 2.0, .clear_mm = 3.5},
        {.name = "3.5", .d_mm = 3.5, .head_mm = 7.0, .pilot_mm = 2.5, .clear_mm = 4.0},
        {.name = "4.0", .d_mm = 4.0, .head_mm = 8.0, .pilot_mm = 2.8, .clear_mm = 4.5},
        {.name = "4.5", .d_mm = 4.5, .head_mm = 9.0, .pilot_mm = 3.2, .clear_mm = 5.0},
        {.name = "5.0", .d_mm = 5.0, .head_mm = 10.0, .pilot_mm = 3.5, .clear_mm = 5.5},
        {.name = "6.0", .d_mm = 6.0, .head_mm = 12.0, .pilot_mm = 4.2, .clear_mm = 6.5},
    };
    return table;
}

Result<WoodScrew> find_wood_screw(std::string_view name) {
    std::string known;
    for (const WoodScrew& screw : wood_screws()) {
        if (screw.name == name) return screw;
        known += (known.empty() ? "" : ", ") + screw.name;
    }
    return Fault{
        FaultCode::BadJob, "wood screw: \"" + std::string(name) + "\" is not known", "known are " + known, {}, {}};
}

Length least_engagement(const WoodScrew& screw) {
    return Length::mm(4.0 * screw.d_mm);
}

}  // namespace geom::fixings

// What add_features() works on, and its larger steps.
#pragma once

#include "geom/parts/internal/brace.h"
#include "geom/parts/internal/driver_mount.h"
#include "geom/parts/internal/foot.h"
#include "geom/parts/internal/pad.h"
#include "geom/parts/internal/panel_rim.h"
#include "geom/parts/internal/plate_plan.h"
#include "geom/parts/internal/port_plan.h"
#include "geom/parts/internal/sleeve.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::parts {

/// An opening is looked for this much beyond its hole's radius.
constexpr double kCapOver_mm = 0.1;

/// What add_features() works on; each step reads what the ones before left.
struct Work {
    explicit Work(const Site& where) : site(where) {}

    Site site;
    Enclosure made;
    TopoDS_Solid outer, air;    ///< air: with the flange taken away, its front closed
    std::optional<Pad> pad;     ///< taken away from the air
    TopoDS_Solid shell, plate;  ///< plate: null when the baffle is integral
    TopoDS_Solid finished_air;  ///< the air with the cut-out, up to the seat
    std::optional<DriverPlan> driver;
    std::vector<DriverPlan> more_drivers;  ///< beside the first
    std::optional<PortPlan> port;
    std::vector<FootPlan> feet;  ///< those of the job, then the lugs on plates
    std::vector<SleevePlan> sleeves;
    std::vector<double> sleeves_mm3;
    std::vector<BracePlan> braces;
    std::vector<PlatePlan> plates;
    std::optional<RimPlan> rim;
    std::optional<Loop> mouth;  ///< of the shell behind a separate baffle
    double mouth_mm = 0.0, mouth_back_mm = 0.0;
    double bare_mm3 = 0.0, terminal_hole_mm3 = 0.0;

    /// All of them, the first one first.
    DriverPlans drivers() const {
        DriverPlans all;
        if (driver) all.push_back(&*driver);
        for (const DriverPlan& more : more_drivers) all.push_back(&more);
        return all;
    }
    /// Faces of the air as the shell has them: behind a pad that is a piece of its own they go on.
    std::vector<TopoDS_Face> for_shell(const std::vector<TopoDS_Face>& faces) const {
        return pad && site.request.adjust.fill == Adjust::Fill::Separate ? beyond_pad(faces, *pad) : faces;
    }
    void note(const std::vector<std::string>& lines) {
        made.notes.insert(made.notes.end(), lines.begin(), lines.end());
    }
};

inline measure::Opening opening(std::string name, const Plane& plane, double radius_mm) {
    return {.name = std::move(name), .plane = plane, .radius_mm = radius_mm + kCapOver_mm};
}

/// The baffle, integral or a plate of its own, with driver, ring or dish, screws and rim flange: the shell from outer
/// body and air. (put_baffle.cpp)
Status put_integral_baffle(Work& work);
Status put_separate_baffle(Work& work);

/// The ledger's lines from what was made, and the net volume. (ledger.cpp)
Status sum_up(Work& work);

}  // namespace geom::parts

// Which of many drivers goes into a gap, and where: by the field alone, so that a hundred cost little more than one.
//
// Fits    with the baffle at some place of its travel and the driver's centre somewhere on it: its front (flange or
//         recess, ring's or dish's foot) within the flat of the outer face, its hole (or the dish's back) within the
//         air's front, its body (driver_body.h) kBesideDriver_mm off the inner wall and kBehindMagnet_mm free behind
//         the magnet, as the checks of a made part want it. Feet, braces and sleeves are not looked at.
// Place   the job's own centre where that does, otherwise the nearest on a grid of kCentreStep_mm; of the baffle's
//         places the innermost that leaves the air wanted, or the roomiest where none does.
// Bound   outlines and distances are those of the field, to a quarter of its voxel or so: a driver that is tight is
//         proved by making the part.
#pragma once

#include "geom/parts/capacity.h"

#include <memory>
#include <optional>
#include <string>

namespace geom::parts {

constexpr double kCentreStep_mm = 8.0;

struct FittingPlace {
    double t_mm = 0.0;            ///< of the baffle on its travel
    Point3 centre;                ///< of the driver, in the bare outer face
    bool is_as_asked = true;      ///< the centre is the job's own
    Volume net;                   ///< left for this driver there
    double front_spare_mm = 0.0;  ///< between its front and the edge of the flat, or its hole and the air's front
    double body_spare_mm = 0.0;   ///< beside its body or behind it, beyond what is wanted; 0 without a mounting depth
};

struct DriverFitting {
    std::optional<FittingPlace> place;     ///< where it has the air wanted, or most; none: it fits nowhere
    std::optional<FittingPlace> roomiest;  ///< the outermost at which it fits
    std::string why_not;                   ///< it fits nowhere, or its depth is not known; what is in the way
};

class Shortlister {
public:
    /// The request's own driver, where it has one, says the centre; without one it is the middle of the flat. Keeps
    /// references: `gap` and `request` must outlive it.
    /// Faults: Impossible  the baffle's travel never meets the room
    static Result<Shortlister> over(const GapField& gap, const EnclosureRequest& request);

    /// `wanted`: the net volume asked for; none: as much as there is.
    DriverFitting fit(const sound::Driver& driver, std::optional<Volume> wanted) const;

private:
    struct Maps;
    explicit Shortlister(std::shared_ptr<const Maps> maps) : maps_(std::move(maps)) {}
    std::shared_ptr<const Maps> maps_;
};

}  // namespace geom::parts

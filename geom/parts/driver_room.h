// The depth left for a driver at each baffle place, by the field alone: from the seat plane straight back to the inner
// wall.
//
// With a driver     least over the lines through its magnet's section, and over those through its basket's, centred
//                   where it stands; 0 where the section itself does not lie wholly in the air behind the baffle. A
//                   driver fits by depth where the first is more than its mounting depth and the air it wants behind
//                   the magnet; the basket narrows to the back, so the second may be less. One that is turned round
//                   has its cone there, with both sections those of its cut-out.
// Without a driver  the one line through the middle of the air's section, counted from the bare outer face.
#pragma once

#include "geom/parts/enclosure.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::parts {

struct DriverDepth {
    double magnet_mm = 0.0;           ///< over the magnet's section; without a driver: over the section's middle
    std::optional<double> basket_mm;  ///< over the basket's section; none without a driver
};

/// Keeps references: `air` and `request` must outlive it.
class DriverRoom {
public:
    DriverRoom(const space::Field& air, const EnclosureRequest& request);

    DriverDepth depth_at(double t_mm) const;
    /// "behind the seat plane, over the magnet's section of 95 mm" and the like.
    std::string what() const;

private:
    struct Line {
        std::vector<float> mm;  ///< the field at the planes of nodes along y
    };
    Line line_at(double x_mm, double z_mm) const;
    /// Where, behind y, the line leaves the air; y itself when it is not in the air there.
    double end_of(const Line& line, double y_mm) const;
    double least_end(const std::vector<Line>& lines, double y_mm) const;
    std::vector<Line> disc(Point3 centre, double radius_mm) const;

    const space::Field& air_;
    const EnclosureRequest& request_;
    double magnet_mm_ = 0.0, basket_mm_ = 0.0;  ///< radii
    double seat_mm_ = 0.0;                      ///< of the seat plane, behind the bare outer face
    std::vector<Line> magnet_, basket_;
};

}  // namespace geom::parts

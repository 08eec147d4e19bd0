// Sleeves: a pad on the vehicle's face, a sealed tube through the box for a long bolt, and a flat seat for its head on
// the far side. Planned on the field, modelled on the two filled bodies, which stay apart.
#pragma once

#include "geom/parts/driver_body.h"
#include "geom/parts/internal/bolt_line.h"
#include "geom/parts/internal/foot.h"
#include "geom/parts/internal/site.h"

namespace geom::parts {

/// Air between the tube and a side wall that is too narrow to be left: solid from the one to the other.
struct SleeveFill {
    double from_mm = 0.0, to_mm = 0.0;  ///< heights
    double radius_mm = 0.0;             ///< about the line, where it faces away from the wall
    Vec3 first, last;                   ///< out to the wall, counter-clockwise about `up`; the same for one flat wall
    double first_mm = 0.0, last_mm = 0.0;  ///< how far, to within the wall
};

struct SleevePlan {
    std::string name, thread;
    BoltLine line;
    fixings::HoleShape hole;
    fixings::ToolRoom tool;
    Bore bore;
    double tube_radius_mm = 0.0, tube_wall_mm = 0.0;
    double edge_wanted_mm = 0.0;
    double pad_radius_mm = 0.0, pad_top_mm = 0.0;
    double enters_mm = 0.0, leaves_mm = 0.0;  ///< heights where the line meets the outer skin
    double seat_mm = 0.0;                     ///< height on which head or washer presses
    double recess_radius_mm = 0.0;            ///< 0: the skin itself is flat enough
    double recess_to_mm = 0.0;                ///< height up to which it is cut
    double step_radius_mm = 0.0;              ///< of the solid round the recess; 0: none
    double step_from_mm = 0.0;
    double air_to_mm = 0.0;  ///< height up to which solid is taken from the air
    bool leaves_by_baffle = false;
    std::optional<SleeveFill> fill;
    std::vector<std::string> notes;

    double seat_bottom_mm() const { return seat_mm - bore.sink_mm; }
    /// Radius of the solid in the air at a height.
    double solid_radius_mm(double height) const {
        return step_radius_mm > 0.0 && height >= step_from_mm ? step_radius_mm : tube_radius_mm;
    }
};

/// How near the baffle things may come: depths behind its bare outer face.
struct BaffleRoom {
    double outside_mm = 0.0;  ///< of what stands on or is cut into the outer skin
    double air_mm = 0.0;      ///< of what stands in the air
    std::vector<DriverBody> drivers;
    std::vector<Point2> driver_centres;
    double driver_front_mm = 0.0;             ///< radius of all that the driver has on the baffle's face; 0: no driver
    std::function<double(Point3)> port_mm{};  ///< distance from a port's tube and what it keeps free; empty: none
};

/// Air that is left between two solids in the box, or beside one, at least [common practice]: narrower gaps can neither
/// be cleaned nor printed well.
constexpr double kLeastAirGap_mm = 4.0;

/// `outer`: the bare body, for its plane faces.
/// Faults: Impossible  the line misses the box, runs out at its side, by a separate baffle or through the driver; the
///                     pad stands out of the box or too near the vehicle: where, by how much, what to change
Result<SleevePlan> plan_sleeve(const Site& site, const Sleeve& sleeve, const TopoDS_Solid& outer,
                               const BaffleRoom& baffle);

/// Corners of its fill in a plane across the line, counter-clockwise, offsets from the line: from its side to the wall,
/// and back to its other side.
std::vector<Vec3> corners_of(const SleeveFill& fill, Vec3 up);

/// Distance of a place from the solid that the sleeve leaves in the air; negative inside.
double distance_to(const SleevePlan& sleeve, Point3 p);

/// Sleeves against one another and against the feet.
/// Faults: Impossible
Status check_apart(const std::vector<SleevePlan>& sleeves, const std::vector<FootPlan>& feet);

/// The outer body with pads, bores and seats. The plans are left as made.
Result<TopoDS_Solid> drill_sleeves(std::vector<SleevePlan>& sleeves, const TopoDS_Solid& outer);
/// What is taken from the air for one.
Result<TopoDS_Shape> air_tool(const SleevePlan& sleeve);

/// What was made, its hole measured on the finished solid. `tube_mm3`: air that it takes.
Result<FixingMade> measure_sleeve(const SleevePlan& plan, const Sleeve& sleeve, const TopoDS_Solid& solid,
                                  double tube_mm3);

}  // namespace geom::parts

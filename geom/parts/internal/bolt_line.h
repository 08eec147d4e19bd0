// The line of a bolt and what is made round it: round, or long where its hole is a slot.
//
// Frame   along the line: heights over the vehicle's face, against the way the bolt goes in.
#pragma once

#include "geom/fixings/bolt.h"
#include "geom/parts/enclosure.h"
#include "geom/parts/internal/boolean.h"

#include <optional>
#include <vector>

namespace geom::parts {

struct BoltLine {
    Point3 point;          ///< hole centre on the vehicle's face
    Vec3 up;               ///< against the way the bolt goes in, unit
    Vec3 along;            ///< of a slot, square to up, unit
    double half_mm = 0.0;  ///< half the distance between a slot's ends; 0: round

    Point3 at(double height) const { return point + up * height; }
    double height(Point3 p) const { return dot(p - point, up); }
    /// Distance from the line, or from the slot's band of lines, square to it.
    double beside(Point3 p) const;
};
/// A slot's direction need not be square to the bolt. EXPECTS: it is not along it.
BoltLine bolt_line(Point3 point, Vec3 axis, const std::optional<fixings::Slot>& slot);

/// The bore that a bolt's hole is in the part: round a metal sleeve where the job asks for one, or does not say and the
/// preload would crush the material under the washer. A slot or a countersink leaves no place for one.
struct Bore {
    double radius_mm = 0.0;
    double sink_mm = 0.0;  ///< depth of a countersunk head's cone
    bool has_metal_sleeve = false;
};
Bore bore_of(const fixings::Thread& thread, const fixings::BoltUse& use, const fixings::HoleShape& hole,
             const Material& material);
/// A slot that runs along its bolt, or that a countersunk head sits in, makes no sense.
/// Faults: BadJob, Impossible
Status check_slot(const std::string& name, const fixings::BoltUse& use, Vec3 axis, Point3 point);

/// A place on the rim at some radius, height 0, and the way out of it.
struct RimPlace {
    Vec3 offset;  ///< from the line
    Vec3 out;     ///< unit
};
std::vector<RimPlace> rim_of(const BoltLine& line, double radius_mm, int places = 24);

/// The solid within a radius of the line between two heights.
TopoDS_Shape prism(const BoltLine& line, double radius_mm, double from_mm, double to_mm);

/// A bore with the cone of a countersunk head under `seat_mm`, from below the vehicle's face to `to_mm`.
/// Faults: Internal
Result<TopoDS_Shape> bore_tool(const std::string& feature, const BoltLine& line, const Bore& bore, double seat_mm,
                               double to_mm);
/// One solid of solids that run into one another.
/// Faults: Internal
Result<TopoDS_Shape> joined(const std::string& feature, const std::vector<TopoDS_Shape>& pieces);
/// What is cut for a countersunk head whose face lies at the height `top`: cone and cylinder as one body of revolution,
/// past both faces.
TopoDS_Shape sunk_tool(const BoltLine& line, double hole_radius, double sink_radius, double top);

/// A hole as the B-rep has it.
struct HoleMeasured {
    double diameter_mm = 0.0;  ///< that which differs most from the asked one
    double off_axis_mm = 0.0;  ///< greatest distance of its axis from the asked one between the two heights
};
/// Cylinder faces within half a millimetre of a hole of `radius_mm` on the line.
/// Faults: Internal  there is none
Result<HoleMeasured> measure_hole(const std::string& feature, const TopoDS_Shape& solid, const BoltLine& line,
                                  double radius_mm, double from_mm, double to_mm);

}  // namespace geom::parts

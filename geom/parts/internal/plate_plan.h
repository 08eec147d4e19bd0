// A mounting plate: its holes and outline planned in the plane, then made as a solid, a drawing and what the shell
// needs.
#pragma once

#include "geom/parts/internal/bolt_line.h"
#include "geom/parts/internal/disc_hull.h"
#include "geom/parts/internal/foot.h"
#include "geom/parts/internal/site.h"
#include "geom/parts/mount_plate.h"

#include <functional>
#include <optional>

namespace geom::parts {

/// One flat of a plate, in the frame of its lower face.
struct PlateFlat {
    Frame frame;
    std::vector<Point2> bolts;
    std::vector<Disc> discs;  ///< that its outline goes round
    BoltLine bolt_line_at(Point2 p, const std::optional<fixings::Slot>& slot) const {
        return bolt_line(frame.to_parent({p.x, p.y, 0.0}), -frame.z, slot);
    }
};

struct PlatePlan {
    const MountPlate* asked = nullptr;
    PlatePlace place;
    Material material;
    fixings::Thread bolt_thread, screw_thread;
    fixings::HoleShape bolt_hole, screw_hole;  ///< in the plate; through the box
    Grip grip;                                 ///< of the screws in the plate
    double bolt_edge_mm = 0.0, screw_edge_mm = 0.0;
    double pad_radius_mm = 0.0;       ///< of what the box stands on round a screw
    double head_radius_mm = 0.0;      ///< of a vehicle bolt's head or washer, where it stands over the plate
    PlateFlat flat;                   ///< what lies before a bend; its discs once the screws are placed
    std::vector<Point2> screws;       ///< in the plate's frame
    std::optional<PlateFlat> turned;  ///< what lies beyond a bend
    double bend_from_mm = 0.0, bend_to_mm = 0.0;  ///< extent of the bend, along x of the turned part's frame
    std::vector<std::string> notes;

    std::string title() const { return "fixing \"" + asked->name + "\""; }
    /// The plate's flats: one, or two.
    std::vector<const PlateFlat*> flats() const;
    /// A place of the turned part where the flat blank has it, in the plate's frame.
    Point2 in_blank(Point2 of_turned) const;
    Point2 along_bend() const;  ///< x of the turned part's frame, in the plate's
    Point2 out_of_bend() const;
    Point3 at(Point2 p, double height) const { return place.at(p.x, p.y, height); }
};

/// All but the screws.
/// Faults: those of plate_place(); Impossible  the vehicle's face is not flat under it, a bolt too near a floating edge
Result<PlatePlan> plan_plate(const Site& site, const MountPlate& plate);

/// How much wider than asked the straight way up from a place is, mm; negative: something stands in it.
using StraightWay = std::function<double(Point3 at, Vec3 up, double radius_mm)>;
/// Screws through the box's wall, from inside. `outer`, `inner`: the shell's two plane faces over the plate.
/// Faults: Impossible  no plane wall there, none that is reached straight, or not for so many
Status place_back_screws(const Site& site, PlatePlan& plan, const TopoDS_Face& outer, const TopoDS_Face& inner,
                         const StraightWay& way);

/// Screws through lugs beside the box, in order round it. `beside`: feet and lugs that are planned already.
/// Faults: Impossible  there are not so many places round the box where a lug can stand: how many, and what is in the
/// way
Result<std::vector<FootPlan>> place_lugs(const Site& site, PlatePlan& plan, double least_depth_mm,
                                         std::vector<FootPlan> beside);

/// Whether a screw may stand at a place of the plate: how much more room it has than it must, against bolts, their
/// heads, floating edges and the screws that are placed already.
double room_for_screw(const Site& site, const PlatePlan& plan, Point2 p);

/// Once its screws are placed: the outline, judged against vehicle, limits and keep-outs.
/// Faults: Impossible  what stands in it, where
Status close_outline(const Site& site, PlatePlan& plan);

/// The shell with the holes of the screws through its wall and the pads that stand on the plate.
Result<TopoDS_Solid> with_back_screws(const PlatePlan& plan, const TopoDS_Solid& shell, const TopoDS_Face& outer,
                                      const TopoDS_Face& inner, double wall_mm);

Result<TopoDS_Solid> plate_solid(const PlatePlan& plan);
FlatDrawing plate_drawing(const PlatePlan& plan);

/// The vehicle's bolts, their holes measured on the plate.
Result<std::vector<FixingMade>> measure_plate(const PlatePlan& plan, const TopoDS_Solid& solid);

}  // namespace geom::parts

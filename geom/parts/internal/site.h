// Where features are put: the frame of the baffle, the plane outlines that hold them, and the words of their faults.
//
// Frame   origin on the bare outer face; x to the right and z up for one who looks at the baffle from the front, y
//         into the box ("depth"). Point2 is (x, z).
#pragma once

#include "geom/parts/features.h"
#include "geom/parts/internal/boolean.h"
#include "geom/parts/internal/contour.h"

namespace geom::parts {

struct Site {
    const BareBodies& bodies;
    const space::Room& room;
    const EnclosureRequest& request;
    const Context& context;
    const scan::Surface* surface;  ///< for what stands outside the room; may be null
    Frame frame;

    Site(const BareBodies& bare, const space::Room& free, const EnclosureRequest& asked, const Context& around,
         const scan::Surface* scanned)
        : bodies(bare),
          room(free),
          request(asked),
          context(around),
          surface(scanned),
          frame(space::box_frame(bare.baffle_plane, asked.up)) {}

    double thickness_mm() const { return request.baffle.thickness.mm(); }
    Vec3 outward() const { return -frame.y; }
    Point2 flat(Point3 p) const {
        const Point3 q = frame.to_local(p);
        return {q.x, q.z};
    }
    double depth(Point3 p) const { return frame.to_local(p).y; }
    Point3 at(Point2 p, double depth_mm) const { return frame.to_parent({p.x, depth_mm, p.y}); }
    /// Parallel to the baffle, `depth_mm` behind its bare outer face, looking the same way.
    Plane plane(double depth_mm, Point2 through = {}) const { return {at(through, depth_mm), outward()}; }
    /// Signed distance to the bare outer body, as far as the field knows it.
    double body_mm(Point3 p) const { return std::max(room.outer.at(p), -depth(p)); }
    /// How far a place is from being within the side walls' inner faces; negative there.
    double within_walls_mm(Point3 p) const {
        return bodies.air_mm ? bodies.air_mm(p) : room.outer.at(p) + request.wall.mm();
    }
    /// How far a place is from being in the air behind the baffle; negative in it.
    double air_mm(Point3 p) const { return std::max(within_walls_mm(p), thickness_mm() - depth(p)); }
    const Material& baffle_material() const {
        return request.baffle.separate && request.baffle.material ? *request.baffle.material : request.material;
    }
};

/// The outer border of a plane face as a loop within 0.01 mm of it.
Result<Outline> outline_of(const Site& site, const TopoDS_Face& face);

inline Fault impossible(std::string what, std::string hint, std::optional<Point3> where) {
    return {FaultCode::Impossible, std::move(what), std::move(hint), where, "part"};
}

/// "12, -40.5, 300": a place in the vehicle frame, to a tenth of a millimetre.
std::string place_text(Point3 p);
/// "188.6": to a tenth of a millimetre.
std::string tenths(double mm);

/// A hole across the baffle, measured from the face it starts in.
struct Hole {
    Point2 centre;
    double radius_mm = 0.0;
    double depth_mm = 0.0;  ///< of a blind one
    bool is_through = false;
};

/// How a thread is held: a heat-set insert where the material softens and one is made, otherwise a tapped hole.
struct Grip {
    double hole_mm = 0.0;   ///< insert pilot or tap drill, a diameter
    double depth_mm = 0.0;  ///< wanted of a blind hole
    double boss_mm = 0.0;   ///< outside diameter of solid round it
    bool has_insert = false;
};
Result<Grip> grip_of(const std::string& thread, const Material& material, bool may_have_inserts,
                     const std::vector<fixings::Thread>& own_threads);

/// Solid left under a blind hole, at least.
constexpr double kUnderBlindHole_mm = 1.5;

}  // namespace geom::parts

// Everything that is put on the bare skin by booleans: driver cut-out, bolts, recess, rim flange or separate baffle,
// terminal hole, feet. Outer body and air are kept apart until the last step.
#pragma once

#include "geom/parts/enclosure.h"

#include <functional>

namespace geom::parts {

/// The bare bodies at a solved baffle place: two filled solids, one inside the other, both in the vehicle frame.
struct BareBodies {
    Brep outer;          ///< outer shell as a solid; its baffle face lies in `baffle_plane`
    Brep air;            ///< inner shell as a solid; its plane face lies baffle.thickness behind it
    Plane baffle_plane;  ///< bare outer face, vehicle frame
    /// Where a filler pad begins, parallel to the baffle; outward into the pad. What of `air` lies beyond is filled.
    std::optional<Plane> pad_plane{};
    std::vector<SharpEdgeMade> sharp_edges{};  ///< that were made on both
    /// How far a place is from being in the air behind the baffle, negative in it; empty: a wall behind the room's
    /// outer face.
    std::function<double(Point3)> air_mm{};
};

/// What of a bare body lies behind a plane, cut by the kernel: for limits whose edges stay sharp. The body itself where
/// it does not reach the plane.
/// Faults: MethodRefused  the plane leaves the body in several pieces, or nothing
Result<Brep> cut_body(const std::string& name, const Brep& body, const Plane& plane);

/// Makes the edges that limits ask to stay sharp (sharp_edge.h) on both bodies.
/// Faults: Impossible  an edge that the body has nowhere, or not for long enough: where, and what is in the way
Status sharpen(BareBodies& bodies, const space::Room& room, const EnclosureRequest& request, const Context& context);

/// What the features will take from or add to the air, before anything is modelled: for the size solve. Exact for
/// the analytic ones (cut-out cylinder, driver displacement, terminal hole); feet do not enter the air.
std::vector<LedgerLine> features_ledger(const EnclosureRequest& request);

/// What the three volumes cannot see against one another: how far two of them are apart, and what the driver's
/// displacement is uncertain by, added up; of the net volume.
double volume_uncertainty_rel(const EnclosureRequest& request, const Enclosure& made);

/// Size of the shell's rim flange behind a separate baffle, as given or chosen from its screws: the boss of the
/// insert (or 2.5 d round a tapped hole) fits beside the wall, and the plate keeps its edge distance.
struct RimFlange {
    double width_mm = 0.0;  ///< from the inner wall inward
    double thickness_mm = 0.0;
    double centre_mm = 0.0;  ///< of the holes, from the inner wall
    double boss_mm = 0.0;    ///< outside diameter of solid round a hole
    double hole_mm = 0.0;    ///< insert pilot or tap drill
    double hole_depth_mm = 0.0;
    bool has_inserts = false, is_through = false;
    double groove_mm = 0.0, groove_depth_mm = 0.0;  ///< for a cord between mouth and screws; 0: tape
};
/// Faults: BadJob      unknown thread
///         Impossible  a given width that does not hold the screws
Result<RimFlange> rim_flange(const EnclosureRequest& request);

/// The air that the rim flange will take with the air's front at box y `air_y_mm`, by the field's sections alone: for
/// the first round of the size solve, where it is right to about 1 % of itself. 0 with an integral baffle.
Volume rim_flange_volume(const space::Field& air, double air_y_mm, const EnclosureRequest& request);

/// What stands in the air with its front at box y `air_y_mm`, by the field alone and by closed forms: the rim flange,
/// sleeves and braces. For the first round of the size solve; the features' own ledger has none of it.
Volume solids_in_air(const space::Field& air, double air_y_mm, const EnclosureRequest& request);
bool has_solids_in_air(const EnclosureRequest& request);

/// Puts all features on and returns the products with their openings, fixings and ledger (its first line is the bare
/// air of `bodies`). net_by_brep is measured on the finished air; net_by_field is left to the caller. Feet stand
/// outside the room: with `surface` they are held to the clearance against its samples, without it only to limits and
/// keep-outs.
///
/// Faults: Impossible     driver larger than the baffle or its holes meet an edge; a foot that cannot reach its point
///                        inside the room; flange that does not clear the basket
///         MethodRefused  `cnc` with an integral baffle
///         Internal       a boolean that failed: names the feature
Result<Enclosure> add_features(const BareBodies& bodies, const space::Room& room, const EnclosureRequest& request,
                               const Context& context, const scan::Surface* surface = nullptr);

}  // namespace geom::parts

// A bolt as it stands in a part: what head it has, how its hole, its seat and its recess look, and the straight room
// that its tool wants. Sizes are of the standards in threads.h.
//
// Frame   along the bolt: heights count from the seat of head or washer, against the way the bolt goes in.
#pragma once

#include "geom/core/result.h"
#include "geom/core/units.h"
#include "geom/core/vec.h"
#include "geom/fixings/threads.h"

#include <optional>
#include <string>

namespace geom::fixings {

enum class HeadKind { Hexagon, Socket, Button, Countersunk };
enum class Fit { Fine, Medium, Coarse };  ///< series of ISO 273
enum class Grade { G8_8, G10_9 };         ///< ISO 898-1
/// What the bolt ends in.
enum class Nut {
    Vehicle,   ///< a thread of the vehicle's own
    Hexagon,   ///< ISO 4032, held by a spanner or in a pocket
    RivetNut,  ///< set into sheet
    Insert,    ///< heat-set into plastic
    Tapped     ///< cut into the material
};

/// A hole longer than wide.
struct Slot {
    Vec3 along;     ///< need not be square to the bolt: only what is square to it counts
    Length length;  ///< between the centres of its ends
};

/// The straight room on the bolt's axis that a socket or key needs, from the head's seat on.
struct ToolRoom {
    Length diameter, length;
};

/// All that is asked of one bolt beside its thread.
struct BoltUse {
    HeadKind head = HeadKind::Hexagon;
    Fit fit = Fit::Medium;
    Grade grade = Grade::G8_8;
    bool has_washer = true;       ///< ISO 7089; a countersunk head has none
    Length play = Length::mm(0);  ///< by which the bolt may stand off each way: the hole is twice that wider
    std::optional<Slot> slot{};
    std::optional<ToolRoom> tool{};      ///< none: of the ISO tool sizes
    std::optional<bool> metal_sleeve{};  ///< round the bolt, so that it crushes no plastic or board; none: where needed
};

const Head& head_of(const Thread& thread, HeadKind kind);
/// Proof load of the coarse thread, ISO 898-1.
double proof_N(const Thread& thread, Grade grade);

/// A through hole with its seat: from the outer face inward.
struct HoleShape {
    double hole_mm = 0.0;          ///< diameter of the clearance hole, play included
    double slot_mm = 0.0;          ///< between the centres of a slot's ends; 0: round
    double recess_mm = 0.0;        ///< diameter of a counterbore that takes head and washer; 0: none asked
    double recess_depth_mm = 0.0;  ///< so that the head ends flush with the face
    double sink_mm = 0.0;          ///< diameter of a 90 degree countersink at the face; 0: none
    double seat_mm = 0.0;          ///< diameter of the ring that head or washer presses on
};

/// The hole for a bolt; `flush`: with the recess that lets the head in.
/// Source  ISO 273 (hole), ISO 4762 knurled / 7380-1 / 4017 heads and ISO 7089 washers plus 1 mm of room [common
///         practice] (recess), ISO 10642 theoretical diameter (countersink).
/// Faults: BadJob  a head that is not in the table for this thread
Result<HoleShape> hole_for(const Thread& thread, const BoltUse& use, bool flush);

/// A pocket that holds a hexagon nut: across flats with 0.2 mm of room a side, and depth of the nut and 0.2 mm.
struct NutPocket {
    double across_flats_mm = 0.0, depth_mm = 0.0;
};
NutPocket nut_pocket(const Thread& thread);

/// Tool room as given, or of the table: washer or thin-wall socket, the larger, and 2 mm; 100 mm long for a key or
/// driver, 40 mm for a hexagon under a ratchet [common practice].
ToolRoom tool_room(const Thread& thread, const BoltUse& use);

/// A tube round the bolt that takes its preload where plastic or board would be crushed: steel, 1.5 mm thick [common
/// practice].
constexpr double kSleeveWall_mm = 1.5;
struct MetalSleeve {
    double inside_mm = 0.0, outside_mm = 0.0;
};
MetalSleeve metal_sleeve(const Thread& thread, const BoltUse& use);

}  // namespace geom::fixings

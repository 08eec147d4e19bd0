// What each constraint of a job costs in litres: the whole way from surface to air is gone again with one of them taken
// away, on one grid for all, whose bias cancels in the differences.
//
// Taken away  clearance, covering and wall to 0 mm, outside and inside rounding to none, a limit or a keep-out from the
//             list, the way in (the part need only stand, not come in), a fixing from the list. A wall of 0 is no part:
//             its price is what its material takes.
// Cost        one run of the field each, a second or less; pairs likewise.
#pragma once

#include "geom/parts/enclosure.h"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace geom::parts {

/// One thing of the job that keeps the box small.
struct Constraint {
    /// From where on the way a change of it is felt; what comes before is taken over.
    enum class Felt { Room, Wall, Ledger };
    using Change = std::function<void(EnclosureRequest&)>;

    std::string name;        ///< "wall", "limit 'armrest line'"
    std::string taken;       ///< "0 instead of 6 mm", "away"
    double amount_mm = 0.0;  ///< what was taken of a length; 0 when it is none
    Felt felt = Felt::Room;
    Change take_away;
    std::string eased;  ///< "4 instead of 6 mm": a step one might really take; empty: there is none
    double eased_by_mm = 0.0;
    Change ease;
};
/// In the order of the job file's page.
std::vector<Constraint> constraints(const EnclosureRequest& request);

struct Price {
    std::string name, taken;
    double amount_mm = 0.0;
    std::optional<double> litres;  ///< more net volume at the outermost baffle place; none when it cannot be told
    std::optional<double> litres_at_place;  ///< more net volume with the baffle at the asked place
    std::string note;                       ///< "without it the room is open at ..."
};
struct PairPrice {
    std::string first, second;
    double litres = 0.0;              ///< both taken away
    double interaction_litres = 0.0;  ///< that less the sum of the singles
    std::string note;
};

struct PriceOptions {
    std::optional<double> place_mm;  ///< the asked baffle place
    std::size_t pairs_of = 0;        ///< pairs among the so many dearest; 0: none
    Length voxel = Length::mm(0);    ///< of the runs; 0: chosen
};
struct PriceList {
    double voxel_mm = 0.0;
    Volume most;                   ///< net volume at the outermost baffle place on the grid of the runs
    std::vector<Price> prices;     ///< dearest first, those without a figure last
    std::vector<PairPrice> pairs;  ///< greatest interaction first
};
/// Faults: those of gap_field for the job as it is; Interrupted
Result<PriceList> price_list(const scan::Surface& surface, const EnclosureRequest& request, const PriceOptions& options,
                             const Context& context);

/// What would free how much, by steps one might really take; largest gain first. A limit or keep-out without which the
/// room would leak is named with no figure (negative). Empty when the job as it is has no room.
std::vector<Relief> reliefs(const scan::Surface& surface, const EnclosureRequest& request, const Context& context);

/// The reliefs as one sentence for a fault's hint.
std::string reliefs_text(const std::vector<Relief>& reliefs);

}  // namespace geom::parts

// How much a gap holds: net volume against baffle place, by the field alone.
//
// Net     bare air behind the baffle (space::VolumeTable, of what hangs together with the largest piece there) and the
//         lines of features_ledger(), less what a separate baffle's rim flange takes.
// Places  are travels t in mm, as in Baffle; larger t is further out.
#pragma once

#include "geom/parts/enclosure.h"

#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace geom::parts {

/// The room of a job and the air inside its wall, before any baffle cuts them.
struct GapField {
    space::Room room;
    space::Field air;
};
/// Faults: those of space::free_room and space::cavity, their stage named.
Result<GapField> gap_field(const scan::Surface& surface, const EnclosureRequest& request, const Context& context);

/// Sum of features_ledger().
Volume features_volume(const EnclosureRequest& request);

/// Net volume with the baffle at `t_mm`; 0 where its plane meets no air. `room`: for the edges of limits that stay
/// sharp; null: none do.
Volume net_volume_at(const space::Field& air, const EnclosureRequest& request, double t_mm,
                     const space::Room* room = nullptr);

/// Net volume at the outermost baffle place.
/// Faults: those of gap_field.
Result<Volume> most_net_volume(const scan::Surface& surface, const EnclosureRequest& request, const Context& context);

/// The same as net_volume_at() for many places. Keeps references: `air`, `request` and `room` must outlive it.
class CapacityCurve {
public:
    CapacityCurve(const space::Field& air, const EnclosureRequest& request, const space::Room* room = nullptr);

    Volume net_at(double t_mm) const;
    /// Of the air in its front plane.
    Area section_at(double t_mm) const;
    /// The least place of the travel that holds `net`; none when none does or the least travel holds more.
    std::optional<double> place_for(Volume net) const;
    /// How many pieces the baffle's plane leaves behind it.
    std::size_t pieces_at(double t_mm) const;

private:
    /// Planes [first, end) of nodes along y behind which the same pieces hang together.
    struct Run {
        int first = 0, end = 0;
        std::shared_ptr<const space::VolumeTable> table;
    };
    int plane_index(double air_y_mm) const;
    const space::VolumeTable* table_at(double air_y_mm) const;
    double air_y_mm(double t_mm) const { return request_.baffle.thickness.mm() - t_mm; }

    const space::Field& air_;
    const EnclosureRequest& request_;
    const space::Room* room_;
    Volume features_;
    std::vector<Run> runs_;
    std::vector<std::size_t> pieces_;  ///< behind each plane of nodes
};

struct CapacityPlace {
    double t_mm = 0.0;
    Volume net;             ///< 0 where there is no air
    Area section;           ///< of the air in its front plane
    double depth_mm = 0.0;  ///< left for a driver, see DriverRoom
    std::optional<double> basket_depth_mm;
    std::size_t pieces = 1;  ///< of the air behind the plane; the largest counts
};

struct Capacity {
    std::vector<CapacityPlace> places;  ///< innermost first; the ends of the travel and the asked place among them
    bool is_fixed = false;              ///< the travel has no length: places further in are there for comparison
    Volume most;
    double most_t_mm = 0.0;
    std::optional<CapacityPlace>
        asked;  ///< where the asked volume puts the baffle; none when the travel has no such place
    std::vector<LedgerLine> features;  ///< what stands in the air, or opens it
    std::string depth_is;              ///< what the depths are measured over
};
/// Places at round steps, about a hundred.
/// Faults: Impossible  the baffle's travel never meets the room
Result<Capacity> capacity_of(const GapField& gap, const EnclosureRequest& request);

}  // namespace geom::parts

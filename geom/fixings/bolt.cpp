#include "geom/fixings/bolt.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::fixings {
namespace {

constexpr double kRoomRoundHead_mm = 1.0;  // of a counterbore, on the diameter [common practice]
constexpr double kRoomRoundNut_mm = 0.2;   // of a pocket, a side and in depth [common practice]
constexpr double kRoomRoundTool_mm = 2.0;  // on the diameter [common practice]
constexpr double kKeyLength_mm = 100.0, kRatchetLength_mm = 40.0;  // [common practice]

double fit_mm(const Thread& thread, Fit fit) {
    return fit == Fit::Fine ? thread.hole_fine_mm : fit == Fit::Medium ? thread.hole_medium_mm : thread.hole_coarse_mm;
}

}  // namespace

const Head& head_of(const Thread& thread, HeadKind kind) {
    switch (kind) {
        case HeadKind::Socket:
            return thread.socket;
        case HeadKind::Button:
            return thread.button;
        case HeadKind::Countersunk:
            return thread.countersunk;
        case HeadKind::Hexagon:
            break;
    }
    return thread.hexagon;
}

double proof_N(const Thread& thread, Grade grade) {
    return grade == Grade::G10_9 ? thread.proof_load_10_9_N : thread.proof_load_8_8_N;
}

Result<HoleShape> hole_for(const Thread& thread, const BoltUse& use, bool flush) {
    const Head& head = head_of(thread, use.head);
    if (head.diameter_mm <= 0.0)
        return Fault{FaultCode::BadJob,
                     fmt::format("thread {}: no such head is known for it", thread.name),
                     "take a hexagon head",
                     {},
                     {}};
    HoleShape hole;
    hole.hole_mm = fit_mm(thread, use.fit) + 2.0 * use.play.mm();
    if (use.slot) hole.slot_mm = use.slot->length.mm();
    if (use.head == HeadKind::Countersunk) {
        hole.sink_mm = std::max(head.diameter_mm, hole.hole_mm);
        hole.seat_mm = head.diameter_mm;
        return hole;
    }
    const bool has_washer = use.has_washer && thread.washer_outside_mm > 0.0;
    hole.seat_mm = has_washer ? thread.washer_outside_mm : head.diameter_mm;
    if (flush) {
        // A hexagon or a socket's key wants no more than washer and head; a spanner's socket does.
        const double outside =
            std::max(hole.seat_mm, use.head == HeadKind::Hexagon ? std::max(head.diameter_mm, thread.socket_outside_mm)
                                                                 : head.diameter_mm);
        hole.recess_mm = outside + kRoomRoundHead_mm + 2.0 * use.play.mm();
        hole.recess_depth_mm = head.height_mm + (has_washer ? thread.washer_thickness_mm : 0.0);
    }
    return hole;
}

NutPocket nut_pocket(const Thread& thread) {
    return {thread.nut_across_mm + 2.0 * kRoomRoundNut_mm, thread.nut_height_mm + kRoomRoundNut_mm};
}

ToolRoom tool_room(const Thread& thread, const BoltUse& use) {
    if (use.tool) return *use.tool;
    const bool is_hexagon = use.head == HeadKind::Hexagon;
    return {Length::mm(std::max(thread.washer_outside_mm, thread.socket_outside_mm) + kRoomRoundTool_mm),
            Length::mm(is_hexagon ? kRatchetLength_mm : kKeyLength_mm)};
}

MetalSleeve metal_sleeve(const Thread& thread, const BoltUse& use) {
    const double inside = fit_mm(thread, use.fit) + 2.0 * use.play.mm();
    return {inside, inside + 2.0 * kSleeveWall_mm};
}

}  // namespace geom::fixings

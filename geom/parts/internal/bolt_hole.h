// The hole and the tool room of a bolt in a part.
#pragma once

#include "geom/fixings/bolt.h"

#include <algorithm>

namespace geom::parts {

/// As fixings::hole_for.
inline Result<fixings::HoleShape> bolt_hole(const fixings::Thread& thread, const fixings::BoltUse& use, bool flush) {
    using namespace fixings;
    const bool is_sunk = use.head == HeadKind::Countersunk, has_washer = use.has_washer && !is_sunk;
    const Head& head = use.head == HeadKind::Hexagon  ? thread.hexagon
                       : use.head == HeadKind::Socket ? thread.socket
                       : use.head == HeadKind::Button ? thread.button
                                                      : thread.countersunk;
    if (is_sunk && head.diameter_mm <= 0.0)
        return Fault{FaultCode::BadJob, "thread " + thread.name + ": has no countersunk head in the table",
                     "take another head", std::nullopt, "part"};
    HoleShape hole;
    hole.hole_mm = (use.fit == Fit::Fine     ? thread.hole_fine_mm
                    : use.fit == Fit::Medium ? thread.hole_medium_mm
                                             : thread.hole_coarse_mm) +
                   2.0 * use.play.mm();
    hole.slot_mm = use.slot ? use.slot->length.mm() : 0.0;
    hole.seat_mm = has_washer ? thread.washer_outside_mm : head.diameter_mm;
    if (is_sunk) {
        hole.sink_mm = head.diameter_mm;
    } else if (flush) {
        hole.recess_mm = std::max(head.diameter_mm, hole.seat_mm) + 1.0;
        hole.recess_depth_mm = head.height_mm + (has_washer ? thread.washer_thickness_mm : 0.0);
    }
    return hole;
}

/// As fixings::tool_room.
inline fixings::ToolRoom bolt_tool(const fixings::Thread& thread, const fixings::BoltUse& use) {
    return use.tool.value_or(
        fixings::ToolRoom{Length::mm(std::max(thread.washer_outside_mm, thread.socket_outside_mm) + 2.0),
                          Length::mm(use.head == fixings::HeadKind::Hexagon ? 40.0 : 100.0)});
}

}  // namespace geom::parts

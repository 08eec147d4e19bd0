// Keys that joints have in common: what makes them tight, and the room that their screws' tool wants.
#include "geom/core/text.h"
#include "geom/job/internal/sections.h"

#include <fmt/format.h>

namespace geom::job {

std::optional<fixings::ToolRoom> tool_of(const Table& table) {
    const Table tool = table.table("tool");
    if (!tool.is_there()) {
        table.note("tool", "of the ISO tool sizes", true);
        return std::nullopt;
    }
    return fixings::ToolRoom{tool.length("diameter", Allowed::Positive), tool.length("length", Allowed::Positive)};
}

parts::Seal seal_of(const Table& table) {
    constexpr double kThinnest_mm = 1.0, kThickest_mm = 8.0;
    parts::Seal seal;
    if (!table.is_table("seal")) {
        const std::string word = table.text("seal", "tape");
        if (word != "tape")
            table.refuse("seal", fmt::format("is \"{}\"; wanted \"tape\" or {{ cord = diameter }}", word),
                         "tape lies flat under the joint; a round cord lies in a groove");
        return seal;
    }
    const Table inner = table.table("seal");
    seal.cord = inner.length("cord", Allowed::Positive);
    if (inner.has("cord") && seal.cord->mm() > 0.0 &&
        (seal.cord->mm() < kThinnest_mm || seal.cord->mm() > kThickest_mm))
        inner.refuse("cord",
                     fmt::format("is {} mm; wanted {} mm to {} mm", plain_number(seal.cord->mm()),
                                 plain_number(kThinnest_mm), plain_number(kThickest_mm)),
                     "it is the diameter of the cord; its groove is 1.35 times as wide");
    return seal;
}

}  // namespace geom::job

// The wall is a level of an exact distance; the inside rounding is one more opening of what it leaves.
#include "geom/space/cut.h"
#include "geom/space/internal/opening.h"
#include "geom/space/internal/redistance.h"
#include "geom/space/internal/room_job.h"
#include "geom/space/room.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::space {

Result<Field> cavity(const Field& outer, Length wall, Length inner_radius, const Context& context) {
    EXPECTS(outer.mm.size() == outer.grid.count() && wall.mm() >= 0.0 && inner_radius.mm() >= 0.0);
    const Stage stage(context, "space/cavity");
    const double h = outer.grid.h_mm, deep = wall.mm() + inner_radius.mm();
    const auto deepest = [](const std::vector<float>& mm) {
        return -static_cast<double>(*std::min_element(mm.begin(), mm.end()));
    };
    // Depths from the body's own zero set: where its rounding missed a corner, depths from before the rounding would
    // make the wall thin by as much.
    const std::vector<float> distance = internal::redistance(outer.grid, outer.mm, {-(deep + 3.0 * h), 0.0});
    if (!(deepest(distance) > deep))
        return internal::space_fault(FaultCode::Impossible,
                                     fmt::format("a wall of {:.1f} mm with an inner radius of {:.1f} mm leaves no air: "
                                                 "the room is nowhere wider than {:.1f} mm, more than {:.1f} mm wanted",
                                                 wall.mm(), inner_radius.mm(), 2.0 * deepest(distance), 2.0 * deep),
                                     "a thinner wall, a smaller inner radius, or more room");
    // Core edges cut off: the skin of the air follows every bump, and a hair more wall in its edges does no harm.
    if (inner_radius.mm() > 0.0)
        return Field{outer.grid, internal::opened(outer.grid, distance, wall.mm(), inner_radius.mm(), 4.0 * h,
                                                  internal::CoreEdges::CutOff)};
    Field air{outer.grid, distance};
    for (float& v : air.mm) v += static_cast<float>(wall.mm());
    return air;
}

Result<Cavity> cavity(const Room& room, Length wall, Length inner_radius, const Context& context) {
    Cavity made;
    for (const SharpCut& c : room.cuts)
        if (c.is_inside_too)
            made.cuts.push_back({c.face.point - unit(c.face.outward) * wall.mm(), unit(c.face.outward)});
    if (made.cuts.empty()) {
        GAPWRIGHT_TRY(air, cavity(room.outer, wall, inner_radius, context));
        made.air = std::move(air);
        return made;
    }
    Field body = room.beyond;
    for (const SharpCut& c : room.cuts)
        if (!c.is_inside_too) cut(body, c.face);
    GAPWRIGHT_TRY(air, cavity(body, wall, inner_radius, context));
    made.air = made.beyond = std::move(air);
    for (const Plane& c : made.cuts) cut(made.air, c);
    return made;
}

}  // namespace geom::space

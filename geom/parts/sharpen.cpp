// Both bodies of an enclosure, with the edges made that limits ask to stay sharp.
#include "geom/parts/features.h"
#include "geom/parts/internal/corner_bar.h"
#include "geom/parts/internal/flat_strip.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <TopoDS.hxx>

namespace geom::parts {
namespace {

using space::Stretch;

struct MadeBar {
    Brep body;
    Barred bar;
};

/// None where the body has no place for it; what fails in the kernel is the fault it is.
Result<std::optional<MadeBar>> with_bar(const std::string& name, const Brep& body, const Corner& corner,
                                        const std::vector<Stretch>& allowed) {
    return guard_occt(name.c_str(), [&]() -> Result<std::optional<MadeBar>> {
        const TopoDS_Solid solid = with_flat_strips(TopoDS::Solid(to_occt(body)), corner, allowed);
        const auto plan = plan_bar(solid, corner, allowed);
        if (!plan) return std::optional<MadeBar>();
        GAPWRIGHT_TRY(made, add_bar(name, solid, corner, *plan));
        return std::optional(MadeBar{to_brep(made.solid), std::move(made)});
    });
}

Fault no_place(const space::SharpEdge& edge, const Corner& corner) {
    const double wanted_mm = 2.0 * corner.run_out_mm();
    const auto free = longest(edge.free);
    const bool is_long = free && free->length_mm() > wanted_mm;
    const std::string found =
        is_long ? fmt::format(
                      "the faces beside their edge are not flat for so long as its {:.0f} mm that two run-outs "
                      "of {:g} radii fit, wanted more than {:.0f} mm",
                      free->length_mm(), kRunOut_radii, wanted_mm)
        : free ? fmt::format(
                     "the body has their edge to itself over {:.0f} mm, wanted more than the {:.0f} mm that "
                     "two run-outs of {:g} radii take",
                     free->length_mm(), wanted_mm, kRunOut_radii)
               : std::string("the body does not reach the edge in which they meet, wanted both to bound it there");
    return {FaultCode::Impossible, fmt::format("limits '{}' and '{}': {}", edge.first, edge.second, found),
            free ? "leave sharp_with out, make edge_radius smaller, or move what ends the edge"
                 : "leave sharp_with out, or move the limits in until both bound the box",
            corner.edge_at(free ? 0.5 * (free->from_mm + free->to_mm) : 0.0), "part"};
}

std::string place(Point3 p) {
    return fmt::format("({:.0f}, {:.0f}, {:.0f})", p.x, p.y, p.z);
}

std::string told(const SharpEdgeMade& made) {
    return fmt::format("edge {}: sharp outside over {:.0f} mm from {} to {}, {}; run-outs of {:.0f} mm at both ends",
                       made.name, distance(made.from, made.to), place(made.from), place(made.to),
                       made.is_inside_too
                           ? fmt::format("inside over {:.0f} mm", distance(made.inside_from, made.inside_to))
                           : std::string("inside rounded, for what is sharp outside is too short for it"),
                       made.run_out_mm);
}

}  // namespace

Status sharpen(BareBodies& bodies, const space::Room& room, const EnclosureRequest& request, const Context& context) {
    if (room.edges.empty()) return Done{};
    const Stage stage(context, "part/sharp edges");
    for (const space::SharpEdge& edge : room.edges) {
        SharpEdgeMade made{.name = fmt::format("{} / {}", edge.first, edge.second),
                           .from = {},
                           .to = {},
                           .inside_from = {},
                           .inside_to = {},
                           .note = {}};
        const Corner outside = outer_corner(edge, request), inside = air_corner(edge, request);
        const std::string feature = fmt::format("sharp edge {}", made.name);
        GAPWRIGHT_TRY(outer, with_bar(feature, bodies.outer, outside, edge.free));
        if (!outer) return no_place(edge, outside);
        bodies.outer = outer->body;
        const Stretch sharp = sharp_part(outside, outer->bar.whole);
        made.from = outside.edge_at(sharp.from_mm);
        made.to = outside.edge_at(sharp.to_mm);
        made.run_out_mm = outside.run_out_mm();
        made.outside_mm3 = outer->bar.added_mm3;

        GAPWRIGHT_TRY(air, with_bar(feature + ", inside", bodies.air, inside, {sharp}));
        made.is_inside_too = air.has_value();
        if (air) {
            bodies.air = air->body;
            const Stretch inner = sharp_part(inside, air->bar.whole);
            made.inside_from = inside.edge_at(inner.from_mm);
            made.inside_to = inside.edge_at(inner.to_mm);
            made.inside_mm3 = air->bar.added_mm3;
            made.inside_by_form_mm3 = bar_mm3(inside, air->bar.whole);
        }
        made.note = told(made);
        bodies.sharp_edges.push_back(std::move(made));
    }
    return Done{};
}

}  // namespace geom::parts

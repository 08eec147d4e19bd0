// The cut list against the box: bare boards fill what lies between outside and inside in closed forms, and boards with
// their holes are what the products are made of, braces and battens apart.
#include "geom/check/internal/case.h"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

namespace geom::check {

Status check_boards(const Case& c, Verdict& verdict) {
    constexpr double kFills_rel = 1e-9;
    const parts::Enclosure& e = c.enclosure();
    // Holes in the battens behind a baffle that comes off are in no line of the ledger.
    const double finished_rel = c.request.baffle.separate ? 1e-3 : 1e-6;
    double bare_mm3 = 0.0, finished_mm3 = 0.0;
    for (const parts::Board& board : e.boards) {
        bare_mm3 += board.volume_mm3;
        GAPWRIGHT_TRY(solid, measure::measure_solid(board.solid, c.context));
        finished_mm3 += solid.volume.mm3();
    }
    const double wall_mm3 = (e.outside - e.inside).mm3();
    verdict.lines.push_back(at_most(
        "boards fill the wall", Kind::SoundSolid, 100.0 * std::abs(bare_mm3 / wall_mm3 - 1.0), 100.0 * kFills_rel, "%",
        fmt::format("{} boards of {:.6f} L together before their holes; the outside of {:.6f} L less the inside of "
                    "{:.6f} L",
                    e.boards.size(), bare_mm3 * 1e-6, e.outside.litres(), e.inside.litres())));
    double others_mm3 = 0.0, products_mm3 = 0.0;
    for (const parts::LedgerLine& line : e.ledger)
        if (line.name.rfind("brace ", 0) == 0 || line.name == "rim flange") others_mm3 -= line.litres * 1e6;
    if (e.port && e.port->is_glued_in) {
        const double inside = e.port->diameter_mm / 2.0, outside = inside + e.port->wall_mm;
        others_mm3 += std::numbers::pi * (outside * outside - inside * inside) * e.port->length_mm;
    }
    for (const ReadBack& r : c.products)
        if (!r.product->is_tool) products_mm3 += r.solid.volume.mm3();
    verdict.lines.push_back(at_most(
        "boards make the box", Kind::SoundSolid, 100.0 * std::abs((finished_mm3 + others_mm3) / products_mm3 - 1.0),
        100.0 * finished_rel, "%",
        fmt::format(
            "boards with their holes {:.6f} L, braces, battens and a port's tube {:.6f} L; the products {:.6f} L",
            finished_mm3 * 1e-6, others_mm3 * 1e-6, products_mm3 * 1e-6)));
    return Done{};
}

}  // namespace geom::check

#include "cli/cut_list.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace cli {
namespace {

std::string tenth(double v) {
    return geom::plain_number(geom::rounded(v, 1));
}

std::string bevels_of(const geom::parts::Board& board) {
    std::string text;
    for (const auto& edge : board.edges) {
        if (std::abs(edge.bevel_deg) < 0.005) continue;
        text += fmt::format("{}{} deg to {} ({} face larger)", text.empty() ? "" : ", ",
                            geom::plain_number(geom::rounded(std::abs(edge.bevel_deg), 2)), edge.meets,
                            edge.bevel_deg > 0.0 ? "outer" : "inner");
    }
    return text;
}

std::string corners_of(const geom::parts::Board& board) {
    const bool is_square = std::all_of(board.edges.begin(), board.edges.end(), [](const auto& edge) {
        return std::abs(edge.corner_deg - 90.0) < 0.005 || std::abs(edge.corner_deg - 180.0) < 0.005;
    });
    if (is_square) return {};
    std::string text;
    for (const auto& edge : board.edges)
        text += (text.empty() ? "" : ", ") + geom::plain_number(geom::rounded(edge.corner_deg, 2));
    return text;
}

}  // namespace

std::string cut_list(const geom::parts::Enclosure& enclosure, const geom::parts::Material& material) {
    if (enclosure.boards.empty()) return {};
    std::string out = fmt::format("\ncut list ({} boards of {})\n", enclosure.boards.size(), material.name);
    double litres = 0.0, area_m2 = 0.0;
    for (const auto& b : enclosure.boards) {
        litres += b.volume_mm3 * 1e-6;
        area_m2 += b.length_mm * b.width_mm * 1e-6;
        out += fmt::format("  {:<18} {:>7} x {:>7} x {:>4} mm  {:>8.1f} cm2  {:.2f} kg\n", b.name, tenth(b.length_mm),
                           tenth(b.width_mm), tenth(b.thickness_mm), std::max(b.outer_mm2, b.inner_mm2) / 100.0,
                           b.volume_mm3 * 1e-9 * material.density_kg_m3);
        if (b.is_bent)
            out += fmt::format("    bent{}: {} mm round its outer face, {} mm round the inner one\n",
                               b.bend_radius_mm > 0.0
                                   ? fmt::format(" to a radius of {} mm outside", tenth(b.bend_radius_mm))
                                   : std::string(),
                               tenth(b.outer_arc_mm), tenth(b.inner_arc_mm));
        if (const std::string text = bevels_of(b); !text.empty()) out += "    cuts lean " + text + "\n";
        if (const std::string text = corners_of(b); !text.empty())
            out += "    corners of its outer face, in order round it: " + text + " deg\n";
    }
    out += fmt::format(
        "  together {:.3f} L of board, {:.3f} m2 of blanks; the outside of {:.3f} L less the inside of "
        "{:.3f} L\n",
        litres, area_m2, enclosure.outside.litres(), enclosure.inside.litres());
    return out;
}

}  // namespace cli

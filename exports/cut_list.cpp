#include "exports/cut_list.h"

#include "exports/internal/write_bytes.h"
#include "geom/core/text.h"

#include <fmt/format.h>

namespace exports {
namespace {

std::string tenth(double v, int decimals = 2) {
    return geom::plain_number(geom::rounded(v, decimals));
}

}  // namespace

std::string cut_list_text(const std::vector<geom::parts::Board>& boards, const geom::parts::Material& material) {
    std::string out =
        "board,side,thickness_mm,length_mm,width_mm,outer_cm2,inner_cm2,litres,mass_kg,edge,meets,outer_mm,"
        "inner_mm,bevel_deg,corner_deg\n";
    for (const auto& b : boards) {
        const std::string head =
            fmt::format("{},{},{},{},{},{},{},{},{}", b.name, b.side, tenth(b.thickness_mm), tenth(b.length_mm),
                        tenth(b.width_mm), tenth(b.outer_mm2 / 100.0), tenth(b.inner_mm2 / 100.0),
                        tenth(b.volume_mm3 * 1e-6, 4), tenth(b.volume_mm3 * 1e-9 * material.density_kg_m3, 3));
        if (b.is_bent) out += fmt::format("{},round,,{},{},,\n", head, tenth(b.outer_arc_mm), tenth(b.inner_arc_mm));
        for (std::size_t k = 0; k < b.edges.size(); ++k) {
            const auto& edge = b.edges[k];
            out += fmt::format("{},{},{},{},{},{},{}\n", head, k + 1, edge.meets, tenth(edge.outer_mm),
                               tenth(edge.inner_mm), tenth(edge.bevel_deg), tenth(edge.corner_deg));
        }
    }
    return out;
}

geom::Status write_cut_list_csv(const std::vector<geom::parts::Board>& boards, const geom::parts::Material& material,
                                const std::filesystem::path& file) {
    return write_bytes(file, cut_list_text(boards, material));
}

}  // namespace exports

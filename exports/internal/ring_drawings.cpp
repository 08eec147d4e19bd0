#include "exports/internal/ring_drawings.h"

#include "exports/dxf.h"
#include "exports/internal/report_json.h"
#include "geom/core/text.h"
#include "geom/parts/face_drawing.h"

namespace exports {
namespace {

using Json = nlohmann::ordered_json;

Json layer_json(const geom::parts::SheetLayer& layer, const std::string& file) {
    Json j{{"name", layer.name},
           {"index", layer.number},
           {"piece", layer.piece},
           {"thickness_mm", layer.drawing.thickness_mm},
           {"from_mm", geom::rounded(layer.from_mm, 4)},
           {"to_mm", geom::rounded(layer.to_mm, 4)},
           {"file", file},
           {"area_cm2", geom::rounded(geom::parts::area_mm2(layer.drawing) / 100.0, 4)},
           {"volume_litres", geom::rounded(layer.volume.litres(), 6)},
           {"dowels", Json::array()}};
    for (const auto& dowel : layer.dowels)
        j["dowels"].push_back({{"joint", dowel.joint},
                               {"from", point_json(dowel.from)},
                               {"way", direction_json(dowel.way)},
                               {"depth_mm", geom::rounded(dowel.depth_mm, 4)},
                               {"diameter_mm", geom::rounded(dowel.diameter_mm, 4)},
                               {"wall_mm", geom::rounded(dowel.wall_mm, 4)}});
    return j;
}

}  // namespace

geom::Result<RingDrawings> write_ring_drawings(const geom::parts::Ring& ring, const geom::parts::RingRequest& request,
                                               const Names& names, const std::filesystem::path& folder) {
    RingDrawings written;
    const auto write = [&](const geom::parts::FlatDrawing& drawing) -> geom::Status {
        written.files.push_back(names.with_suffix(suffix_of(drawing.name), "dxf"));
        return write_dxf(drawing, folder / written.files.back());
    };
    if (ring.layers)
        for (const auto& layer : ring.layers->layers) {
            GAPWRIGHT_CHECK(write(layer.drawing));
            written.layers.push_back(layer_json(layer, written.files.back()));
        }
    const auto face = [&](const char* name, const geom::Plane& plane) -> geom::Status {
        const auto drawing = geom::parts::face_drawing(name, ring.product.solid, plane, request.up);
        if (drawing) return write(*drawing);
        if (drawing.error().code == geom::FaultCode::Impossible) return geom::Done{};
        return drawing.error();
    };
    GAPWRIGHT_CHECK(face("seat", request.seat.plane));
    GAPWRIGHT_CHECK(face("front", ring.front));
    return written;
}

}  // namespace exports

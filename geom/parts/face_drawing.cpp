#include "geom/parts/face_drawing.h"

#include "geom/parts/internal/face_loops.h"
#include "geom/parts/internal/site.h"

namespace geom::parts {

Result<FlatDrawing> face_drawing(const std::string& name, const Brep& solid, const Plane& plane, Vec3 up) {
    EXPECTS(!solid.is_null() && norm(plane.outward) > 0.0);
    return guard_occt("part", [&]() -> Result<FlatDrawing> {
        const auto faces = faces_in(to_occt(solid), drawing_frame(plane, up));
        if (faces.empty())
            return impossible(name + ": no plane face lies in the plane to be drawn, wanted one",
                              "draw the seat or the front face", plane.point);
        FlatDrawing drawing{.name = name, .thickness_mm = 0.0, .paths = {}, .circles = {}, .texts = {}};
        for (const FlatFace& face : faces) {
            add(drawing, face.outer, Operation::Outline);
            for (const FlatLoop& hole : face.holes) add(drawing, hole, Operation::ThroughHole);
        }
        return drawing;
    });
}

}  // namespace geom::parts

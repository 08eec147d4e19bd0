// A second look at a layer's drawing, by triangles of the solid that it is to be cut from.
#include "geom/measure/brep_measure.h"
#include "geom/parts/internal/contour.h"
#include "geom/parts/internal/outline_pieces.h"
#include "geom/parts/sheet_layers.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kTriangles_mm = 0.05, kBorder_mm = 0.002;

/// Borders of one operation.
std::vector<Outline> borders_of(const FlatDrawing& drawing, Operation operation) {
    std::vector<Outline> borders;
    for (const FlatPath& path : drawing.paths)
        if (path.operation == operation)
            borders.emplace_back(loop_of({.kind = RingOutline::Kind::Path, .path = path.points}, kBorder_mm));
    for (const FlatCircle& circle : drawing.circles) {
        if (circle.operation != operation) continue;
        Loop loop = loop_of(round_outline(Length::mm(2.0 * circle.radius_mm)), kBorder_mm);
        for (Point2& p : loop) p = p + Point2{circle.x, circle.y};
        borders.emplace_back(std::move(loop));
    }
    return borders;
}

}  // namespace

Result<double> cut_into_mm(const SheetLayer& layer, const Frame& drawn_in, const Context& context) {
    EXPECTS(!layer.solid.is_null());
    GAPWRIGHT_TRY(mesh, measure::tessellate(layer.solid, Length::mm(kTriangles_mm), context));
    const auto outlines = borders_of(layer.drawing, Operation::Outline);
    const auto holes = borders_of(layer.drawing, Operation::ThroughHole);
    double most = 0.0;
    for (const Point3& corner : mesh.vertices) {
        const Point3 at = drawn_in.to_local(corner);
        const Point2 p{at.x, at.y};
        double outside = 1e300;
        for (const Outline& outline : outlines) outside = std::min(outside, -outline.depth(p));
        most = std::max(most, outside);
        for (const Outline& hole : holes) most = std::max(most, hole.depth(p));
    }
    return most;
}

}  // namespace geom::parts

// What a layer is cut by: outlines that the machine cuts square, and what is drawn for whoever finishes it.
#pragma once

#include "geom/parts/sheet_layers.h"
#include "geom/skin/internal/occt.h"

namespace geom::parts {

/// `layer` has its heights and dowels; `bare` is its solid without the dowels' holes. z of `seat` outward.
/// Throws what the kernel throws.
Result<FlatDrawing> layer_drawing(const SheetRequest& request, const Frame& seat, const SheetLayer& layer,
                                  const TopoDS_Shape& bare, const Context& context);

}  // namespace geom::parts

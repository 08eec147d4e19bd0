// Is a B-rep sound as topology: checked apart from its volume, which proves nothing about it.
#pragma once

#include <TopoDS_Shape.hxx>

namespace geom::measure::internal {

/// The kernel's analyser with its geometric controls: curves on their surfaces, wires that cross, orientation.
bool passes_analyser(const TopoDS_Shape& shape);

/// Every edge of every shell is used twice, once each way (an edge with no length is left out).
bool is_closed(const TopoDS_Shape& shape);

/// Largest tolerance stored on a vertex, edge or face, mm.
double largest_tolerance(const TopoDS_Shape& shape);

}  // namespace geom::measure::internal

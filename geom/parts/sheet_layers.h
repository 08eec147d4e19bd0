// A ring made of sheets that are glued on one another: the solid of each layer, the dowels that hold the layers in
// place while the glue sets, and the drawing that each is cut by.
//
// Frame   vehicle, mm. Layers are counted from the seat; heights are over the seat plane, along its outward. Drawings:
//         origin at the seat's point, x to the right and y up for one who looks against the seat's outward.
#pragma once

#include "geom/core/context.h"
#include "geom/core/result.h"
#include "geom/core/units.h"
#include "geom/parts/flat_drawing.h"
#include "geom/skin/brep.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::parts {

struct DowelOptions {
    Length diameter = Length::mm(6);
    int count = 4;                ///< a joint; 0: none
    Length wall = Length::mm(3);  ///< least left of the ring to every wall, other dowel, and before its ends
    enum class Depth { Halfway, Through } depth = Depth::Halfway;  ///< through: of all inner layers
    bool opens_at_seat = false;  ///< of Through: the lowest layer is drilled right through
};

struct SheetOptions {
    Length thickness;  ///< of the sheet
    DowelOptions dowels{};
};

struct SheetRequest {
    std::string name = "ring";  ///< in faults
    Brep solid;
    Plane seat;                  ///< point: on the ring's axis; what lies behind it is a lip
    std::optional<Plane> front;  ///< the front face; tilted: its layers carry the bevel
    Vec3 up{0, 0, 1};            ///< of the drawings
    SheetOptions sheets;
};

struct DowelHole {
    int joint = 0;  ///< 1: between layers 1 and 2
    Point3 from;    ///< the joint's plane on the axis, or the layer's face of one that goes through
    Vec3 way;       ///< into the layer, unit
    double depth_mm = 0.0;
    double diameter_mm = 0.0;
    double wall_mm = 0.0;  ///< least left of the ring beside the whole dowel; never told too large
    bool goes_through = false;
};

/// One piece of a layer; most layers are one piece.
struct SheetLayer {
    std::string name;           ///< "layer 1 of 3"; "layer 3 of 3 piece 2"; "lip", "lip layer 2 of 2"
    int number = 0, piece = 0;  ///< number: from 1 over the seat; 0, -1, .. behind it. piece: 0 where there is but one
    Brep solid;
    Volume volume{};                    ///< of the B-rep, dowel holes taken off
    double from_mm = 0.0, to_mm = 0.0;  ///< heights over the seat
    std::vector<DowelHole> dowels;
    FlatDrawing drawing;
};

struct SheetLayers {
    Frame drawn_in;  ///< of all drawings: x right, y up, z along the seat's outward
    std::vector<SheetLayer> layers;
    std::vector<std::string> notes;
};

/// Dowels   stand square to the sheets at the same places in both layers, in each by half of it (less in a top layer
///          that is too low for it), turned by half a pitch from joint to joint; spread as evenly as the rules allow.
///          Walls are looked for at all heights that a dowel spans, on triangles within 0.05 mm of the solid.
/// Lip      what stands behind the seat is cut from sheets of its own; it gets no dowels, and the drawing of the lowest
///          layer shows where it is glued on.
/// Volumes  those of the layers add up to the solid's less those of the dowel holes.
/// Faults: BadJob      a value without meaning; a solid that lies behind the seat alone; a sheet as thick as the ring
///         Impossible  a joint where fewer than two dowels find a place: where the roomiest is and what it leaves
///         Internal    the kernel failed
Result<SheetLayers> make_sheet_layers(const SheetRequest& request, const Context& context);

/// How far the drawing, cut square, reaches into the finished layer: corners of triangles within 0.05 mm of the solid
/// that lie outside the outlines or in a hole, and how deep at most; about 0.01 mm of an exact drawing.
Result<double> cut_into_mm(const SheetLayer& layer, const Frame& drawn_in, const Context& context);

}  // namespace geom::parts

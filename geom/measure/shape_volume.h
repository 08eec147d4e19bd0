// What a shape of unknown origin holds, as far as that can be said: solids and voids, one total with its bounds, and
// what is wrong with the shape in words.
//
// Mesh      exact where all shells are closed and clear of one another: signed tetrahedra, and the areas of sections
//           along the three axes as a second method. Else bounds: open shells are closed by lids over their borders,
//           and the places that they surround by a quarter and by three quarters give the bounds (generalised winding
//           number over sample points); shells that cross count common room once.
// B-rep     integrals over the faces (brep_measure.h), and its own triangles within a chord as the second method.
// Units     mm, whatever the file's were.
#pragma once

#include "geom/core/context.h"
#include "geom/core/tri_mesh.h"
#include "geom/core/units.h"
#include "geom/measure/shells.h"
#include "geom/skin/brep.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::measure {

enum class Flaw {
    NotFinite,         ///< vertices without a place were dropped, with their triangles
    Collapsed,         ///< triangles with a repeated corner
    Sliver,            ///< triangles without area
    Doubled,           ///< triangles twice on the same corners
    Turned,            ///< triangles against their neighbours
    InsideOut,         ///< the outer surface faces inwards
    Crowded,           ///< edges of more than two triangles
    Seam,              ///< borders that lie on one another without sharing vertices
    Open,              ///< border loops that were closed by a lid
    OneSided,          ///< a surface that cannot be turned evenly
    Flat,              ///< an open sheet, or a closed one without inside
    Crossing,          ///< triangles that pass through one another
    Touching,          ///< triangles that touch or lie on one another, without common room
    NotLooked,         ///< too many triangles to look for crossings
    NestedAlike,       ///< a closed shell inside another one that faces the same way
    LooseVoid,         ///< a shell that faces inwards and lies in no other
    NotASolid,         ///< B-rep faces that bound no solid
    NotValid,          ///< a B-rep whose own checks fail
    WithoutTriangles,  ///< points only
    MethodsDisagree,   ///< two methods differ by more than what they leave out can explain
};
/// "crossing": for programs.
const char* name_of(Flaw flaw);
/// Whether the flaw leaves the volume uncertain.
bool leaves_doubt(Flaw flaw);

struct FlawFound {
    Flaw flaw = Flaw::Open;
    std::size_t count = 0;
    std::string what;  ///< a sentence
    std::string hint;  ///< what to try; may be empty where nothing has to be done
    std::optional<Point3> at;
};

/// One shell of the shape: the outside of a solid, or a void in one.
struct Body {
    std::string name;  ///< of the product in a STEP file; empty for meshes
    bool is_void = false;
    int within = -1;  ///< of a void: the body it lies in
    bool closed = false;
    Volume volume;  ///< of what the shell encloses, never negative; of an open one with its lids
    Area area;
    Aabb box;
    Point3 centre;                         ///< of the enclosed volume
    std::size_t triangles = 0, faces = 0;  ///< of a mesh, of a B-rep
    std::vector<BorderLoop> loops;         ///< of a mesh
};

/// A second value and how far it may be off the first.
struct SecondValue {
    std::string method;
    Volume volume;
    Volume bound;  ///< on the difference, by what the methods leave out
};

struct ShapeVolume {
    std::vector<Body> bodies;
    bool known = false;     ///< false: nothing can be said; see the flaws
    bool exact = false;     ///< but for rounding; false: `low` and `high` are all that is known
    Volume volume;          ///< of the material: solids less voids
    Volume low, high;       ///< bounds; with `exact`: those of rounding
    Volume rounding;        ///< what the numbers' last digits may change
    std::string precision;  ///< "single precision", "4 decimals"
    std::string method;
    std::vector<SecondValue> others;
    /// Where the triangles stand for a smooth surface (edges bent under 30 degrees): what that surface would hold more.
    std::optional<Volume> if_curved;
    Area area;
    Aabb box;
    Point3 centre;
    std::vector<FlawFound> flaws;
    TriMesh mesh;           ///< what was measured: tidied; of a B-rep its triangles
    double chord_mm = 0.0;  ///< of a B-rep's triangles
};

/// Where a second value is off by more than its bound, that is a flaw of the measuring or of the shape: the bounds are
/// drawn out to hold both values, and the answer is not exact.
void hold_methods_together(ShapeVolume& shape);

struct MeshInput {
    TriMesh mesh;                   ///< equal vertices already one
    std::size_t not_finite = 0;     ///< vertices that were dropped
    double file_unit_mm = 1.0;      ///< one unit of the file
    bool single_precision = false;  ///< by the format; else told by the numbers
    bool look_for_crossings = true;
};

/// Faults: Interrupted, Internal
Result<ShapeVolume> volume_of_mesh(MeshInput input, const Context& context);

struct NamedBrep {
    std::string name;
    Brep shape;
};
/// Faults: Interrupted, Internal
Result<ShapeVolume> volume_of_breps(const std::vector<NamedBrep>& shapes, Length chord, const Context& context);

/// The area of the shape's sections square to an axis. Where a face is level the area jumps, so it is told on both
/// sides of each height.
struct SectionRow {
    double at_mm = 0.0;
    double area_mm2 = 0.0;   ///< just above; at the top: just below
    double below_mm2 = 0.0;  ///< just below; at the bottom: 0
    double slice_mm3 = 0.0;  ///< exact volume from here to the next row; 0 at the top

    /// EXPECTS: neither the first nor the last row of its table.
    bool jumps() const;
};
struct SectionTable {
    int axis = 2;
    std::vector<SectionRow> rows;  ///< one more than slices, from end to end
    Volume trapezoids, simpson;    ///< rules over the areas, none of them over a jump at a row
    Volume exact;                  ///< of the same triangles
};
/// EXPECTS: slices >= 1, a closed mesh.
SectionTable section_table(const TriMesh& mesh, int axis, int slices);

}  // namespace geom::measure

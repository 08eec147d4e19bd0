// Solids of a STEP file (AP214 text, boundary representation of ISO 10303-42) read, judged and measured from the
// standard alone: no code of the program or of the kernel that wrote the file has a part in it.
//
// Read      products and their placements in the assembly; MANIFOLD_SOLID_BREP and BREP_WITH_VOIDS down to curves and
//           surfaces. The file's own units must be millimetres and radians.
// Judged    every edge of a shell used twice, opposite ways; loops closed; Euler's sum even and a genus not negative;
//           edge curves that end at their vertices and lie on the surfaces of both faces; faces that are not inside
//           out.
// Measured  volume, area, centre of mass: surface integrals face by face (divergence theorem), each over the trimmed
//           domain by Green's theorem round the face's loops in parameter space; see step_integral.cpp.
#pragma once

#include "tests/support/step_geometry.h"

#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace outside {

struct Edge {
    int start = 0, end = 0;  ///< numbers of the vertex instances
    V3 a, b;                 ///< where those are
    std::shared_ptr<const Curve> curve;
    double t0 = 0.0, t1 = 0.0;  ///< the curve is run through from t0 (start) to t1 (end), which may be less
    double end_gap = 0.0;       ///< of the curve's ends to the vertices
};
using Edges = std::map<int, Edge>;  ///< by instance number

struct EdgeUse {
    int edge = 0;
    bool is_forward = true;
};
struct Loop {
    std::vector<EdgeUse> uses;  ///< in the order and the ways of the loop round the face's normal
    int vertex = 0;             ///< of a loop that is one vertex
};
struct Face {
    int id = 0;
    std::shared_ptr<const Surface> surface;
    bool same_sense = true;
    std::vector<Loop> loops;
    Sums sums;                 ///< about the solid's origin, along the face's normal
    double off_surface = 0.0;  ///< greatest distance of a sample of its edges to the surface
    double unresolved = 0.0;   ///< of its volume: the last change of the quadrature, summed over its edges
    std::string fault;
};
struct Shell {
    bool is_forward = true;  ///< else all its normals are to be turned round
    std::vector<Face> faces;
    int vertices = 0, edges = 0, loops = 0, genus = 0;
    double volume = 0.0;  ///< what it adds to the solid: negative for a void
};

struct Solid {
    Edges edges;
    std::vector<Shell> shells;  ///< the outer one first
    V3 origin;                  ///< of the faces' sums
    double volume = 0.0, area = 0.0;
    V3 centre;  ///< of mass, in the frame of the whole file
    V3 lo, hi;  ///< box of the vertices, in the product's own frame
    double off_surface = 0.0, end_gap = 0.0, unresolved = 0.0;
    double open_area = 0.0;  ///< length of the vector area of all faces: nothing when they close
    std::vector<std::string> faults;

    int faces() const;
    int genus() const;
};

struct Product {
    std::string name;
    bool is_component = false;  ///< placed in an assembly, else a root of its own
    Axes placement;             ///< of the product's frame in that of the whole file
    std::vector<Solid> solids;
};

struct ReadOptions {
    /// The most that a curve may leave its surface or miss its vertex, mm. The kernel joins faces within 1e-3 and says
    /// in the file how near they are ("distance_accuracy_value", 5e-5 to 1e-4 in ours).
    double tolerance_mm = 1e-3;
};

/// Faults: StepFault  the file does not follow the standard or holds what is not read; faults of solids are in `faults`
std::vector<Product> read_step(std::string_view text, const ReadOptions& options = {});

/// Sums over the face about `origin`; fills off_surface, unresolved and fault.
void integrate(Face& face, const Edges& edges, V3 origin, double size);

/// Volume of the cone from `origin` over the fan from `middle` over the loop of edges (turning as the uses do).
double volume_over_fan(const Edges& edges, const std::vector<EdgeUse>& uses, V3 middle, V3 origin);

}  // namespace outside

// Which meshes a glTF shows and where: the nodes of its scene with their transforms, and the extensions that would
// change what they show.
#pragma once

#include "geom/core/vec.h"
#include "geom/scan/internal/gltf_accessors.h"

#include <optional>
#include <string>
#include <vector>

namespace geom::scan::internal::gltf {

/// Rows are vertices: columns of the linear part, then the place of the origin.
struct Affine {
    Vec3 x{1, 0, 0}, y{0, 1, 0}, z{0, 0, 1}, origin;
    Vec3 turn(Vec3 v) const { return x * v.x + y * v.y + z * v.z; }
    Point3 take(Point3 p) const { return turn(p) + origin; }
    bool mirrors() const { return dot(cross(x, y), z) < 0.0; }
    friend Affine operator*(const Affine& a, const Affine& b) {
        return {a.turn(b.x), a.turn(b.y), a.turn(b.z), a.take(b.origin)};
    }
};

struct Instance {
    int mesh = -1;
    Affine file_from_mesh;
};

bool is_compression(const std::string& extension);

/// What the file requires and is not read.
std::optional<Refusal> check_extensions(const Model& model);

/// Meshes of the default scene, or of all scenes when there is none, in the order of the nodes.
std::optional<Refusal> find_instances(const Model& model, std::vector<Instance>& instances);

}  // namespace geom::scan::internal::gltf

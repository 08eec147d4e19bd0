#include "geom/scan/internal/gltf_scene.h"

#include <cmath>
#include <set>

namespace geom::scan::internal::gltf {

namespace {

Affine transform_of(const tinygltf::Node& node) {
    Affine t;
    if (node.matrix.size() == 16) {
        const auto column = [&](std::size_t c) {
            return Vec3{node.matrix[4 * c], node.matrix[4 * c + 1], node.matrix[4 * c + 2]};
        };
        return {column(0), column(1), column(2), column(3)};
    }
    if (node.rotation.size() == 4) {
        double x = node.rotation[0], y = node.rotation[1], z = node.rotation[2], w = node.rotation[3];
        const double n = std::sqrt(x * x + y * y + z * z + w * w);
        if (n > 0.0) {
            x /= n, y /= n, z /= n, w /= n;
            t.x = {1 - 2 * (y * y + z * z), 2 * (x * y + z * w), 2 * (x * z - y * w)};
            t.y = {2 * (x * y - z * w), 1 - 2 * (x * x + z * z), 2 * (y * z + x * w)};
            t.z = {2 * (x * z + y * w), 2 * (y * z - x * w), 1 - 2 * (x * x + y * y)};
        }
    }
    if (node.scale.size() == 3) t.x = t.x * node.scale[0], t.y = t.y * node.scale[1], t.z = t.z * node.scale[2];
    if (node.translation.size() == 3) t.origin = {node.translation[0], node.translation[1], node.translation[2]};
    return t;
}

/// Extensions that may be required and leave the vertices where they are.
bool is_harmless(const std::string& extension) {
    for (const char* prefix :
         {"KHR_materials_", "KHR_texture_", "KHR_lights_", "EXT_texture_", "MSFT_texture_", "EXT_lights_"})
        if (extension.starts_with(prefix)) return true;
    return extension == "KHR_mesh_quantization" || extension == "KHR_xmp_json_ld";
}

}  // namespace

bool is_compression(const std::string& extension) {
    return extension == "KHR_draco_mesh_compression" || extension == "EXT_meshopt_compression" ||
           extension == "KHR_meshopt_compression";
}

std::optional<Refusal> check_extensions(const Model& model) {
    for (const std::string& extension : model.extensionsRequired) {
        if (is_compression(extension))
            return Refusal{fmt::format("its vertices are compressed ({}), which is not read", extension),
                           "export without compression, or save it as PLY or STL"};
        if (!is_harmless(extension))
            return Refusal{fmt::format("it requires the extension {}, which is not read", extension), kExportAgain};
    }
    for (const tinygltf::BufferView& view : model.bufferViews)
        for (const auto& [name, ignored] : view.extensions)
            if (is_compression(name) && view.buffer >= 0 &&
                static_cast<std::size_t>(view.buffer) < model.buffers.size() &&
                model.buffers[static_cast<std::size_t>(view.buffer)].data.empty())
                return Refusal{fmt::format("its vertices are compressed ({}), which is not read", name),
                               "export without compression, or save it as PLY or STL"};
    return std::nullopt;
}

std::optional<Refusal> find_instances(const Model& model, std::vector<Instance>& instances) {
    std::vector<int> roots;
    const auto scene_nodes = [&](std::size_t s) {
        roots.insert(roots.end(), model.scenes[s].nodes.begin(), model.scenes[s].nodes.end());
    };
    if (model.defaultScene >= 0 && static_cast<std::size_t>(model.defaultScene) < model.scenes.size()) {
        scene_nodes(static_cast<std::size_t>(model.defaultScene));
    } else {
        for (std::size_t s = 0; s < model.scenes.size(); ++s) scene_nodes(s);
    }
    if (model.scenes.empty()) {
        std::set<int> children;
        for (const tinygltf::Node& node : model.nodes) children.insert(node.children.begin(), node.children.end());
        for (std::size_t n = 0; n < model.nodes.size(); ++n)
            if (children.count(static_cast<int>(n)) == 0) roots.push_back(static_cast<int>(n));
    }
    if (model.nodes.empty())
        for (std::size_t m = 0; m < model.meshes.size(); ++m) instances.push_back({static_cast<int>(m), {}});
    struct Visit {
        int node;
        Affine file_from_parent;
    };
    std::vector<Visit> open;
    std::set<int> in_scene, seen;
    for (auto root = roots.rbegin(); root != roots.rend(); ++root)
        if (in_scene.insert(*root).second) open.push_back({*root, {}});  // scenes may share a root
    while (!open.empty()) {
        const Visit visit = open.back();
        open.pop_back();
        if (visit.node < 0 || static_cast<std::size_t>(visit.node) >= model.nodes.size())
            return Refusal{fmt::format("a scene names node {}, of {}", visit.node, model.nodes.size()), kExportAgain};
        if (!seen.insert(visit.node).second)
            return Refusal{fmt::format("node {} stands in a loop or under two others", visit.node), kExportAgain};
        const tinygltf::Node& node = model.nodes[static_cast<std::size_t>(visit.node)];
        const Affine t = visit.file_from_parent * transform_of(node);
        if (node.extensions.count("EXT_mesh_gpu_instancing") != 0)
            return Refusal{"it repeats meshes by EXT_mesh_gpu_instancing, which is not read", kExportAgain};
        if (node.mesh >= 0) instances.push_back({node.mesh, t});
        for (auto child = node.children.rbegin(); child != node.children.rend(); ++child) open.push_back({*child, t});
    }
    for (const Instance& instance : instances)
        if (static_cast<std::size_t>(instance.mesh) >= model.meshes.size())
            return Refusal{fmt::format("a node names mesh {}, of {}", instance.mesh, model.meshes.size()),
                           kExportAgain};
    return std::nullopt;
}

}  // namespace geom::scan::internal::gltf

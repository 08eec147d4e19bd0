// glTF 2.0, as text (.gltf with its buffers beside or inside) and packed (.glb). The packaged TinyGLTF reads the
// container and the JSON; what the numbers mean is read here. Of the packaged readers it was the one that neither
// crashed nor hung on some 1700 cut and altered files (a large importer of many formats hung on one), took a third of
// the time and of the memory on 2.9 million points, and brings 0.4 MB; it does not check what an accessor reaches for,
// so that is done here.
//
// Frame     the file's: metres, y up, by the format's definition. Nodes' transforms are applied; one that mirrors turns
//           the triangles round. Equal corners are joined, since exporters split them along texture seams.
// Read      points, triangles, strips and fans, with or without indices; accessors of any number type, interleaved or
//           sparse; all meshes of the default scene, or of all scenes when there is none. Lines are walked past;
//           normals are kept for a file of points alone.
// Refused   compressed geometry without a plain copy, and any other extension that the file requires and that moves
//           vertices.
#include "geom/scan/internal/corner_join.h"
#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/formats.h"

#include <fmt/format.h>
#include <tiny_gltf.h>

#include <cstring>
#include <fstream>
#include <map>
#include <optional>
#include <set>

namespace geom::scan::internal {
namespace {

using tinygltf::Accessor;
using tinygltf::Model;

/// What goes wrong below parse_gltf(), where the file's name is put before it.
struct Refusal {
    std::string what, hint;
};

const char* const kExportAgain = "export the scan again, best as GLB without compression, or as PLY";

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

template <class T>
double load(const unsigned char* at, double divisor) {
    T value;
    std::memcpy(&value, at, sizeof(T));  // little endian, as this program's machines are
    return std::max(static_cast<double>(value) / divisor, divisor == 1.0 ? -1e300 : -1.0);
}

using Loader = double (*)(const unsigned char*, double);

struct Component {
    std::size_t size = 0;
    double largest = 1.0;  ///< what a normalised one is divided by
    Loader load = nullptr;
};

Component component_of(int type) {
    switch (type) {
        case TINYGLTF_COMPONENT_TYPE_BYTE:
            return {1, 127.0, &load<std::int8_t>};
        case TINYGLTF_COMPONENT_TYPE_UNSIGNED_BYTE:
            return {1, 255.0, &load<std::uint8_t>};
        case TINYGLTF_COMPONENT_TYPE_SHORT:
            return {2, 32767.0, &load<std::int16_t>};
        case TINYGLTF_COMPONENT_TYPE_UNSIGNED_SHORT:
            return {2, 65535.0, &load<std::uint16_t>};
        case TINYGLTF_COMPONENT_TYPE_UNSIGNED_INT:
            return {4, 4294967295.0, &load<std::uint32_t>};
        case TINYGLTF_COMPONENT_TYPE_FLOAT:
            return {4, 1.0, &load<float>};
        default:
            return {};
    }
}

class Reader {
public:
    explicit Reader(const Model& model) : model_(model) {}

    /// Whether accessor `index` holds `width` numbers each and all of it lies in its buffers.
    std::optional<Refusal> check(int index, std::size_t width, const char* what) const {
        if (index < 0 || static_cast<std::size_t>(index) >= model_.accessors.size())
            return Refusal{fmt::format("{} are accessor {}, of {}", what, index, model_.accessors.size()),
                           kExportAgain};
        const Accessor& a = model_.accessors[static_cast<std::size_t>(index)];
        const Component component = component_of(a.componentType);
        const int of_type = tinygltf::GetNumComponentsInType(static_cast<std::uint32_t>(a.type));
        if (component.load == nullptr || of_type != static_cast<int>(width))
            return Refusal{fmt::format("accessor {} holds {} as type {} of component {}, wanted {} numbers", index,
                                       what, a.type, a.componentType, width),
                           kExportAgain};
        const std::string where = fmt::format("accessor {} ({})", index, what);
        if (a.bufferView >= 0) {
            if (auto r = reach(where, a.bufferView, a.byteOffset, stride_of(a, width), component.size * width, a.count))
                return r;
        } else if (!a.sparse.isSparse && a.count > 0) {
            return Refusal{where + " has no data", kExportAgain};
        }
        if (a.sparse.isSparse) {
            const Component of_index = component_of(a.sparse.indices.componentType);
            if (of_index.load == nullptr || a.sparse.count < 0 || static_cast<std::size_t>(a.sparse.count) > a.count ||
                a.sparse.indices.byteOffset < 0 || a.sparse.values.byteOffset < 0)
                return Refusal{where + " has sparse values that make no sense", kExportAgain};
            const auto count = static_cast<std::size_t>(a.sparse.count);
            if (auto r =
                    reach(where, a.sparse.indices.bufferView, static_cast<std::size_t>(a.sparse.indices.byteOffset),
                          of_index.size, of_index.size, count))
                return r;
            if (auto r = reach(where, a.sparse.values.bufferView, static_cast<std::size_t>(a.sparse.values.byteOffset),
                               component.size * width, component.size * width, count))
                return r;
        }
        return std::nullopt;
    }

    /// Its values; checked before.
    template <std::size_t Width, class Take>
    std::optional<Refusal> each(int index, Take take) const {
        const Accessor& a = model_.accessors[static_cast<std::size_t>(index)];
        const Component component = component_of(a.componentType);
        const double divisor = a.normalized ? component.largest : 1.0;
        const auto value = [&](const unsigned char* at) {
            std::array<double, Width> v;
            for (std::size_t k = 0; k < Width; ++k) v[k] = component.load(at + k * component.size, divisor);
            return v;
        };
        std::map<std::size_t, const unsigned char*> instead;
        if (a.sparse.isSparse) {
            const Component of_index = component_of(a.sparse.indices.componentType);
            const unsigned char* at =
                data(a.sparse.indices.bufferView, static_cast<std::size_t>(a.sparse.indices.byteOffset));
            const unsigned char* values =
                data(a.sparse.values.bufferView, static_cast<std::size_t>(a.sparse.values.byteOffset));
            for (std::size_t i = 0; i < static_cast<std::size_t>(a.sparse.count); ++i) {
                const double which = of_index.load(at + i * of_index.size, 1.0);
                if (!(which >= 0.0) || which >= static_cast<double>(a.count))
                    return Refusal{fmt::format("accessor {} replaces value {} of {}", index, which, a.count),
                                   kExportAgain};
                instead[static_cast<std::size_t>(which)] = values + i * component.size * Width;
            }
        }
        const unsigned char* from = a.bufferView >= 0 ? data(a.bufferView, a.byteOffset) : nullptr;
        const std::size_t stride = a.bufferView >= 0 ? stride_of(a, Width) : 0;
        auto next = instead.begin();
        for (std::size_t i = 0; i < a.count; ++i) {
            if (next != instead.end() && next->first == i)
                take(value((next++)->second));
            else
                take(from != nullptr ? value(from + i * stride) : std::array<double, Width>{});
        }
        return std::nullopt;
    }

    std::size_t count(int index) const { return model_.accessors[static_cast<std::size_t>(index)].count; }

private:
    std::size_t stride_of(const Accessor& a, std::size_t width) const {
        const std::size_t given = static_cast<std::size_t>(a.bufferView) < model_.bufferViews.size()
                                      ? model_.bufferViews[static_cast<std::size_t>(a.bufferView)].byteStride
                                      : 0;
        return given != 0 ? given : component_of(a.componentType).size * width;
    }
    const unsigned char* data(int view, std::size_t offset) const {
        const tinygltf::BufferView& v = model_.bufferViews[static_cast<std::size_t>(view)];
        return model_.buffers[static_cast<std::size_t>(v.buffer)].data.data() + v.byteOffset + offset;
    }
    std::optional<Refusal> reach(const std::string& where, int view, std::size_t offset, std::size_t stride,
                                 std::size_t size, std::size_t count) const {
        if (view < 0 || static_cast<std::size_t>(view) >= model_.bufferViews.size())
            return Refusal{fmt::format("{} lies in buffer view {}, of {}", where, view, model_.bufferViews.size()),
                           kExportAgain};
        const tinygltf::BufferView& v = model_.bufferViews[static_cast<std::size_t>(view)];
        if (v.buffer < 0 || static_cast<std::size_t>(v.buffer) >= model_.buffers.size())
            return Refusal{fmt::format("{} lies in buffer {}, of {}", where, v.buffer, model_.buffers.size()),
                           kExportAgain};
        const std::size_t held = model_.buffers[static_cast<std::size_t>(v.buffer)].data.size();
        if (v.byteOffset > held || v.byteLength > held - v.byteOffset)
            return Refusal{fmt::format("{} lies at bytes {} to {} of a buffer of {} bytes", where, v.byteOffset,
                                       static_cast<double>(v.byteOffset) + static_cast<double>(v.byteLength), held),
                           "copy or export the file again; its counts and its data do not agree"};
        if (count == 0) return std::nullopt;
        if (offset > v.byteLength || size > v.byteLength - offset ||
            (count - 1) > (v.byteLength - offset - size) / stride)
            return Refusal{fmt::format("{} asks for {} values of {} bytes, but its buffer view holds {} bytes", where,
                                       count, size, v.byteLength),
                           "copy or export the file again; its counts and its data do not agree"};
        return std::nullopt;
    }

    const Model& model_;
};

bool is_compression(const std::string& extension) {
    return extension == "KHR_draco_mesh_compression" || extension == "EXT_meshopt_compression" ||
           extension == "KHR_meshopt_compression";
}

/// Extensions that may be required and leave the vertices where they are.
bool is_harmless(const std::string& extension) {
    for (const char* prefix :
         {"KHR_materials_", "KHR_texture_", "KHR_lights_", "EXT_texture_", "MSFT_texture_", "EXT_lights_"})
        if (extension.starts_with(prefix)) return true;
    return extension == "KHR_mesh_quantization" || extension == "KHR_xmp_json_ld";
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

struct Instance {
    int mesh = -1;
    Affine file_from_mesh;
};

/// Meshes of the scene with their transforms, in the order of the nodes.
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

constexpr int kDefaultMode = TINYGLTF_MODE_TRIANGLES;

int mode_of(const tinygltf::Primitive& primitive) {
    return primitive.mode < 0 ? kDefaultMode : primitive.mode;
}

bool is_surface(int mode) {
    return mode == TINYGLTF_MODE_TRIANGLES || mode == TINYGLTF_MODE_TRIANGLE_STRIP ||
           mode == TINYGLTF_MODE_TRIANGLE_FAN;
}

/// Turns `corners` into triangles as `mode` says.
void add_triangles(int mode, bool mirrored, const std::vector<std::uint32_t>& corners,
                   std::vector<std::array<std::uint32_t, 3>>& triangles) {
    const auto add = [&](std::uint32_t a, std::uint32_t b, std::uint32_t c) {
        if (mirrored) std::swap(b, c);
        triangles.push_back({a, b, c});
    };
    if (mode == TINYGLTF_MODE_TRIANGLES)
        for (std::size_t k = 0; k + 2 < corners.size(); k += 3) add(corners[k], corners[k + 1], corners[k + 2]);
    if (mode == TINYGLTF_MODE_TRIANGLE_STRIP)
        for (std::size_t k = 0; k + 2 < corners.size(); ++k)
            add(corners[k], corners[k + 1 + k % 2], corners[k + 2 - k % 2]);
    if (mode == TINYGLTF_MODE_TRIANGLE_FAN)
        for (std::size_t k = 1; k + 1 < corners.size(); ++k) add(corners[k], corners[k + 1], corners[0]);
}

/// All that the instances hold, in the frame of the file.
class Collector {
public:
    Collector(const FileBytes& file, const Model& model) : file_(file), model_(model), reader_(model) {}

    Status collect(const std::vector<Instance>& instances, Parsed& parsed) {
        std::size_t cloud = 0, corners = 0, vertices = 0;
        GAPWRIGHT_CHECK(count(instances, cloud, corners, vertices));
        if (corners > 0) {
            GAPWRIGHT_CHECK(file_.budget.check_mesh(file_.name, vertices + cloud, corners / 3, false));
        } else {
            GAPWRIGHT_TRY(keep, file_.budget.keep_of_cloud(file_.name, cloud, has_normals_));
            parsed.kept_every = keep;
            parsed.in_file = cloud;
        }
        keep_every_ = parsed.kept_every;
        has_normals_ = has_normals_ && corners == 0;
        for (const Instance& instance : instances)
            for (const tinygltf::Primitive& primitive : mesh_of(instance).primitives)
                if (mode_of(primitive) == TINYGLTF_MODE_POINTS)
                    GAPWRIGHT_CHECK(add_cloud(primitive, instance.file_from_mesh, parsed));
        CornerJoin join(parsed.points);
        for (const Instance& instance : instances)
            for (const tinygltf::Primitive& primitive : mesh_of(instance).primitives)
                if (is_surface(mode_of(primitive)))
                    GAPWRIGHT_CHECK(add_surface(primitive, instance.file_from_mesh, join, parsed));
        return Done{};
    }

private:
    const tinygltf::Mesh& mesh_of(const Instance& instance) const {
        return model_.meshes[static_cast<std::size_t>(instance.mesh)];
    }
    Fault fault(const Refusal& refusal) const { return unreadable(file_, refusal.what, refusal.hint); }

    Status count(const std::vector<Instance>& instances, std::size_t& cloud, std::size_t& corners,
                 std::size_t& vertices) {
        has_normals_ = true;
        for (const Instance& instance : instances)
            for (const tinygltf::Primitive& primitive : mesh_of(instance).primitives) {
                const int mode = mode_of(primitive);
                if (mode != TINYGLTF_MODE_POINTS && !is_surface(mode)) continue;
                const auto position = primitive.attributes.find("POSITION");
                if (position == primitive.attributes.end()) {
                    for (const auto& [name, ignored] : primitive.extensions)
                        if (is_compression(name))
                            return fault({fmt::format("its vertices are compressed ({}), which is not read", name),
                                          "export without compression, or save it as PLY or STL"});
                    continue;
                }
                for (const auto& [name, ignored] : primitive.extensions)
                    if (is_compression(name) && !has_data(position->second))
                        return fault({fmt::format("its vertices are compressed ({}), which is not read", name),
                                      "export without compression, or save it as PLY or STL"});
                if (auto r = reader_.check(position->second, 3, "places")) return fault(*r);
                if (primitive.indices >= 0)
                    if (auto r = reader_.check(primitive.indices, 1, "indices")) return fault(*r);
                const std::size_t here = reader_.count(position->second);
                const std::size_t used = primitive.indices >= 0 ? reader_.count(primitive.indices) : here;
                if (mode == TINYGLTF_MODE_POINTS) {
                    cloud += here;
                    const auto normal = primitive.attributes.find("NORMAL");
                    has_normals_ = has_normals_ && normal != primitive.attributes.end() &&
                                   !reader_.check(normal->second, 3, "normals") &&
                                   reader_.count(normal->second) == here;
                } else {
                    vertices += here;
                    corners += mode == TINYGLTF_MODE_TRIANGLES ? used : used * 3;
                }
                // A sparse accessor without a base may claim any count.
                if (here > (std::size_t{1} << 32) - 2)
                    return fault({fmt::format("an accessor of {} places, more than any mesh", here), kExportAgain});
            }
        return Done{};
    }

    bool has_data(int accessor) const {
        if (accessor < 0 || static_cast<std::size_t>(accessor) >= model_.accessors.size()) return false;
        const Accessor& a = model_.accessors[static_cast<std::size_t>(accessor)];
        return a.bufferView >= 0 || a.sparse.isSparse;
    }

    Status add_cloud(const tinygltf::Primitive& primitive, const Affine& t, Parsed& parsed) {
        std::size_t i = 0;
        const int position = primitive.attributes.at("POSITION");
        if (auto r = reader_.each<3>(position, [&](const std::array<double, 3>& v) {
                if ((points_ + i++) % keep_every_ == 0) parsed.points.push_back(t.take({v[0], v[1], v[2]}));
            }))
            return fault(*r);
        if (has_normals_) {
            i = 0;
            if (auto r = reader_.each<3>(primitive.attributes.at("NORMAL"), [&](const std::array<double, 3>& v) {
                    if ((points_ + i++) % keep_every_ != 0) return;
                    // By the inverse transpose, so that a scale that differs by axis keeps them upright.
                    const double side = t.mirrors() ? -1.0 : 1.0;
                    parsed.normals.push_back(
                        (cross(t.y, t.z) * v[0] + cross(t.z, t.x) * v[1] + cross(t.x, t.y) * v[2]) * side);
                }))
                return fault(*r);
        }
        points_ += i;
        note_colours(primitive, parsed);
        return Done{};
    }

    Status add_surface(const tinygltf::Primitive& primitive, const Affine& t, CornerJoin& join, Parsed& parsed) {
        const auto position = primitive.attributes.find("POSITION");
        if (position == primitive.attributes.end()) return Done{};
        std::vector<std::uint32_t> index_of, corners;
        index_of.reserve(reader_.count(position->second));
        if (auto r = reader_.each<3>(position->second, [&](const std::array<double, 3>& v) {
                index_of.push_back(join.index(t.take({v[0], v[1], v[2]})));
            }))
            return fault(*r);
        if (primitive.indices < 0) {
            corners = std::move(index_of);
        } else {
            corners.reserve(reader_.count(primitive.indices));
            std::optional<double> wrong;
            if (auto r = reader_.each<1>(primitive.indices, [&](const std::array<double, 1>& v) {
                    if (v[0] >= 0.0 && v[0] < static_cast<double>(index_of.size()))
                        corners.push_back(index_of[static_cast<std::size_t>(v[0])]);
                    else if (!wrong)
                        wrong = v[0];
                }))
                return fault(*r);
            if (wrong)
                return fault({fmt::format("vertex index {} in accessor {}, wanted 0 to {}", *wrong, primitive.indices,
                                          static_cast<long long>(index_of.size()) - 1),
                              "export the scan again"});
        }
        add_triangles(mode_of(primitive), t.mirrors(), corners, parsed.triangles);
        note_colours(primitive, parsed);
        return Done{};
    }

    static void note_colours(const tinygltf::Primitive& primitive, Parsed& parsed) {
        if (primitive.attributes.count("COLOR_0") != 0) parsed.has_colours = true;
    }

    const FileBytes& file_;
    const Model& model_;
    Reader reader_;
    bool has_normals_ = true;
    std::size_t keep_every_ = 1, points_ = 0;
};

/// The library reads textures too when they are beside the file; they are none of this program's business.
bool is_picture(const std::string& name) {
    std::string ending = std::filesystem::path(name).extension().string();
    for (char& c : ending)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    for (const char* known : {".png", ".jpg", ".jpeg", ".webp", ".ktx", ".ktx2", ".basis", ".dds", ".gif", ".bmp"})
        if (ending == known) return true;
    return false;
}

struct Beside {
    double most_bytes;
};

bool exists_beside(const std::string& name, void*) {
    std::error_code error;
    return !is_picture(name) && std::filesystem::is_regular_file(name, error);
}

bool read_beside(std::vector<unsigned char>* out, std::string* problem, const std::string& name, void* user) {
    std::error_code error;
    const auto size = std::filesystem::file_size(name, error);
    if (error || static_cast<double>(size) > static_cast<const Beside*>(user)->most_bytes) {
        *problem += name + (error ? ": cannot be read\n" : ": larger than the memory limit\n");
        return false;
    }
    std::ifstream stream(name, std::ios::binary);
    out->resize(static_cast<std::size_t>(size));
    stream.read(reinterpret_cast<char*>(out->data()), static_cast<std::streamsize>(size));
    if (static_cast<std::size_t>(stream.gcount()) == out->size()) return true;
    *problem += name + ": cannot be read\n";
    return false;
}

std::string first_line(std::string text) {
    text = text.substr(0, text.find('\n'));
    for (char& c : text)
        if (c < 32 || c >= 127) c = '?';
    while (!text.empty() && (text.back() == '.' || text.back() == ' ')) text.pop_back();
    return text.empty() ? "nothing is said about why" : text.size() > 160 ? text.substr(0, 160) + "..." : text;
}

std::uint32_t little_u32(std::string_view bytes, std::size_t at) {
    std::uint32_t value = 0;
    for (std::size_t i = 4; i-- > 0;) value = value << 8 | static_cast<unsigned char>(bytes[at + i]);
    return value;
}

/// The container of a GLB, judged here because its faults are those of a copy that went wrong.
std::optional<Refusal> check_container(std::string_view bytes) {
    const std::string hint = "copy or export the file again";
    if (bytes.size() < 20)
        return Refusal{fmt::format("{} bytes, wanted at least the 20 of a GLB header", bytes.size()), hint};
    if (const auto version = little_u32(bytes, 4); version != 2)
        return Refusal{fmt::format("glTF version {}, wanted 2", version), "export it as glTF 2.0"};
    if (const auto length = little_u32(bytes, 8); length > bytes.size())
        return Refusal{fmt::format("byte 8 declares {} bytes, but the file has {}", length, bytes.size()), hint};
    if (const auto chunk = little_u32(bytes, 12); chunk > bytes.size() - 20)
        return Refusal{fmt::format("byte 12 declares {} bytes of JSON, but {} follow", chunk, bytes.size() - 20), hint};
    if (bytes.substr(16, 4) != "JSON")
        return Refusal{"the first chunk of the GLB is " + in_quotes(bytes.substr(16, 4)) + ", wanted \"JSON\"", hint};
    return std::nullopt;
}

}  // namespace

Result<Parsed> parse_gltf(const FileBytes& file, bool is_binary) try {
    if (is_binary)
        if (auto r = check_container(file.bytes)) return unreadable(file, r->what, r->hint);
    const double left = file.budget.limit_bytes - file.budget.used_bytes;
    if (static_cast<double>(file.bytes.size()) > left || file.bytes.size() > 0xFFFFFFF0u)
        return Fault{FaultCode::MemoryLimit,
                     fmt::format("{}: {} MB of glTF, wanted at most {:.0f} MB", file.name, file.bytes.size() / 1000000,
                                 left / 1e6),
                     "export it with fewer triangles, or without textures",
                     {},
                     {}};
    tinygltf::TinyGLTF loader;
    loader.SetImageLoader([](tinygltf::Image*, const int, std::string*, std::string*, int, int, const unsigned char*,
                             int, void*) { return true; },
                          nullptr);
    Beside beside{left};
    tinygltf::FsCallbacks files{};
    files.FileExists = &exists_beside;
    files.ExpandFilePath = [](const std::string& path, void*) { return path; };
    files.ReadWholeFile = &read_beside;
    files.WriteWholeFile = [](std::string*, const std::string&, const std::vector<unsigned char>&, void*) {
        return false;
    };
    files.user_data = &beside;
    loader.SetFsCallbacks(files);

    Model model;
    std::string error, warning;
    const std::string folder = file.folder.string();
    const auto length = static_cast<unsigned int>(file.bytes.size());
    const bool is_read =
        is_binary
            ? loader.LoadBinaryFromMemory(&model, &error, &warning,
                                          reinterpret_cast<const unsigned char*>(file.bytes.data()), length, folder)
            : loader.LoadASCIIFromString(&model, &error, &warning, file.bytes.data(), length, folder);
    if (!is_read) {
        // Compressed triangles are named by accessors without data, at which the library stops.
        for (const char* name : {"KHR_draco_mesh_compression", "EXT_meshopt_compression"})
            if (file.bytes.substr(0, std::size_t{1} << 22).find(name) != std::string_view::npos)
                return unreadable(file, fmt::format("its vertices are compressed ({}), which is not read", name),
                                  "export without compression, or save it as PLY or STL");
        return unreadable(file, fmt::format("no sound glTF: {}", first_line(error.empty() ? warning : error)),
                          "copy or export the file again, with the .bin files that it names beside it");
    }
    if (!model.asset.version.starts_with("2."))
        return unreadable(file, fmt::format("glTF version {}, wanted 2.0", in_quotes(model.asset.version)),
                          "export it as glTF 2.0");
    if (auto r = check_extensions(model)) return unreadable(file, r->what, r->hint);
    std::vector<Instance> instances;
    if (auto r = find_instances(model, instances)) return unreadable(file, r->what, r->hint);

    Parsed parsed;
    parsed.format = is_binary ? "glTF, binary" : "glTF, text";
    parsed.is_metres = true;
    GAPWRIGHT_CHECK(Collector(file, model).collect(instances, parsed));
    if (parsed.points.empty())
        return unreadable(file, "a glTF whose scene shows no points and no triangles",
                          "export the scan itself, not only its camera or lights");
    return parsed;
} catch (const std::bad_alloc&) {
    throw;
} catch (const std::exception& problem) {
    return unreadable(file, fmt::format("no sound glTF: {}", first_line(problem.what())), kExportAgain);
}

}  // namespace geom::scan::internal

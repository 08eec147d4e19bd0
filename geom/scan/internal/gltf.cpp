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
#include "geom/scan/internal/gltf_accessors.h"
#include "geom/scan/internal/gltf_scene.h"

#include <fmt/format.h>
#include <tiny_gltf.h>

#include <fstream>
#include <optional>

namespace geom::scan::internal {
namespace {

using namespace gltf;

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
    Accessors reader_;
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
    parsed.own_unit = FileUnit::Metre;
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

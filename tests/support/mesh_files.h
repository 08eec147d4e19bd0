// Meshes written in every format that is read, as plainly as each allows: so that readers are held against something
// that is not theirs.
#pragma once

#include "geom/core/tri_mesh.h"

#include <fmt/format.h>

#include <array>
#include <cstring>
#include <string>
#include <utility>
#include <vector>

namespace support {

namespace detail {
template <class T>
void put(std::string& out, T v) {
    char bytes[sizeof v];
    std::memcpy(bytes, &v, sizeof v);
    out.append(bytes, sizeof v);
}
}  // namespace detail

inline std::string stl_binary(const geom::TriMesh& mesh, double factor = 1.0) {
    std::string out(80, ' ');
    detail::put(out, static_cast<std::uint32_t>(mesh.triangles.size()));
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        for (int i = 0; i < 3; ++i) detail::put(out, 0.0f);
        for (int c = 0; c < 3; ++c)
            for (std::size_t k = 0; k < 3; ++k) detail::put(out, static_cast<float>(mesh.corner(t, c)[k] * factor));
        detail::put(out, std::uint16_t{0});
    }
    return out;
}

inline std::string stl_text(const geom::TriMesh& mesh, double factor = 1.0) {
    std::string out = "solid a\n";
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        out += "facet normal 0 0 0\nouter loop\n";
        for (int c = 0; c < 3; ++c) {
            const auto p = mesh.corner(t, c) * factor;
            out += fmt::format("vertex {:.17g} {:.17g} {:.17g}\n", p.x, p.y, p.z);
        }
        out += "endloop\nendfacet\n";
    }
    return out + "endsolid a\n";
}

inline std::string obj_text(const geom::TriMesh& mesh, double factor = 1.0) {
    std::string out;
    for (const auto& v : mesh.vertices)
        out += fmt::format("v {:.17g} {:.17g} {:.17g}\n", v.x * factor, v.y * factor, v.z * factor);
    for (const auto& t : mesh.triangles) out += fmt::format("f {} {} {}\n", t[0] + 1, t[1] + 1, t[2] + 1);
    return out;
}

inline std::string off_text(const geom::TriMesh& mesh, double factor = 1.0) {
    std::string out = fmt::format("OFF\n{} {} 0\n", mesh.vertices.size(), mesh.triangles.size());
    for (const auto& v : mesh.vertices)
        out += fmt::format("{:.17g} {:.17g} {:.17g}\n", v.x * factor, v.y * factor, v.z * factor);
    for (const auto& t : mesh.triangles) out += fmt::format("3 {} {} {}\n", t[0], t[1], t[2]);
    return out;
}

/// Binary, double coordinates.
inline std::string ply_binary(const geom::TriMesh& mesh, double factor = 1.0) {
    std::string out = fmt::format(
        "ply\nformat binary_little_endian 1.0\nelement vertex {}\nproperty double x\nproperty double y\nproperty "
        "double "
        "z\nelement face {}\nproperty list uchar int vertex_indices\nend_header\n",
        mesh.vertices.size(), mesh.triangles.size());
    for (const auto& v : mesh.vertices)
        for (std::size_t k = 0; k < 3; ++k) detail::put(out, v[k] * factor);
    for (const auto& t : mesh.triangles) {
        out += '\3';
        for (const std::uint32_t v : t) detail::put(out, static_cast<std::int32_t>(v));
    }
    return out;
}

inline std::string ply_text(const geom::TriMesh& mesh, double factor = 1.0) {
    std::string out = fmt::format(
        "ply\nformat ascii 1.0\nelement vertex {}\nproperty double x\nproperty double y\nproperty double z\nelement "
        "face {}\nproperty list uchar int vertex_indices\nend_header\n",
        mesh.vertices.size(), mesh.triangles.size());
    for (const auto& v : mesh.vertices)
        out += fmt::format("{:.17g} {:.17g} {:.17g}\n", v.x * factor, v.y * factor, v.z * factor);
    for (const auto& t : mesh.triangles) out += fmt::format("3 {} {} {}\n", t[0], t[1], t[2]);
    return out;
}

namespace detail {
/// A glTF of one primitive; `uri` of the buffer: what its JSON says of where it is.
struct Gltf {
    std::string json, binary;
};
template <class Uri>
Gltf gltf_of(const geom::TriMesh& mesh, double factor, Uri&& uri) {
    std::string binary;
    geom::Vec3 lo{1e300, 1e300, 1e300}, hi{-1e300, -1e300, -1e300};
    for (const auto& v : mesh.vertices)
        for (std::size_t k = 0; k < 3; ++k) {
            const auto f = static_cast<float>(v[k] * factor);
            detail::put(binary, f);
            lo[k] = std::min(lo[k], static_cast<double>(f));
            hi[k] = std::max(hi[k], static_cast<double>(f));
        }
    const std::size_t split = binary.size();
    for (const auto& t : mesh.triangles)
        for (const std::uint32_t v : t) detail::put(binary, v);
    std::string json = fmt::format(
        R"({{"asset":{{"version":"2.0"}},"scene":0,"scenes":[{{"nodes":[0]}}],"nodes":[{{"mesh":0}}],)"
        R"("meshes":[{{"primitives":[{{"attributes":{{"POSITION":0}},"indices":1}}]}}],"buffers":[{{"byteLength":{}{}}}],)"
        R"("bufferViews":[{{"buffer":0,"byteOffset":0,"byteLength":{}}},{{"buffer":0,"byteOffset":{},"byteLength":{}}}],)"
        R"("accessors":[{{"bufferView":0,"componentType":5126,"count":{},"type":"VEC3","min":[{:.9g},{:.9g},{:.9g}],)"
        R"("max":[{:.9g},{:.9g},{:.9g}]}},{{"bufferView":1,"componentType":5125,"count":{},"type":"SCALAR"}}]}})",
        binary.size(), uri(binary), split, split, binary.size() - split, mesh.vertices.size(), lo.x, lo.y, lo.z, hi.x,
        hi.y, hi.z, 3 * mesh.triangles.size());
    return {std::move(json), std::move(binary)};
}

inline std::string base64(const std::string& bytes) {
    constexpr const char* digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string out;
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        std::uint32_t three = 0;
        for (std::size_t k = 0; k < 3; ++k)
            three = three << 8 | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0u);
        for (std::size_t k = 0; k < 4; ++k) out += i + k <= bytes.size() ? digits[three >> (18 - 6 * k) & 63u] : '=';
    }
    return out;
}
}  // namespace detail

/// Metres by the format's definition, so `factor` should make them of the mesh's numbers; the buffer within.
inline std::string gltf_text(const geom::TriMesh& mesh, double factor = 1.0) {
    return detail::gltf_of(mesh, factor,
                           [](const std::string& binary) {
                               return ",\"uri\":\"data:application/octet-stream;base64," + detail::base64(binary) +
                                      "\"";
                           })
        .json;
}

/// One primitive; metres as above.
inline std::string glb(const geom::TriMesh& mesh, double factor = 1.0) {
    auto [json, binary] = detail::gltf_of(mesh, factor, [](const std::string&) { return ""; });
    json.resize((json.size() + 3) / 4 * 4, ' ');
    std::string out = "glTF";
    detail::put(out, std::uint32_t{2});
    detail::put(out, static_cast<std::uint32_t>(12 + 8 + json.size() + 8 + binary.size()));
    detail::put(out, static_cast<std::uint32_t>(json.size()));
    out += "JSON" + json;
    detail::put(out, static_cast<std::uint32_t>(binary.size()));
    out += std::string("BIN\0", 4) + binary;
    return out;
}

inline std::uint32_t crc32_of(const std::string& bytes) {
    std::uint32_t crc = 0xFFFFFFFFu;
    for (const char c : bytes) {
        crc ^= static_cast<unsigned char>(c);
        for (int i = 0; i < 8; ++i) crc = crc >> 1 ^ (crc & 1u ? 0xEDB88320u : 0u);
    }
    return ~crc;
}

/// A ZIP archive, nothing compressed.
inline std::string zip_of(const std::vector<std::pair<std::string, std::string>>& files) {
    std::string out, directory;
    for (const auto& [name, bytes] : files) {
        const auto offset = static_cast<std::uint32_t>(out.size());
        std::string common;
        detail::put(common, std::uint16_t{20});
        detail::put(common, std::uint16_t{0});
        detail::put(common, std::uint16_t{0});
        detail::put(common, std::uint32_t{0x00210000});  // the first day that the format knows
        detail::put(common, crc32_of(bytes));
        detail::put(common, static_cast<std::uint32_t>(bytes.size()));
        detail::put(common, static_cast<std::uint32_t>(bytes.size()));
        detail::put(common, static_cast<std::uint16_t>(name.size()));
        detail::put(common, std::uint16_t{0});
        out += "PK\3\4" + common + name + bytes;
        directory += "PK\1\2";
        detail::put(directory, std::uint16_t{20});
        directory += common;
        detail::put(directory, std::uint16_t{0});
        detail::put(directory, std::uint16_t{0});
        detail::put(directory, std::uint16_t{0});
        detail::put(directory, std::uint32_t{0});
        detail::put(directory, offset);
        directory += name;
    }
    const auto start = static_cast<std::uint32_t>(out.size());
    out += directory + "PK\5\6";
    detail::put(out, std::uint32_t{0});
    detail::put(out, static_cast<std::uint16_t>(files.size()));
    detail::put(out, static_cast<std::uint16_t>(files.size()));
    detail::put(out, static_cast<std::uint32_t>(directory.size()));
    detail::put(out, start);
    detail::put(out, std::uint16_t{0});
    return out;
}

namespace detail {
/// An object of a 3MF model that is a mesh.
inline std::string three_mf_mesh(const geom::TriMesh& mesh, int id, double factor = 1.0) {
    std::string out = fmt::format("<object id=\"{}\" type=\"model\"><mesh><vertices>\n", id);
    for (const auto& v : mesh.vertices)
        out +=
            fmt::format("<vertex x=\"{:.9g}\" y=\"{:.9g}\" z=\"{:.9g}\"/>\n", v.x * factor, v.y * factor, v.z * factor);
    out += "</vertices><triangles>\n";
    for (const auto& t : mesh.triangles)
        out += fmt::format("<triangle v1=\"{}\" v2=\"{}\" v3=\"{}\"/>\n", t[0], t[1], t[2]);
    return out + "</triangles></mesh></object>";
}

/// A package of one model, `objects` and `items` as XML.
inline std::string three_mf_package(const std::string& objects, const std::string& items,
                                    const std::string& unit = "millimeter") {
    const std::string model = fmt::format(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<model unit=\"{}\" xml:lang=\"en-US\" "
        "xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">\n<resources>{}</resources>\n"
        "<build>{}</build></model>\n",
        unit, objects, items);
    return zip_of(
        {{"[Content_Types].xml",
          "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<Types "
          "xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\"><Default Extension=\"rels\" "
          "ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/><Default Extension=\"model\" "
          "ContentType=\"application/vnd.ms-package.3dmanufacturing-3dmodel+xml\"/></Types>\n"},
         {"_rels/.rels",
          "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<Relationships "
          "xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\"><Relationship "
          "Target=\"/3D/3dmodel.model\" Id=\"rel0\" "
          "Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/></Relationships>\n"},
         {"3D/3dmodel.model", model}});
}

}  // namespace detail

/// `unit`: "millimeter", "inch", ...; `place`: twelve numbers of the item's transform, or empty; `build` false: the
/// object is defined and not built.
inline std::string three_mf(const geom::TriMesh& mesh, double factor = 1.0, const std::string& unit = "millimeter",
                            const std::string& place = "", bool build = true) {
    const std::string item =
        place.empty() ? "<item objectid=\"1\"/>" : fmt::format("<item objectid=\"1\" transform=\"{}\"/>", place);
    return detail::three_mf_package(detail::three_mf_mesh(mesh, 1, factor), build ? item : "", unit);
}

}  // namespace support

// A binary STL is known by its length (84 + 50 n bytes), not by its first word, which writers get wrong.
#include "geom/measure/mesh_measure.h"

#include <algorithm>
#include <cstring>
#include <fstream>
#include <sstream>

namespace geom::measure {

namespace {

Result<TriMesh> read_binary(const std::string& bytes, std::uint32_t count) {
    TriMesh mesh;
    mesh.vertices.reserve(3 * static_cast<std::size_t>(count));
    mesh.triangles.reserve(count);
    for (std::size_t t = 0; t < count; ++t) {
        float corner[9];
        std::memcpy(corner, bytes.data() + 84 + 50 * t + 12, sizeof corner);
        const auto first = static_cast<std::uint32_t>(mesh.vertices.size());
        for (int k = 0; k < 3; ++k) mesh.vertices.push_back({corner[3 * k], corner[3 * k + 1], corner[3 * k + 2]});
        mesh.triangles.push_back({first, first + 1, first + 2});
    }
    return mesh;
}

Result<TriMesh> read_text(const std::string& text, const std::string& name) {
    std::istringstream in(text);
    std::string word;
    TriMesh mesh;
    std::size_t in_facet = 0;
    while (in >> word) {
        if (word == "vertex") {
            Point3 p;
            if (!(in >> p.x >> p.y >> p.z))
                return Fault{
                    FaultCode::Unreadable, name + ": a vertex without three numbers", "write it again", {}, "files"};
            mesh.vertices.push_back(p);
            ++in_facet;
        } else if (word == "endfacet") {
            if (in_facet != 3)
                return Fault{FaultCode::Unreadable,
                             name + ": a facet with " + std::to_string(in_facet) + " vertices, 3 wanted",
                             "write it again",
                             {},
                             "files"};
            const auto n = static_cast<std::uint32_t>(mesh.vertices.size());
            mesh.triangles.push_back({n - 3, n - 2, n - 1});
            in_facet = 0;
        }
    }
    if (mesh.triangles.empty())
        return Fault{
            FaultCode::Unreadable, name + ": no STL file, or one without a facet", "write it again", {}, "files"};
    return mesh;
}

/// Joins equal vertices and keeps every triangle, also one with a repeated corner: those are to be seen, not healed.
TriMesh joined(const TriMesh& soup) {
    std::vector<std::uint32_t> order(soup.vertices.size());
    for (std::uint32_t i = 0; i < order.size(); ++i) order[i] = i;
    const auto less = [&](std::uint32_t a, std::uint32_t b) {
        const Point3 &p = soup.vertices[a], &q = soup.vertices[b];
        if (p.x != q.x) return p.x < q.x;
        if (p.y != q.y) return p.y < q.y;
        if (p.z != q.z) return p.z < q.z;
        return a < b;
    };
    std::sort(order.begin(), order.end(), less);
    std::vector<std::uint32_t> leader(soup.vertices.size());
    for (std::size_t i = 0; i < order.size(); ++i)
        leader[order[i]] =
            i > 0 && soup.vertices[order[i]] == soup.vertices[order[i - 1]] ? leader[order[i - 1]] : order[i];
    TriMesh out;
    out.triangles.reserve(soup.triangles.size());
    std::vector<std::uint32_t> renamed(soup.vertices.size(), ~0u);
    for (const auto& t : soup.triangles) {
        std::array<std::uint32_t, 3> u{};
        for (std::size_t k = 0; k < 3; ++k) {
            std::uint32_t& name = renamed[leader[t[k]]];
            if (name == ~0u) {
                name = static_cast<std::uint32_t>(out.vertices.size());
                out.vertices.push_back(soup.vertices[leader[t[k]]]);
            }
            u[k] = name;
        }
        out.triangles.push_back(u);
    }
    return out;
}

}  // namespace

Result<TriMesh> read_stl(const std::filesystem::path& file) {
    const std::string name = file.filename().string();
    std::ifstream in(file, std::ios::binary);
    std::string bytes{std::istreambuf_iterator<char>(in), {}};
    if (!in.good() && !in.eof()) bytes.clear();
    if (bytes.empty()) return Fault{FaultCode::Unreadable, name + ": missing or empty", "write it again", {}, "files"};
    std::uint32_t count = 0;
    if (bytes.size() >= 84) std::memcpy(&count, bytes.data() + 80, 4);
    const bool is_binary = bytes.size() >= 84 && bytes.size() == 84 + 50 * static_cast<std::size_t>(count);
    if (!is_binary && bytes.compare(0, 5, "solid") != 0)
        return Fault{FaultCode::Unreadable,
                     name + ": " + std::to_string(bytes.size()) + " bytes, which is neither text nor the length for " +
                         std::to_string(count) + " facets",
                     "the file is cut off or no STL",
                     {},
                     "files"};
    GAPWRIGHT_TRY(soup, is_binary ? read_binary(bytes, count) : read_text(bytes, name));
    for (const Point3& p : soup.vertices)
        if (!is_finite(p))
            return Fault{
                FaultCode::Unreadable, name + ": a coordinate is not a finite number", "write it again", {}, "files"};
    return joined(soup);
}

}  // namespace geom::measure

// Rounding comes first, cleaning second, so that what is cleaned is what a reader will see. Collinear facets are
// judged exactly on the rounded corners: the cross product of differences of floats is taken in double, where the
// difference of two floats of like size is exact and a product of two 25-bit numbers is too; only sums can round, and
// a facet whose computed cross product is exactly zero is on a line for every reader that computes in double.
#include "exports/stl.h"

#include "exports/internal/write_bytes.h"

#include <algorithm>
#include <bit>
#include <cstdint>
#include <cstring>
#include <tuple>
#include <unordered_map>
#include <utility>

namespace exports {
namespace {

using geom::Point3;
using geom::TriMesh;
using geom::Vec3;
using Triangle = std::array<std::uint32_t, 3>;

float to_float(double v) {
    const float f = static_cast<float>(v);
    return f == 0.0f ? 0.0f : f;  // no negative zero: it would be another vertex to the bit
}

std::uint64_t edge_key(std::uint32_t a, std::uint32_t b) {
    return static_cast<std::uint64_t>(a) << 32 | b;
}

/// Rounded vertices, equal ones joined; triangles that lost a corner left out.
FloatFacets round_and_join(const TriMesh& mesh) {
    FloatFacets out;
    const std::size_t count = mesh.vertices.size();
    std::vector<std::array<float, 3>> rounded(count);
    for (std::size_t i = 0; i < count; ++i)
        rounded[i] = {to_float(mesh.vertices[i].x), to_float(mesh.vertices[i].y), to_float(mesh.vertices[i].z)};

    struct Hash {
        std::size_t operator()(const std::array<float, 3>& p) const {
            std::uint64_t h = 0x9E3779B97F4A7C15ull;
            for (const float v : p) h = (h ^ std::bit_cast<std::uint32_t>(v)) * 0xBF58476D1CE4E5B9ull, h ^= h >> 29;
            return static_cast<std::size_t>(h);
        }
    };
    std::unordered_map<std::array<float, 3>, std::uint32_t, Hash> known;
    known.reserve(count);
    std::vector<std::uint32_t> joined(count);
    for (std::size_t i = 0; i < count; ++i) {
        const auto [it, is_new] = known.try_emplace(rounded[i], static_cast<std::uint32_t>(out.mesh.vertices.size()));
        if (is_new) out.mesh.vertices.push_back({rounded[i][0], rounded[i][1], rounded[i][2]});
        joined[i] = it->second;
    }
    out.mesh.triangles.reserve(mesh.triangles.size());
    for (const auto& t : mesh.triangles) {
        const Triangle j{joined[t[0]], joined[t[1]], joined[t[2]]};
        if (j[0] == j[1] || j[1] == j[2] || j[2] == j[0])
            ++out.dropped;
        else
            out.mesh.triangles.push_back(j);
    }
    return out;
}

Vec3 twice_area(const TriMesh& mesh, const Triangle& t) {
    return cross(mesh.vertices[t[1]] - mesh.vertices[t[0]], mesh.vertices[t[2]] - mesh.vertices[t[0]]);
}

bool is_on_a_line(const TriMesh& mesh, const Triangle& t) {
    return norm2(twice_area(mesh, t)) == 0.0;
}

/// Takes out pairs of triangles on the same corners that face each other: they enclose nothing.
std::size_t drop_folded_pairs(TriMesh& mesh) {
    struct Seen {
        Triangle sorted;
        bool is_even;
        std::size_t index;
    };
    std::vector<Seen> seen;
    seen.reserve(mesh.triangles.size());
    for (std::size_t i = 0; i < mesh.triangles.size(); ++i) {
        Triangle s = mesh.triangles[i];
        bool even = true;
        for (const auto& [a, b] : {std::pair{0u, 1u}, std::pair{1u, 2u}, std::pair{0u, 1u}})
            if (s[a] > s[b]) std::swap(s[a], s[b]), even = !even;
        seen.push_back({s, even, i});
    }
    std::sort(seen.begin(), seen.end(),
              [](const Seen& a, const Seen& b) { return std::tie(a.sorted, a.index) < std::tie(b.sorted, b.index); });
    std::vector<bool> gone(mesh.triangles.size(), false);
    std::size_t dropped = 0;
    for (std::size_t i = 0; i + 1 < seen.size(); ++i)
        if (seen[i].sorted == seen[i + 1].sorted && seen[i].is_even != seen[i + 1].is_even && !gone[seen[i].index]) {
            gone[seen[i].index] = gone[seen[i + 1].index] = true;
            dropped += 2;
        }
    if (dropped > 0) {
        std::size_t kept = 0;
        for (std::size_t i = 0; i < mesh.triangles.size(); ++i)
            if (!gone[i]) mesh.triangles[kept++] = mesh.triangles[i];
        mesh.triangles.resize(kept);
    }
    return dropped;
}

/// Swaps the longest edge of every triangle on a line with its neighbour across it, until none is left or nothing
/// more can be done (a triangle without exactly one neighbour there is left alone).
std::size_t flip_lines(TriMesh& mesh) {
    std::vector<std::size_t> flat;
    for (std::size_t i = 0; i < mesh.triangles.size(); ++i)
        if (is_on_a_line(mesh, mesh.triangles[i])) flat.push_back(i);
    if (flat.empty()) return 0;

    constexpr std::size_t kNone = ~std::size_t{0};
    std::unordered_map<std::uint64_t, std::size_t> owner;  // directed edge to triangle; kNone where not unique
    const auto claim = [&](std::size_t i) {
        for (std::size_t c = 0; c < 3; ++c) {
            const auto& t = mesh.triangles[i];
            const auto [it, is_new] = owner.try_emplace(edge_key(t[c], t[(c + 1) % 3]), i);
            if (!is_new) it->second = kNone;
        }
    };
    const auto release = [&](std::size_t i) {
        for (std::size_t c = 0; c < 3; ++c) {
            const auto& t = mesh.triangles[i];
            const auto it = owner.find(edge_key(t[c], t[(c + 1) % 3]));
            if (it != owner.end() && it->second == i) owner.erase(it);
        }
    };
    for (std::size_t i = 0; i < mesh.triangles.size(); ++i) claim(i);

    std::size_t flipped = 0;
    std::size_t budget = 16 * flat.size() + 64;  // a chain of slivers needs as many swaps as it is long
    while (!flat.empty() && budget-- > 0) {
        const std::size_t i = flat.back();
        flat.pop_back();
        const Triangle t = mesh.triangles[i];
        if (!is_on_a_line(mesh, t)) continue;
        std::size_t longest = 0;
        for (std::size_t c = 1; c < 3; ++c) {
            const auto length2 = [&](std::size_t k) {
                return norm2(mesh.vertices[t[(k + 1) % 3]] - mesh.vertices[t[k]]);
            };
            if (length2(c) > length2(longest)) longest = c;
        }
        const std::uint32_t a = t[longest], c = t[(longest + 1) % 3], b = t[(longest + 2) % 3];  // b lies on a-c
        const auto across = owner.find(edge_key(c, a));
        if (across == owner.end() || across->second == kNone || across->second == i) continue;
        const std::size_t j = across->second;
        const Triangle n = mesh.triangles[j];
        std::uint32_t d = n[0];
        for (std::size_t k = 0; k < 3; ++k)
            if (n[k] == c && n[(k + 1) % 3] == a) d = n[(k + 2) % 3];
        if (d == b || owner.contains(edge_key(b, d)) || owner.contains(edge_key(d, b))) continue;
        release(i);
        release(j);
        mesh.triangles[i] = {a, d, b};
        mesh.triangles[j] = {d, c, b};
        claim(i);
        claim(j);
        ++flipped;
        if (is_on_a_line(mesh, mesh.triangles[i])) flat.push_back(i);
        if (is_on_a_line(mesh, mesh.triangles[j])) flat.push_back(j);
    }
    return flipped;
}

void put_u32(std::string& bytes, std::uint32_t v) {
    for (int shift = 0; shift < 32; shift += 8) bytes += static_cast<char>((v >> shift) & 0xff);
}

void put_float(std::string& bytes, double v) {
    put_u32(bytes, std::bit_cast<std::uint32_t>(to_float(v)));
}

}  // namespace

FloatFacets float_facets(const TriMesh& mesh) {
    FloatFacets out = round_and_join(mesh);
    out.dropped += drop_folded_pairs(out.mesh);
    out.flipped = flip_lines(out.mesh);
    if (out.flipped > 0) out.dropped += drop_folded_pairs(out.mesh);
    return out;
}

std::string stl_bytes(const TriMesh& mesh, std::string_view product) {
    const FloatFacets facets = float_facets(mesh);
    std::string header = "gapwright binary STL, millimetres: ";
    for (const char c : product) header += (c >= ' ' && c <= '~') ? c : '_';
    header.resize(80, ' ');

    std::string bytes;
    bytes.reserve(84 + 50 * facets.mesh.triangles.size());
    bytes += header;
    put_u32(bytes, static_cast<std::uint32_t>(facets.mesh.triangles.size()));
    for (const auto& t : facets.mesh.triangles) {
        const Vec3 n = geom::unit(twice_area(facets.mesh, t));
        for (std::size_t k = 0; k < 3; ++k) put_float(bytes, n[k]);
        for (const std::uint32_t v : t)
            for (std::size_t k = 0; k < 3; ++k) put_float(bytes, facets.mesh.vertices[v][k]);
        bytes += '\0';
        bytes += '\0';
    }
    return bytes;
}

geom::Status write_stl(const TriMesh& mesh, std::string_view product, const std::filesystem::path& file) {
    return write_bytes(file, stl_bytes(mesh, product));
}

}  // namespace exports

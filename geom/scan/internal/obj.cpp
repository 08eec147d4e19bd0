// OBJ: "v x y z" (colours after them are noted), "vn x y z" and "f a/b/c ..." with indices from 1, or from the end when
// negative. Everything else (materials, groups, texture places, lines, curves) is walked past. A backslash at a line's
// end joins it to the next. Normals are kept when every vertex gets one, by the faces or, without faces, by their
// order.
#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/formats.h"
#include "geom/scan/internal/polygons.h"

#include <fmt/format.h>

namespace geom::scan::internal {

Result<Parsed> parse_obj(const FileBytes& file) {
    const std::string hint = "export the mesh again";
    Cursor c(file.bytes);
    Parsed parsed;
    parsed.format = "OBJ";
    std::vector<Vec3> normals;
    struct Corner {
        std::size_t line;
        long long vertex;
        std::uint32_t face;
    };
    // Positive indices may point forward, so they are checked when all vertices are known.
    std::vector<std::uint32_t> corners;
    Polygons polygons;
    std::vector<Corner> forward;
    std::vector<std::array<std::uint32_t, 2>> with_normal;  // vertex, normal
    auto fault = [&](std::size_t line, const std::string& text) {
        return unreadable(file, fmt::format("line {}: {}", line, text), hint);
    };
    std::size_t lines_seen = 0;
    while (true) {
        c.skip_empty_lines('#');
        if (c.at_end()) break;
        const std::size_t line = c.line();
        if (++lines_seen % (1 << 16) == 0) {
            // Counts are known at the end alone: when what is there is too much, as much again is to come for what is
            // left.
            const double all = static_cast<double>(file.bytes.size()) / static_cast<double>(c.offset() + 1);
            const auto grown = [&](std::size_t n) { return static_cast<std::size_t>(static_cast<double>(n) * all); };
            if (!file.budget.check_mesh({}, parsed.points.size(), parsed.triangles.size(), !normals.empty()))
                GAPWRIGHT_CHECK(file.budget.check_mesh(file.name, grown(parsed.points.size()),
                                                       grown(parsed.triangles.size()), !normals.empty()));
            file.release_before(c.offset());
        }
        const std::string_view word = c.token();
        auto line_done = [&] {
            if (c.at_line_end()) return true;
            if (c.peek_token() != "\\") return false;
            c.next_line();
            return c.at_line_end();
        };
        if (word == "v" || word == "vn") {
            double xyz[3];
            for (double& value : xyz)
                if (line_done() || !c.number(value)) {
                    const std::string_view bad = c.peek_token();
                    return fault(line, (bad.empty() ? "the line ends" : in_quotes(bad)) +
                                           std::string(" where a coordinate was wanted"));
                }
            (word == "v" ? parsed.points : normals).push_back({xyz[0], xyz[1], xyz[2]});
            if (word == "v" && !parsed.has_colours) {  // x y z w has one number more, x y z r g b three
                double more;
                int further = 0;
                while (further < 3 && !line_done() && c.number(more)) ++further;
                parsed.has_colours = further == 3;
            }
        } else if (word == "f") {
            corners.clear();
            while (!line_done()) {
                const std::string_view corner = c.token();
                const std::size_t slash = corner.find('/');
                auto parse_index = [&](std::string_view text, std::size_t known, long long& index) {
                    const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), index);
                    if (error != std::errc() || stop != text.data() + text.size() || index == 0) return false;
                    index = index > 0 ? index - 1 : static_cast<long long>(known) + index;
                    return index >= 0 && index < 0xFFFFFFFFll;
                };
                long long vertex = 0;
                if (!parse_index(corner.substr(0, slash), parsed.points.size(), vertex))
                    return fault(
                        line,
                        fmt::format("face corner {}, wanted an index of 1 to the number of vertices, or -1 to -{}",
                                    in_quotes(corner), parsed.points.size()));
                if (static_cast<std::size_t>(vertex) >= parsed.points.size())
                    forward.push_back({line, vertex, static_cast<std::uint32_t>(vertex)});
                corners.push_back(static_cast<std::uint32_t>(vertex));
                const std::size_t last = corner.rfind('/');
                if (slash != std::string_view::npos && last != slash && last + 1 < corner.size()) {
                    long long normal = 0;
                    if (!parse_index(corner.substr(last + 1), normals.size(), normal))
                        return fault(line, "face corner " + in_quotes(corner) + " names no normal");
                    with_normal.push_back({static_cast<std::uint32_t>(vertex), static_cast<std::uint32_t>(normal)});
                }
            }
            if (corners.size() < 3)
                return fault(line, fmt::format("a face with {} corners, wanted at least 3", corners.size()));
            polygons.add(corners, parsed.triangles);
        }
        c.next_line();
    }
    for (const Corner& f : forward)
        if (static_cast<std::size_t>(f.vertex) >= parsed.points.size())
            return fault(f.line, fmt::format("vertex index {}, wanted 1 to {}", f.vertex + 1, parsed.points.size()));
    if (!normals.empty()) {
        if (with_normal.empty() && normals.size() == parsed.points.size()) {
            parsed.normals = std::move(normals);
        } else {
            parsed.normals.assign(parsed.points.size(), Vec3{});
            for (const auto& [vertex, normal] : with_normal)
                if (normal < normals.size()) parsed.normals[vertex] = normals[normal];
        }
    }
    polygons.finish(parsed.points, parsed.triangles);
    return parsed;
}

}  // namespace geom::scan::internal

// OFF: the word OFF (with ST, C, N before it for texture, colour, normal), the counts, a line a vertex and a line a
// face that begins with its number of corners. Colours and texture places after them are walked past.
#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/formats.h"
#include "geom/scan/internal/polygons.h"

#include <fmt/format.h>

namespace geom::scan::internal {

Result<Parsed> parse_off(const FileBytes& file) {
    const std::string hint = "copy or export the file again; its counts and its data do not agree";
    Cursor c(file.bytes);
    c.skip_empty_lines();
    const std::string_view head = c.token();
    auto fault = [&](const std::string& text) {
        return unreadable(file, fmt::format("line {}: {}", c.line(), text), hint);
    };
    if (head.find('4') != std::string_view::npos || head.find("nOFF") != std::string_view::npos)
        return fault("an OFF of more than three dimensions, wanted three");
    const bool has_normals = head.find('N') != std::string_view::npos;
    if (c.peek_token() == "BINARY")
        return unreadable(file, "a binary OFF, wanted the text form", "export as text OFF, or as PLY");
    long long counts[3] = {};
    c.skip_empty_lines();
    for (int i = 0; i < 3; ++i)
        if (!c.integer(counts[i]) || counts[i] < 0) {
            if (i == 2 && c.at_line_end()) break;  // the number of edges is often left out
            return fault(in_quotes(c.peek_token()) + " where the numbers of vertices, faces and edges were wanted");
        }
    c.next_line();
    const auto vertices = static_cast<std::size_t>(counts[0]), faces = static_cast<std::size_t>(counts[1]);
    if (vertices > (c.left() + 1) / 6)
        return fault(fmt::format("{} vertices declared, but the {} bytes left hold at most {}", vertices, c.left(),
                                 (c.left() + 1) / 6));
    Parsed parsed;
    parsed.format = "OFF";
    parsed.has_colours = head.find('C') != std::string_view::npos;
    if (faces <= c.left()) GAPWRIGHT_CHECK(file.budget.check_mesh(file.name, vertices, faces, has_normals));
    parsed.points.reserve(vertices);
    for (std::size_t i = 0; i < vertices; ++i) {
        c.skip_empty_lines();
        double v[6] = {};
        for (int k = 0; k < (has_normals ? 6 : 3); ++k)
            if (c.at_line_end() || !c.number(v[k])) {
                const std::string_view bad = c.peek_token();
                return fault(fmt::format("{} where a number of vertex {} of {} was wanted",
                                         !bad.empty() ? in_quotes(bad)
                                         : c.at_end() ? "the file ends"
                                                      : "the line ends",
                                         i + 1, vertices));
            }
        parsed.points.push_back({v[0], v[1], v[2]});
        if (has_normals) parsed.normals.push_back({v[3], v[4], v[5]});
        c.next_line();
    }
    std::vector<std::uint32_t> corners;
    Polygons polygons;
    for (std::size_t i = 0; i < faces; ++i) {
        c.skip_empty_lines();
        long long n = 0;
        if (c.at_end()) return fault(fmt::format("the file ends after {} of {} faces", i, faces));
        if (!c.integer(n) || n < 1 || static_cast<std::size_t>(n) > c.left())
            return fault(fmt::format("{} where the number of corners of face {} of {} was wanted",
                                     in_quotes(c.peek_token()), i + 1, faces));
        corners.clear();
        for (long long k = 0; k < n; ++k) {
            long long index = -1;
            if (c.at_line_end() || !c.integer(index) || index < 0 || static_cast<std::size_t>(index) >= vertices)
                return fault(fmt::format("vertex index {} in face {}, wanted 0 to {}",
                                         index >= 0 ? std::to_string(index) : in_quotes(c.peek_token()), i + 1,
                                         static_cast<long long>(vertices) - 1));
            corners.push_back(static_cast<std::uint32_t>(index));
        }
        polygons.add(corners, parsed.triangles);
        c.next_line();
    }
    c.skip_empty_lines();
    if (!c.at_end()) return fault(in_quotes(c.peek_token()) + " after all that the counts declare");
    polygons.finish(parsed.points, parsed.triangles);
    return parsed;
}

}  // namespace geom::scan::internal

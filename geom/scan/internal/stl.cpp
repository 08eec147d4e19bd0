// STL: triangles without shared corners. Equal corners (bit for bit, -0 as 0) are joined again. The text form is read
// by its words: "solid .. facet normal .. outer loop .. vertex .. endloop .. endfacet .. endsolid", several solids
// allowed, names free. The binary form is an 80-byte header of any content, a count and 50 bytes a triangle.
// The normals written in the file are not read: they follow from the corners, and writers get them wrong.
#include "geom/scan/internal/corner_join.h"
#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/formats.h"

#include <fmt/format.h>

#include <bit>
#include <cstring>

namespace geom::scan::internal {

Result<Parsed> parse_stl_binary(const FileBytes& file) {
    constexpr std::size_t kHeader = 84, kTriangle = 50;
    const auto fault = [&](const std::string& text) {
        // The mark that a converter to UTF-8 leaves where it met a byte it did not know.
        const bool was_converted = file.bytes.find("\xEF\xBF\xBD") != std::string_view::npos;
        return unreadable(file, text,
                          was_converted ? "the file went through a conversion of text (it holds the bytes EF BF BD), "
                                          "which cannot be undone: copy the original again, as binary"
                                        : "copy or export the file again");
    };
    if (file.bytes.size() < kHeader)
        return fault(fmt::format("{} bytes, wanted at least the {} of an STL header", file.bytes.size(), kHeader));
    std::uint32_t declared = 0;
    for (int i = 3; i >= 0; --i)
        declared = declared << 8 | static_cast<unsigned char>(file.bytes[80 + static_cast<std::size_t>(i)]);
    const std::size_t body = file.bytes.size() - kHeader;
    if (body != declared * kTriangle)
        return fault(fmt::format("byte 80 declares {} triangles ({} bytes), but {} bytes follow ({} triangles{})",
                                 declared, declared * kTriangle, body, body / kTriangle,
                                 body % kTriangle != 0 ? fmt::format(" and {} bytes", body % kTriangle) : ""));
    if (declared == 0) return unreadable(file, "an STL with no triangle, wanted at least one", "export the scan again");
    Parsed parsed;
    parsed.format = "STL, binary";
    GAPWRIGHT_CHECK(file.budget.check_mesh(file.name, declared / 2, declared, false));
    parsed.triangles.reserve(declared);
    parsed.points.reserve(declared / 2 + 3);
    CornerJoin join(parsed.points);
    for (std::size_t t = 0; t < declared; ++t) {
        const char* at = file.bytes.data() + kHeader + t * kTriangle + 12;
        std::array<std::uint32_t, 3> triangle;
        for (std::uint32_t& corner : triangle) {
            float v[3];
            for (float& f : v) {
                std::uint32_t bits = 0;
                for (int i = 3; i >= 0; --i) bits = bits << 8 | static_cast<unsigned char>(at[i]);
                f = std::bit_cast<float>(bits);
                at += 4;
            }
            corner = join.index({v[0], v[1], v[2]});
        }
        parsed.triangles.push_back(triangle);
        if (t % (1 << 20) == 0) file.release_before(kHeader + t * kTriangle);
    }
    return parsed;
}

Result<Parsed> parse_stl_ascii(const FileBytes& file) {
    const std::string hint = "export the mesh again, best as binary STL or PLY";
    Cursor c(file.bytes);
    Parsed parsed;
    parsed.format = "STL, text";
    CornerJoin join(parsed.points);
    auto fault = [&](const std::string& text) {
        return unreadable(file, fmt::format("line {}: {}", c.line(), text), hint);
    };
    // The next word, over line ends.
    auto word = [&] {
        while (!c.at_end() && c.at_line_end()) c.next_line();
        return c.token();
    };
    auto found = [](std::string_view w) { return w.empty() ? std::string("the file ends") : in_quotes(w); };
    // What stands here instead of a number, which must be on this line.
    auto here = [&] {
        const std::string_view w = c.peek_token();
        return !w.empty() ? in_quotes(w) : c.at_end() ? std::string("the file ends") : std::string("the line ends");
    };
    bool in_solid = false;
    while (true) {
        const std::string_view w = word();
        if (w.empty()) {
            if (in_solid) return fault("the file ends inside a solid, wanted \"endsolid\"");
            break;
        }
        if (w == "solid" && !in_solid) {
            in_solid = true;
            c.next_line();
        } else if (w == "endsolid" && in_solid) {
            in_solid = false;
            c.next_line();
        } else if (w == "facet" && in_solid) {
            if (const auto n = word(); n != "normal") return fault(found(n) + " where \"normal\" was wanted");
            for (int i = 0; i < 3; ++i) {
                double v = 0.0;
                if (c.at_line_end() || !c.number(v)) return fault(here() + " where a number of the normal was wanted");
            }
            if (const auto o = word(); o != "outer") return fault(found(o) + " where \"outer loop\" was wanted");
            if (const auto l = word(); l != "loop") return fault(found(l) + " where \"loop\" was wanted");
            std::vector<std::uint32_t> corners;
            while (true) {
                const std::string_view v = word();
                if (v == "endloop") break;
                if (v != "vertex") return fault(found(v) + " where \"vertex\" or \"endloop\" was wanted");
                double xyz[3];
                for (double& value : xyz)
                    if (c.at_line_end() || !c.number(value)) return fault(here() + " where a coordinate was wanted");
                corners.push_back(join.index({xyz[0], xyz[1], xyz[2]}));
                if (corners.size() > 3) return fault("a facet with more than 3 vertices, wanted 3");
            }
            if (corners.size() != 3) return fault(fmt::format("a facet with {} vertices, wanted 3", corners.size()));
            parsed.triangles.push_back({corners[0], corners[1], corners[2]});
            if (const auto e = word(); e != "endfacet") return fault(found(e) + " where \"endfacet\" was wanted");
        } else {
            return fault(found(w) +
                         (in_solid ? " where \"facet\" or \"endsolid\" was wanted" : " where \"solid\" was wanted"));
        }
    }
    if (parsed.triangles.empty())
        return unreadable(file, "an STL with no triangle, wanted at least one", "export the scan again");
    return parsed;
}

}  // namespace geom::scan::internal

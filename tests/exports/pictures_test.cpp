// A picture is judged by what can be said about it without eyes: its size, where the part must and must not be, and
// what a drawing of a known box has to contain. Looking at it stays a human's work.
#include "exports/pictures.h"
#include "exports/internal/depth_buffer.h"
#include "exports/internal/section_cut.h"
#include "exports/internal/visible_lines.h"
#include "geom/core/parallel.h"
#include "tests/exports/png_reader.h"
#include "tests/exports/test_parts.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <map>
#include <regex>
#include <stack>

using namespace exports;

namespace {

PictureInput input_of(const geom::Brep& solid, double chord = 0.3) {
    PictureInput input;
    input.title = "seat & gap <9.5 L>";
    input.products.push_back({"shell", test_parts::mesh_of(solid, chord), solid, {0.8f, 0.78f, 0.7f}});
    input.facts = {"net volume 9.50 L"};
    return input;
}

std::map<std::string, std::string> by_name(const PictureInput& input) {
    const auto pictures = make_pictures(input, {});
    REQUIRE(pictures.has_value());
    std::map<std::string, std::string> out;
    for (const auto& p : *pictures) out[p.suffix + "." + p.ending] = p.bytes;
    return out;
}

/// What is hatched: all lines at 45 degrees, times their spacing of 1.8.
double hatched_mm2(const std::string& svg) {
    const std::regex number("-?[0-9.]+"), path("<path[^>]* d=\"([^\"]*)\"");
    double sum = 0.0;
    for (auto p = std::sregex_iterator(svg.begin(), svg.end(), path); p != std::sregex_iterator(); ++p) {
        const std::string line = (*p)[1].str();
        std::vector<double> at;
        for (auto n = std::sregex_iterator(line.begin(), line.end(), number); n != std::sregex_iterator(); ++n)
            at.push_back(std::stod(n->str()));
        for (std::size_t k = 0; k + 3 < at.size(); k += 4) {
            const double dx = at[k + 2] - at[k], dy = at[k + 3] - at[k + 1];
            if (std::abs(std::abs(dx) - std::abs(dy)) < 0.02) sum += 1.8 * std::hypot(dx, dy);
        }
    }
    return sum;
}

/// Every tag closed in order, attributes quoted, ampersands only as entities: well-formed XML 1.0 as far as an SVG
/// without comments or CDATA goes.
std::string xml_fault(const std::string& text) {
    std::stack<std::string> open;
    std::size_t at = text.find("?>");
    if (text.substr(0, 5) != "<?xml" || at == std::string::npos) return "no declaration";
    at += 2;
    static const std::regex tag(
        R"(^<(/?)([A-Za-z][\w:.-]*)((?:\s+[\w:.-]+="[^"<&]*(?:&(?:amp|lt|gt|quot);[^"<&]*)*")*)\s*(/?)>)");
    static const std::regex entity("^&(amp|lt|gt|quot|apos);");
    while (at < text.size()) {
        if (text[at] == '&') {
            if (!std::regex_search(text.begin() + static_cast<long>(at),
                                   text.begin() + static_cast<long>(std::min(at + 8, text.size())), entity))
                return "bare ampersand";
            ++at;
        } else if (text[at] == '<') {
            // The pattern backtracks badly on long paths; tags are cut out first and paths shortened.
            const std::size_t end = text.find('>', at);
            if (end == std::string::npos) return "open tag";
            std::string piece = text.substr(at, end - at + 1);
            const std::size_t d = piece.find(" d=\"");
            if (d != std::string::npos) {
                const std::size_t quote = piece.find('"', d + 4);
                if (quote == std::string::npos) return "open attribute";
                piece = piece.substr(0, d + 4) + piece.substr(quote);
            }
            std::smatch m;
            if (!std::regex_search(piece, m, tag)) return "bad tag " + piece.substr(0, 60);
            if (m[1].length() > 0) {
                if (open.empty() || open.top() != m[2]) return "tag " + m[2].str() + " closed out of order";
                open.pop();
            } else if (m[4].length() == 0) {
                open.push(m[2]);
            }
            at = end + 1;
        } else {
            ++at;
        }
    }
    return open.empty() ? "" : "tag " + open.top() + " left open";
}

}  // namespace

TEST_CASE("every PNG is 1600 px wide and shows a part on a light ground", "[exports][pictures]") {
    auto input = input_of(test_parts::hollow_box(240, 260, 330, 6, 24));
    const auto surface = test_parts::gap_round(geom::bounds(input.products[0].mesh), 4, 60000);
    input.scan_points = &surface.points;
    input.scan_normals = &surface.normals;
    input.scan_spacing_mm = 2.5;
    const auto pictures = by_name(input);
    REQUIRE(pictures.size() == 4);
    for (const char* name : {"iso.png", "scan.png", "views.png"}) {
        CAPTURE(name);
        const auto image = png_reader::read(pictures.at(name));
        CHECK(image.width == 1600);
        CHECK(image.height >= 1000);
        std::size_t dark = 0, middle = 0;
        for (const auto p : image.pixels) {
            dark += png_reader::grey(p) < 80 ? 1 : 0;
            middle += png_reader::grey(p) < 225 ? 1 : 0;
        }
        const double count = static_cast<double>(image.pixels.size());
        CHECK(static_cast<double>(dark) / count > 0.001);
        CHECK(static_cast<double>(dark) / count < 0.15);
        CHECK(static_cast<double>(middle) / count < 0.7);
        for (const int x : {0, 1599})
            for (const int y : {0, image.height - 1}) CHECK(png_reader::grey(image.at(x, y)) > 230);
        if (std::string(name) != "views.png") {
            CHECK(static_cast<double>(middle) / count > 0.1);
            CHECK(png_reader::grey(image.at(800, 600)) < 225);
        }
    }
    // The scan is the only thing drawn in blue.
    const auto bluish = [](const png_reader::Image& image) {
        return std::count_if(image.pixels.begin(), image.pixels.end(), [](std::uint32_t p) {
            return static_cast<int>(p & 255) > static_cast<int>(p >> 16 & 255) + 20;
        });
    };
    CHECK(bluish(png_reader::read(pictures.at("scan.png"))) > 50000);
    CHECK(bluish(png_reader::read(pictures.at("iso.png"))) == 0);
}

TEST_CASE("two products are drawn apart, each in its own colour", "[exports][pictures]") {
    // The second lies wholly inside the first and could not be seen if they were left in place.
    const auto outer = test_parts::plain_box(200, 150, 100), inner = test_parts::plain_box(160, 20, 80);
    PictureInput input = input_of(outer);
    input.products.push_back({"baffle", test_parts::mesh_of(inner, 0.3), inner, {0.2f, 0.4f, 0.95f}});
    const auto image = png_reader::read(by_name(input).at("iso.png"));
    const auto bluish = std::count_if(image.pixels.begin(), image.pixels.end(), [](std::uint32_t p) {
        return static_cast<int>(p & 255) > static_cast<int>(p >> 16 & 255) + 20;
    });
    CHECK(bluish > 30000);
}

TEST_CASE("without a scan there is no picture of one", "[exports][pictures]") {
    const auto pictures = by_name(input_of(test_parts::plain_box(200, 150, 100)));
    CHECK(pictures.size() == 3);
    CHECK(pictures.count("scan.png") == 0);
}

TEST_CASE("the sheet of views is well-formed, A3, in millimetres, and states the overall sizes",
          "[exports][pictures]") {
    const auto svg = by_name(input_of(test_parts::plain_box(200, 150, 100))).at("views.svg");
    CHECK(xml_fault(svg) == "");
    CHECK(svg.find("width=\"420mm\" height=\"297mm\" viewBox=\"0 0 420 297\"") != std::string::npos);
    CHECK(svg.find(">200.0<") != std::string::npos);
    CHECK(svg.find(">150.0<") != std::string::npos);
    CHECK(svg.find(">100.0<") != std::string::npos);
    CHECK(svg.find("seat &amp; gap &lt;9.5 L&gt;") != std::string::npos);
    CHECK(svg.find("sizes in mm") != std::string::npos);
    CHECK(svg.find("scale 1:") != std::string::npos);
}

TEST_CASE("the judge of XML sees what is wrong", "[exports][pictures]") {
    CHECK(xml_fault("<?xml version=\"1.0\"?>\n<a><b x=\"1\"/></a>") == "");
    CHECK(xml_fault("<?xml version=\"1.0\"?>\n<a><b></a></b>") != "");
    CHECK(xml_fault("<?xml version=\"1.0\"?>\n<a>") != "");
    CHECK(xml_fault("<?xml version=\"1.0\"?>\n<a>x & y</a>") != "");
    CHECK(xml_fault("<?xml version=\"1.0\"?>\n<a x=1/>") != "");
}

TEST_CASE("the views of a box have the box's sizes to scale", "[exports][pictures][oracle]") {
    // Closed form: the front view is a rectangle of 200 x 100 mm at the stated scale.
    const auto svg = by_name(input_of(test_parts::plain_box(200, 150, 100))).at("views.svg");
    std::smatch m;
    REQUIRE(std::regex_search(svg, m, std::regex("scale 1:([0-9.]+)")));
    const double scale = std::stod(m[1]);
    const std::size_t from = svg.find("stroke-width=\"0.5\"");
    REQUIRE(from != std::string::npos);
    const std::string path = svg.substr(from, svg.find("/>", from) - from);
    double lo[2] = {1e9, 1e9}, hi[2] = {-1e9, -1e9};
    static const std::regex pair("(-?[0-9.]+),(-?[0-9.]+)");
    for (std::sregex_iterator it(path.begin(), path.end(), pair), end; it != end; ++it)
        for (std::size_t k = 0; k < 2; ++k) {
            lo[k] = std::min(lo[k], std::stod((*it)[k + 1]));
            hi[k] = std::max(hi[k], std::stod((*it)[k + 1]));
        }
    CHECK((hi[0] - lo[0]) * scale == Approx(200.0).margin(0.05));
    CHECK((hi[1] - lo[1]) * scale == Approx(100.0).margin(0.05));
}

TEST_CASE("hidden lines are hidden: a box shows nine edges from a corner and four from the front",
          "[exports][pictures][oracle]") {
    const auto input = input_of(test_parts::plain_box(200, 150, 100));
    const DrawMesh mesh = draw_mesh(input.products);
    const auto edges = edge_lines(input.products[0].solid);
    REQUIRE(edges.has_value());
    REQUIRE(edges->size() == 12);
    const auto length_seen = [&](geom::Vec3 toward) {
        View view = look(toward, {0, 0, 1});
        view.px_per_mm = 4.0;
        view.width = 1600;
        view.height = 1400;
        view.centre = {0, 75, 50};
        const DepthBuffer buffer(mesh, view);
        double length = 0.0;
        for (const auto& line : visible_lines(mesh, *edges, view, buffer))
            for (std::size_t i = 1; i < line.points.size(); ++i)
                length += std::hypot(line.points[i].x - line.points[i - 1].x, line.points[i].y - line.points[i - 1].y);
        return length / view.px_per_mm;
    };
    // Isometric: every edge is foreshortened by sqrt(2/3); nine of the twelve are seen.
    CHECK(length_seen({1, -1, 1}) == Approx(3 * 450.0 * std::sqrt(2.0 / 3.0)).margin(4.0));
    // From the front the far rectangle lies exactly behind the near one and may be drawn on top of it, never inside.
    View view = look({0, -1, 0}, {0, 0, 1});
    view.px_per_mm = 4.0;
    view.width = view.height = 1000;
    view.centre = {0, 75, 50};
    const DepthBuffer buffer(mesh, view);
    for (const auto& line : visible_lines(mesh, *edges, view, buffer))
        for (const auto& p : line.points) {
            const double inside = std::min(400.0 - std::abs(p.x - 500.0), 200.0 - std::abs(p.y - 500.0));
            CHECK(inside < 0.5);
        }
}

TEST_CASE("the outline of a ball is a circle of its radius", "[exports][pictures][oracle]") {
    // A ball of 60 mm as an octahedron split six times; no B-rep edges, so all lines are silhouettes.
    geom::TriMesh ball{{{60, 0, 0}, {-60, 0, 0}, {0, 60, 0}, {0, -60, 0}, {0, 0, 60}, {0, 0, -60}},
                       {{0, 2, 4}, {2, 1, 4}, {1, 3, 4}, {3, 0, 4}, {2, 0, 5}, {1, 2, 5}, {3, 1, 5}, {0, 3, 5}}};
    for (int level = 0; level < 6; ++level) {
        std::map<std::pair<std::uint32_t, std::uint32_t>, std::uint32_t> middles;
        geom::TriMesh finer{ball.vertices, {}};
        const auto middle = [&](std::uint32_t a, std::uint32_t b) {
            const auto [it, is_new] =
                middles.try_emplace(std::minmax(a, b), static_cast<std::uint32_t>(finer.vertices.size()));
            if (is_new) finer.vertices.push_back(geom::unit(ball.vertices[a] + ball.vertices[b]) * 60.0);
            return it->second;
        };
        for (const auto& t : ball.triangles) {
            const std::uint32_t ab = middle(t[0], t[1]), bc = middle(t[1], t[2]), ca = middle(t[2], t[0]);
            finer.triangles.insert(finer.triangles.end(),
                                   {{t[0], ab, ca}, {ab, t[1], bc}, {ca, bc, t[2]}, {ab, bc, ca}});
        }
        ball = finer;
    }
    const DrawMesh mesh = draw_mesh({{"ball", ball, {}, {}}});
    View view = look({0.3, -0.8, 0.52}, {0, 0, 1});
    view.px_per_mm = 5.0;
    view.width = view.height = 800;
    const DepthBuffer buffer(mesh, view);
    double length = 0.0;
    for (const auto& line : visible_lines(mesh, {}, view, buffer))
        for (std::size_t i = 0; i < line.points.size(); ++i) {
            CHECK(std::hypot(line.points[i].x - 400, line.points[i].y - 400) == Approx(300.0).margin(0.5));
            if (i > 0)
                length += std::hypot(line.points[i].x - line.points[i - 1].x, line.points[i].y - line.points[i - 1].y);
        }
    CHECK(length == Approx(2 * 3.14159265 * 300.0).epsilon(0.01));
    // And the area it covers is that of the disc.
    double covered = 0.0;
    for (int y = 0; y < 800; ++y)
        for (int x = 0; x < 800; ++x) covered += buffer.triangle(x, y) != DepthBuffer::kNoTriangle ? 1.0 : 0.0;
    CHECK(covered == Approx(3.14159265 * 300.0 * 300.0).epsilon(0.002));
}

TEST_CASE("a section through a box with a void shows the wall and nothing else", "[exports][pictures][oracle]") {
    // Closed form: at half height the material is 200 x 150 less 188 x 138 mm.
    const auto solid = test_parts::box_with_void(200, 150, 100, 6);
    const auto input = input_of(solid);
    const geom::Plane plane{{0, 0, 50}, {0, 0, 1}};
    const CutLoops loops = cut_loops(input.products, plane);
    REQUIRE(loops.size() == 1);
    REQUIRE(loops[0].size() == 2);
    double area = 0.0;  // outlines run round the material on one hand, so the void's counts the other way
    for (const auto& loop : loops[0])
        for (std::size_t i = 0; i < loop.size(); ++i) {
            const auto a = loop[i], b = loop[(i + 1) % loop.size()];
            CHECK(a.z == Approx(50.0).margin(1e-5));
            area += 0.5 * (a.x * b.y - a.y * b.x);
        }
    CHECK(std::abs(area) == Approx(200.0 * 150 - 188.0 * 138).epsilon(1e-6));

    View view = look({0, 0, 1}, {0, 1, 0});
    view.px_per_mm = 4.0;
    view.width = 900;
    view.height = 700;
    view.centre = {0, 75, 50};
    const CutAway cut = cut_away(loops, plane, view);
    const double material = static_cast<double>(std::count(cut.is_material.begin(), cut.is_material.end(), 1));
    CHECK(material / 16.0 == Approx(std::abs(area)).epsilon(0.01));
    CHECK_FALSE(cut.covers(450, 350));
    CHECK(cut.covers(450 - 97 * 4, 350));

    // Hatching of density 1 / spacing has the length area / spacing, and stays in the material.
    double length = 0.0;
    for (const auto& line : hatch(loops[0], view, 2.0, false)) {
        length += std::hypot(line[1].x - line[0].x, line[1].y - line[0].y);
        CHECK(cut.is_material[static_cast<std::size_t>(0.5 * (line[0].y + line[1].y)) * 900 +
                              static_cast<std::size_t>(0.5 * (line[0].x + line[1].x))] == 1);
    }
    CHECK(length == Approx(std::abs(area) * 16.0 / 2.0).epsilon(0.02));

    // What is left of the part has its faces behind the plane only; the void's floor is seen, six millimetres up.
    const DrawMesh below = clipped(draw_mesh(input.products), plane);
    for (const auto& t : below.triangles)
        for (const auto v : t) CHECK(below.points[v].z < 50.0 + 1e-9);
    const DepthBuffer buffer(below, view);
    CHECK(static_cast<double>(buffer.depth(450, 350)) == Approx(6.0 - 50.0).margin(1e-3));
}

TEST_CASE("a second section takes the place of the view that looks the same way", "[exports][pictures][oracle]") {
    PictureInput input = input_of(test_parts::plain_box(200, 150, 100));
    const std::string plain = by_name(input).at("views.svg");
    input.second_cut = PictureInput::Cut{{40, 30, 20}, false};
    const std::string upright = by_name(input).at("views.svg");
    input.second_cut->is_level = true;
    const std::string level = by_name(input).at("views.svg");
    std::smatch m;
    REQUIRE(std::regex_search(plain, m, std::regex("scale 1:([0-9.]+)")));
    const double n = std::stod(m[1]);
    CHECK(hatched_mm2(plain) == Approx(200 * 150 / (n * n)).epsilon(0.03));
    CHECK(hatched_mm2(upright) == Approx((200 * 150 + 150 * 100) / (n * n)).epsilon(0.03));
    CHECK(hatched_mm2(level) == Approx(2 * 200 * 150 / (n * n)).epsilon(0.03));
    for (const std::string* svg : {&upright, &level}) {
        CHECK(xml_fault(*svg) == "");
        CHECK(svg->find("section B-B") != std::string::npos);
    }
    CHECK(upright.find("from the left") == std::string::npos);
    CHECK(level.find("from above") == std::string::npos);
    CHECK(plain.find("section B-B") == std::string::npos);
}

TEST_CASE("the level section runs where it is asked", "[exports][pictures][oracle]") {
    PictureInput input = input_of(test_parts::box_with_void(200, 150, 100, 20));
    input.cut_at = geom::Point3{0, 0, 90};  // in the lid: hatched all over
    const std::string lid = by_name(input).at("views.svg");
    input.cut_at = geom::Point3{0, 0, 50};  // in the void: a frame
    const std::string frame = by_name(input).at("views.svg");
    CHECK(hatched_mm2(lid) / hatched_mm2(frame) == Approx(200.0 * 150 / (200 * 150 - 160 * 110)).epsilon(0.04));
}

TEST_CASE("a section hides what lies under the cut material and shows what lies in the open", "[exports][pictures]") {
    const auto solid = test_parts::hollow_box(240, 260, 330, 6, 24);
    const auto input = input_of(solid);
    const geom::Plane plane{{0, 0, 165}, {0, 0, 1}};
    View view = look({0, 0, 1}, {0, 1, 0});
    view.px_per_mm = 4.0;
    view.width = 1100;
    view.height = 1100;
    view.centre = {0, 130, 165};
    const DrawMesh below = clipped(draw_mesh(input.products), plane);
    const CutAway cut = cut_away(cut_loops(input.products, plane), plane, view);
    const DepthBuffer buffer(below, view);
    const auto edges = edge_lines(solid);
    REQUIRE(edges.has_value());
    std::size_t inside = 0;
    for (const auto& line : visible_lines(below, *edges, view, buffer, &cut))
        for (const auto& p : line.points) {
            CHECK_FALSE(cut.covers(p.x, p.y));
            inside += std::abs(p.x - 550) < 440 && std::abs(p.y - 550) < 440 ? 1 : 0;
        }
    CHECK(inside > 4);  // the rounding of the void's floor
}

TEST_CASE("pictures are the same to the byte, whatever the number of threads", "[exports][pictures][property]") {
    auto input = input_of(test_parts::loft(), 0.5);
    const auto surface = test_parts::gap_round(geom::bounds(input.products[0].mesh), 4, 20000);
    input.scan_points = &surface.points;
    input.scan_normals = &surface.normals;
    const auto first = by_name(input);
    CHECK(by_name(input) == first);
    const geom::ThreadLimit one(1);
    CHECK(by_name(input) == first);
}

TEST_CASE("making pictures can be interrupted", "[exports][pictures]") {
    const std::atomic<bool> cancel{true};
    geom::Context context;
    context.cancel = &cancel;
    const auto pictures = make_pictures(input_of(test_parts::plain_box(200, 150, 100)), context);
    REQUIRE_FALSE(pictures.has_value());
    CHECK(pictures.error().code == geom::FaultCode::Interrupted);
}

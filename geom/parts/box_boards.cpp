// A board with its holes is what the bare board and the made box have in common: all faces of the two are planes that
// lie in one another, or holes that cross the board. Holes are drawn from the board's own cylinders.
#include "geom/parts/internal/box_boards.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/parts/flat_drawing.h"
#include "geom/parts/internal/boolean.h"
#include "geom/parts/internal/face_loops.h"
#include "geom/parts/internal/site.h"

#include <BRepAdaptor_Surface.hxx>
#include <BRepAlgoAPI_Common.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepTools.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <gp_Ax2.hxx>
#include <gp_Cylinder.hxx>

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace geom::parts {
namespace {

constexpr double kSame_mm = 1e-4;
constexpr double kLettering_mm = 5.0;
constexpr double kSawTilts_deg = 45.0;  // [common practice]

/// A hole square to a board, by its cylinder.
struct BoardHole {
    Point3 on_axis;
    double radius_mm = 0.0;
    double from_mm = 0.0, to_mm = 0.0;  ///< depth behind the outer face
};

Result<Brep> with_holes_of(const Board& board, const Product& product) {
    return guard_occt("part", [&]() -> Result<Brep> {
        BRepAlgoAPI_Common common(to_occt(board.solid), to_occt(product.solid));
        std::vector<TopoDS_Solid> solids;
        if (common.IsDone() && !common.HasErrors())
            for (TopExp_Explorer e(common.Shape(), TopAbs_SOLID); e.More(); e.Next())
                solids.push_back(TopoDS::Solid(e.Current()));
        if (solids.size() != 1)
            return Fault{FaultCode::Internal,
                         fmt::format("board \"{}\": {} solids after its holes, wanted one", board.name, solids.size()),
                         {},
                         {},
                         "part"};
        GAPWRIGHT_CHECK(check_solid("board \"" + board.name + "\"", solids.front()));
        return to_brep(solids.front());
    });
}

std::vector<BoardHole> holes_of(const Board& board) {
    std::vector<BoardHole> holes;
    for (TopExp_Explorer e(to_occt(board.solid), TopAbs_FACE); e.More(); e.Next()) {
        const TopoDS_Face face = TopoDS::Face(e.Current());
        const BRepAdaptor_Surface surface(face);
        if (surface.GetType() != GeomAbs_Cylinder) continue;
        const gp_Cylinder cylinder = surface.Cylinder();
        const Vec3 axis = from_occt(cylinder.Axis().Direction());
        if (std::abs(std::abs(dot(axis, board.face.outward)) - 1.0) > 1e-9) continue;
        if ((face.Orientation() == TopAbs_REVERSED) != cylinder.Direct()) continue;  // its rim, not a hole
        double u0 = 0.0, u1 = 0.0, v0 = 0.0, v1 = 0.0;
        BRepTools::UVBounds(face, u0, u1, v0, v1);
        const Point3 at = from_occt(cylinder.Location());
        const double a = -board.face.height(at + axis * v0), b = -board.face.height(at + axis * v1);
        BoardHole hole{.on_axis = at + board.face.outward * -board.face.height(at),
                       .radius_mm = cylinder.Radius(),
                       .from_mm = std::min(a, b),
                       .to_mm = std::max(a, b)};
        const auto same = std::find_if(holes.begin(), holes.end(), [&](const BoardHole& h) {
            return distance(h.on_axis, hole.on_axis) < kSame_mm && std::abs(h.radius_mm - hole.radius_mm) < kSame_mm &&
                   hole.from_mm <= h.to_mm + kSame_mm && h.from_mm <= hole.to_mm + kSame_mm;
        });
        if (same == holes.end()) {
            holes.push_back(hole);
        } else {
            same->from_mm = std::min(same->from_mm, hole.from_mm);
            same->to_mm = std::max(same->to_mm, hole.to_mm);
        }
    }
    std::sort(holes.begin(), holes.end(), [](const BoardHole& a, const BoardHole& b) {
        const auto key = [](const BoardHole& h) {
            const auto steps = [](double mm) { return std::llround(mm / kSame_mm); };
            return std::array{-steps(h.radius_mm), steps(h.from_mm),   steps(h.to_mm),
                              steps(h.on_axis.x),  steps(h.on_axis.y), steps(h.on_axis.z)};
        };
        return key(a) < key(b);
    });
    return holes;
}

/// Where two lines meet, each by two places.
Point2 meeting(Point2 a, Point2 b, Point2 c, Point2 d) {
    const Point2 u = b - a, v = d - c;
    return a + u * (cross(c - a, v) / cross(u, v));
}

/// The blank: at every edge the wider of the two faces; and the other one's outline where a cut leans.
void draw_outlines(const Board& board, const Frame& frame, FlatDrawing& drawing) {
    const auto flat = [&](Point3 p) {
        const Point3 q = frame.to_local(p);
        return Point2{q.x, q.y};
    };
    const std::size_t n = board.outer.size();
    if (n == 0) {
        // Round: of its two faces the larger is cut, the smaller shown.
        const bool outer_is_larger = board.outer_mm2 >= board.inner_mm2;
        for (const bool is_outer : {true, false}) {
            Frame at = frame;
            if (!is_outer) at.origin += frame.z * -board.thickness_mm;
            const bool is_blank = is_outer == outer_is_larger;
            if (!is_blank && std::abs(board.outer_mm2 - board.inner_mm2) < kSame_mm) continue;
            for (const FlatFace& face : faces_in(to_occt(board.solid), at))
                add(drawing, face.outer, is_blank ? Operation::Outline : Operation::Reference);
        }
        return;
    }
    FlatPath blank, other{.operation = Operation::Reference, .points = {}};
    bool leans = false;
    for (std::size_t k = 0; k < n; ++k) {
        const auto edge = [&](std::size_t i, bool wide) {
            const bool by_outer = (board.edges[i].bevel_deg >= 0.0) == wide;
            const auto& corners = by_outer ? board.outer : board.inner;
            return std::pair{flat(corners[(i + n - 1) % n]), flat(corners[i])};
        };
        leans = leans || std::abs(board.edges[k].bevel_deg) > 1e-6;
        for (const bool wide : {true, false}) {
            const auto [a, b] = edge(k, wide);
            const auto [c, d] = edge((k + 1) % n, wide);
            const Point2 corner = meeting(a, b, c, d);
            (wide ? blank : other).points.push_back({corner.x, corner.y, 0.0});
        }
        if (std::abs(board.edges[k].bevel_deg) > 1e-6) {
            const auto [a, b] = edge(k, true);
            const Point2 way = (b - a) * (1.0 / distance(a, b)), in{-way.y, way.x};
            const Point2 at = (a + b) * 0.5 + in * (3.0 * kLettering_mm);
            drawing.texts.push_back({at.x, at.y, kLettering_mm,
                                     fmt::format("{} deg, {} face larger", tenths(std::abs(board.edges[k].bevel_deg)),
                                                 board.edges[k].bevel_deg > 0.0 ? "this" : "far")});
        }
    }
    drawing.paths.push_back(std::move(blank));
    if (leans) drawing.paths.push_back(std::move(other));
}

/// A rectangle of words, left below to right above.
struct WordsBox {
    Point2 lo, hi;
    double to(Point2 p) const {
        return norm({std::max({lo.x - p.x, p.x - hi.x, 0.0}), std::max({lo.y - p.y, p.y - hi.y, 0.0})});
    }
};
WordsBox words_box(Point2 at, double lettering_mm, std::size_t lines, std::size_t letters) {
    constexpr double kWide = 0.65, kLine = 1.5;  // of the lettering, about
    return {at - Point2{0.0, static_cast<double>(lines - 1) * kLine * lettering_mm},
            at + Point2{static_cast<double>(letters) * kWide * lettering_mm, lettering_mm}};
}

/// The lowest place, and there the leftmost, at which so many lines stand on the board clear of all that is drawn;
/// below the board where there is none.
Point2 place_for_words(const FlatDrawing& drawing, const Outline& board, std::size_t lines, std::size_t letters) {
    constexpr double kClear_mm = 3.0, kStep_mm = 4.0;
    const auto is_free = [&](const WordsBox& box) {
        for (double x = box.lo.x;; x = std::min(x + kStep_mm, box.hi.x)) {
            for (const double y : {box.lo.y, 0.5 * (box.lo.y + box.hi.y), box.hi.y})
                if (board.depth({x, y}) < kClear_mm) return false;
            if (x >= box.hi.x) break;
        }
        for (const FlatCircle& c : drawing.circles)
            if (box.to({c.x, c.y}) < c.radius_mm + kClear_mm) return false;
        for (const FlatText& t : drawing.texts) {
            const WordsBox other = words_box({t.x, t.y}, t.height_mm, 1, t.text.size());
            if (box.lo.x < other.hi.x && other.lo.x < box.hi.x && box.lo.y < other.hi.y && other.lo.y < box.hi.y)
                return false;
        }
        return true;
    };
    for (double y = board.lo().y; y < board.hi().y; y += kStep_mm)
        for (double x = board.lo().x; x < board.hi().x; x += kStep_mm)
            if (is_free(words_box({x, y}, kLettering_mm, lines, letters))) return {x, y};
    return {board.lo().x, board.lo().y - 3.0 * kLettering_mm};
}

/// Equal holes in one line: "8 holes of 4.2 mm, 12.5 deep".
std::vector<std::string> words_of(const std::vector<BoardHole>& holes, double thickness_mm) {
    std::vector<std::string> lines;
    for (std::size_t i = 0; i < holes.size();) {
        const BoardHole& hole = holes[i];
        const auto is_alike = [&](const BoardHole& h) {
            return std::abs(h.radius_mm - hole.radius_mm) < kSame_mm && std::abs(h.from_mm - hole.from_mm) < kSame_mm &&
                   std::abs(h.to_mm - hole.to_mm) < kSame_mm;
        };
        std::size_t end = i;
        while (end < holes.size() && is_alike(holes[end])) ++end;
        const bool from_face = hole.from_mm<kSame_mm, from_back = hole.to_mm> thickness_mm - kSame_mm;
        std::string line = fmt::format("{} of {} mm", end - i == 1 ? "hole" : fmt::format("{} holes", end - i),
                                       plain_number(rounded(2.0 * hole.radius_mm, 2)));
        if (!from_face || !from_back)
            line +=
                fmt::format(", {} deep{}", tenths(hole.to_mm - hole.from_mm), from_face ? "" : " from the far face");
        lines.push_back(std::move(line));
        i = end;
    }
    return lines;
}

FlatDrawing drawing_of(const Board& bare, const Board& finished, Vec3 up) {
    const Frame frame = drawing_frame(bare.face, up);
    FlatDrawing drawing{.name = bare.name, .thickness_mm = bare.thickness_mm, .paths = {}, .circles = {}, .texts = {}};
    draw_outlines(bare, frame, drawing);
    const std::vector<BoardHole> holes = holes_of(finished);
    for (const BoardHole& hole : holes) {
        const Point3 at = frame.to_local(hole.on_axis);
        const bool from_face = hole.from_mm<kSame_mm, from_back = hole.to_mm> bare.thickness_mm - kSame_mm;
        drawing.circles.push_back({from_face && from_back ? Operation::ThroughHole
                                   : from_face            ? Operation::Pocket
                                                          : Operation::Reference,
                                   at.x, at.y, hole.radius_mm});
    }
    std::vector<std::string> lines{
        fmt::format("{}, {} mm, seen on its outer face", bare.name, plain_number(bare.thickness_mm))};
    for (std::string& line : words_of(holes, bare.thickness_mm)) lines.push_back(std::move(line));
    std::size_t letters = 0;
    for (const std::string& line : lines) letters = std::max(letters, line.size());
    Loop loop;
    for (const FlatFace& face : faces_in(to_occt(bare.solid), frame)) loop = face.outer.chords(0.1);
    Point2 at = place_for_words(drawing, Outline(std::move(loop)), lines.size(), letters);
    for (const std::string& line : lines) {
        drawing.texts.push_back({at.x, at.y, kLettering_mm, line});
        at.y -= 1.5 * kLettering_mm;
    }
    return drawing;
}

bool lies_in_baffle(const EnclosureRequest& request, const Board& board) {
    const Plane& baffle = request.baffle.plane;
    return !board.is_bent && std::abs(dot(board.face.outward, baffle.outward) - 1.0) < 1e-12 &&
           -baffle.height(board.face.point) < request.baffle.thickness.mm() - 1e-6;
}

/// The port's tube is in the made box already: its hole is as wide as its outside.
Result<Brep> with_port_hole(const Board& board, const PortMade& port) {
    const gp_Ax2 axis(to_occt(port.mouth - port.inward), to_occt_dir(port.inward));
    TopTools_ListOfShape hole;
    hole.Append(BRepPrimAPI_MakeCylinder(axis, port.diameter_mm / 2.0 + port.wall_mm, port.length_mm + 2.0).Shape());
    GAPWRIGHT_TRY(bored,
                  cut("hole of the port in board \"" + board.name + "\"", to_occt(board.solid), hole, 0.0, 1e300));
    return to_brep(bored.solid);
}

}  // namespace

Status finish_boards(const EnclosureRequest& request, Enclosure& made) {
    if (request.baffle.shape != BaffleShape::Flat)
        return Fault{FaultCode::MethodRefused,
                     "boards: a baffle with a ring or a dish cannot be cut from a board",
                     "give [enclosure] baffle.shape = \"flat\", or [make] method = \"print\"",
                     {},
                     "part"};
    EXPECTS(!made.products.empty());
    const auto product_of = [&](const Board& board) -> const Product& {
        const auto plate = std::find_if(made.products.begin(), made.products.end(),
                                        [](const Product& p) { return p.name == "baffle"; });
        return lies_in_baffle(request, board) && plate != made.products.end() ? *plate : made.products.front();
    };
    double steepest_deg = 0.0;
    std::string steepest;
    for (const Board& board : made.boards)
        for (const BoardEdge& edge : board.edges)
            if (std::abs(edge.bevel_deg) > steepest_deg + 1e-6) {
                steepest_deg = std::abs(edge.bevel_deg);
                steepest = board.name + " to " + edge.meets;
            }
    if (steepest_deg > kSawTilts_deg + 0.01)
        made.notes.push_back(
            fmt::format("boards: the cut of {} leans by {} deg, and most saws tilt to {}: butt joints, or "
                        "another side in [box] through, would make it less",
                        steepest, tenths(steepest_deg), plain_number(kSawTilts_deg)));
    for (Board& board : made.boards) {
        Board finished = board;
        GAPWRIGHT_TRY(solid, with_holes_of(board, product_of(board)));
        finished.solid = solid;
        if (made.port && made.port->is_glued_in && lies_in_baffle(request, board)) {
            GAPWRIGHT_TRY(bored, with_port_hole(finished, *made.port));
            finished.solid = bored;
        }
        if (!board.is_bent) {
            auto drawing =
                guard_occt("part", [&]() -> Result<FlatDrawing> { return drawing_of(board, finished, request.up); });
            if (!drawing) return std::move(drawing).error();
            made.flats.push_back(std::move(*drawing));
        }
        board = std::move(finished);
    }
    return Done{};
}

}  // namespace geom::parts

// The library dxflib parses; what it delivers is kept as pieces, each a line or an arc, then pieces are joined.
#include "geom/job/outline_drawing.h"

#include "geom/core/text.h"

#include <dxflib/dl_creationadapter.h>
#include <dxflib/dl_dxf.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <map>
#include <numbers>
#include <set>
#include <system_error>

namespace geom::job {
namespace {

using parts::FlatPoint;

constexpr double kRad = std::numbers::pi / 180.0;
constexpr double kSame_mm = 1e-6;

struct Piece {
    FlatPoint from;  ///< its bulge goes to `to`
    FlatPoint to;
};

struct Ellipse {
    double x = 0.0, y = 0.0, major_x = 0.0, major_y = 0.0, ratio = 1.0;
};

/// Millimetres of a drawing's unit; of the codes that a workshop meets [DXF reference, $INSUNITS].
double unit_mm(int code) {
    static const std::map<int, double> known = {{1, 25.4}, {2, 304.8}, {4, 1.0}, {5, 10.0}, {6, 1000.0}};
    const auto found = known.find(code);
    return found == known.end() ? 0.0 : found->second;
}

/// In drawing units.
class Collector : public DL_CreationAdapter {
public:
    explicit Collector(std::string layer) : layer_(std::move(layer)) {}

    std::vector<Piece> pieces;
    std::vector<std::vector<FlatPoint>> closed;
    std::vector<Ellipse> ellipses;
    std::set<std::string> layers, refused;
    int unit_code = 0;

    void setVariableInt(const std::string& key, int value, int) override {
        if (key == "$INSUNITS") unit_code = value;
    }
    void addBlock(const DL_BlockData&) override { in_block_ = true; }
    void endBlock() override { in_block_ = false; }
    void endSection() override { finish(); }

    void addLine(const DL_LineData& d) override {
        if (!counts()) return;
        pieces.push_back({{d.x1, d.y1, 0.0}, {d.x2, d.y2, 0.0}});
    }
    void addArc(const DL_ArcData& d) override {
        if (!counts()) return;
        double turn = std::fmod(d.angle2 - d.angle1, 360.0);
        if (turn <= 0.0) turn += 360.0;
        const auto at = [&](double deg) {
            return FlatPoint{d.cx + d.radius * std::cos(deg * kRad), d.cy + d.radius * std::sin(deg * kRad), 0.0};
        };
        // Halves, so that no bulge becomes too great.
        const double bulge = parts::bulge_of(turn / 2.0 * kRad);
        FlatPoint a = at(d.angle1), m = at(d.angle1 + turn / 2.0), b = at(d.angle1 + turn);
        a.bulge = m.bulge = bulge;
        pieces.push_back({a, m});
        pieces.push_back({m, b});
    }
    void addCircle(const DL_CircleData& d) override {
        if (counts()) closed.push_back({{d.cx + d.radius, d.cy, 1.0}, {d.cx - d.radius, d.cy, 1.0}});
    }
    void addEllipse(const DL_EllipseData& d) override {
        if (!counts()) return;
        if (std::abs(std::abs(d.angle2 - d.angle1) - 2.0 * std::numbers::pi) > 1e-6)
            refused.insert("an arc of an ellipse");
        else
            ellipses.push_back({d.cx, d.cy, d.mx, d.my, d.ratio});
    }
    void addPolyline(const DL_PolylineData& d) override {
        finish();
        is_open_ = counts();
        is_closed_ = (d.flags & 1) != 0;
        corners_.clear();
    }
    void addVertex(const DL_VertexData& d) override {
        if (is_open_) corners_.push_back({d.x, d.y, d.bulge});
    }
    void endSequence() override { finish(); }
    void endEntity() override { finish(); }
    void addSpline(const DL_SplineData&) override {
        if (counts()) refused.insert("a spline");
    }
    void addInsert(const DL_InsertData&) override {
        if (counts()) refused.insert("an inserted block");
    }

private:
    bool counts() {
        finish();
        if (in_block_) return false;
        layers.insert(attributes.getLayer());
        if (!layer_.empty() && attributes.getLayer() != layer_) return false;
        if (const DL_Extrusion* e = extrusion; e != nullptr && e->getDirection()[2] < 0.0)
            refused.insert("something drawn from behind (extruded along -z)");
        return true;
    }
    void finish() {
        if (!is_open_) return;
        is_open_ = false;
        std::vector<FlatPoint> kept;
        for (const FlatPoint& p : corners_)
            if (kept.empty() || std::hypot(p.x - kept.back().x, p.y - kept.back().y) > kSame_mm)
                kept.push_back(p);
            else
                kept.back().bulge = p.bulge;
        // Drawn back to its first corner, whether it says that it is closed or not.
        if (kept.size() > 2 && std::hypot(kept.front().x - kept.back().x, kept.front().y - kept.back().y) <= kSame_mm)
            kept.pop_back(), is_closed_ = true;
        if (kept.size() < 2) return;
        if (is_closed_) {
            closed.push_back(std::move(kept));
            return;
        }
        for (std::size_t i = 0; i + 1 < kept.size(); ++i) pieces.push_back({kept[i], kept[i + 1]});
    }

    std::string layer_;
    bool in_block_ = false, is_open_ = false, is_closed_ = false;
    std::vector<FlatPoint> corners_;
};

double apart(const FlatPoint& a, const FlatPoint& b) {
    return std::hypot(a.x - b.x, a.y - b.y);
}

Piece turned(const Piece& piece) {
    Piece back{piece.to, piece.from};
    back.from.bulge = -piece.from.bulge;
    return back;
}

struct Joined {
    std::vector<std::vector<FlatPoint>> loops;
    std::optional<std::pair<FlatPoint, double>> loose;  ///< an end, and how far the next one is
};

Joined joined(std::vector<Piece> pieces, double within_mm) {
    Joined out;
    while (!pieces.empty()) {
        std::vector<FlatPoint> loop{pieces.back().from};
        FlatPoint end = pieces.back().to;
        pieces.pop_back();
        while (apart(end, loop.front()) > within_mm || loop.size() < 2) {
            double least = apart(end, loop.front());
            std::size_t best = pieces.size();
            double nearest = 1e300;
            for (std::size_t i = 0; i < pieces.size(); ++i)
                if (const double d = std::min(apart(end, pieces[i].from), apart(end, pieces[i].to)); d < nearest)
                    nearest = d, best = i;
            if (nearest > within_mm) {
                if (loop.size() >= 2) nearest = std::min(nearest, least);
                out.loose = {end, nearest};
                return out;
            }
            const Piece next = apart(end, pieces[best].from) <= within_mm ? pieces[best] : turned(pieces[best]);
            pieces.erase(pieces.begin() + static_cast<std::ptrdiff_t>(best));
            loop.push_back(next.from);
            end = next.to;
        }
        out.loops.push_back(std::move(loop));
    }
    return out;
}

Fault no_drawing(const std::filesystem::path& file, std::string what, std::string hint,
                 FaultCode code = FaultCode::BadJob) {
    return {code, fmt::format("{} {}", file.filename().string(), what), std::move(hint), {}, "job"};
}

Status check_file(const std::filesystem::path& file) {
    std::error_code error;
    if (!std::filesystem::is_regular_file(file, error))
        return no_drawing(file, "is not there", "a drawing's name is taken from the job's own folder",
                          FaultCode::Unreadable);
    std::ifstream stream(file, std::ios::binary);
    std::string start(4096, '\0');
    stream.read(start.data(), static_cast<std::streamsize>(start.size()));
    start.resize(static_cast<std::size_t>(stream.gcount()));
    if (start.find('\0') != std::string::npos)
        return no_drawing(file, "is a binary DXF, wanted text", "save it as an ASCII DXF", FaultCode::Unreadable);
    if (start.find("SECTION") == std::string::npos)
        return no_drawing(file, "is no DXF: it has no section", "save the outline as an ASCII DXF",
                          FaultCode::Unreadable);
    return Done{};
}

}  // namespace

Result<std::vector<parts::RingOutline>> read_drawing(const std::filesystem::path& file, const DrawingOptions& options) {
    GAPWRIGHT_CHECK(check_file(file));
    Collector found(options.layer);
    DL_Dxf reader;
    if (!reader.in(file.string(), &found))
        return no_drawing(file, "cannot be read", "save it as an ASCII DXF", FaultCode::Unreadable);
    found.endSection();
    const std::string layers = listed(std::vector<std::string>(found.layers.begin(), found.layers.end()));
    if (!found.refused.empty())
        return no_drawing(
            file, fmt::format("holds {}, wanted lines, arcs, circles, ellipses and polylines", *found.refused.begin()),
            "turn splines into arcs and break blocks up before saving; layer = \"..\" reads one layer");
    double mm = options.unitless_mm;
    if (found.unit_code != 0) {
        mm = unit_mm(found.unit_code);
        if (mm <= 0.0)
            return no_drawing(
                file, fmt::format("states unit {} in $INSUNITS, wanted mm, cm, m, inch or foot", found.unit_code),
                "save it in millimetres");
    }
    const auto placed = [&](FlatPoint p) { return FlatPoint{p.x * mm - options.x, p.y * mm - options.y, p.bulge}; };
    for (Piece& piece : found.pieces) piece = {placed(piece.from), placed(piece.to)};
    Joined chains = joined(std::move(found.pieces), options.joined_mm);
    if (chains.loose)
        return no_drawing(
            file,
            fmt::format("is open at ({}, {}): the next end is {} mm away, wanted at most {} mm",
                        plain_number(std::round((chains.loose->first.x + options.x) * 1e3) / 1e3),
                        plain_number(std::round((chains.loose->first.y + options.y) * 1e3) / 1e3),
                        chains.loose->second < 1e200 ? plain_number(std::round(chains.loose->second * 1e4) / 1e4)
                                                     : std::string("nowhere, more than any"),
                        plain_number(options.joined_mm)),
            "close the outline there; layer = \"..\" reads one layer");
    std::vector<parts::RingOutline> outlines;
    for (const Ellipse& e : found.ellipses) {
        const FlatPoint centre = placed({e.x, e.y, 0.0});
        if (std::hypot(centre.x, centre.y) > kSame_mm)
            return no_drawing(file,
                              fmt::format("has an ellipse about ({}, {}), wanted about the outline's origin",
                                          plain_number(e.x * mm), plain_number(e.y * mm)),
                              "give origin = [x, y] of its centre");
        const double major = std::hypot(e.major_x, e.major_y) * mm * 2.0;
        outlines.push_back(parts::ellipse_outline(Length::mm(major), Length::mm(major * e.ratio),
                                                  Angle::rad(std::atan2(e.major_y, e.major_x))));
    }
    for (auto& loop : found.closed) {
        for (FlatPoint& p : loop) p = placed(p);
        const bool is_circle = loop.size() == 2 && loop[0].bulge == 1.0 && loop[1].bulge == 1.0;
        if (is_circle && std::hypot(loop[0].x + loop[1].x, loop[0].y + loop[1].y) < 2.0 * kSame_mm) {
            outlines.push_back(parts::round_outline(Length::mm(apart(loop[0], loop[1]))));
            continue;
        }
        chains.loops.push_back(std::move(loop));
    }
    for (auto& loop : chains.loops) {
        auto outline = parts::path_outline(std::move(loop));
        if (!outline) return no_drawing(file, ": " + outline.error().what, outline.error().hint);
        outlines.push_back(*std::move(outline));
    }
    if (outlines.empty())
        return no_drawing(file,
                          options.layer.empty() || found.layers.contains(options.layer)
                              ? "holds no closed outline"
                              : fmt::format("has nothing on layer \"{}\"; its layers: {}", options.layer, layers),
                          "wanted one closed line, arc, circle or polyline outline");
    return outlines;
}

}  // namespace geom::job

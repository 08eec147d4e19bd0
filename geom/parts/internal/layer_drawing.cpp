// The machine cuts square to the sheet, so it may cut only what is outside the ring, or open, at every height of the
// layer: outlines are the widest, openings the narrowest. Of a slanted round bore that is what two equal ellipses have
// in common: the part of the slanted cylinder between them is their hull, and what lies in both lies in all between.
#include "geom/parts/internal/layer_drawing.h"

#include "geom/core/text.h"
#include "geom/parts/internal/arcs.h"
#include "geom/parts/internal/boolean.h"
#include "geom/parts/internal/face_loops.h"

#include <fmt/format.h>
#include <BRepAdaptor_Curve.hxx>
#include <BRepAdaptor_Surface.hxx>
#include <BRepClass3d_SolidClassifier.hxx>
#include <BRepTools.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <gp_Ax3.hxx>
#include <gp_Cone.hxx>
#include <gp_Cylinder.hxx>
#include <gp_Pln.hxx>
#include <gp_Torus.hxx>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>

namespace geom::parts {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kParallel = 1e-9, kSameArea = 1e-6, kSame_mm = 1e-6, kHeight_mm = 1e-4, kEllipse_mm = 0.005;
constexpr double kChord_mm = 0.002, kApart_mm = 0.005, kWithin_mm = 0.02;
constexpr double kText_mm = 4.0, kWords_mm = -50.0;  // height; where lines of words begin

/// A hole's wall: faces of one cylinder, in the numbers of the seat.
struct Round {
    Point3 at;
    Vec3 axis;  ///< unit, up
    double radius_mm = 0.0, turned = 0.0, lo_mm = 1e300, hi_mm = -1e300;

    Point3 on(double height) const { return at + axis * ((height - at.z) / axis.z); }
    bool is_level() const { return std::hypot(axis.x, axis.y) < kParallel; }
    bool is_full() const { return turned > 2.0 * kPi - 1e-6; }
    double slant() const { return std::acos(std::min(1.0, axis.z)); }
};

void grow(Round& round, const TopoDS_Face& face, const Frame& seat) {
    for (TopExp_Explorer e(face, TopAbs_EDGE); e.More(); e.Next()) {
        const BRepAdaptor_Curve curve(TopoDS::Edge(e.Current()));
        for (int i = 0; i <= 32; ++i) {
            const double s = i / 32.0, t = (1.0 - s) * curve.FirstParameter() + s * curve.LastParameter();
            const double z = seat.to_local(from_occt(curve.Value(t))).z;
            round.lo_mm = std::min(round.lo_mm, z);
            round.hi_mm = std::max(round.hi_mm, z);
        }
    }
}

/// Cylinders whose material lies outside, those that cross the seat's plane at some angle only.
std::vector<Round> rounds_of(const TopoDS_Shape& shape, const Frame& seat) {
    std::vector<Round> rounds;
    for (const TopoDS_Face& face : faces_of(shape)) {
        const BRepAdaptor_Surface surface(face, false);
        if (surface.GetType() != GeomAbs_Cylinder) continue;
        const gp_Cylinder cylinder = surface.Cylinder();
        if (cylinder.Direct() != (face.Orientation() == TopAbs_REVERSED)) continue;
        Round round{.at = seat.to_local(from_occt(cylinder.Location())),
                    .axis = seat.dir_to_local(from_occt(cylinder.Axis().Direction())),
                    .radius_mm = cylinder.Radius()};
        if (std::abs(round.axis.z) < 0.1) continue;
        if (round.axis.z < 0.0) round.axis = -round.axis;
        const auto same = std::find_if(rounds.begin(), rounds.end(), [&](const Round& r) {
            return norm(cross(r.axis, round.axis)) < kParallel && norm(cross(r.at - round.at, r.axis)) < kSame_mm &&
                   std::abs(r.radius_mm - round.radius_mm) < kSame_mm;
        });
        Round& whole = same != rounds.end() ? *same : rounds.emplace_back(round);
        double u0 = 0.0, u1 = 0.0, v0 = 0.0, v1 = 0.0;
        BRepTools::UVBounds(face, u0, u1, v0, v1);
        whole.turned += u1 - u0;
        grow(whole, face, seat);
    }
    return rounds;
}

/// From the origin to the farthest of borders, this way; 0: none.
double reach(const std::vector<Loop>& borders, double angle) {
    const Point2 way{std::cos(angle), std::sin(angle)};
    double most = 0.0;
    for (const Loop& border : borders)
        for (std::size_t i = 0; i < border.size(); ++i) {
            const Point2 a = border[i], b = border[(i + 1) % border.size()];
            const double sa = cross(way, a), sb = cross(way, b);
            if ((sa > 0.0) != (sb > 0.0)) most = std::max(most, dot(way, a + (b - a) * (sa / (sa - sb))));
        }
    return most;
}

/// Of two sets of borders round the origin the wider or the narrower everywhere: chords within about 0.01 mm.
FlatLoop either(const std::vector<Loop>& a, const std::vector<Loop>& b, bool wider) {
    constexpr int kPieces = 1440;
    FlatLoop loop;
    for (int i = 0; i < kPieces; ++i) {
        const double t = 2.0 * kPi * i / kPieces, ra = reach(a, t), rb = reach(b, t);
        const double r = wider ? std::max(ra, rb) : std::min(ra, rb);
        loop.path.points.push_back({r * std::cos(t), r * std::sin(t), 0.0});
    }
    return loop;
}

/// `a` stands out of `b` somewhere.
bool stands_out(const std::vector<Loop>& a, const std::vector<Loop>& b) {
    for (int i = 0; i < 360; ++i) {
        const double t = 2.0 * kPi * (i + 0.5) / 360;
        if (reach(a, t) - reach(b, t) > kApart_mm) return true;
    }
    return false;
}

std::vector<Loop> chords(const std::vector<FlatLoop>& loops) {
    std::vector<Loop> all;
    for (const FlatLoop& loop : loops) all.push_back(loop.chords(kChord_mm));
    return all;
}

/// A place just within a border.
Point2 just_within(const FlatLoop& loop) {
    const Loop border = loop.chords(kChord_mm);
    const Point2 a = border[0], along = border[1] - a;
    return a + along * 0.5 + Point2{-along.y, along.x} * (kWithin_mm / norm(along));
}

/// A border in a face's plane, and the hole of another face that it lies in.
struct Nested {
    const FlatFace* face = nullptr;
    const FlatLoop* hole = nullptr;
};
std::vector<Nested> nested(const std::vector<FlatFace>& faces) {
    std::vector<Nested> found;
    for (const FlatFace& face : faces) {
        const Point2 p = just_within(face.outer);
        const FlatLoop* round = nullptr;
        for (const FlatFace& other : faces)
            for (const FlatLoop& hole : other.holes)
                if (&other != &face && hole.holds(p)) round = &hole;
        found.push_back({&face, round});
    }
    return found;
}
/// Borders of what lies in no other face's hole: those that a saw follows.
std::vector<FlatLoop> outermost(const std::vector<FlatFace>& faces) {
    std::vector<FlatLoop> borders;
    for (const Nested& each : nested(faces))
        if (each.hole == nullptr) borders.push_back(each.face->outer);
    return borders;
}

class Drawer {
public:
    Drawer(const SheetRequest& request, const Frame& seat, const SheetLayer& layer, const TopoDS_Shape& bare)
        : request_(request), seat_(seat), layer_(layer), bare_(bare), rounds_(rounds_of(bare, seat)) {
        lower_ = faces_in(bare, at_height(layer.from_mm));
        upper_ = faces_in(bare, at_height(layer.to_mm));
        if (request.front)
            front_ = Plane{seat.to_local(request.front->point), seat.dir_to_local(unit(request.front->outward))};
        if (is_tilted()) add_slopes();
    }

    FlatDrawing draw(std::vector<std::string>& notes) {
        drawing_ = {.name = layer_.name,
                    .thickness_mm = request_.sheets.thickness.mm(),
                    .paths = {},
                    .circles = {},
                    .texts = {}};
        outline();
        row_mm_ = lowest() - 2.0 * kText_mm;
        text(fmt::format("{}: sheet {} mm, seen from the front", layer_.name,
                         plain_number(request_.sheets.thickness.mm())));
        if (const double high = layer_.to_mm - layer_.from_mm; high < request_.sheets.thickness.mm() - 0.01)
            text(fmt::format("finished height {:.1f} mm", high));
        bevel();
        lip();
        holes();
        floors();
        sinks();
        dowels();
        if (leaves_bore_open_)
            notes.push_back(
                fmt::format("{}: its bore is slanted and runs out of its side: what leans over the outline "
                            "is left to be added by hand",
                            layer_.name));
        return std::move(drawing_);
    }

private:
    bool is_tilted() const { return front_ && std::hypot(front_->outward.x, front_->outward.y) > kParallel; }

    /// Borders of the front face as they look from over the seat.
    void add_slopes() {
        const Frame frame = drawing_frame(*request_.front, request_.up);
        for (const FlatLoop& border : outermost(faces_in(bare_, frame))) {
            Loop slope;
            for (const Point2 p : border.chords(kChord_mm)) {
                const Point3 q = seat_.to_local(frame.to_parent({p.x, p.y, 0.0}));
                slope.push_back({q.x, q.y});
            }
            slopes_.push_back(std::move(slope));
        }
    }

    Frame at_height(double height) const {
        Frame frame = seat_;
        frame.origin = seat_.origin + seat_.z * height;
        return frame;
    }
    double lowest() const {
        double least = 0.0;
        for (const FlatPath& path : drawing_.paths)
            for (const Point2 p : FlatLoop{path, {}}.chords(0.1)) least = std::min(least, p.y);
        for (const FlatCircle& c : drawing_.circles) least = std::min(least, c.y - c.radius_mm);
        return least;
    }
    void text(std::string words) {
        if (!told_.insert(words).second) return;
        drawing_.texts.push_back({kWords_mm, row_mm_, kText_mm, std::move(words)});
        row_mm_ -= 2.0 * kText_mm;
    }
    void add(const FlatLoop& loop, Operation operation) { parts::add(drawing_, loop, operation); }

    bool is_solid(Point2 p, double height) const {
        const Point3 at = seat_.to_parent({p.x, p.y, height});
        return BRepClass3d_SolidClassifier(bare_, to_occt(at), kSame_mm).State() == TopAbs_IN;
    }

    void outline() {
        const std::vector<FlatLoop> low = outermost(lower_), high = outermost(upper_);
        if (low.size() != 1 || !low[0].holds({})) {
            for (const FlatLoop& border : low.empty() ? high : low) add(border, Operation::Outline);
            return;
        }
        std::vector<Loop> tops = chords(high);
        const bool is_level = slopes_.empty() && high.size() == 1;
        tops.insert(tops.end(), slopes_.begin(), slopes_.end());
        const bool widens = stands_out(tops, chords(low)), narrows = stands_out(chords(low), tops);
        is_slanted_ = widens || narrows;
        if (widens && !narrows && is_level)
            add(high[0], Operation::Outline);
        else
            add(widens ? either(chords(low), tops, true) : low[0], Operation::Outline);
        if (widens) add(low[0], Operation::Reference);
        if (narrows) add(is_level ? high[0] : either(tops, tops, true), Operation::Reference);
    }

    /// Where a lip is glued on: its face fills a hole of the seat's.
    void lip() {
        for (const Nested& each : nested(lower_)) {
            if (each.hole == nullptr) continue;
            const double area = each.face->outer.area_mm2();
            if (std::abs(each.hole->area_mm2() - area) > kSameArea * area) continue;
            add(each.face->outer, Operation::Reference);
            text("lip: glued on within the reference, lower face");
        }
    }

    void bevel() {
        if (is_slanted_) text("outside slanted or cut: cut to the outline, finish to the reference");
        if (slopes_.empty()) return;
        const double t = std::acos(std::clamp(front_->outward.z, -1.0, 1.0));
        text(fmt::format("bevel {:.1f} deg, high side at the arrow", t * 180.0 / kPi));
        const Vec3 up = unit(Vec3{-front_->outward.x, -front_->outward.y, 0.0}), side{-up.y, up.x, 0.0};
        const auto at = [&](double along, double across) {
            const Vec3 p = up * along + side * across;
            return FlatPoint{p.x, p.y, 0.0};
        };
        drawing_.paths.push_back({Operation::Text, {at(0, 0), at(30, 0)}, false});
        drawing_.paths.push_back({Operation::Text, {at(24, 4), at(30, 0), at(24, -4)}, false});
    }

    bool is_bore(const Round& round) const {
        const Point3 p = round.on((layer_.from_mm + layer_.to_mm) / 2.0);
        return std::hypot(p.x, p.y) < round.radius_mm;
    }

    void holes() {
        for (const Round& round : rounds_) {
            const bool bore = is_bore(round);
            if (round.is_level()) {
                const bool is_hole = goes_through(round);
                if (is_hole)
                    drawing_.circles.push_back({Operation::ThroughHole, round.at.x, round.at.y, round.radius_mm});
                has_bore_ = has_bore_ || (is_hole && bore);
                continue;
            }
            has_bore_ = has_bore_ || bore;
            if (bore)
                slanted_bore(round);
            else
                slanted_hole(round);
        }
        if (!has_bore_) odd_bore();
    }

    /// The narrowest of those about its axis, which is open from face to face; one that is not whole runs out of the
    /// side, and the outline has it.
    bool goes_through(const Round& round) const {
        if (!round.is_full()) return false;
        for (const Round& other : rounds_)
            if (other.is_level() && std::hypot(other.at.x - round.at.x, other.at.y - round.at.y) < kSame_mm &&
                other.radius_mm < round.radius_mm - kSame_mm)
                return false;
        constexpr int kLooks = 8;
        for (int i = 0; i <= kLooks; ++i) {
            const double s = kHeight_mm + (1.0 - 2.0 * kHeight_mm) * i / kLooks;
            if (is_solid({round.at.x, round.at.y}, layer_.from_mm + s * (layer_.to_mm - layer_.from_mm))) return false;
        }
        return true;
    }

    /// What is milled to a depth: floors between the two faces, and what stands on them.
    void floors() {
        std::vector<double> heights;
        for (const TopoDS_Face& face : faces_of(bare_)) {
            const BRepAdaptor_Surface surface(face, false);
            if (surface.GetType() != GeomAbs_Plane) continue;
            if (norm(cross(from_occt(surface.Plane().Axis().Direction()), seat_.z)) > kParallel) continue;
            const double height = seat_.to_local(from_occt(surface.Plane().Location())).z;
            const bool is_between = height > layer_.from_mm + kHeight_mm && height < layer_.to_mm - kHeight_mm;
            const bool is_known = std::any_of(heights.begin(), heights.end(),
                                              [&](double h) { return std::abs(h - height) < kHeight_mm; });
            if (is_between && !is_known) heights.push_back(height);
        }
        std::sort(heights.begin(), heights.end());
        for (const double height : heights)
            for (const FlatFace& face : faces_in(bare_, at_height(height))) floor(face, height);
    }

    void floor(const FlatFace& face, double height) {
        const std::string what = face.outer.circle
                                     ? fmt::format("pocket {} mm", plain_number(2.0 * face.outer.circle->radius_mm))
                                     : std::string("pocket");
        text(face.looks_along ? fmt::format("{}: floor {:.1f} mm over the lower face", what, height - layer_.from_mm)
                              : fmt::format("{}: {:.1f} mm deep from the lower face", what, height - layer_.from_mm));
        add(face.outer, Operation::Pocket);
        for (const FlatLoop& hole : face.holes)
            if (is_solid(just_within(hole), height + (face.looks_along ? kWithin_mm : -kWithin_mm)))
                add(hole, Operation::Pocket);
    }

    void slanted_hole(const Round& round) {
        double height = layer_.to_mm;
        if (front_) {
            const double to_front = -front_->height(round.at) / dot(front_->outward, round.axis);
            height = std::min(height, (round.at + round.axis * to_front).z);
        }
        const Point3 p = round.on(height);
        drawing_.circles.push_back({Operation::Reference, p.x, p.y, round.radius_mm});
        drawing_.texts.push_back(
            {p.x + round.radius_mm + 1.0, p.y, 2.5,
             fmt::format("{} mm, {:.1f} deg", plain_number(2.0 * round.radius_mm), round.slant() * 180.0 / kPi)});
    }

    /// Ellipse that a slanted cylinder leaves in a level plane; `from`, `to`: angles of its own.
    void add_ellipse(std::vector<FlatPoint>& points, const Round& round, double height, double from, double to) const {
        const Point3 c = round.on(height);
        const Vec3 u = unit(Vec3{round.axis.x, round.axis.y, 0.0}), v{-u.y, u.x, 0.0};
        const double a = round.radius_mm / round.axis.z, b = round.radius_mm;
        const auto at = [&](double t) {
            const Vec3 p = c + u * (a * std::cos(t)) + v * (b * std::sin(t));
            return FlatPoint{p.x, p.y, 0.0};
        };
        add_arcs(points, at, from, to, kEllipse_mm);
    }

    void slanted_bore(const Round& round) {
        const Point3 low = round.on(layer_.from_mm);
        const bool is_closed = std::any_of(lower_.begin(), lower_.end(), [&](const FlatFace& face) {
            return std::any_of(face.holes.begin(), face.holes.end(), [&](const FlatLoop& hole) {
                return hole.holds({low.x, low.y});
            });
        });
        if (!is_closed) {
            leave_bore(fmt::format("bore slanted by {:.1f} deg: finish it when the layers are glued",
                                   round.slant() * 180.0 / kPi));
            return;
        }
        double top = layer_.to_mm;
        if (front_) {
            const double to_front = -front_->height(round.at) / dot(front_->outward, round.axis);
            top = std::min(top, (round.at + round.axis * to_front).z + round.radius_mm * std::sin(round.slant()));
        }
        const Point3 high = round.on(top);
        const double shift = std::hypot(high.x - low.x, high.y - low.y), a = round.radius_mm / round.axis.z;
        if (shift < 2.0 * a) {
            const double turn = std::acos(shift / (2.0 * a));
            FlatPath common{Operation::ThroughHole, {}, true};
            add_ellipse(common.points, round, layer_.from_mm, -turn, turn);
            add_ellipse(common.points, round, top, kPi - turn, kPi + turn);
            drawing_.paths.push_back(std::move(common));
        }
        for (const double height : {layer_.from_mm, top}) {
            FlatPath whole{Operation::Reference, {}, true};
            add_ellipse(whole.points, round, height, 0.0, 2.0 * kPi);
            drawing_.paths.push_back(std::move(whole));
        }
        text(fmt::format("bore {} mm slanted by {:.1f} deg: cut what is open at every height, finish to the references",
                         plain_number(2.0 * round.radius_mm), round.slant() * 180.0 / kPi));
    }

    void leave_bore(std::string words) {
        leaves_bore_open_ = true;
        text(std::move(words));
    }

    /// An opening, cut square, takes some of the ring: just within its border there is some at a height.
    bool takes_some(const FlatLoop& opening) const {
        const Loop border = opening.chords(kApart_mm);
        const std::size_t step = std::max<std::size_t>(1, border.size() / 48);
        for (std::size_t i = 0; i < border.size(); i += step) {
            const Point2 along = border[(i + 1) % border.size()] - border[i];
            const Point2 p = border[i] + along * 0.5 + Point2{-along.y, along.x} * (2.0 * kWithin_mm / norm(along));
            for (const double share : {0.05, 0.2, 0.4, 0.6, 0.8, 0.95})
                if (is_solid(p, layer_.from_mm + share * (layer_.to_mm - layer_.from_mm))) return true;
        }
        return false;
    }

    /// A bore that is no cylinder: by the borders in the two faces.
    void odd_bore() {
        const auto middle = [](const std::vector<FlatFace>& faces) {
            const FlatLoop* narrowest = nullptr;
            for (const FlatFace& face : faces)
                for (const FlatLoop& hole : face.holes)
                    if (hole.holds({}) && (narrowest == nullptr || hole.area_mm2() < narrowest->area_mm2()))
                        narrowest = &hole;
            return narrowest;
        };
        const FlatLoop *low = middle(lower_), *high = middle(upper_);
        if (low == nullptr) return;
        if (high == nullptr) {
            if (takes_some(*low))
                leave_bore("bore slanted: finish it when the layers are glued");
            else
                add(*low, Operation::ThroughHole);
            return;
        }
        const std::vector<Loop> a{low->chords(kChord_mm)}, b{high->chords(kChord_mm)};
        const bool narrows = stands_out(a, b), widens = stands_out(b, a);
        add(narrows && widens ? either(a, b, false) : narrows ? *high : *low, Operation::ThroughHole);
        if (!narrows && !widens) return;
        add(*low, Operation::Reference);
        add(*high, Operation::Reference);
        text("bore slanted: cut what is open at both faces, finish to the references");
    }

    void sinks() {
        for (const TopoDS_Face& face : faces_of(bare_)) {
            const BRepAdaptor_Surface surface(face, false);
            const bool is_cone = surface.GetType() == GeomAbs_Cone;
            if (!is_cone && surface.GetType() != GeomAbs_Torus) continue;
            const gp_Ax3 place = is_cone ? surface.Cone().Position() : surface.Torus().Position();
            const Vec3 axis = seat_.dir_to_local(from_occt(place.Direction()));
            if (std::hypot(axis.x, axis.y) > kParallel) continue;
            if (is_cone && place.Direct() != (face.Orientation() == TopAbs_REVERSED)) continue;  // of the outside
            const Point3 at = seat_.to_local(from_occt(place.Location()));
            double most = 0.0;
            for (TopExp_Explorer v(face, TopAbs_EDGE); v.More(); v.Next()) {
                const BRepAdaptor_Curve curve(TopoDS::Edge(v.Current()));
                const Point3 p = seat_.to_local(from_occt(curve.Value(curve.FirstParameter())));
                most = std::max(most, std::hypot(p.x - at.x, p.y - at.y));
            }
            if (!has_bore_ && std::hypot(at.x, at.y) < most) continue;  // the bore itself
            drawing_.circles.push_back({Operation::Countersink, at.x, at.y, most});
        }
    }

    void dowels() {
        for (const bool upper : {false, true}) {
            double depth = 0.0, diameter = 0.0;
            int count = 0;
            for (const DowelHole& hole : layer_.dowels) {
                if ((dot(hole.way, seat_.z) < 0.0) != upper) continue;
                const Point3 p = seat_.to_local(hole.from);
                drawing_.circles.push_back(
                    {hole.goes_through ? Operation::ThroughHole : Operation::Pocket, p.x, p.y, hole.diameter_mm / 2.0});
                drawing_.texts.push_back({p.x + hole.diameter_mm / 2.0 + 0.5, p.y, 2.5,
                                          hole.goes_through ? "dowel, through"
                                          : upper           ? "dowel, upper face"
                                                            : "dowel, lower face"});
                if (hole.goes_through) continue;
                depth = hole.depth_mm;
                diameter = hole.diameter_mm;
                ++count;
            }
            if (count > 0)
                text(fmt::format("dowels {} mm: {} holes {:.1f} mm deep from the {} face", plain_number(diameter),
                                 count, depth, upper ? "upper" : "lower"));
        }
    }

    const SheetRequest& request_;
    const Frame& seat_;
    const SheetLayer& layer_;
    const TopoDS_Shape& bare_;
    std::vector<Round> rounds_;
    std::vector<FlatFace> lower_, upper_;  // what lies in the layer's two faces
    std::optional<Plane> front_;           // in the numbers of the seat
    std::vector<Loop> slopes_;             // of a tilted front face in this layer
    FlatDrawing drawing_;
    std::set<std::string> told_;
    double row_mm_ = 0.0;
    bool has_bore_ = false, is_slanted_ = false, leaves_bore_open_ = false;
};

}  // namespace

FlatDrawing layer_drawing(const SheetRequest& request, const Frame& seat, const SheetLayer& layer,
                          const TopoDS_Shape& bare, std::vector<std::string>& notes) {
    return Drawer(request, seat, layer, bare).draw(notes);
}

}  // namespace geom::parts

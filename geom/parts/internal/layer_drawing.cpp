// The machine cuts square to the sheet, so it may cut only what is outside the ring, or open, at every height of the
// layer: outlines are the widest, openings the narrowest. Both are taken from the plane faces and the triangles of
// walls that are not upright, seen along the cut. Where a border of one of the faces does it, it is drawn as it is;
// otherwise by chords.
#include "geom/parts/internal/layer_drawing.h"

#include "geom/core/text.h"
#include "geom/measure/brep_measure.h"
#include "geom/parts/internal/boolean.h"
#include "geom/parts/internal/face_loops.h"
#include "geom/parts/internal/radial_cover.h"

#include <fmt/format.h>
#include <BRepAdaptor_Curve.hxx>
#include <BRepAdaptor_Surface.hxx>
#include <BRepClass3d_SolidClassifier.hxx>
#include <BRepTools.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <gp_Ax1.hxx>
#include <gp_Cone.hxx>
#include <gp_Cylinder.hxx>
#include <gp_Pln.hxx>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>

namespace geom::parts {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kParallel = 1e-9, kSameArea = 1e-6, kSame_mm = 1e-6, kHeight_mm = 1e-4;
constexpr double kUpright = 0.05;  // faces steeper than this against the sheet are seen by their borders' neighbours
constexpr double kChord_mm = 0.002, kApart_mm = 0.015, kWithin_mm = 0.02, kWall_mm = 0.01;
constexpr double kText_mm = 4.0, kWords_mm = -50.0;  // height; where lines of words begin

/// A hole's wall: faces of one cylinder, in the numbers of the seat.
struct Round {
    Point3 at;
    Vec3 axis;  ///< unit, up
    double radius_mm = 0.0, turned = 0.0;

    Point3 on(double height) const { return at + axis * ((height - at.z) / axis.z); }
    bool is_level() const { return std::hypot(axis.x, axis.y) < kParallel; }
    bool is_full() const { return turned > 2.0 * kPi - 1e-6; }
    double slant() const { return std::acos(std::min(1.0, axis.z)); }
};

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
        double u0 = 0.0, u1 = 0.0, v0 = 0.0, v1 = 0.0;
        BRepTools::UVBounds(face, u0, u1, v0, v1);
        (same != rounds.end() ? *same : rounds.emplace_back(round)).turned += u1 - u0;
    }
    return rounds;
}

/// A place just within a border.
Point2 just_within(const FlatLoop& loop) {
    const Loop border = loop.chords(kChord_mm);
    const Point2 a = border[0], along = border[1] - a;
    return a + along * 0.5 + Point2{-along.y, along.x} * (kWithin_mm / norm(along));
}

/// A face, and the hole of another one in its plane that it lies in.
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

/// Plane faces at one height.
struct Level {
    double height_mm = 0.0;
    std::vector<FlatFace> faces;

    /// Borders of what lies in no other face's hole: those that a saw follows.
    std::vector<FlatLoop> outermost() const {
        std::vector<FlatLoop> borders;
        for (const Nested& each : nested(faces))
            if (each.hole == nullptr) borders.push_back(each.face->outer);
        return borders;
    }
    /// The narrowest hole round the origin.
    std::optional<FlatLoop> opening() const {
        std::optional<FlatLoop> narrowest;
        for (const FlatFace& face : faces)
            for (const FlatLoop& hole : face.holes)
                if (hole.holds({}) && (!narrowest || hole.area_mm2() < narrowest->area_mm2())) narrowest = hole;
        return narrowest;
    }
};

FlatLoop polygon(const Loop& loop) {
    FlatLoop flat;
    for (const Point2 p : loop) flat.path.points.push_back({p.x, p.y, 0.0});
    return flat;
}

FlatLoop round_loop(double x, double y, double radius_mm) {
    return {.path = {Operation::Outline, {{x - radius_mm, y, 1.0}, {x + radius_mm, y, 1.0}}, true},
            .circle = FlatCircle{Operation::Outline, x, y, radius_mm}};
}

/// By area and extent.
bool is_same(const FlatLoop& a, const FlatLoop& b) {
    if (std::abs(a.area_mm2() - b.area_mm2()) > kSameArea * a.area_mm2()) return false;
    const Outline one(a.chords(kApart_mm)), other(b.chords(kApart_mm));
    return distance(one.lo(), other.lo()) < 2.0 * kApart_mm && distance(one.hi(), other.hi()) < 2.0 * kApart_mm;
}

class Drawer {
public:
    Drawer(const SheetRequest& request, const Frame& seat, const SheetLayer& layer, const TopoDS_Shape& bare)
        : request_(request), seat_(seat), layer_(layer), bare_(bare), rounds_(rounds_of(bare, seat)) {
        lower_.height_mm = layer.from_mm;
        upper_.height_mm = layer.to_mm;
        if (request.front)
            front_ = Plane{seat.to_local(request.front->point), seat.dir_to_local(unit(request.front->outward))};
    }

    Result<FlatDrawing> draw(const Context& context) {
        sort_faces();
        GAPWRIGHT_CHECK(cover_walls(context));
        angles_ = angles_round(corners_);
        for (const double angle : angles_) spans_.push_back(cover_.at(angle));
        drawing_ = {.name = layer_.name,
                    .thickness_mm = request_.sheets.thickness.mm(),
                    .paths = {},
                    .circles = {},
                    .texts = {}};
        borders();
        row_mm_ = lowest() - 2.0 * kText_mm;
        text(fmt::format("{}: sheet {} mm, seen from the front", layer_.name,
                         plain_number(request_.sheets.thickness.mm())));
        if (const double high = layer_.to_mm - layer_.from_mm; high < request_.sheets.thickness.mm() - 0.01)
            text(fmt::format("finished height {:.1f} mm", high));
        if (is_beveled_) bevel();
        lip();
        holes();
        floors();
        sinks();
        references();
        dowels();
        return std::move(drawing_);
    }

private:
    Frame at_height(double height) const {
        Frame frame = seat_;
        frame.origin = seat_.origin + seat_.z * height;
        return frame;
    }

    void sort_faces() {
        for (const TopoDS_Face& face : faces_of(bare_)) {
            const BRepAdaptor_Surface surface(face, false);
            if (surface.GetType() != GeomAbs_Plane) continue;
            const Plane plane{from_occt(surface.Plane().Location()), from_occt(surface.Plane().Axis().Direction())};
            const Vec3 normal = seat_.dir_to_local(plane.outward);
            const Point3 point = seat_.to_local(plane.point);
            if (std::abs(normal.z) < kUpright) continue;
            const bool is_level = std::hypot(normal.x, normal.y) < kParallel;
            const Frame frame = is_level ? at_height(point.z) : drawing_frame(plane, request_.up);
            FlatFace flat = flat_face(face, frame);
            cover(flat, frame);
            if (is_level) level_at(point.z).faces.push_back(std::move(flat));
            if (!is_level && front_ && norm(cross(normal, front_->outward)) < kParallel &&
                std::abs(front_->height(point)) < kHeight_mm)
                is_beveled_ = true;
        }
        std::sort(floors_.begin(), floors_.end(),
                  [](const Level& a, const Level& b) { return a.height_mm < b.height_mm; });
    }

    /// Walls that are not upright may lie farther out between their ends than at both: ruled ones, and a slanting bore
    /// where its flare begins.
    Status cover_walls(const Context& context) {
        for (const TopoDS_Face& face : faces_of(bare_)) {
            const BRepAdaptor_Surface surface(face, false);
            const bool is_upright = surface.GetType() == GeomAbs_Cylinder &&
                                    norm(cross(seat_.z, from_occt(surface.Cylinder().Axis().Direction()))) < kParallel;
            if (is_upright || surface.GetType() == GeomAbs_Plane) continue;
            GAPWRIGHT_TRY(mesh, measure::tessellate(to_brep(face), Length::mm(kWall_mm), context));
            for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
                Loop corners;
                for (int k = 0; k < 3; ++k) {
                    const Point3 p = seat_.to_local(mesh.corner(t, k));
                    corners.push_back({p.x, p.y});
                }
                cover_.add({std::move(corners)});
            }
        }
        return Done{};
    }

    Level& level_at(double height) {
        for (Level* level : {&lower_, &upper_})
            if (std::abs(level->height_mm - height) < kHeight_mm) return *level;
        for (Level& level : floors_)
            if (std::abs(level.height_mm - height) < kHeight_mm) return level;
        return floors_.emplace_back(Level{height, {}});
    }

    /// As it looks along the cut.
    void cover(const FlatFace& face, const Frame& frame) {
        const auto seen = [&](Point2 p) {
            const Point3 q = seat_.to_local(frame.to_parent({p.x, p.y, 0.0}));
            return Point2{q.x, q.y};
        };
        std::vector<Loop> borders;
        const auto take = [&](const FlatLoop& loop) {
            borders.push_back(loop.chords(kChord_mm));
            for (Point2& p : borders.back()) p = seen(p);
            for (const FlatPoint& p : loop.path.points) corners_.push_back(seen({p.x, p.y}));
        };
        take(face.outer);
        for (const FlatLoop& hole : face.holes) take(hole);
        cover_.add(std::move(borders));
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
    void add(const FlatLoop& loop, Operation operation) {
        drawn_.push_back(loop);
        parts::add(drawing_, loop, operation);
    }
    /// Unless it is drawn already.
    bool refer_to(const FlatLoop& loop) {
        for (const FlatLoop& drawn : drawn_)
            if (is_same(drawn, loop)) return false;
        add(loop, Operation::Reference);
        return true;
    }

    bool is_solid(Point2 p, double height) const {
        const Point3 at = seat_.to_parent({p.x, p.y, height});
        return BRepClass3d_SolidClassifier(bare_, to_occt(at), kSame_mm).State() == TopAbs_IN;
    }

    std::vector<const Level*> levels() const {
        std::vector<const Level*> all{&lower_, &upper_};
        for (const Level& level : floors_) all.push_back(&level);
        return all;
    }
    bool is_whole() const {
        return std::all_of(spans_.begin(), spans_.end(), [](const auto& span) { return span && span->from_mm > 0.0; });
    }

    /// What is cut right through, small holes apart.
    void borders() {
        const RadialBorders widest = borders_of(angles_, spans_);
        const Level* outline = nullptr;
        for (const Level* level : levels())
            if (outline == nullptr && is_outside(*level)) outline = level;
        if (outline != nullptr)
            for (const FlatLoop& border : outline->outermost()) add(border, Operation::Outline);
        else
            for (const Loop& border : widest.outlines) add(polygon(border), Operation::Outline);
        has_own_outline_ = outline != nullptr;
        if (!widest.opening) return;
        for (const Level* level : levels())
            if (const auto opening = level->opening(); opening && is_open(*opening)) {
                add(*opening, Operation::ThroughHole);
                return;
            }
        add(polygon(*widest.opening), Operation::ThroughHole);
    }

    /// All of the layer lies within the outer borders of a level.
    bool is_outside(const Level& level) const {
        RadialCover cover;
        for (const FlatLoop& border : level.outermost()) cover.add({border.chords(kChord_mm)});
        for (std::size_t i = 0; i < angles_.size(); ++i) {
            if (!spans_[i]) continue;
            const auto own = cover.at(angles_[i]);
            const bool is_sliver = spans_[i]->to_mm - spans_[i]->from_mm < kApart_mm;
            if (!own && !is_sliver) return false;
            if (own && (own->to_mm < spans_[i]->to_mm - kApart_mm || own->from_mm > spans_[i]->from_mm + kApart_mm))
                return false;
        }
        return true;
    }
    /// Nothing of the layer lies within an opening.
    bool is_open(const FlatLoop& opening) const {
        const Loop loop = opening.chords(kChord_mm);
        for (std::size_t i = 0; i < angles_.size(); ++i)
            if (reach(loop, angles_[i]) > spans_[i]->from_mm + kApart_mm) return false;
        return true;
    }

    /// What is finished by hand: borders in the two faces that the cut leaves something to.
    void references() {
        bool is_slanted = !has_own_outline_;
        for (const Level* level : {&lower_, &upper_})
            if (is_whole() || level == &lower_)
                for (const FlatLoop& border : level->outermost()) is_slanted = refer_to(border) || is_slanted;
        if (is_slanted) text("outside slanted or cut: cut to the outline, finish to the reference");
        bool is_odd = false;
        for (const Level* level : {&lower_, &upper_})
            if (const auto opening = level->opening()) is_odd = refer_to(*opening) || is_odd;
        if (!is_odd) return;
        const Round* slanted = nullptr;
        for (const Round& round : rounds_)
            if (!round.is_level() && is_bore(round) && (slanted == nullptr || round.radius_mm < slanted->radius_mm))
                slanted = &round;
        text(slanted != nullptr
                 ? fmt::format("bore {} mm slanted by {:.1f} deg: cut what is open at every height, finish to the "
                               "references",
                               plain_number(2.0 * slanted->radius_mm), slanted->slant() * 180.0 / kPi)
                 : std::string("bore not straight: cut what is open at every height, finish to the references"));
    }

    /// Where a lip is glued on: its face fills a hole of the seat's.
    void lip() {
        for (const Nested& each : nested(lower_.faces)) {
            if (each.hole == nullptr) continue;
            if (!is_same(*each.hole, each.face->outer)) continue;
            add(each.face->outer, Operation::Reference);
            text("lip: glued on within the reference, lower face");
        }
    }

    void bevel() {
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
            if (is_bore(round)) continue;
            if (!round.is_level())
                slanted_hole(round);
            else if (goes_through(round))
                drawing_.circles.push_back({Operation::ThroughHole, round.at.x, round.at.y, round.radius_mm});
        }
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

    /// What is milled to a depth: floors between the two faces, and what stands on them.
    void floors() {
        for (const Level& level : floors_)
            for (const FlatFace& face : level.faces) floor(face, level.height_mm);
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

    /// Cones and rounded edges square to the sheet.
    void sinks() {
        const bool has_bore = std::any_of(rounds_.begin(), rounds_.end(), [&](const Round& r) { return is_bore(r); });
        for (const TopoDS_Face& face : faces_of(bare_)) {
            const BRepAdaptor_Surface surface(face, false);
            const bool is_cone = surface.GetType() == GeomAbs_Cone;
            if (!is_cone && surface.GetType() != GeomAbs_SurfaceOfRevolution) continue;
            const gp_Ax1 line = is_cone ? surface.Cone().Axis() : surface.AxeOfRevolution();
            const Vec3 axis = seat_.dir_to_local(from_occt(line.Direction()));
            if (std::hypot(axis.x, axis.y) > kParallel) continue;
            const bool is_reversed = face.Orientation() == TopAbs_REVERSED;
            if (is_cone && surface.Cone().Direct() != is_reversed) continue;  // of the outside
            const Point3 at = seat_.to_local(from_occt(line.Location()));
            double most = 0.0;
            for (TopExp_Explorer v(face, TopAbs_EDGE); v.More(); v.Next()) {
                const BRepAdaptor_Curve curve(TopoDS::Edge(v.Current()));
                const Point3 p = seat_.to_local(from_occt(curve.Value(curve.FirstParameter())));
                most = std::max(most, std::hypot(p.x - at.x, p.y - at.y));
            }
            if (!has_bore && std::hypot(at.x, at.y) < most) continue;  // the bore itself
            add(round_loop(at.x, at.y, most), Operation::Countersink);
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
    Level lower_, upper_;         // what lies in the layer's two faces
    std::vector<Level> floors_;   // and between them, from below
    std::optional<Plane> front_;  // in the numbers of the seat
    RadialCover cover_;           // of all plane faces that are not upright
    std::vector<Point2> corners_;
    std::vector<double> angles_;
    std::vector<std::optional<RaySpan>> spans_;  // by angle
    FlatDrawing drawing_;
    std::vector<FlatLoop> drawn_;
    std::set<std::string> told_;
    double row_mm_ = 0.0;
    bool has_own_outline_ = false, is_beveled_ = false;
};

}  // namespace

Result<FlatDrawing> layer_drawing(const SheetRequest& request, const Frame& seat, const SheetLayer& layer,
                                  const TopoDS_Shape& bare, const Context& context) {
    return Drawer(request, seat, layer, bare).draw(context);
}

}  // namespace geom::parts

// The ring is split at the joints' planes, so that neighbours share their faces; then each piece is drilled.
#include "geom/parts/sheet_layers.h"

#include "geom/core/text.h"
#include "geom/measure/brep_measure.h"
#include "geom/measure/internal/tight_box.h"
#include "geom/parts/internal/bolt_line.h"
#include "geom/parts/internal/dowel_places.h"
#include "geom/parts/internal/face_loops.h"
#include "geom/parts/internal/layer_drawing.h"
#include "geom/parts/internal/site.h"

#include <fmt/format.h>
#include <BRepBuilderAPI_Transform.hxx>
#include <BRepClass3d_SolidClassifier.hxx>
#include <gp_Ax3.hxx>
#include <gp_Trsf.hxx>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {
namespace {

constexpr double kSame_mm = 1e-5;   // heights that count as one
constexpr double kChord_mm = 0.05;  // of the triangles that walls are looked for on
constexpr double kPast_mm = 1.0;    // of a tool past the face it goes through
constexpr double kLevel_rad = 1e-9;
constexpr int kMostLayers = 200;

Fault bad(const SheetRequest& request, std::string what, std::string hint, std::optional<Point3> at = {}) {
    return {FaultCode::BadJob, request.name + ": " + std::move(what), std::move(hint), at, "part"};
}

Status check_numbers(const SheetRequest& request) {
    const auto positive = [&](const char* what, Length length) -> Status {
        if (std::isfinite(length.mm()) && length.mm() > 0.0) return Done{};
        return bad(request, fmt::format("{} is {} mm, wanted more than 0", what, plain_number(length.mm())),
                   "give it in mm");
    };
    GAPWRIGHT_CHECK(positive("the sheet's thickness", request.sheets.thickness));
    GAPWRIGHT_CHECK(positive("the dowels' diameter", request.sheets.dowels.diameter));
    GAPWRIGHT_CHECK(positive("the least wall round dowels", request.sheets.dowels.wall));
    if (request.sheets.dowels.count < 0 || request.sheets.dowels.count == 1 || request.sheets.dowels.count > 60)
        return bad(request,
                   fmt::format("{} dowels a joint, wanted 2 to 60, or 0 for none", request.sheets.dowels.count),
                   "four hold a ring in its place");
    if (!is_finite(request.seat.point) || !is_finite(request.seat.outward) || !(norm(request.seat.outward) > 0.0))
        return bad(request, "the seat has no plane: wanted a point and an outward direction", "give both");
    return Done{};
}

class Layering {
public:
    Layering(const SheetRequest& request, const Context& context)
        : request_(request), context_(context), seat_(drawing_frame(request.seat, request.up)) {}

    Result<SheetLayers> make() {
        GAPWRIGHT_CHECK(measure_heights());
        GAPWRIGHT_CHECK(split_up());
        GAPWRIGHT_CHECK(place_dowels());
        for (std::size_t i = 0; i < made_.layers.size(); ++i) GAPWRIGHT_CHECK(drill(i));
        for (std::size_t i = 0; i < made_.layers.size(); ++i) {
            GAPWRIGHT_TRY(drawing, layer_drawing(request_, seat_, made_.layers[i], bare_[i], context_));
            made_.layers[i].drawing = std::move(drawing);
        }
        made_.drawn_in = seat_;
        return std::move(made_);
    }

private:
    double thickness() const { return request_.sheets.thickness.mm(); }
    int sheets_in(double height) const {
        return static_cast<int>(std::ceil((height - kMostTolerance_mm) / thickness()));
    }
    Plane level(double height) const { return {seat_.origin + seat_.z * height, seat_.z}; }
    bool is_tilted() const {
        return request_.front && norm(cross(unit(request_.front->outward), seat_.z)) > kLevel_rad;
    }

    Status measure_heights() {
        gp_Trsf to_seat;
        to_seat.SetTransformation(gp_Ax3(to_occt(seat_.origin), to_occt_dir(seat_.z), to_occt_dir(seat_.x)));
        in_seat_ = BRepBuilderAPI_Transform(to_occt(request_.solid), to_seat, true).Shape();
        const Aabb box = measure::internal::tight_box(in_seat_);
        top_mm_ = box.hi.z;
        if (box.lo.z < -kMostTolerance_mm) {
            bottom_mm_ = box.lo.z;
            behind_ = sheets_in(-bottom_mm_);
        }
        if (top_mm_ < kMostTolerance_mm)
            return bad(
                request_,
                fmt::format("the solid stands {:.2f} mm behind the seat and not over it, wanted it over it", -box.lo.z),
                "turn the seat's outward round", seat_.origin);
        count_ = sheets_in(top_mm_);
        if (count_ < 2)
            return bad(request_,
                       fmt::format("a sheet of {} mm is as thick as the ring of {:.2f} mm, wanted two layers or more",
                                   plain_number(thickness()), top_mm_),
                       "leave layers out, or take a thinner sheet", seat_.origin);
        if (count_ + behind_ > kMostLayers)
            return bad(request_, fmt::format("{} layers, wanted {} or fewer", count_ + behind_, kMostLayers),
                       "take a thicker sheet", seat_.origin);
        const double left = top_mm_ - (count_ - 1) * thickness();
        if (!is_tilted() && left < thickness() - kSame_mm) {
            const double fewer = (count_ - 1) * thickness(), more = count_ * thickness();
            const double near = top_mm_ - fewer < more - top_mm_ ? fewer : more;
            made_.notes.push_back(fmt::format("top layer {:.1f} mm of a sheet of {} mm: plane it down, or height {}",
                                              left, plain_number(thickness()), plain_number(near)));
        }
        return Done{};
    }

    Status split_up() {
        std::vector<TopoDS_Shape> rest{to_occt(request_.solid)};
        for (int n = 1 - behind_; n <= count_; ++n) {
            std::vector<TopoDS_Shape> pieces, above;
            for (const TopoDS_Shape& solid : rest) {
                if (n == count_) {
                    pieces.push_back(solid);
                    continue;
                }
                GAPWRIGHT_TRY(sides,
                              pieces_at(fmt::format("{}: joint {}", request_.name, n), solid, level(n * thickness())));
                pieces.insert(pieces.end(), sides.behind.begin(), sides.behind.end());
                above.insert(above.end(), sides.front.begin(), sides.front.end());
            }
            add_layer(n, pieces);
            rest = above;
        }
        if (behind_ > 0)
            made_.notes.push_back(
                fmt::format("the lip of {:.1f} mm is glued behind layer 1 without dowels: the drawing "
                            "of layer 1 shows where",
                            -bottom_mm_));
        return Done{};
    }

    std::string name_of(int number) const {
        if (number > 0) return fmt::format("layer {} of {}", number, count_);
        return behind_ == 1 ? "lip" : fmt::format("lip layer {} of {}", 1 - number, behind_);
    }

    void add_layer(int number, const std::vector<TopoDS_Shape>& pieces) {
        for (std::size_t p = 0; p < pieces.size(); ++p) {
            SheetLayer layer{.name = name_of(number),
                             .number = number,
                             .solid = {},
                             .from_mm = std::max(bottom_mm_, (number - 1) * thickness()),
                             .to_mm = number == count_ ? top_mm_ : number * thickness(),
                             .dowels = {},
                             .drawing = {}};
            if (pieces.size() > 1) {
                layer.piece = static_cast<int>(p) + 1;
                layer.name += fmt::format(" piece {}", layer.piece);
            }
            made_.layers.push_back(std::move(layer));
            bare_.push_back(pieces[p]);
        }
        if (pieces.size() > 1)
            made_.notes.push_back(fmt::format("{} comes in {} pieces", name_of(number), pieces.size()));
    }

    Status place_dowels() {
        const DowelOptions& dowels = request_.sheets.dowels;
        if (dowels.count == 0) return Done{};
        GAPWRIGHT_TRY(mesh, measure::tessellate(to_brep(in_seat_), Length::mm(kChord_mm), context_));
        std::vector<PutDowel> put_ones;
        const bool is_through = dowels.depth == DowelOptions::Depth::Through;
        const double half = thickness() / 2.0, pitch = 2.0 * std::numbers::pi / dowels.count;
        const double top_half = (top_mm_ - (count_ - 1) * thickness()) / 2.0;
        for (int joint = 1; joint < (is_through ? 2 : count_); ++joint) {
            if (context_.is_cancelled()) return Context::interrupted();
            const int last = is_through ? count_ - 1 : joint;
            DowelSpan span{.from_mm = joint * thickness() - half, .joint_mm = joint * thickness()};
            if (is_through && dowels.opens_at_seat) {
                span.from_mm = 0.0;
                span.opens_below = true;
            }
            const DowelSearch search(mesh, kChord_mm, put_ones, dowels);
            std::vector<DowelPlace> places;
            DowelPlace best;
            // The layer over it may be too low at its high side for half of a sheet, and lower yet elsewhere.
            for (const double part : {1.0, 0.75, 0.5, 0.35}) {
                span.to_mm = last * thickness() + part * (last == count_ - 1 ? std::min(half, top_half) : half);
                DowelPlace roomiest;
                places = search.find(span, (joint % 2 == 0 ? 0.5 : 0.0) * pitch, roomiest);
                if (part == 1.0 || roomiest.wall_mm > best.wall_mm) best = roomiest;
                if (static_cast<int>(places.size()) == dowels.count) break;
                if (places.size() >= 2 && part < 0.4) break;
            }
            if (places.size() < 2) return no_place(joint, best);
            if (static_cast<int>(places.size()) < dowels.count)
                made_.notes.push_back(fmt::format("between layers {} and {} {} dowels of {} find a place", joint,
                                                  last + 1, places.size(), dowels.count));
            for (const DowelPlace& place : places) {
                put(joint, last, span, place);
                put_ones.push_back({span, place});
            }
        }
        return Done{};
    }

    Fault no_place(int joint, const DowelPlace& best) const {
        const std::string left = best.wall_mm < -1e200 ? "there is none inside the ring"
                                 : best.wall_mm >= request_.sheets.dowels.wall.mm()
                                     ? "there is one place and no second"
                                     : fmt::format("the roomiest leaves {:.2f} mm, wanted {} mm", best.wall_mm,
                                                   plain_number(request_.sheets.dowels.wall.mm()));
        return impossible(
            fmt::format("{}: dowels of {} mm between layers {} and {} find no two places: {}", request_.name,
                        plain_number(request_.sheets.dowels.diameter.mm()), joint, joint + 1, left),
            "take thinner dowels, a thinner sheet or a wider ring, or ask for no dowels",
            seat_.to_parent({best.x, best.y, joint * thickness()}));
    }

    /// A dowel's holes, one in each layer that it spans.
    void put(int joint, int last, const DowelSpan& span, const DowelPlace& place) {
        for (std::size_t i = 0; i < made_.layers.size(); ++i) {
            SheetLayer& layer = made_.layers[i];
            if (layer.number < joint || layer.number > last + 1) continue;
            const double from = std::max(span.from_mm, layer.from_mm), to = std::min(span.to_mm, layer.to_mm);
            const Point3 middle = seat_.to_parent({place.x, place.y, (from + to) / 2.0});
            if (BRepClass3d_SolidClassifier(bare_[i], to_occt(middle), 1e-6).State() != TopAbs_IN) continue;
            const bool is_from_below = layer.number > joint;
            layer.dowels.push_back(
                {.joint = is_from_below ? layer.number - 1 : layer.number,
                 .from = seat_.to_parent({place.x, place.y, is_from_below ? from : to}),
                 .way = seat_.z * (is_from_below ? 1.0 : -1.0),
                 .depth_mm = to - from,
                 .diameter_mm = request_.sheets.dowels.diameter.mm(),
                 .wall_mm = place.wall_mm,
                 .goes_through = from <= layer.from_mm && to >= layer.number * thickness() && layer.number <= last});
        }
    }

    Status drill(std::size_t i) {
        SheetLayer& layer = made_.layers[i];
        TopTools_ListOfShape tools;
        double taken = 0.0;
        for (const DowelHole& hole : layer.dowels) {
            const BoltLine line{.point = hole.from, .up = -hole.way, .along = seat_.x};
            const double radius = hole.diameter_mm / 2.0;
            tools.Append(prism(line, radius, hole.goes_through ? -hole.depth_mm - kPast_mm : -hole.depth_mm, kPast_mm));
            taken += std::numbers::pi * radius * radius * hole.depth_mm;
        }
        if (tools.IsEmpty()) {
            layer.solid = to_brep(bare_[i]);
            layer.volume = Volume::mm3(volume_mm3(bare_[i]));
            return Done{};
        }
        GAPWRIGHT_TRY(drilled, cut(request_.name + ": " + layer.name + ": dowels", bare_[i], tools, 0.999999 * taken,
                                   1.000001 * taken));
        layer.solid = to_brep(drilled.solid);
        layer.volume = Volume::mm3(volume_mm3(drilled.solid));
        return Done{};
    }

    const SheetRequest& request_;
    const Context& context_;
    Frame seat_;
    TopoDS_Shape in_seat_;
    double top_mm_ = 0.0, bottom_mm_ = 0.0;
    int count_ = 0, behind_ = 0;  // layers over the seat; of a lip
    SheetLayers made_;
    std::vector<TopoDS_Shape> bare_;  // of each layer, without dowels
};

}  // namespace

Result<SheetLayers> make_sheet_layers(const SheetRequest& request, const Context& context) {
    EXPECTS(!request.solid.is_null());
    const Stage stage(context, "part");
    GAPWRIGHT_CHECK(check_numbers(request));
    return guard_occt("part", [&] { return Layering(request, context).make(); });
}

}  // namespace geom::parts

#include "geom/parts/scan_foot.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace geom::parts {
namespace {

constexpr double kVoxel_mm = 2.0;
constexpr double kResolved = 3.0;       // voxels between field and samples
constexpr double kLeastSide_mm = 15.0;  // of the block's sides over the face
constexpr double kBeyond_mm = 3.0;      // of the foot's own face past the reach
constexpr double kLevelling_mm = 15.0;  // of scan beyond what is looked at, so that its rim is levelled well
constexpr double kLeastUp = 0.35;       // cosine of the steepest slope whose samples are set back along their normals

struct Sizes {
    double voxel, setback, clearance;
    double side;  ///< from the axis to the block's four sides
    double half;  ///< of the square that is looked at
};

Sizes sizes_of(const ScanFootRequest& r) {
    Sizes s{};
    s.voxel = r.voxel.mm() > 0.0 ? r.voxel.mm() : kVoxel_mm;
    s.setback = std::max(0.0, kResolved * s.voxel - r.gasket.mm());
    s.clearance = r.gasket.mm() + s.setback;
    // Where the face falls away by 30 degrees towards a side, the rounding between them is 1.73 radii wide.
    s.side = r.reach_mm + 1.75 * r.edge_radius.mm() + kBeyond_mm;
    s.half = s.side + s.clearance + 2.0 * s.voxel;
    return s;
}

double before_mm(const ScanFootRequest& r) {
    return std::max(r.front_mm, r.depth_mm);
}

Status refuse_senseless(const ScanFootRequest& r) {
    const auto wrong = [](const char* what, double found, const char* wanted) {
        return Fault{FaultCode::BadJob, fmt::format("foot: {} is {} mm, wanted {}", what, plain_number(found), wanted),
                     "give a length that can be built", std::nullopt, "part"};
    };
    if (!(r.reach_mm > 0.0 && r.reach_mm <= 1000.0)) return wrong("the reach", r.reach_mm, "more than 0, at most 1000");
    if (!(r.bore_mm >= 0.0 && r.bore_mm < r.reach_mm))
        return wrong("the bore's radius", r.bore_mm, "less than the reach");
    if (!(r.depth_mm > 0.0 && r.depth_mm <= 500.0)) return wrong("the depth", r.depth_mm, "more than 0, at most 500");
    if (!(r.front_mm >= 0.0 && r.front_mm <= 500.0)) return wrong("the height", r.front_mm, "0 to 500");
    if (!(r.gasket.mm() >= 0.0 && r.gasket.mm() <= 30.0)) return wrong("the gasket", r.gasket.mm(), "0 to 30");
    if (!(r.edge_radius.mm() >= 0.0 && r.edge_radius.mm() <= 50.0))
        return wrong("the edge radius", r.edge_radius.mm(), "0 to 50");
    return Done{};
}

/// Samples and normals look to the listener.
void set_back(scan::Surface& surface, Vec3 outward, double by) {
    for (std::size_t q = 0; q < surface.points.size(); ++q) {
        Vec3 n = surface.normals[q];
        // A wall along the axis has no side that is surely its back: it goes straight down.
        if (const double up = dot(n, outward); up < kLeastUp) n = outward;
        surface.points[q] = surface.points[q] - n * by;
    }
}

struct Sides {
    std::vector<space::Limit> limits;
    std::vector<Plane> planes;
};

Sides sides_of(const Frame& view, double side_mm) {
    Sides s;
    const std::pair<const char*, Vec3> directions[] = {{"right side of the foot", view.x},
                                                       {"left side of the foot", -view.x},
                                                       {"top of the foot", view.y},
                                                       {"bottom of the foot", -view.y}};
    for (const auto& [name, outward] : directions) {
        s.planes.push_back({view.origin + outward * side_mm, outward});
        s.limits.push_back({.name = name, .plane = s.planes.back()});
    }
    return s;
}

void tell_heights(const ScanFootRequest& r, ScanFoot& foot) {
    const scan::Relief& relief = foot.relief;
    double lowest = 1e300, highest = -1e300;
    for (int j = 0; j < relief.n; ++j)
        for (int i = 0; i < relief.n; ++i) {
            const double x = relief.lo_mm + i * relief.step_mm, y = relief.lo_mm + j * relief.step_mm,
                         d = std::hypot(x, y);
            const std::size_t c =
                static_cast<std::size_t>(j) * static_cast<std::size_t>(relief.n) + static_cast<std::size_t>(i);
            if (d > r.reach_mm || d < r.bore_mm || !relief.scanned[c]) continue;
            lowest = std::min(lowest, static_cast<double>(relief.mm[c]));
            highest = std::max(highest, static_cast<double>(relief.mm[c]));
        }
    foot.lowest_mm = lowest, foot.highest_mm = highest;
}

void tell_gaps(ScanFoot& foot) {
    constexpr std::size_t kMostTold = 5;
    const auto& bridged = foot.relief.bridged;
    for (std::size_t i = 0; i < std::min(kMostTold, bridged.size()); ++i)
        foot.notes.push_back(fmt::format(
            "the scan has a gap {:.1f} mm wide under the foot near ({:.0f}, {:.0f}, {:.0f}); it was bridged",
            bridged[i].width.mm(), bridged[i].place.x, bridged[i].place.y, bridged[i].place.z));
    if (bridged.size() > kMostTold)
        foot.notes.push_back(fmt::format("{} more gaps, none wider, were bridged", bridged.size() - kMostTold));
}

}  // namespace

Frame view_of(const ScanFootRequest& request) {
    const Frame box = space::box_frame(request.seat, request.up);
    return {box.origin, box.x, box.z, -box.y};
}

scan::RawScan cropped_for(const ScanFootRequest& request, const scan::RawScan& raw) {
    const double half = sizes_of(request).half + kLevelling_mm;
    return scan::cropped(
        raw, view_of(request),
        {{-half, -half, -request.depth_mm - kLevelling_mm}, {half, half, before_mm(request) + kLevelling_mm}});
}

Result<ScanFoot> scan_foot(const scan::Surface& surface, const ScanFootRequest& request, const Context& context) {
    const Stage stage(context, "foot");
    GAPWRIGHT_CHECK(refuse_senseless(request));
    const Sizes size = sizes_of(request);
    ScanFoot foot;
    GAPWRIGHT_TRY(relief, scan::relief_of(surface,
                                          {.view = view_of(request),
                                           .half_mm = size.half,
                                           .reach_mm = request.reach_mm,
                                           .inside_mm = request.bore_mm,
                                           .behind_mm = request.depth_mm,
                                           .before_mm = before_mm(request),
                                           .bridge = request.bridge},
                                          context));
    foot.relief = std::move(relief);
    tell_heights(request, foot);
    tell_gaps(foot);
    const Frame& view = foot.relief.view;
    const double peak = static_cast<double>(*std::max_element(foot.relief.mm.begin(), foot.relief.mm.end()));
    foot.front_mm = std::max(request.front_mm, peak + request.gasket.mm() + kLeastSide_mm);

    scan::Surface back = std::move(foot.relief.closed);
    foot.relief.closed = {};
    set_back(back, view.z, size.setback);
    const Sides sides = sides_of(view, size.side);
    space::RoomOptions options;
    options.baffle = {view.origin + view.z * foot.front_mm, view.z};
    options.air = options.baffle.point - view.z * (0.5 * kLeastSide_mm);
    options.up = request.up;
    options.clearance = Length::mm(size.clearance);
    options.edge_radius = request.edge_radius;
    options.comes_in = false;
    options.limits = sides.limits;
    options.voxel = Length::mm(size.voxel);
    options.wall = Length::mm(1);
    GAPWRIGHT_TRY(room, space::free_room(back, options, context));
    foot.room = room.report;
    for (const std::string& note : room.report.notes) foot.notes.push_back(note);

    GAPWRIGHT_TRY(skin,
                  skin::make_skin(room.outer, {.name = "foot", .baffle_y_mm = 0.0, .flats = sides.planes}, context));
    foot.quality = skin.quality;
    GAPWRIGHT_TRY(block, skin::solid_from_shells(skin.shell, Brep{}));
    foot.block = block;
    // As the verdict on a box's clearance states it.
    foot.bound_mm = std::hypot(room.report.bound_mm, std::max(0.0, skin.quality.proud_max_mm - 0.5 * surface.noise_mm));
    return foot;
}

}  // namespace geom::parts

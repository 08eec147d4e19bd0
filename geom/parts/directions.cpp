#include "geom/parts/directions.h"

#include "geom/parts/capacity.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::parts {

namespace {

constexpr double kNearest_deg = 5.0;

double angle_deg(Vec3 a, Vec3 b) {
    return std::atan2(norm(cross(a, b)), dot(a, b)) * 180.0 / std::numbers::pi;
}

void add_new(std::vector<Vec3>& all, Vec3 direction) {
    for (const Vec3 known : all)
        if (angle_deg(known, direction) < kNearest_deg) return;
    all.push_back(direction);
}

/// Coarse: only the order of the directions and about how much each leaves are wanted.
Length voxel_of_fan(const EnclosureRequest& request) {
    return std::max(request.room.voxel, Length::mm(std::clamp(request.wall.mm() / 1.5, 3.0, 4.0)));
}

}  // namespace

std::vector<Vec3> fan_of_directions(const space::RoomOptions& room) {
    const Frame box = space::box_frame(room.baffle, room.up);  // y goes in, z is up in the baffle's plane
    std::vector<Vec3> all{box.y};
    for (const auto& [tilt_deg, count] : {std::pair{20.0, 6}, std::pair{40.0, 8}, std::pair{60.0, 10}})
        for (int k = 0; k < count; ++k) {
            const double tilt = tilt_deg * std::numbers::pi / 180.0, turn = 2.0 * std::numbers::pi * k / count;
            // The first comes from above: it goes in and down.
            add_new(all,
                    unit(box.y * std::cos(tilt) + (box.x * std::sin(turn) - box.z * std::cos(turn)) * std::sin(tilt)));
        }
    for (const space::OpenPlane& open : room.open) add_new(all, -open.plane.outward);
    return all;
}

Result<DirectionList> directions(const scan::Surface& surface, const EnclosureRequest& request,
                                 const Context& context) {
    const Stage stage(context, "directions");
    const Context quiet{nullptr, context.cancel, {}};
    EnclosureRequest coarse = request;
    coarse.room.voxel = voxel_of_fan(request);
    coarse.room.comes_in = true;
    const Vec3 straight = -request.room.baffle.outward;
    DirectionList list;
    list.voxel_mm = coarse.room.voxel.mm();
    const auto take = [&](DirectionHeld held) -> Status {
        if (context.is_cancelled()) return Context::interrupted();
        held.tilt_deg = angle_deg(held.into, straight);
        if (const auto most = most_net_volume(surface, coarse, quiet); most)
            held.litres = most->litres();
        else if (most.error().code == FaultCode::Impossible || most.error().code == FaultCode::BadJob)
            held.note = most.error().what;
        else
            return most.error();
        list.tried.push_back(std::move(held));
        return Done{};
    };
    const bool has_moves = !request.room.moves.empty();
    std::vector<Vec3> fan;
    if (has_moves) {
        GAPWRIGHT_CHECK(take({.into = {}, .is_asked = true, .litres = {}, .note = {}}));
        coarse.room.moves.clear();
    } else {
        fan.push_back(request.room.insert.value_or(straight));
    }
    for (const Vec3 direction : fan_of_directions(request.room)) add_new(fan, direction);
    for (std::size_t i = 0; i < fan.size(); ++i) {
        coarse.room.insert = fan[i];
        GAPWRIGHT_CHECK(take({.into = fan[i], .is_asked = i == 0 && !has_moves, .litres = {}, .note = {}}));
    }
    std::stable_sort(list.tried.begin(), list.tried.end(), [](const DirectionHeld& a, const DirectionHeld& b) {
        return a.litres.value_or(-1.0) > b.litres.value_or(-1.0);
    });
    return list;
}

}  // namespace geom::parts

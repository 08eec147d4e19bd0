#include "geom/parts/adjust.h"

#include "geom/parts/capacity.h"
#include "geom/parts/features.h"
#include "geom/parts/price_list.h"
#include "geom/parts/sharp_edge.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"
#include "geom/space/cut.h"
#include "geom/space/field_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::parts {

namespace {

using What = Adjust::What;

constexpr int kMostTries = 12;
constexpr double kLeastStep_mm = 1e-3;     // a root is not looked for closer than this
constexpr double kGrain_mm = 1e-4;         // solved values are whole multiples of it
constexpr double kLeastPad_mm = 3.0;       // a pad of its own, thinner, neither prints nor mills well
constexpr double kLeastIntegral_mm = 0.3;  // thinner, its plane would graze the back
constexpr double kNoAir_mm3 = 1.0;

BafflePlace place_on(const space::Field& air, const Baffle& baffle, double t_mm) {
    const double air_y_mm = -t_mm + baffle.thickness.mm();
    return {t_mm, -t_mm, air_y_mm, space::VolumeTable::of(air).volume_behind(air_y_mm)};
}

/// A plane may cut the room into pieces; what hangs together with the largest is the box. True when some were dropped.
bool drop_loose_pieces(Sized& sized) {
    if (keep_largest_piece(sized.cavity.air, sized.place.air_y_mm).litres() <= 0.0) return false;
    keep_largest_piece(sized.room.outer, sized.place.outer_y_mm);
    if (!sized.cavity.beyond.mm.empty()) keep_largest_piece(sized.cavity.beyond, sized.place.air_y_mm);
    if (!sized.room.beyond.mm.empty()) keep_largest_piece(sized.room.beyond, sized.place.outer_y_mm);
    return true;
}

/// What stands in the air, less what sharp edges add to it.
Volume solids_less_edges(const Sized& sized, const EnclosureRequest& request, double t_mm) {
    const space::Field& air = sized.cavity.air;
    return solids_in_air(air, request.baffle.thickness.mm() - t_mm, request) -
           sharp_edges_in_air(sized.room, air, request, t_mm);
}

double tolerance_litres(const EnclosureRequest& request) {
    return request.net_volume.litres() * std::min(request.tolerance_rel / 20.0, 1e-4);
}

}  // namespace

Status Sizer::solve(Volume wanted) {
    if (asked_.adjust.what == What::Baffle) return solve_baffle(wanted);
    if (asked_.adjust.what == What::Fill) return solve_fill(wanted);
    return solve_by_tries(wanted);
}

void Sizer::set_port_length(Length length) {
    EXPECTS(asked_.port.has_value());
    asked_.port->length = length;
    if (now_) now_->request.port->length = length;
}

/// Net volume by the field at now().
Volume Sizer::net() const {
    return now_->place.bare_air + features_volume(now_->request) - solids_.value_or(Volume());
}

void Sizer::take_solids() {
    if (!solids_) solids_ = solids_less_edges(*now_, now_->request, now_->place.t_mm);
}

std::size_t Sizer::limit_index() const {
    const auto& limits = asked_.room.limits;
    std::size_t i = 0;
    while (i < limits.size() && limits[i].name != asked_.adjust.limit) ++i;
    return i;
}

EnclosureRequest Sizer::request_at(double value_mm) const {
    EnclosureRequest request = asked_;
    if (asked_.adjust.what == What::Wall) {
        request.wall = Length::mm(value_mm);
        request.room.wall = Length::mm(asked_.adjust.hi_mm);
        request.room.least_wall = Length::mm(asked_.adjust.lo_mm);
    }
    if (asked_.adjust.what == What::Limit) {
        Plane& plane = request.room.limits[limit_index()].plane;
        plane.point += unit(plane.outward) * value_mm;
    }
    return request;
}

/// The box at one value, at the first place of the travel; now() is left as it is.
Result<Sized> Sizer::made_at(double value_mm) {
    Sized sized{.request = request_at(value_mm),
                .room = {},
                .cavity = {},
                .place = {},
                .value_mm = value_mm,
                .pad_y_mm = {},
                .filled = {}};
    if (asked_.adjust.what == What::Wall && room_) {
        sized.room = *room_;
    } else {
        GAPWRIGHT_TRY(room, space::free_room(surface_, sized.request.room, context_));
        sized.room = std::move(room);
        if (asked_.adjust.what == What::Wall) room_ = sized.room;
    }
    GAPWRIGHT_TRY(cavity, space::cavity(sized.room, sized.request.wall, sized.request.inner_radius, context_));
    sized.cavity = std::move(cavity);
    if (!context_.dump_dir.empty()) {
        GAPWRIGHT_CHECK(space::save_field(sized.room.outer, context_.dump_dir / "outer.field"));
        GAPWRIGHT_CHECK(space::save_field(sized.cavity.air, context_.dump_dir / "air.field"));
    }
    return sized;
}

// The baffle's place -------------------------------------------------------------------------------------------------

Status Sizer::begin() {
    if (now_) return Done{};
    GAPWRIGHT_TRY(sized, made_at(0.0));
    now_ = std::move(sized);
    return Done{};
}

Status Sizer::solve_baffle(Volume wanted) {
    GAPWRIGHT_CHECK(begin());
    const Stage stage(context_, "size");
    const auto place = [&] {
        return baffle_place(space::VolumeTable::of(now_->cavity.air), asked_.baffle,
                            wanted - features_volume(asked_) + solids_.value_or(Volume()));
    };
    auto found = place();
    if (found) {
        now_->place = *found;
        if (drop_loose_pieces(*now_)) found = place();
    }
    if (found && (has_solids_in_air(asked_) || !now_->room.edges.empty()) && !solids_) {
        now_->place = *found;
        take_solids();
        found = place();
    }
    if (!found) return no_baffle_place(wanted);
    now_->place = *found;
    now_->value_mm = found->t_mm;
    return Done{};
}

Fault Sizer::no_baffle_place(Volume wanted) const {
    const BareRange range = bare_range(space::VolumeTable::of(now_->cavity.air), asked_.baffle);
    const Volume solids = solids_ ? *solids_ : solids_less_edges(*now_, asked_, asked_.baffle.travel_hi_mm);
    const double features = (features_volume(asked_) - solids).litres();
    const double most = std::max(0.0, range.most.litres() + features);
    const double least = std::max(0.0, range.least.litres() + features);
    if (range.most.litres() <= 0.0)
        return {FaultCode::Impossible,
                fmt::format(
                    "baffle: its travel from {:g} to {:g} mm never meets the room, wanted a plane with air behind it",
                    asked_.baffle.travel_lo_mm, asked_.baffle.travel_hi_mm),
                "move [enclosure] baffle.point or travel, or make the wall thinner", asked_.baffle.plane.point, "size"};
    if (wanted.litres() > most)
        return {FaultCode::Impossible,
                fmt::format("net volume: the gap holds at most {:.2f} L as asked, wanted {:.2f} L", most,
                            asked_.net_volume.litres()),
                reliefs_text(reliefs(surface_, asked_, context_)), std::nullopt, "size"};
    return {
        FaultCode::Impossible,
        fmt::format("net volume: at the innermost baffle place the box still holds {:.2f} L, wanted {:.2f} L", least,
                    asked_.net_volume.litres()),
        fmt::format("let the travel reach further in than {:g} mm, or draw the limits in", asked_.baffle.travel_lo_mm),
        std::nullopt, "size"};
}

// What is filled ------------------------------------------------------------------------------------------------------

Status Sizer::solve_fill(Volume wanted) {
    const bool is_first = !now_;
    GAPWRIGHT_CHECK(begin());
    const Stage stage(context_, "size");
    if (is_first) {
        now_->place = place_on(now_->cavity.air, asked_.baffle, asked_.baffle.travel_lo_mm);
        if (drop_loose_pieces(*now_))
            now_->place = place_on(now_->cavity.air, asked_.baffle, asked_.baffle.travel_lo_mm);
        take_solids();
    }
    const space::VolumeTable table = space::VolumeTable::of(now_->cavity.air);
    now_->filled = net() - wanted;
    now_->pad_y_mm.reset();
    now_->value_mm = 0.0;
    if (now_->filled.litres() < -tolerance_litres(asked_))
        return Fault{FaultCode::Impossible,
                     fmt::format("net volume: with the baffle at {} mm the gap holds at most {:.2f} L, wanted {:.2f} L",
                                 plain_number(asked_.baffle.travel_lo_mm), net().litres(), asked_.net_volume.litres()),
                     reliefs_text(reliefs(surface_, asked_, context_)), std::nullopt, "size"};
    if (asked_.adjust.fill == Adjust::Fill::Told || now_->filled.litres() <= tolerance_litres(asked_)) return Done{};
    const auto pad_y = table.plane_for(now_->filled), back_y = table.plane_for(Volume::mm3(kNoAir_mm3));
    if (!pad_y || !back_y || *pad_y <= now_->place.air_y_mm)
        return Fault{FaultCode::Impossible, "fill: the pad would fill the whole box, wanted air before it",
                     "ask for more net volume, or let adjust move the baffle", std::nullopt, "size"};
    const double least_mm = asked_.adjust.fill == Adjust::Fill::Separate ? kLeastPad_mm : kLeastIntegral_mm;
    if (*back_y - *pad_y < least_mm) {
        const auto air_y = table.plane_for(now_->place.bare_air - now_->filled);
        const double t_mm = air_y ? asked_.baffle.thickness.mm() - *air_y : asked_.baffle.travel_lo_mm;
        return Fault{
            FaultCode::Impossible,
            fmt::format("fill: the box holds {:.3f} L more than asked, which makes a pad of {:.2f} mm at most, "
                        "wanted at least {} mm",
                        now_->filled.litres(), *back_y - *pad_y, plain_number(least_mm)),
            fmt::format("put the baffle at {:.2f} mm instead, which needs no filling; or fill.made = \"told\"", t_mm),
            std::nullopt, "size"};
    }
    now_->pad_y_mm = *pad_y;
    now_->value_mm = *back_y - *pad_y;
    return Done{};
}

// A limit's place, or the wall ----------------------------------------------------------------------------------------

std::string Sizer::what_text(double value_mm) const {
    return asked_.adjust.what == What::Wall
               ? fmt::format("a wall of {} mm", plain_number(value_mm))
               : fmt::format("limit '{}' moved by {} mm", asked_.adjust.limit, plain_number(value_mm));
}

Status Sizer::go_to(double value_mm) {
    GAPWRIGHT_TRY(sized, made_at(value_mm));
    sized.place = place_on(sized.cavity.air, sized.request.baffle, asked_.baffle.travel_lo_mm);
    if (drop_loose_pieces(sized))
        sized.place = place_on(sized.cavity.air, sized.request.baffle, asked_.baffle.travel_lo_mm);
    now_ = std::move(sized);
    take_solids();
    return Done{};
}

/// The limit as far out as it may go; where the room is open out there, as far as it is closed in steps of a quarter.
Status Sizer::go_to_outermost() {
    double& hi = asked_.adjust.hi_mm;
    const double lo = asked_.adjust.lo_mm, step = (hi - lo) / 4.0;
    for (int quarter = 4;; --quarter) {
        const Status went = go_to(hi);
        if (went) return went;
        const bool may_go_in = went.error().code == FaultCode::Leak || went.error().code == FaultCode::AirBlocked;
        if (!may_go_in || quarter == 0) {
            Fault fault = went.error();
            fault.what = fmt::format("with {}: {}", what_text(hi), fault.what);
            return fault;
        }
        beyond_ = fmt::format("with {}: {}", what_text(hi), went.error().what);
        hi = quarter == 1 ? lo : hi - step;
    }
}

/// The field whose levels, or cuts, are like the air at other values.
Status Sizer::take_likeness() {
    if (asked_.adjust.what == What::Limit) {
        GAPWRIGHT_CHECK(go_to_outermost());
        likeness_ = now_->cavity.air;
        likeness_at_mm_ = asked_.adjust.hi_mm;
        return Done{};
    }
    if (!room_) {
        GAPWRIGHT_TRY(room, space::free_room(surface_, request_at(asked_.adjust.hi_mm).room, context_));
        room_ = std::move(room);
    }
    // No radius: one distance for all walls. Where the thickest leaves nothing the levels still tell.
    for (likeness_at_mm_ = asked_.adjust.hi_mm;;) {
        auto air = space::cavity(room_->outer, Length::mm(likeness_at_mm_), Length::mm(0), context_);
        if (air) {
            likeness_ = std::move(*air);
            return Done{};
        }
        if (likeness_at_mm_ <= asked_.adjust.lo_mm) return std::move(air).error();
        likeness_at_mm_ = std::max(asked_.adjust.lo_mm, 0.7 * likeness_at_mm_);
        asked_.adjust.hi_mm = likeness_at_mm_;
    }
}

/// Net volume at a value, as the likeness has it.
double Sizer::likeness_litres(double value_mm) {
    if (const auto known = litres_like_.find(value_mm); known != litres_like_.end()) return known->second;
    const EnclosureRequest request = request_at(value_mm);
    space::Field air = likeness_;
    if (asked_.adjust.what == What::Wall) {
        for (float& v : air.mm) v += static_cast<float>(value_mm - likeness_at_mm_);
    } else {
        const space::Limit& limit = request.room.limits[limit_index()];
        const Vec3 outward = unit(limit.plane.outward);
        const double in_mm =
            limit.clearance.mm() + (limit.covering ? request.room.covering.mm() : 0.0) + request.wall.mm();
        space::cut(air, {limit.plane.point - outward * in_mm, outward});
    }
    const BafflePlace place = place_on(air, request.baffle, asked_.baffle.travel_lo_mm);
    const double litres = (place.bare_air + features_volume(request)).litres() - solids_.value_or(Volume()).litres();
    litres_like_[value_mm] = litres;
    return litres;
}

/// Where the likeness, set right by what it was off at now(), has `litres`; the nearer end when it has them nowhere.
/// Regula falsi, Illinois way (Dowell, Jarratt 1971).
double Sizer::value_like(double litres) {
    const Stage stage(context_, "size");
    const auto over = [&](double value_mm) { return likeness_litres(value_mm) + off_litres_ - litres; };
    double a = asked_.adjust.lo_mm, b = asked_.adjust.hi_mm, fa = over(a), fb = over(b);
    if ((fa < 0.0) == (fb < 0.0)) return std::abs(fa) < std::abs(fb) ? a : b;
    const double enough = 0.1 * tolerance_litres(asked_);
    int side = 0;
    for (int i = 0; i < 20; ++i) {
        const double c = (fa * b - fb * a) / (fa - fb), fc = over(c);
        if (std::abs(fc) < enough || std::abs(b - a) < kLeastStep_mm) return c;
        if ((fc < 0.0) == (fb < 0.0)) {
            b = c, fb = fc;
            if (side == 1) fa *= 0.5;
            side = 1;
        } else {
            a = c, fa = fc;
            if (side == -1) fb *= 0.5;
            side = -1;
        }
    }
    return 0.5 * (a + b);
}

Status Sizer::solve_by_tries(Volume wanted) {
    if (likeness_.mm.empty()) GAPWRIGHT_CHECK(take_likeness());
    const double target = wanted.litres(), lo = asked_.adjust.lo_mm, hi = asked_.adjust.hi_mm;
    const bool grows = asked_.adjust.what == What::Limit;         // with the value
    double less_at = grows ? lo : hi, more_at = grows ? hi : lo;  // values tried with too little and too much
    bool has_less = false, has_more = false;
    const auto look = [&] {
        off_litres_ = net().litres() - likeness_litres(now_->value_mm);
        const bool is_less = net().litres() < target;
        double& at = is_less ? less_at : more_at;
        at = is_less == grows ? std::max(at, now_->value_mm) : std::min(at, now_->value_mm);
        (is_less ? has_less : has_more) = true;
    };
    if (now_) look();
    for (int tries = 0;; ++tries) {
        if (now_ && std::abs(net().litres() - target) <= tolerance_litres(asked_)) return Done{};
        if (context_.is_cancelled()) return Context::interrupted();
        if (now_) {
            // Out of reach when even the end has too little, or too much.
            const double roomiest = grows ? hi : lo, tightest = grows ? lo : hi;
            if (has_less && less_at == roomiest) return out_of_reach(wanted, likeness_litres(tightest) + off_litres_);
            if (has_more && more_at == tightest) return out_of_reach(wanted, likeness_litres(roomiest) + off_litres_);
        }
        double next = value_like(target);
        const double from = std::min(less_at, more_at), to = std::max(less_at, more_at);
        const bool is_between = next > from && next < to;
        if (has_less && has_more && (!is_between || tries > 5)) next = 0.5 * (from + to);
        if (tries >= kMostTries || (has_less && has_more && to - from < kLeastStep_mm))
            return Fault{
                FaultCode::Impossible,
                fmt::format("net volume: it jumps past {:.2f} L at {}: what lies beyond a narrow place joins or "
                            "leaves the box there",
                            target, what_text(next)),
                "let another thing be adjusted, or keep the narrow place out", std::nullopt, "size"};
        GAPWRIGHT_CHECK(go_to(std::clamp(std::round(next / kGrain_mm) * kGrain_mm, lo, hi)));
        look();
    }
}

Fault Sizer::out_of_reach(Volume wanted, double other_litres) {
    const double here = std::max(0.0, net().litres()), other = std::max(0.0, other_litres);
    const bool is_most = here < wanted.litres();
    const bool is_wall = asked_.adjust.what == What::Wall;
    const std::string range =
        is_wall
            ? fmt::format("a wall of {} to {} mm", plain_number(asked_.adjust.lo_mm), plain_number(asked_.adjust.hi_mm))
            : fmt::format("limit '{}' moved by {} to {} mm", asked_.adjust.limit, plain_number(asked_.adjust.lo_mm),
                          plain_number(asked_.adjust.hi_mm));
    Fault fault{FaultCode::Impossible, {}, {}, std::nullopt, "size"};
    if (is_most) {
        fault.what =
            fmt::format("net volume: with {} the gap holds at most {:.2f} L (at least about {:.2f} L), wanted {:.2f} L",
                        range, here, other, asked_.net_volume.litres());
        fault.hint = reliefs_text(reliefs(surface_, now_->request, context_));
        if (!beyond_.empty()) fault.hint += "; further out it cannot go: " + beyond_;
    } else {
        fault.what =
            fmt::format("net volume: with {} the box still holds {:.2f} L (at most about {:.2f} L), wanted {:.2f} L",
                        range, here, other, asked_.net_volume.litres());
        fault.hint = is_wall ? "let adjust_range end with a thicker wall, or put the baffle further in"
                             : "let adjust_range begin further in, or put the baffle further in";
    }
    return fault;
}

Solved solved_of(const Sized& sized, Volume filled) {
    const Adjust& adjust = sized.request.adjust;
    Solved solved{.what = {}, .value_mm = sized.value_mm, .filled_litres = filled.litres(), .text = {}};
    switch (adjust.what) {
        case What::Baffle:
            solved.what = "baffle";
            solved.text = fmt::format("baffle at {:.2f} mm of its travel", sized.value_mm);
            break;
        case What::Limit:
            solved.what = "limit '" + adjust.limit + "'";
            solved.text = fmt::format("limit '{}' moved by {:+.2f} mm along its outward", adjust.limit, sized.value_mm);
            break;
        case What::Wall:
            solved.what = "wall";
            solved.text = fmt::format("wall of {:.3f} mm", sized.value_mm);
            break;
        case What::Fill:
            solved.what = "fill";
            if (adjust.fill == Adjust::Fill::Told)
                solved.text = fmt::format("to be filled by hand: {:.3f} L of solid that takes no part in the sound",
                                          filled.litres());
            else if (sized.pad_y_mm)
                solved.text = fmt::format(
                    "filler pad of {:.3f} L at the back, {:.1f} mm thick at most, {}", filled.litres(), sized.value_mm,
                    adjust.fill == Adjust::Fill::Separate ? "its own piece" : "part of the shell");
            else
                solved.text = "nothing to fill";
            break;
    }
    return solved;
}

}  // namespace geom::parts

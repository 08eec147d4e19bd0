// constraints() names what can be taken away or eased; a Trial goes the way again with a change. Everything else sorts
// what the trials found.
#include "geom/parts/price_list.h"

#include "geom/parts/capacity.h"

#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::parts {

namespace {

constexpr double kLimitStep_mm = 20.0;

std::string instead(double now, double was) {
    return fmt::format("{:.4g} instead of {:.4g} mm", now, was);
}

template <class T>
auto erase_at(std::vector<T> EnclosureRequest::*list, std::size_t i) {
    return [=](EnclosureRequest& r) { (r.*list).erase((r.*list).begin() + static_cast<std::ptrdiff_t>(i)); };
}
template <class T>
auto erase_of_room(std::vector<T> space::RoomOptions::*list, std::size_t i) {
    return [=](EnclosureRequest& r) { (r.room.*list).erase((r.room.*list).begin() + static_cast<std::ptrdiff_t>(i)); };
}

constexpr const char* kRounded = "rounded";

/// Limits whose edge is asked to stay sharp, each pair once whichever of them asks.
std::vector<std::pair<std::string, std::string>> sharp_pairs(const EnclosureRequest& request) {
    std::vector<std::pair<std::string, std::string>> pairs;
    for (const space::Limit& limit : request.room.limits)
        for (const std::string& with : limit.sharp_with)
            if (std::find(pairs.begin(), pairs.end(), std::pair(with, limit.name)) == pairs.end())
                pairs.emplace_back(limit.name, with);
    return pairs;
}

Constraint::Change round_edge(std::string first, std::string second) {
    return [first = std::move(first), second = std::move(second)](EnclosureRequest& r) {
        for (space::Limit& limit : r.room.limits) {
            if (limit.name == first) std::erase(limit.sharp_with, second);
            if (limit.name == second) std::erase(limit.sharp_with, first);
        }
    };
}

/// Coarse enough to be quick, fine enough for wall and rounding; never finer than the job's own.
Length voxel_of_trials(const EnclosureRequest& request) {
    return std::max(request.room.voxel, Length::mm(std::clamp(request.wall.mm() / 2.0, 2.0, 3.0)));
}

/// The job on one grid, and what becomes of it with a change.
class Trial {
public:
    static Result<Trial> of(const scan::Surface& surface, EnclosureRequest request, std::optional<double> place_mm,
                            const Context& context) {
        GAPWRIGHT_TRY(gap, gap_field(surface, request, context));
        Trial trial(surface, std::move(request), std::move(gap), context);
        trial.place_mm_ = place_mm;
        trial.most_ =
            net_volume_at(trial.gap_.air, trial.request_, trial.request_.baffle.travel_hi_mm, &trial.gap_.room);
        if (place_mm) trial.at_place_ = net_volume_at(trial.gap_.air, trial.request_, *place_mm, &trial.gap_.room);
        return trial;
    }

    struct Gain {
        double litres = 0.0;
        std::optional<double> litres_at_place;
        double hole_mm = 0.0;  ///< width of the widest hole that only the grid's coarseness may have kept shut; 0: none
    };
    Result<Gain> with(const std::vector<const Constraint::Change*>& changes, Constraint::Felt felt) const {
        EnclosureRequest changed = request_;
        for (const Constraint::Change* change : changes) (*change)(changed);
        if (felt == Constraint::Felt::Ledger) return gain(gap_.air, gap_.room, changed);
        if (felt == Constraint::Felt::Wall) {
            GAPWRIGHT_TRY(air, space::cavity(gap_.room.outer, changed.wall, changed.inner_radius, context_));
            return gain(air, gap_.room, changed);
        }
        GAPWRIGHT_TRY(gap, gap_field(*surface_, changed, context_));
        Gain g = gain(gap.air, gap.room, changed);
        const double kept_off = changed.room.clearance.mm() + changed.room.covering.mm(),
                     widest = gap.room.report.widest_leak_mm;
        if (widest > 0.0 && widest + voxel_mm() / 2.0 >= kept_off) g.hole_mm = 2.0 * widest;
        return g;
    }
    Result<Gain> without(const Constraint& c) const { return with({&c.take_away}, c.felt); }
    /// The later of constraints() first, so that places in a list stay what they were.
    Result<Gain> without(const Constraint& later, const Constraint& earlier) const {
        return with({&later.take_away, &earlier.take_away}, std::min(later.felt, earlier.felt));
    }
    Result<Gain> eased(const Constraint& c) const { return with({&c.ease}, c.felt); }

    Volume most() const { return most_; }
    double voxel_mm() const { return gap_.air.grid.h_mm; }

private:
    Trial(const scan::Surface& surface, EnclosureRequest request, GapField gap, const Context& context)
        : surface_(&surface), request_(std::move(request)), gap_(std::move(gap)), context_(context) {}

    Gain gain(const space::Field& air, const space::Room& room, const EnclosureRequest& changed) const {
        Gain g;
        g.litres = (net_volume_at(air, changed, changed.baffle.travel_hi_mm, &room) - most_).litres();
        if (place_mm_) g.litres_at_place = (net_volume_at(air, changed, *place_mm_, &room) - at_place_).litres();
        return g;
    }

    const scan::Surface* surface_;
    EnclosureRequest request_;
    GapField gap_;
    Context context_;
    std::optional<double> place_mm_;
    Volume most_, at_place_;
};

/// Stages of these inner runs would only confuse the progress of the run that asked for them.
Context quiet(const Context& context) {
    return {nullptr, context.cancel, {}};
}

std::string why_not(const Fault& fault) {
    if (fault.code != FaultCode::Leak) return fault.what;
    std::string text = "without it the room is open";
    if (fault.where)
        text += fmt::format(" at {:.0f}, {:.0f}, {:.0f} mm", fault.where->x, fault.where->y, fault.where->z);
    return text;
}

/// One thing taken away; where that opens the room, the step out of it instead, when there is one.
Price price_of(const Trial& trial, const Constraint& constraint) {
    Price price{constraint.name, constraint.taken, constraint.amount_mm, {}, {}, {}};
    auto gain = trial.without(constraint);
    if (!gain) {
        price.note = why_not(gain.error());
        if (gain.error().code != FaultCode::Leak || !constraint.ease) return price;
        gain = trial.eased(constraint);
        if (!gain) return price;
        price.taken = constraint.eased;
        price.amount_mm = constraint.eased_by_mm;
    }
    price.litres = gain->litres;
    price.litres_at_place = gain->litres_at_place;
    if (gain->hole_mm > 0.0)
        price.note += fmt::format("{}a hole in the scan about {:.0f} mm wide may have to be closed then",
                                  price.note.empty() ? "" : "; ", gain->hole_mm);
    return price;
}

}  // namespace

std::vector<Constraint> constraints(const EnclosureRequest& request) {
    using Felt = Constraint::Felt;
    std::vector<Constraint> all;
    const auto length = [&](std::string name, double was, Felt felt, Constraint::Change take_away, double eased_to,
                            std::function<void(EnclosureRequest&, double)> set) {
        Constraint c{name, instead(0, was), was, felt, std::move(take_away), {}, 0.0, {}};
        if (eased_to < was) {
            c.eased_by_mm = was - eased_to;
            c.eased = instead(eased_to, was);
            c.ease = [=](EnclosureRequest& r) { set(r, eased_to); };
        }
        all.push_back(std::move(c));
    };

    const double clearance = request.room.clearance.mm();
    const double on_the_way = request.room.insert_clearance.value_or(request.room.clearance).mm();
    const bool is_one = on_the_way == clearance;
    const auto set_clearance = [=](EnclosureRequest& r, double mm) {
        // The way in keeps its own where it has one.
        r.room.insert_clearance = Length::mm(is_one ? mm : on_the_way);
        r.room.clearance = Length::mm(mm);
    };
    if (clearance > 0.0)
        length(
            is_one ? "clearance" : "clearance, standing", clearance, Felt::Room,
            [=](EnclosureRequest& r) { set_clearance(r, 0.0); }, std::max(clearance - 2.0, 1.0), set_clearance);
    if (on_the_way > 0.0 && !is_one)
        length(
            "clearance on the way in", on_the_way, Felt::Room,
            [](EnclosureRequest& r) { r.room.insert_clearance = Length::mm(0); }, std::max(on_the_way - 2.0, 1.0),
            [](EnclosureRequest& r, double mm) { r.room.insert_clearance = Length::mm(mm); });
    if (const double covering = request.room.covering.mm(); covering > 0.0)
        length(
            "covering", covering, Felt::Room, [](EnclosureRequest& r) { r.room.covering = Length::mm(0); }, 0.0,
            [](EnclosureRequest& r, double) { r.room.covering = Length::mm(0); });
    if (const double radius = request.room.edge_radius.mm(); radius > 0.0)
        length(
            "outside rounding", radius, Felt::Room, [](EnclosureRequest& r) { r.room.edge_radius = Length::mm(0); },
            4.0, [](EnclosureRequest& r, double mm) { r.room.edge_radius = Length::mm(mm); });
    if (const double radius = request.inner_radius.mm(); radius > 0.0)
        length(
            "inside rounding", radius, Felt::Wall, [](EnclosureRequest& r) { r.inner_radius = Length::mm(0); }, radius,
            [](EnclosureRequest&, double) {});
    if (request.room.comes_in)
        all.push_back(
            {"the way in", "away", 0.0, Felt::Room, [](EnclosureRequest& r) { r.room.comes_in = false; }, {}, 0.0, {}});
    for (std::size_t i = 0; i < request.room.limits.size(); ++i) {
        const std::string name = fmt::format("limit '{}'", request.room.limits[i].name);
        all.push_back({name, "away", 0.0, Felt::Room, erase_of_room(&space::RoomOptions::limits, i),
                       fmt::format("{} mm further out", plain_number(kLimitStep_mm)), kLimitStep_mm,
                       [i](EnclosureRequest& r) {
                           Plane& plane = r.room.limits[i].plane;
                           plane.point += plane.outward * kLimitStep_mm;
                       }});
    }
    for (const auto& [first, second] : sharp_pairs(request))
        all.push_back({fmt::format("sharp edge of '{}' and '{}'", first, second),
                       kRounded,
                       0.0,
                       Felt::Ledger,
                       round_edge(first, second),
                       {},
                       0.0,
                       {}});
    for (std::size_t i = 0; i < request.room.keep_outs.size(); ++i)
        all.push_back({fmt::format("keep-out '{}'", request.room.keep_outs[i].name),
                       "away",
                       0.0,
                       Felt::Room,
                       erase_of_room(&space::RoomOptions::keep_outs, i),
                       {},
                       0.0,
                       {}});
    length(
        "wall", request.wall.mm(), Felt::Wall, [](EnclosureRequest& r) { r.wall = Length::mm(0); },
        std::max(request.wall.mm() - 2.0, 3.0), [](EnclosureRequest& r, double mm) { r.wall = Length::mm(mm); });
    const auto fixing = [&](const std::string& name, Constraint::Change take_away) {
        all.push_back({name, "away", 0.0, Felt::Ledger, std::move(take_away), {}, 0.0, {}});
    };
    for (std::size_t i = 0; i < request.feet.size(); ++i)
        fixing(fmt::format("fixing '{}'", request.feet[i].name), erase_at(&EnclosureRequest::feet, i));
    for (std::size_t i = 0; i < request.sleeves.size(); ++i)
        fixing(fmt::format("fixing '{}'", request.sleeves[i].name), erase_at(&EnclosureRequest::sleeves, i));
    for (std::size_t i = 0; i < request.braces.size(); ++i)
        fixing(fmt::format("brace '{}'", request.braces[i].name), erase_at(&EnclosureRequest::braces, i));
    if (request.braces_to_place > 0)
        fixing(fmt::format("{} placed braces", request.braces_to_place),
               [](EnclosureRequest& r) { r.braces_to_place = 0; });
    return all;
}

Result<PriceList> price_list(const scan::Surface& surface, const EnclosureRequest& request, const PriceOptions& options,
                             const Context& context) {
    const Stage stage(context, "prices");
    EnclosureRequest coarse = request;
    coarse.room.voxel = options.voxel.mm() > 0.0 ? options.voxel : voxel_of_trials(request);
    GAPWRIGHT_TRY(trial, Trial::of(surface, coarse, options.place_mm, quiet(context)));
    PriceList list;
    list.voxel_mm = trial.voxel_mm();
    list.most = trial.most();

    struct Priced {
        std::size_t number;
        Constraint constraint;
        Price price;
    };
    std::vector<Priced> priced;
    for (Constraint& constraint : constraints(coarse)) {
        if (context.is_cancelled()) return Context::interrupted();
        Price price = price_of(trial, constraint);
        if (constraint.felt == Constraint::Felt::Ledger && price.litres && std::abs(*price.litres) < 1e-9)
            price.note = constraint.taken == kRounded ? "the air behind it is rounded as it is"
                                                      : "stands outside the room: takes nothing from the air";
        priced.push_back({priced.size(), std::move(constraint), std::move(price)});
    }
    if (context.is_cancelled()) return Context::interrupted();
    std::stable_sort(priced.begin(), priced.end(), [](const Priced& a, const Priced& b) {
        return a.price.litres.value_or(-1e300) > b.price.litres.value_or(-1e300);
    });
    for (const Priced& p : priced) list.prices.push_back(p.price);

    std::vector<const Priced*> dearest;  // those that were really taken away
    for (const Priced& p : priced)
        if (dearest.size() < options.pairs_of && p.price.litres && p.price.taken == p.constraint.taken &&
            *p.price.litres > 1e-6)
            dearest.push_back(&p);
    for (std::size_t a = 0; a < dearest.size(); ++a)
        for (std::size_t b = a + 1; b < dearest.size(); ++b) {
            if (context.is_cancelled()) return Context::interrupted();
            PairPrice pair{dearest[a]->price.name, dearest[b]->price.name, 0.0, 0.0, {}};
            const bool is_later = dearest[a]->number > dearest[b]->number;
            const auto gain =
                trial.without(dearest[is_later ? a : b]->constraint, dearest[is_later ? b : a]->constraint);
            if (gain) {
                pair.litres = gain->litres;
                pair.interaction_litres = gain->litres - *dearest[a]->price.litres - *dearest[b]->price.litres;
            } else {
                pair.note = why_not(gain.error());
            }
            list.pairs.push_back(std::move(pair));
        }
    std::stable_sort(list.pairs.begin(), list.pairs.end(), [](const PairPrice& a, const PairPrice& b) {
        return std::abs(a.interaction_litres) > std::abs(b.interaction_litres);
    });
    return list;
}

std::vector<Relief> reliefs(const scan::Surface& surface, const EnclosureRequest& request, const Context& context) {
    EnclosureRequest coarse = request;
    coarse.room.voxel = voxel_of_trials(request);
    const auto trial = Trial::of(surface, coarse, {}, quiet(context));
    if (!trial) return {};
    std::vector<Relief> found;
    const auto add = [&](std::string what, const Result<Trial::Gain>& gain) {
        if (gain)
            found.push_back({std::move(what), gain->litres});
        else if (gain.error().code == FaultCode::Leak)
            found.push_back({std::move(what) + " (the room would be open there)", -1.0});
    };
    for (const Constraint& constraint : constraints(coarse)) {
        if (context.is_cancelled()) break;
        // What stands in a list can be left out; lengths are only eased.
        const bool is_listed =
            constraint.amount_mm == 0.0 && constraint.felt == Constraint::Felt::Room && constraint.name != "the way in";
        if (is_listed) add("without " + constraint.name, trial->without(constraint));
        if (constraint.ease) add(constraint.name + " " + constraint.eased, trial->eased(constraint));
    }
    std::stable_sort(found.begin(), found.end(),
                     [](const Relief& a, const Relief& b) { return a.litres_more > b.litres_more; });
    return found;
}

std::string reliefs_text(const std::vector<Relief>& reliefs) {
    if (reliefs.empty()) return "move the baffle's travel further out, or ask for less";
    std::string text = "what would free how much: ";
    for (std::size_t i = 0; i < reliefs.size(); ++i) {
        if (i > 0) text += "; ";
        text += reliefs[i].what;
        if (reliefs[i].litres_more >= 0.0) text += fmt::format(": {:+.2f} L", reliefs[i].litres_more);
    }
    return text;
}

}  // namespace geom::parts

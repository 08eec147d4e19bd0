// What is changed until the air has the wanted volume: the baffle's place, a limit's place, the wall, or what is
// filled.
//
// Each way is a root over fields: the air behind the baffle as a function of one number. The baffle's place and that of
// a filler pad are roots of one volume table. For a limit or the wall every try is a field of its own (seconds), so in
// between a cheap likeness of the curve is looked at: the farthest room cut by the limit's plane, or the levels of one
// distance, both without the rounding made anew. Likeness and truth differ by little that hardly changes along the
// curve, so two or three tries do.
#pragma once

#include "geom/parts/enclosure.h"
#include "geom/parts/size.h"

#include <map>

namespace geom::parts {

/// One state of the box, by its fields.
struct Sized {
    EnclosureRequest request;  ///< with what is solved put in
    space::Room room;
    space::Cavity cavity;            ///< its air is what is measured
    BafflePlace place;               ///< with all of the air behind the baffle, filled or not
    double value_mm = 0.0;           ///< place on the travel, way of the limit, wall, or greatest thickness of the pad
    std::optional<double> pad_y_mm;  ///< box y where a pad begins
    Volume filled;                   ///< by the pad, or to be filled by hand; by the field
};

class Sizer {
public:
    /// Surface and context are kept by reference.
    Sizer(const scan::Surface& surface, const EnclosureRequest& request, const Context& context)
        : surface_(surface), asked_(request), context_(context) {}

    /// Makes now() hold `wanted` net volume by the field, features as the request's own ledger counts them.
    ///
    /// Faults: those of space::free_room and space::cavity
    ///         Impossible  the range does not reach it: what can be had, and what would free how much
    Status solve(Volume wanted);
    const Sized& now() const { return *now_; }
    /// A port's length for what was measured, from the next solve() on.
    void set_port_length(Length length);
    Sized take() { return std::move(*now_); }

private:
    Status begin();
    Status solve_baffle(Volume wanted);
    Status solve_fill(Volume wanted);
    Status solve_by_tries(Volume wanted);

    Result<Sized> made_at(double value_mm);
    Status go_to(double value_mm);
    Status go_to_outermost();
    void take_solids();
    Status take_likeness();
    double likeness_litres(double value_mm);
    double value_like(double litres);

    EnclosureRequest request_at(double value_mm) const;
    std::size_t limit_index() const;
    Volume net() const;
    std::string what_text(double value_mm) const;
    Fault out_of_reach(Volume wanted, double other_litres);
    Fault no_baffle_place(Volume wanted) const;

    const scan::Surface& surface_;
    EnclosureRequest asked_;
    const Context& context_;
    std::optional<Sized> now_;
    std::optional<Volume> solids_;                    ///< what stands in the air less what sharp edges add to it, by
                                                      ///< the first place
    std::optional<space::Room> room_;                 ///< of a wall's tries: it does not change
    space::Field likeness_;                           ///< of the air, at likeness_at_mm_
    double likeness_at_mm_ = 0.0, off_litres_ = 0.0;  ///< off: truth less likeness
    std::map<double, double> litres_like_;
    std::string beyond_;  ///< why a limit goes no farther out
};

/// What was solved, for people. `filled` as the made part has it.
Solved solved_of(const Sized& sized, Volume filled);

}  // namespace geom::parts

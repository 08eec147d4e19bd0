// What a finished box holds, by what was filled into it: grain weighed by its bulk density, water weighed or by the
// measure, once or several times, with the uncertainty of all that.
//
// Method    Guide to the expression of uncertainty in measurement (JCGM 100:2008, from memory): what several fillings
//           scatter counts as their mean's (s/sqrt n), what they share (scale, bulk density) as half a span with every
//           value in it as likely as the other (a/sqrt 3); squares add, degrees of freedom after Welch and
//           Satterthwaite, 95 % by Student's t.
// Settling  poured grain lies as it was poured: 2 % between one pour and the next is common practice, when none is
//           shaken; shaken grain is up to 10 % denser. So the bulk density has to be that of the same way of pouring.
#pragma once

#include "geom/core/result.h"
#include "geom/core/units.h"

#include <string>
#include <vector>

namespace geom::measure {

/// Half a span: what is told may be off by so much, either way.
struct Weighed {
    double kg = 0.0;
    double off_kg = 0.0;
};
struct Measured {
    Volume volume;
    Volume off;
};

/// Grain and its bulk density, or water.
struct Filling {
    enum class Matter { Grain, WaterByMass, WaterByVolume } matter = Matter::Grain;
    std::string told;         ///< as the user wrote it
    Weighed full;             ///< of grain and of water by mass: with what it was weighed in
    Weighed empty;            ///< of that alone
    double kg_per_litre = 0;  ///< bulk density
    double density_rel = 0;   ///< half a span of it
    Measured volume;          ///< of water by the measure
};
constexpr double kSettling_rel = 0.02;
/// Water of 5 to 30 C: 0.9957 to 1.0000 kg/L. Half a span of 0.3 % takes in the air that stays in corners.
constexpr double kWater_kg_per_litre = 0.9982, kWater_rel = 0.003;

/// A value with its standard uncertainty and the freedom that has.
struct Uncertain {
    Volume value;
    Volume standard;
    double freedom = 0.0;  ///< infinite: nothing of it comes from scatter

    /// Student's factor of 95 %, two sides.
    double factor() const;
    Volume within() const { return standard * factor(); }  ///< 95 %
};

/// Part of the uncertainty of what was filled, for the table.
struct Share {
    std::string of;  ///< "scale", "bulk density", "scatter of 4 fillings"
    Volume standard;
};

struct Filled {
    std::vector<Volume> each;   ///< in the order of the fillings
    Volume scatter;             ///< standard deviation of the widest way of filling; 0 with one filling
    std::vector<Share> shares;  ///< of the mean, largest first
    Uncertain mean;
    bool ways_disagree = false;  ///< water and grain, say, by more than they can; the uncertainty is drawn out for it
};
/// Fillings of one matter and density share what they do not know; ways of filling are weighted by their uncertainty.
/// EXPECTS: at least one filling.
/// Faults:  BadJob  a mass not above the empty one's, a density or volume not above 0
Result<Filled> filled(const std::vector<Filling>& fillings);

struct BuiltAgainst {
    Uncertain difference;   ///< filled less expected
    bool differs = false;   ///< by more than its 95 %
    bool matters = false;   ///< and by more than the tolerance of the job
    bool can_tell = false;  ///< the 95 % lie within the tolerance: agreement proves it
};
/// `expected_off`: half a span. EXPECTS: expected positive, tolerance not negative.
BuiltAgainst against(const Uncertain& filled, Volume expected, Volume expected_off, Volume tolerance);

}  // namespace geom::measure

// What a cabin does to low notes, as its user measured it. It is shown beside the curves and changes no number: it
// holds for one place of the box and of the listener.
#pragma once

#include <string>
#include <vector>

namespace geom::sound {

struct CabinGain {
    std::string name;                ///< "van.csv"
    std::vector<double> f_hz, db{};  ///< frequencies rise; over the free field
};

/// Straight on a logarithmic scale between the measured frequencies. EXPECTS: two values or more; f among them.
double gain_at(const CabinGain& cabin, double f_hz);
/// Whether f lies within what was measured.
bool covers(const CabinGain& cabin, double f_hz);

}  // namespace geom::sound

// Words and numbers as faults, summaries and reports write them.
#pragma once

#include "geom/core/vec.h"

#include <string>
#include <string_view>
#include <vector>

namespace geom {

/// Least number of letters to insert, remove, change or swap with their neighbour (optimal string alignment: Damerau
/// 1964, Levenshtein 1966, cited from memory).
std::size_t edit_distance(std::string_view a, std::string_view b);

/// The known word that `word` was most likely meant to be, or empty when none is near: upper and lower case do not
/// count, and at most a third of the letters (at least one) may differ. The first of equals.
std::string nearest_word(std::string_view word, const std::vector<std::string>& known);

/// "4", "44.45", "0.002": ten significant digits at most, no trailing zeros, never "-0".
std::string plain_number(double value);

/// To so many decimals, never -0; what is not finite stays so (JSON writes it as null).
double rounded(double value, int decimals);

/// "117 274": digits in threes.
std::string grouped(std::size_t n);

/// "0, -1, 0"
std::string plain_vector(Vec3 v);

/// "a, b and c"; with an empty `last`: "a, b, c".
std::string listed(const std::vector<std::string>& words, std::string_view last = "and");

}  // namespace geom

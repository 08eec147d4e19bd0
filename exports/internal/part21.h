// The exchange structure of STEP files (ISO 10303-21) as text: what has to be said the same way every time.
#pragma once

#include <string>
#include <string_view>

namespace exports {

/// A real as Part 21 wants it (with a point, an upper-case exponent), rounded to `decimals` places after the point,
/// without trailing zeros. Independent of the locale.
std::string part21_real(double value, int decimals);

/// A string literal without its quotes: quotes doubled, anything outside printable ASCII as \X2\....\X0\ (UTF-8 in).
std::string part21_string(std::string_view utf8);

/// The text made smaller without changing what it says: no blanks outside strings, every entity on lines of its own of
/// about a hundred characters, the coordinates of CARTESIAN_POINT to `decimals` places; the identifiers of
/// NEXT_ASSEMBLY_USAGE_OCCURRENCE numbered from 1.
std::string compact_part21(std::string_view text, int decimals);

}  // namespace exports

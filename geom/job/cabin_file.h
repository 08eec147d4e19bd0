// A measured cabin gain: text of two columns, frequency in Hz and gain in dB over the free field, separated by a comma, a
// semicolon or blanks. Lines that begin with '#' and one line of headings are passed over.
#pragma once

#include "geom/core/result.h"
#include "geom/sound/cabin.h"

#include <filesystem>

namespace geom::job {

/// Its name is the file's.
/// Faults: Unreadable  missing, a folder, no text
///         BadJob      a line that is no pair of numbers, frequencies that do not rise or lie outside 1 to 20000 Hz, a
///                     gain beyond 60 dB, fewer than two lines: with the line
Result<sound::CabinGain> read_cabin_file(const std::filesystem::path& path);

}  // namespace geom::job

// The fields of a gap kept in a file, so that a later run of the same job need not make them again.
//
// Trust   A file is taken only when it is whole (its own SHA-256 at its end), of this form and of the very key asked
// for.
//         The key is a SHA-256 over everything the fields depend on; whoever keeps them makes it. Anything else there
//         is told by a note and left out of account.
// Harm    A file of ours (whole or not, of any key) is replaced as a whole; one that is not ours is never touched.
// Form    "GWKEEP1\n", the key (64 hexadecimal digits), lengths and values little-endian as on every machine this is
//         built for: report, room, air; SHA-256 of all before.
#pragma once

#include "geom/parts/capacity.h"

#include <filesystem>
#include <optional>
#include <string>

namespace exports {

struct KeptGap {
    std::optional<geom::parts::GapField> gap;  ///< none: not there or not to be trusted
    std::string note;                          ///< why not; empty when nothing is there
};
KeptGap load_gap(const std::filesystem::path& file, const std::string& key);

/// Writes beside, then renames. Empty when kept, else why not: keeping is a convenience and no fault.
std::string keep_gap(const std::filesystem::path& file, const std::string& key, const geom::parts::GapField& gap);

/// SHA-256 in hexadecimal of any bytes.
std::string sha256_of(const std::string& bytes);

}  // namespace exports

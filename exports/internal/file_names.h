// What the files of a delivery are called once the verdict is known, and what of a verdict failed.
#pragma once

#include "exports/internal/placing.h"
#include "geom/check/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

namespace exports {

/// "net volume, three ways: 0.4 %, at most 0.1 % wanted (note); ..."
inline std::string failed_lines(const geom::check::Verdict& verdict, geom::check::Kind kind) {
    std::string text;
    for (const auto& line : verdict.lines) {
        if (line.ok || line.kind != kind) continue;
        const std::string unit = line.unit.empty() ? "" : " " + line.unit;
        text += fmt::format("{}{}: {:.6g}{}, limit {:.6g}{}", text.empty() ? "" : "; ", line.name, line.value, unit,
                            line.limit, unit);
        if (!line.note.empty()) text += " (" + line.note + ")";
    }
    return text;
}

/// A product's name as part of its file's: names with blanks are a nuisance to whoever types them.
inline std::string suffix_of(const std::string& name) {
    std::string plain = file_stem(name);
    std::replace(plain.begin(), plain.end(), ' ', '-');
    return plain;
}

/// What the files are called once the verdict is known.
class Names {
public:
    Names(const std::string& job, bool proved) : stem_(file_stem(job)), proved_(proved) {}
    /// How every unproved file of this job begins.
    std::string unproved_start() const { return stem_ + ".unproved."; }
    std::string with_ending(const std::string& ending) const { return stem_ + (proved_ ? "." : ".unproved.") + ending; }
    std::string with_suffix(const std::string& suffix, const std::string& ending) const {
        return stem_ + (proved_ ? "-" : ".unproved.") + suffix + "." + ending;
    }
    std::string report() const { return proved_ ? "report.json" : with_ending("report.json"); }

private:
    std::string stem_;
    bool proved_;
};

/// Unproved files of earlier runs say what no longer holds once a proved part lies beside them.
inline void remove_unproved(const std::filesystem::path& folder, const std::string& start) {
    std::error_code ignored;
    std::vector<std::filesystem::path> stale;
    for (const auto& entry : std::filesystem::directory_iterator(folder, ignored))
        if (entry.path().filename().string().rfind(start, 0) == 0) stale.push_back(entry.path());
    for (const auto& file : stale) std::filesystem::remove(file, ignored);
}

}  // namespace exports

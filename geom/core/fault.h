// What went wrong with a job, as a value. Text is lower case without a final stop: the thing, the value found,
// the value wanted; `hint` says what to try. Faults of the caller are not Faults but checks (checks.h).
#pragma once

#include "geom/core/vec.h"

#include <optional>
#include <string>

namespace geom {

/// One cause each; cli/ alone maps them to exit codes.
enum class FaultCode {
    Internal,       ///< the program went wrong inside (a foreign library threw, an invariant broke)
    CannotWrite,    ///< the result cannot be written
    NotSound,       ///< a sound-solid check failed: nothing is handed over
    Unreadable,     ///< an input is missing, truncated, not of its format
    BadJob,         ///< the job file: unknown key, wrong type, value without meaning
    NotBuilt,       ///< a key of the job file whose work is not built yet
    BadScan,        ///< the scan holds no surface: too few points, all on a line, not finite
    WrongUnit,      ///< the extent makes no sense for a vehicle in the stated unit
    Leak,           ///< the room has a way out that is neither closed nor declared
    AirBlocked,     ///< `air` lies inside an obstacle or outside the gap
    MemoryLimit,    ///< would not fit; the hint says what would
    Impossible,     ///< no such part; the hint gives the nearest that can be
    MethodRefused,  ///< not by this method; `where` and hint say what to change
    Interrupted,    ///< cancelled by the user
};

struct Fault {
    FaultCode code = FaultCode::Internal;
    std::string what;             ///< "baffle: outward faces away from the air, 12.0 mm behind; wanted ..."
    std::string hint;             ///< what to try; may be empty only for Internal
    std::optional<Point3> where;  ///< vehicle frame, mm
    std::string stage;            ///< filled by the pipeline: "scan", "space", "size", "skin", "part", "proof", "files"
};

}  // namespace geom

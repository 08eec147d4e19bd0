// The places of the vehicle that a job names, to be held against its scan.
#pragma once

#include "geom/job/job.h"
#include "geom/scan/on_scan.h"

#include <vector>

namespace geom::job {

/// Air or a ring's seat, fixings and bolts (on the surface), and keep-outs, in that order; vehicle frame, mm.
std::vector<scan::NamedPlace> places_of(const Job& job);

}  // namespace geom::job

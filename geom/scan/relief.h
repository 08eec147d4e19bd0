// A scanned face seen along an axis, as heights over a plane: where it is cut out, where the scan misses it, and the
// fair sheet that carries it on over both.
//
// Frame     `view` takes view numbers to vehicle numbers: its origin on the axis in the plane, z towards the viewer.
//           Heights are along z, mm.
// Face      cells of a square raster hold the highest sample that covers them; the largest part without a step between
//           neighbouring cells is the face. What lies apart from it and lower (a rail seen through the opening) is not.
// Opening   where the face is missing about the axis. Its rim may be turned in: cells beside it that are steeper than
//           53 degrees are counted to it, and 4 mm more beside those are not asked how the face goes on.
// Sheet     the thin plate (least sum of squared second differences) drawn towards the face beside the gap, which it
//           meets without a break: a bulging face bulges on, a swage ends on both sides at its own height. A soap film
//           would never sink below the rim, but makes a crease all along it that whatever follows the face shows.
#pragma once

#include "geom/core/context.h"
#include "geom/core/units.h"
#include "geom/scan/surface.h"

#include <optional>
#include <vector>

namespace geom::scan {

struct ReliefOptions {
    Frame view;
    double half_mm = 0.0;                       ///< half the side of the square that is looked at
    double reach_mm = 0.0;                      ///< as far from the axis the face has to be scanned, the opening apart
    double inside_mm = 0.0;                     ///< nearer to the axis nothing matters: the sheet goes through there
    double behind_mm = 40.0, before_mm = 60.0;  ///< what lies lower or higher is not looked at
    Length bridge = Length::mm(12);             ///< other gaps up to this wide are bridged by the sheet
};

/// A place without samples that the sheet bridges, or that the scan should not have.
struct Gap {
    Point3 place;  ///< on the sheet, at the centre of the widest circle in it
    Length width;  ///< of that circle
};

struct Relief {
    Frame view;
    double lo_mm = 0.0, step_mm = 0.0;   ///< the cell (i, j) is about lo + i step, lo + j step
    int n = 0;                           ///< cells along a side
    std::vector<float> mm;               ///< of the face, or of the sheet where there is none; x fastest
    std::vector<unsigned char> scanned;  ///< the face is

    /// The samples of the square, vehicle frame, and the sheet's wherever it closes the face.
    Surface closed;
    std::optional<Gap> opening;     ///< where it goes beyond `inside`
    double opening_reach_mm = 0.0;  ///< how far from the axis it goes
    std::vector<Gap> bridged;       ///< widest first; what random sampling leaves is not told

    /// Height at view coordinates, bilinear, clamped to the square.
    double at(double x, double y) const;
    /// Whether the face was scanned there.
    bool is_scanned(double x, double y) const;
};

/// Faults: BadScan  no face in the square; a gap wider than `bridge` within reach (which, where, how wide); the opening
///                  reaches farther than the face has to be scanned
Result<Relief> relief_of(const Surface& surface, const ReliefOptions& options, const Context& context);

/// The part of a raw scan in `box` of the view frame: what a relief there needs to be levelled, and no more.
RawScan cropped(const RawScan& raw, const Frame& view, const Aabb& box);

}  // namespace geom::scan

// Where a scan stands in the vehicle: motions found from axes, from three picked points, from pairs of matching points,
// mirrored or not, one for each file; and two passes brought together where they overlap.
//
// Units     millimetres on both sides: scan numbers are turned into millimetres before anything is asked here.
// Frame     a Motion takes scan numbers to vehicle numbers. A mirror acts last, about a plane of the vehicle.
// Faults    `what` is the end of a sentence that begins with the key it was read from: "x is 5.7 deg off ...".
// Source    pairs: Kabsch 1976, Acta Cryst. A32, and Umeyama 1991, IEEE PAMI 13(4), for the scale; passes: point to
//           plane, Chen and Medioni 1992, Image Vision Comput. 10(3). All cited from memory.
#pragma once

#include "geom/core/context.h"
#include "geom/core/result.h"
#include "geom/core/units.h"
#include "geom/core/vec.h"
#include "geom/scan/read.h"

#include <array>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace geom::scan {

/// p -> scale * (p turned, perhaps mirrored) + shift. x, y and z are the rows: orthonormal, left-handed when mirrored.
struct Motion {
    Vec3 x{1, 0, 0}, y{0, 1, 0}, z{0, 0, 1};
    double scale = 1.0;
    Vec3 shift;

    constexpr Vec3 turned(Vec3 v) const { return {dot(x, v), dot(y, v), dot(z, v)}; }
    constexpr Point3 at(Point3 p) const { return turned(p) * scale + shift; }
    constexpr bool mirrors() const { return dot(cross(x, y), z) < 0.0; }
    /// The motion that undoes this one.
    Motion inverse() const;
};
/// `first`, then `second`.
Motion then(const Motion& first, const Motion& second);
/// About a plane; twice is no motion.
Motion mirror_about(const Plane& plane);

/// How far axes may be off right angles before they are no axes.
inline constexpr double kSquareWithin_deg = 1.0;

/// `origin` becomes 0,0,0 and the directions the axes. Of the axes any may be missing: with none given they are those
/// of the scan, a missing one is at right angles to the other two. z is kept, x turned to it; where all three are
/// given, the nearest right-angled ones are taken.
///
/// Faults: BadJob  axes more than kSquareWithin_deg off right angles (by how much); left-handed ones
Result<Motion> place_by_axes(Point3 origin, std::optional<Vec3> x, std::optional<Vec3> y, std::optional<Vec3> z);

/// What three places picked on the scan become.
struct PickedPoints {
    std::array<Point3, 3> scan;
    Point3 at;             ///< vehicle: where the first comes to lie
    Vec3 along{1, 0, 0};   ///< vehicle: from the first towards the second
    Vec3 normal{0, 0, 1};  ///< vehicle: of the plane through all three, which go counter-clockwise seen against it
};
/// Faults: BadJob  two of them in one place; all on one line (height of the third over the line of the first two under
/// a
///                 fiftieth of the longest side); along and normal more than kSquareWithin_deg off a right angle
Result<Motion> place_by_points(const PickedPoints& picked);

struct PointPair {
    std::string name;
    Point3 scan, vehicle;
};

struct PairFit {
    Motion motion;
    std::vector<std::pair<std::string, double>> residuals_mm;  ///< of each pair, in order
    double rms_mm = 0.0;                                       ///< of the residuals: sqrt(sum / pairs)
    double most_mm = 0.0;
    bool can_tell = false;           ///< four pairs at least: one bad pair among them can be told
    std::optional<std::size_t> bad;  ///< the pair the others speak against
    double bad_off_mm = 0.0;         ///< distance of the bad pair from where the others put it
    double others_rms_mm = 0.0;      ///< of the others without it
};

/// The rigid motion (with `scale`, the similarity) of least squares; never a mirror.
///
/// A pair is bad when the fit without it is better than chance gives (F test on the sums of squares, 1 %) and it is
/// more than 2 mm from where the others put it.
///
/// Faults: BadJob     under three pairs; all in one place or on one line, on either side; only a mirror image fits
///         WrongUnit  the two sides differ by the ratio of two units of length
Result<PairFit> fit_pairs(const std::vector<PointPair>& pairs, bool scale);

/// One file and how it comes to its place.
struct ScanFile {
    std::filesystem::path path;
    FileUnit unit = FileUnit::Millimetre;
    Motion motion;                 ///< millimetres of the file to the vehicle; mirror included
    std::optional<PairFit> pairs;  ///< when it was placed by pairs
};

/// What came of bringing a pass to the first file.
struct PassFit {
    int rounds = 0;
    double overlap = 0.0;    ///< share of the pass's samples that lie on the first file, 0 to 1
    double before_mm = 0.0;  ///< median distance from the first file's planes in the overlap, as placed
    double after_mm = 0.0;   ///< the same in the end
    double moved_mm = 0.0;   ///< the most any of its overlapping points was moved
    double turned_deg = 0.0;
    /// How far parts of the overlap disagree about where the pass lies: the standard deviation, by leaving one part out
    /// after the other, at the corner where it is most. No bound: on depth-camera scans the pass lay up to six times as
    /// far off.
    double parts_differ_mm = 0.0;
};

struct FilePlacing {
    std::filesystem::path path;
    Motion motion;
    std::optional<PairFit> pairs;
    std::optional<PassFit> fit;
    /// Another file is a cloud: this one's mesh was turned into so many points, so far apart. 0: it was not.
    std::size_t sampled = 0;
    double sampled_mm = 0.0;
};

struct PlacedScans {
    RawScan scan;
    std::vector<FilePlacing> files;
};

struct PlacingOptions {
    bool join_by_fit = false;  ///< files after the first are brought to it where they overlap
    ReadOptions read;          ///< unit and place are those of the files; any_extent holds for files in one place
};

/// Moves points, turns normals; triangles keep their outside when mirrored.
void place(RawScan& scan, const Motion& motion);

/// Reads each file, places it, brings it to the first if asked, joins all.
///
/// Faults: as read_scans(); BadJob  passes that overlap too little, or whose overlap leaves a motion open (says which)
Result<PlacedScans> read_placed_scans(const std::vector<ScanFile>& files, const PlacingOptions& options,
                                      const Context& context);

/// Brings `moving` to `fixed`, both placed: the small motion that lays the one on the other. Tried from `reach` first,
/// and where that fails from four times as far.
///
/// Precision  stops when a round moves no point by more than 0.01 mm; 60 rounds without that are a fault.
/// Faults: BadJob  overlap under a tenth; a motion left open: names the direction; no rest found; parts of the overlap
///                 differ by more than 1 mm (PassFit::parts_differ_mm); moved by more than eight times the reach
Result<std::pair<Motion, PassFit>> fit_pass(const RawScan& fixed, const RawScan& moving, Length reach,
                                            const Context& context);

}  // namespace geom::scan

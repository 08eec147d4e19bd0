// From raw scan to the surface that everything else trusts: outliers and floating clusters dropped and reported,
// noise estimated and levelled by robust local plane fits, so that distances are not biased to the free side.
//
// Frame     vehicle, mm. Normals are unit and unoriented (either side).
// Sources   field-method of the project's design notes; robust moving least squares: Alexa et al. 2003; Fleishman,
//           Cohen-Or, Silva 2005.
#pragma once

#include "geom/scan/read.h"

namespace geom::scan {

/// A part of the scan that was not believed.
struct Dropped {
    Point3 place;  ///< centre
    std::size_t points = 0;
    Length size;         ///< diagonal of its box
    std::string reason;  ///< "outliers", "floating cluster", "levelling moved it too far"
};

/// A place without samples that has surface all round (holes.h).
struct Hole {
    Point3 place;            ///< centre of the largest circle without samples
    Length width;            ///< its diameter
    bool closed = false;     ///< by a patch
    double misfit_mm = 0.0;  ///< root mean square of the samples round it about the patch
    double bound_mm = 0.0;   ///< the true surface may lie this far from the patch, where only the faces round it are
    int faces = 0;           ///< the patch carries on; 0 when none were made out or it was too wide
};

/// A part of the surface in two layers: a wall scanned twice whose passes do not meet, or a thin sheet from both sides.
struct Layered {
    Point3 place;             ///< of the sample nearest to the middle of the part
    std::size_t samples = 0;  ///< of both layers
    double apart_mm = 0.0;    ///< median
    Length size;              ///< diagonal of its box
};

/// Kept, levelled samples of the scanned surface. Index i of the arrays is one sample.
struct Surface {
    std::vector<Point3> points;    ///< levelled
    std::vector<Vec3> normals;     ///< unit, unoriented
    std::vector<float> radius_mm;  ///< of the disc each sample stands for
    /// Of each sample how far the other layer is that the scan shows there, 0 where there is one; empty: nowhere two;
    /// patches of closed holes have no entry. Samples more than half as far from each other's planes belong to
    /// different layers.
    std::vector<float> layer_mm;
    double spacing_mm = 0.0;  ///< median distance between neighbouring samples
    double noise_mm = 0.0;    ///< estimated standard deviation of the raw points about the surface
    /// Stated one-sided bound: the true surface may be this much nearer than told, away from holes and sharp edges.
    /// hypot(1.15 noise where it is high, 0.15 spacing): on scenes known in closed form, noise 0 to 0.7 and spacing
    /// about 1.2 mm, no more than one place in 10 000 exceeded it, by half at most. Where the scan lies in two layers
    /// (a wall scanned twice, a sheet from both sides) both are kept and the nearer one counts; spacing is then that of
    /// the thinner layer's points. The step between them is added where more than one place in 50 could not be told
    /// which layer is its; where a tenth or the whole of the cloud only looks layered, the factor of the noise is 2.3.
    /// Of a nearer layer with a tenth of the points up to one place in 40 lies beyond, by gaps in it. Not seen, and not
    /// in the bound: layers less than two noises apart of unlike numbers of points (1 mm at 0.7 mm noise), those less
    /// than the thinning apart in clouds of more than half a million points (whose normals are not used), doubled
    /// patches of less than some runs of 64 fitted places, and a nearer layer of a tenth of the points at three noises
    /// where less than half of the cloud has it.
    double bound_mm = 0.0;
    /// The same at edges that stand into the gap; bound_mm when the scan has no edges. An edge the scan shows by too
    /// few points may be worse.
    double edge_bound_mm = 0.0;
    /// Samples [edge_begin, edge_end) lie on sharp edges, where two planes meet; the others are levelled raw points,
    /// then patches of closed holes.
    std::size_t edge_begin = 0, edge_end = 0;
    std::size_t raw_points = 0;
    std::vector<Dropped> dropped;  ///< largest first, singles pooled
    Aabb box;                      ///< of the kept samples
    std::vector<Point3> raw;       ///< the raw points in the vehicle frame (for pictures and the raw-point count)
    std::vector<Hole> holes;       ///< found when closing was asked for, widest first
    std::vector<Layered> layered;  ///< most samples first
    bool from_mesh = false;        ///< sampled from triangles with their normals, not levelled
};

struct SurfaceOptions {
    /// Samples are thinned to about this spacing above half a million points; 0 lets the noise decide.
    Length thin = Length::mm(0);
    /// Components of the neighbour graph with less area than this are dropped as floating.
    Area least_cluster = Area::mm2(1500);
    /// Holes up to this wide are closed by a patch that carries the surface round them on; 0 closes none (those
    /// narrower than twice the clearance close by themselves).
    Length close_holes = Length::mm(0);
    /// For what is computed of a thinned cloud; more is a MemoryLimit fault that says which thinning would fit.
    double memory_limit_bytes = 1.2e9;
};

/// Faults: BadScan      nothing is left after cleaning
///         MemoryLimit  a large cloud, thinned, is still more than the limit holds
Result<Surface> estimate_surface(RawScan raw, const SurfaceOptions& options, const Context& context);

/// Distance from `x` to the surface near its nearest samples, by the blended plane (never below zero). Slow oracle
/// form of what space/ does in bulk; `nearest` answers many queries from one tree.
class SurfaceDistance {
public:
    explicit SurfaceDistance(const Surface& surface);  ///< keeps a reference: `surface` must outlive it
    ~SurfaceDistance();
    SurfaceDistance(const SurfaceDistance&) = delete;
    SurfaceDistance& operator=(const SurfaceDistance&) = delete;
    /// Blended distance in mm; thread-safe.
    double at(Point3 x) const;
    /// Plain distance to the nearest sample in mm, and which; thread-safe.
    double nearest(Point3 x, std::size_t* index = nullptr) const;

private:
    struct Impl;
    Impl* impl_;
};

}  // namespace geom::scan

// The distance to the samples is asked for only where it can decide: a rough transform says which nodes lie within
// 3.5 voxels of the room's border on the room's side, and only those ask the tree.
#include "geom/space/internal/standing.h"

#include "geom/core/parallel.h"
#include "geom/space/internal/leak.h"
#include "geom/space/internal/rim.h"
#include "geom/space/internal/rough_distance.h"
#include "geom/space/internal/sample_tree.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

namespace geom::space::internal {
namespace {

constexpr float kFree = -1e6f, kSolid = 1e6f;
constexpr double kLeakRange_mm = 120.0;  // distances are told apart up to here when a way out is measured
constexpr double kEnclosedLeast = 0.65;  // share of directions that something must close for `air` to be in a gap
constexpr double kLeakSpacings = 2.5;    // gaps narrower than this are chance between samples

Vec3f to_float(Vec3 v) {
    return {static_cast<float>(v.x), static_cast<float>(v.y), static_cast<float>(v.z)};
}

class Builder {
public:
    Builder(const RoomJob& job, RoomGrid at, const scan::Surface& surface, const RoomOptions& options,
            const Context& context)
        : job_(job),
          at_(at),
          grid_(at.grid),
          h_(static_cast<float>(at.grid.h_mm)),
          surface_(surface),
          options_(options),
          context_(context) {}

    Result<Standing> build() {
        take_samples();
        carry_rim_on();
        measure_roughly();
        if (context_.is_cancelled()) return Context::interrupted();
        raise_limits();
        measure_band();
        if (context_.is_cancelled()) return Context::interrupted();
        const Stage stage(context_, "space/flood");
        const Flooded room = flood(grid_, behind_mouth(phi_), 0.0f, at_.seed);
        if (room.is_empty()) {
            SampleTree::Hint hint;
            const double found = static_cast<double>(
                real_->blended(to_float(job_.air - grid_.lo), static_cast<float>(farthest_), 0.0f, 1e3f, hint));
            return space_fault(FaultCode::AirBlocked,
                               fmt::format("air: the point is {:.1f} mm from the scanned surface, more than {:.1f} mm "
                                           "wanted (clearance, covering and half a voxel)",
                                           found, job_.clearance_mm + 0.5 * grid_.h_mm),
                               "give a point in the open air of the gap", options_.air);
        }
        if (escapes(room)) return way_out_fault();
        if (job_.opens_at_mouth_alone && room.lo[1] > at_.mouth)
            return space_fault(FaultCode::AirBlocked,
                               fmt::format("air: the space around the point is closed {:.1f} mm before the outermost "
                                           "baffle place, from which the part comes in",
                                           (room.lo[1] - at_.mouth) * grid_.h_mm),
                               "move `air` into the gap, let the baffle travel farther in, or ask for less clearance",
                               options_.air);
        measure_leak_below(room);
        return cut_to(room);
    }

private:
    void take_samples() {
        samples_.resize(surface_.points.size());
        parallel_for(samples_.size(), 4096, [&](std::size_t begin, std::size_t end) {
            for (std::size_t q = begin; q < end; ++q)
                samples_[q] = {to_float(job_.box.to_local(surface_.points[q]) - grid_.lo),
                               to_float(job_.box.dir_to_local(surface_.normals[q])), surface_.radius_mm[q],
                               q < surface_.layer_mm.size() ? surface_.layer_mm[q] : 0.0f};
        });
    }

    void carry_rim_on() {
        const Stage stage(context_, "space/rim");
        const auto add = [&](const std::string& name, Vec3 outward, double at) {
            planes_.push_back({name, to_float(outward), static_cast<float>(at - dot(outward, grid_.lo))});
        };
        add("the outermost baffle place", {0, -1, 0}, -job_.mouth_y_mm);
        for (const Closing& c : job_.closing)
            add("'" + c.name + "'", c.plane.outward, dot(c.plane.outward, c.plane.point) - c.inset_mm);
        rim_ = carry_on(samples_, planes_, static_cast<float>(2.0 * job_.clearance_mm + 4.0 * surface_.spacing_mm));
        if (rim_.farthest_mm > 2.0f * static_cast<float>(surface_.spacing_mm)) notes_.push_back(note_of_rim());
    }

    std::string note_of_rim() const {
        const Point3 at = job_.box.to_parent(grid_.lo + Vec3{rim_.place.x, rim_.place.y, rim_.place.z});
        return fmt::format(
            "the scan stops up to {:.1f} mm short of {}, at most near ({:.0f}, {:.0f}, {:.0f}); its walls were carried "
            "on straight to there",
            rim_.farthest_mm, planes_[rim_.plane].name, at.x, at.y, at.z);
    }

    void measure_roughly() {
        {
            const Stage stage(context_, "space/rough distance");
            farthest_ = std::max(job_.clearance_mm, job_.way_clearance_mm) + 4.5 * grid_.h_mm;
            std::vector<Vec3f> places = real_places();
            std::vector<float> front_only;
            GridSpec front = grid_;
            front.ny = at_.mouth;
            if (!rim_.added.empty()) {
                // In front of the mouth only what was scanned counts: what was added must not stand in the way.
                front_only = rough_distance(front, places, farthest_);
                for (const LocalSample& added : rim_.added) places.push_back(added.at);
            }
            distance_ = rough_distance(grid_, places, farthest_);
            if (!front_only.empty())
                for (int k = 0; k < grid_.nz; ++k)
                    std::copy_n(front_only.begin() + static_cast<std::ptrdiff_t>(front.index(0, 0, k)),
                                static_cast<std::ptrdiff_t>(grid_.nx) * at_.mouth,
                                distance_.begin() + static_cast<std::ptrdiff_t>(grid_.index(0, 0, k)));
        }
        const Stage stage(context_, "space/tree");
        if (!rim_.added.empty()) {
            std::vector<LocalSample> all = samples_;
            all.insert(all.end(), rim_.added.begin(), rim_.added.end());
            with_rim_ = std::make_unique<SampleTree>(all);
        }
        real_ = std::make_unique<SampleTree>(samples_);
    }

    void raise_limits() {
        const Stage stage(context_, "space/limits");
        other_.assign(grid_.count(), kFree);
        parallel_for(static_cast<std::size_t>(grid_.nz), 4, [&](std::size_t begin, std::size_t end) {
            for (std::size_t k = begin; k < end; ++k)
                for (int j = 0; j < grid_.ny; ++j) {
                    float* row = other_.data() + grid_.index(0, j, static_cast<int>(k));
                    job_.raise_to_planes(grid_, j, static_cast<int>(k), false, row);
                    job_.raise_to_obstacles(grid_, j, static_cast<int>(k), Stand::Seated, row);
                }
        });
    }

    void measure_band() {
        const Stage stage(context_, "space/band");
        const auto clearance = static_cast<float>(job_.clearance_mm);
        phi_.resize(grid_.count());
        parallel_for(phi_.size(), std::size_t{1} << 16, [&](std::size_t begin, std::size_t end) {
            for (std::size_t q = begin; q < end; ++q) phi_[q] = std::max(other_[q], clearance - distance_[q]);
        });
        // All that the exact distance could still connect, and three voxels more.
        const float level = std::min(0.9f * h_, std::max(0.0f, clearance - 0.6f * h_));
        const std::vector<unsigned char> near = grown(grid_, flood(grid_, behind_mouth(phi_), level, at_.seed).in, 3);
        const SampleTree& room_tree = with_rim_ ? *with_rim_ : *real_;
        const auto at_most = static_cast<float>(farthest_);
        parallel_for(rows(), 8, [&](std::size_t begin, std::size_t end) {
            for (std::size_t row = begin; row < end; ++row) {
                const int j = static_cast<int>(row % static_cast<std::size_t>(grid_.ny)),
                          k = static_cast<int>(row / static_cast<std::size_t>(grid_.ny));
                std::size_t q = grid_.index(0, j, k);
                const float y = static_cast<float>(j) * h_, z = static_cast<float>(k) * h_;
                const bool in_front = j < at_.mouth;
                const float level_here = in_front ? static_cast<float>(job_.way_clearance_mm) : clearance;
                const SampleTree& tree = in_front ? *real_ : room_tree;
                SampleTree::Hint hint;
                for (int i = 0; i < grid_.nx; ++i, ++q) {
                    if (std::abs(distance_[q] - level_here) > 3.5f * h_ ||
                        !(in_front || (near[q] && other_[q] < 3.0f * h_)))
                        continue;
                    distance_[q] =
                        tree.blended({static_cast<float>(i) * h_, y, z}, at_most, level_here, 2.5f * h_, hint);
                    phi_[q] = std::max(other_[q], clearance - distance_[q]);
                }
            }
        });
    }

    /// Nothing grows in front of the mouth; what lies there matters only for the way in.
    std::vector<float> behind_mouth(std::vector<float> phi) const {
        for (int k = 0; k < grid_.nz; ++k)
            std::fill_n(phi.begin() + static_cast<std::ptrdiff_t>(grid_.index(0, 0, k)),
                        static_cast<std::ptrdiff_t>(grid_.nx) * at_.mouth, kSolid);
        return phi;
    }

    bool escapes(const Flooded& room) const {
        return room.lo[0] == 0 || room.lo[2] == 0 || room.hi[0] == grid_.nx - 1 || room.hi[1] == grid_.ny - 1 ||
               room.hi[2] == grid_.nz - 1;
    }

    /// Distance to whatever closes the room, all planes taken as solid.
    std::vector<float> open_mm(double range_mm) const {
        std::vector<float> open = range_mm > 0.0 ? rough_distance(grid_, rim_places(), range_mm) : distance_;
        for (int k = 0; k < grid_.nz; ++k)
            for (int j = 0; j < grid_.ny; ++j) {
                const float behind = static_cast<float>(j - at_.mouth) * h_;
                std::size_t q = grid_.index(0, j, k);
                for (int i = 0; i < grid_.nx; ++i, ++q)
                    open[q] =
                        std::min({open[q], -other_[q], j < at_.mouth ? -1.0f : std::max(behind, 0.5f * h_) + 1e3f});
            }
        return open;
    }

    Fault way_out_fault() const {
        const std::vector<float> open = open_mm(kLeakRange_mm);
        const double enclosed = enclosed_share(grid_, open, at_.seed);
        if (enclosed < kEnclosedLeast)
            return space_fault(FaultCode::AirBlocked,
                               fmt::format("air: seen from the point, scanned surface and limits close only {:.0f} % "
                                           "of all directions, at least {:.0f} % wanted",
                                           100.0 * enclosed, 100.0 * kEnclosedLeast),
                               "the point lies outside the gap or inside an obstacle that was scanned from outside: "
                               "move it, or close the room with limits",
                               options_.air);
        auto out = widest_way_out(grid_, open, {grid_.index(at_.seed[0], at_.seed[1], at_.seed[2])}, 0.0f);
        if (!out)
            return space_fault(FaultCode::Leak, "the room has a way out wider than the clearance",
                               "declare a limit or rescan");
        const auto vehicle = [&](Vec3f local) {
            return job_.box.to_parent(grid_.lo + Vec3{local.x, local.y, local.z});
        };
        if (out->radius_mm > 0.9f * open[grid_.index(at_.seed[0], at_.seed[1], at_.seed[2])]) {
            const Point3 where = vehicle(out->exit);
            return space_fault(
                FaultCode::Leak,
                fmt::format("the room is open: nothing scanned or declared closes it towards ({:.0f}, {:.0f}, {:.0f}), "
                            "and a ball of {:.0f} mm gets out, less than {:.1f} mm wanted",
                            where.x, where.y, where.z, 2.0 * out->radius_mm, 2.0 * job_.clearance_mm),
                "declare a limit or an open plane there, or rescan that side", where);
        }
        Point3 where = vehicle(out->neck);
        // A way out beside the mouth or a limit is the scan stopping short of that plane.
        for (const ClosingPlane& plane : planes_) {
            const float behind = -plane.height(out->neck);
            if (behind < -2.0f * h_ || behind > 1.5f * out->radius_mm + 3.0f * h_) continue;
            const bool is_mouth = &plane == planes_.data();
            const float missing = farthest_short_of(plane, out->neck, 3.0f * out->radius_mm + 30.0f);
            if (missing < 0.5f * out->radius_mm) continue;
            return space_fault(FaultCode::Leak,
                               fmt::format("the scan stops about {:.0f} mm short of {} near ({:.0f}, {:.0f}, {:.0f}): "
                                           "a ball of {:.0f} mm gets out between them, less than {:.1f} mm wanted",
                                           missing, plane.name, where.x, where.y, where.z, 2.0 * out->radius_mm,
                                           2.0 * job_.clearance_mm),
                               is_mouth ? fmt::format("let the baffle travel {:.0f} mm less far out, declare a limit "
                                                      "there, or rescan the sides farther forward",
                                                      std::max(1.0f, missing))
                                        : "move that plane in, or rescan the sides up to it",
                               where);
        }
        *out = centred(*out, samples_, *real_, h_);
        where = vehicle(out->neck);
        return space_fault(FaultCode::Leak,
                           fmt::format("the scan has a hole near ({:.0f}, {:.0f}, {:.0f}) through which a ball of "
                                       "{:.0f} mm gets out of the room, less than {:.1f} mm wanted",
                                       where.x, where.y, where.z, 2.0 * out->radius_mm, 2.0 * job_.clearance_mm),
                           "declare a limit or an open plane there, move the baffle in, or rescan that place", where);
    }

    /// How far short of a plane the scan stops around a place: the least distance behind the plane of samples there.
    float farthest_short_of(const ClosingPlane& plane, Vec3f about, float within) const {
        float missing = within;
        for (const LocalSample& s : samples_) {
            const Vec3f d = s.at - about;
            const float along = dot(d, plane.outward);
            const Vec3f aside = d - plane.outward * along;
            if (dot(aside, aside) < within * within * 0.25f && plane.height(s.at) <= 0.0f)
                missing = std::min(missing, -plane.height(s.at));
        }
        return missing;
    }

    void measure_leak_below(const Flooded& room) {
        const auto least = static_cast<float>(kLeakSpacings * surface_.spacing_mm);
        if (job_.clearance_mm <= static_cast<double>(least)) return;
        const std::vector<float> open = open_mm(0.0);
        std::vector<std::size_t> seeds;  // the room's own nodes at its border
        const std::size_t sy = static_cast<std::size_t>(grid_.nx), sz = sy * static_cast<std::size_t>(grid_.ny);
        for (int k = room.lo[2]; k <= room.hi[2]; ++k)
            for (int j = room.lo[1]; j <= room.hi[1]; ++j) {
                std::size_t q = grid_.index(room.lo[0], j, k);
                for (int i = room.lo[0]; i <= room.hi[0]; ++i, ++q)
                    if (room.in[q] && !(room.in[q - 1] && room.in[q + 1] && room.in[q - sy] && room.in[q + sy] &&
                                        room.in[q - sz] && room.in[q + sz]))
                        seeds.push_back(q);
            }
        const auto out = widest_way_out(grid_, open, seeds, least);
        if (!out || out->radius_mm >= static_cast<float>(job_.clearance_mm)) return;
        widest_leak_ = out->radius_mm;
        const Point3 where = job_.box.to_parent(grid_.lo + Vec3{out->neck.x, out->neck.y, out->neck.z});
        notes_.push_back(
            fmt::format("the widest hole left in the scan is about {:.1f} mm across near ({:.0f}, {:.0f}, {:.0f}): too "
                        "narrow for the clearance, so the room stays closed there",
                        2.0 * static_cast<double>(widest_leak_), where.x, where.y, where.z));
    }

    /// The room's nodes and what lies in front of it on the way in, cut out of the grid.
    Standing cut_to(const Flooded& room) {
        const GridSpec& g = grid_;
        const int margin = 7;
        // Along the way out to the grid's front the room drifts sideways.
        const double front = at_.mouth, drift = job_.out.y < -0.05 ? front / -job_.out.y : 0.0;
        std::array<int, 3> lo, hi;
        const std::array<int, 3> n{g.nx, g.ny, g.nz};
        for (std::size_t a = 0; a < 3; ++a) {
            const int shift = a == 1 ? 0 : static_cast<int>(std::ceil(std::abs(job_.out[a]) * drift));
            lo[a] = std::max(0, room.lo[a] - margin - (job_.out[a] < 0.0 ? shift : 0));
            hi[a] = std::min(n[a] - 1, room.hi[a] + margin + (job_.out[a] > 0.0 ? shift : 0));
        }
        // Past a limit whose edges stay sharp the body will go on.
        for (const Closing& c : job_.closing)
            for (std::size_t a = 0; a < 3 && c.edges != LimitEdges::Rounded; ++a) {
                const int past =
                    static_cast<int>(std::ceil(past_sharp_mm(job_, g.h_mm) / g.h_mm * std::abs(c.plane.outward[a])));
                if (c.plane.outward[a] > 0.05) hi[a] = std::min(n[a] - 1, std::max(hi[a], room.hi[a] + margin + past));
                if (c.plane.outward[a] < -0.05) lo[a] = std::max(0, std::min(lo[a], room.lo[a] - margin - past));
            }
        lo[1] = 0;
        Standing s;
        s.at = at_;
        s.at.grid.lo = g.node(lo[0], lo[1], lo[2]);
        s.at.grid.nx = hi[0] - lo[0] + 1, s.at.grid.ny = hi[1] - lo[1] + 1, s.at.grid.nz = hi[2] - lo[2] + 1;
        for (std::size_t a = 0; a < 3; ++a) s.at.seed[a] -= lo[a];
        const std::size_t count = s.at.grid.count();
        s.phi.resize(count), s.surface.resize(count), s.in.resize(count);
        parallel_for(static_cast<std::size_t>(s.at.grid.nz), 4, [&](std::size_t begin, std::size_t end) {
            for (std::size_t k = begin; k < end; ++k)
                for (int j = 0; j < s.at.grid.ny; ++j) {
                    std::size_t from = g.index(lo[0], j + lo[1], static_cast<int>(k) + lo[2]),
                                to = s.at.grid.index(0, j, static_cast<int>(k));
                    for (int i = 0; i < s.at.grid.nx; ++i, ++from, ++to) {
                        const bool in = room.in[from] != 0;
                        s.in[to] = in ? 1 : phi_[from] < 0.0f ? 2 : 0;
                        // What `air` does not reach is solid, whatever lies there.
                        s.phi[to] = !in && phi_[from] < 0.0f ? std::min(2.0f * h_, -phi_[from]) : phi_[from];
                        s.surface[to] = distance_[from];
                    }
                }
        });
        s.widest_leak_mm = widest_leak_;
        s.notes = std::move(notes_);
        return s;
    }

    std::size_t rows() const { return static_cast<std::size_t>(grid_.ny) * static_cast<std::size_t>(grid_.nz); }
    std::vector<Vec3f> real_places() const {
        std::vector<Vec3f> places(samples_.size());
        for (std::size_t q = 0; q < samples_.size(); ++q) places[q] = samples_[q].at;
        return places;
    }
    std::vector<Vec3f> rim_places() const {
        std::vector<Vec3f> places = real_places();
        for (const LocalSample& added : rim_.added) places.push_back(added.at);
        return places;
    }

    const RoomJob& job_;
    RoomGrid at_;
    GridSpec grid_;
    float h_;
    const scan::Surface& surface_;
    const RoomOptions& options_;
    const Context& context_;

    double farthest_ = 0.0;
    std::vector<LocalSample> samples_;
    std::vector<ClosingPlane> planes_;
    RimCarriedOn rim_;
    std::unique_ptr<SampleTree> real_, with_rim_;
    std::vector<float> distance_, other_, phi_;
    float widest_leak_ = 0.0f;
    std::vector<std::string> notes_;
};

}  // namespace

Result<Standing> standing_room(const RoomJob& job, RoomGrid at, const scan::Surface& surface,
                               const RoomOptions& options, const Context& context) {
    return Builder(job, at, surface, options, context).build();
}

}  // namespace geom::space::internal

// The inner wall's largest flat area, the baffle left out, as a plate of the shell's material: simply supported and
// clamped, between which a real wall lies. It is taken with the least modulus of the material's range and the thickness
// that was measured there. One more brace is tried at places of that area from which a post reaches the opposite wall
// free of the driver; it holds the area that it ends on as well.
#include "geom/check/internal/case.h"
#include "geom/check/internal/flat_wall.h"

#include "geom/fixings/plate_modes.h"
#include "geom/measure/triangle_tree.h"
#include "geom/parts/driver_body.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace geom::check {

namespace {

constexpr double kBand = 2.0;  // times the highest frequency that is played [common practice]
constexpr double kBraceThickness_mm = 15.0;
constexpr double kLeastBrace_mm = 8.0;
constexpr double kStep_mm = 2.0;
constexpr std::size_t kThicknessSamples = 24;

std::vector<Support> supports_of(const parts::Enclosure& e) {
    std::vector<Support> supports;
    for (const parts::BraceMade& brace : e.braces) supports.push_back({brace.from, brace.to});
    for (const parts::FixingMade& f : e.fixings)
        if (f.kind == parts::FixingKind::Sleeve) supports.push_back({f.point, f.bolt.head_seat});
    return supports;
}

class Walls {
public:
    explicit Walls(const Case& c) : c_(c), wall_mm_(c.request.wall.mm()), outer_(c.outer_body), inner_(c.air_body) {
        for (const auto& body : bodies_in_box(c))
            if (body) drivers_.push_back(*body);
        supports_ = supports_of(c.enclosure());
        const auto& pad = c.enclosure().pad_plane;
        walls_ = flat_walls(c.air_body, wall_mm_, supports_, [&](std::size_t t) {
            const auto& corners = c.air_body.triangles[t];
            return !std::all_of(corners.begin(), corners.end(), [&](std::uint32_t v) {
                const Point3 p = c.air_body.vertices[v];
                return c.is_on_baffle(p) || (pad && pad->height(p) > -0.05);
            });
        });
        for (const FlatWall& wall : walls_) {
            resonances_.push_back(resonance_of(wall, wall.rectangle));
            thickness_.push_back(resonances_.back().thickness_mm);
        }
    }

    /// The lowest; none when no wall is flat.
    std::optional<std::size_t> lowest() const {
        if (resonances_.empty()) return std::nullopt;
        return static_cast<std::size_t>(std::min_element(resonances_.begin(), resonances_.end(), is_lower) -
                                        resonances_.begin());
    }
    const WallResonance& at(std::size_t i) const { return resonances_[i]; }

    /// The lowest that is left after the best place for a brace on the area `i`.
    std::optional<BraceTried> with_brace(std::size_t i) const {
        const FlatWall& wall = walls_[i];
        const WallRectangle& r = wall.rectangle;
        const Vec3 across = cross(wall.plane.outward, r.along);
        std::optional<BraceTried> best;
        for (const double u : {0.0, -0.15, 0.15, -0.3, 0.3})
            for (const double v : {0.0, -0.2, 0.2}) {
                const Point3 at = r.centre + r.along * (u * r.longer_mm) + across * (v * r.shorter_mm);
                const auto post = post_from(at, wall.plane.outward);
                if (!post) continue;
                std::vector<Support> supports = supports_;
                supports.push_back(*post);
                WallResonance least;
                least.supported_Hz = 1e300;
                for (std::size_t k = 0; k < walls_.size(); ++k) {
                    // Areas that are stiffer than what is found already cannot be the lowest.
                    if (k != i && !is_lower(resonances_[k], least)) continue;
                    const auto rest = rectangle_of(c_.air_body, walls_[k], wall_mm_, supports);
                    if (!rest) continue;
                    const WallResonance now = resonance_of(walls_[k], *rest, thickness_[k]);
                    if (is_lower(now, least)) least = now;
                }
                if (least.supported_Hz < 1e300 && (!best || is_lower(best->lowest, least)))
                    best = BraceTried{post->from, post->to, kBraceThickness_mm, litres_of(*post), least};
            }
        return best;
    }

private:
    static bool is_lower(const WallResonance& a, const WallResonance& b) { return a.supported_Hz < b.supported_Hz; }
    static double litres_of(const Support& post) {
        return 1e-6 * std::numbers::pi / 4.0 * kBraceThickness_mm * kBraceThickness_mm * distance(post.from, post.to);
    }

    double thickness_at(const FlatWall& wall) const {
        std::vector<double> mm;
        const std::size_t step = std::max<std::size_t>(1, wall.triangles.size() / kThicknessSamples);
        for (std::size_t k = 0; k < wall.triangles.size(); k += step) {
            const std::size_t t = wall.triangles[k];
            const Point3 middle =
                (c_.air_body.corner(t, 0) + c_.air_body.corner(t, 1) + c_.air_body.corner(t, 2)) / 3.0;
            if (const measure::Nearest near = outer_.nearest(middle); near.is_found()) mm.push_back(near.distance_mm);
        }
        if (mm.empty()) return wall_mm_;
        std::nth_element(mm.begin(), mm.begin() + static_cast<std::ptrdiff_t>(mm.size() / 2), mm.end());
        return std::max(mm[mm.size() / 2], 0.1);
    }

    WallResonance resonance_of(const FlatWall& wall, const WallRectangle& r, double thickness_mm = 0.0) const {
        WallResonance w;
        w.centre = r.centre;
        w.along = r.along;
        w.outward = wall.plane.outward;
        w.longer_mm = r.longer_mm;
        w.shorter_mm = r.shorter_mm;
        w.area_mm2 = wall.area_mm2;
        w.thickness_mm = thickness_mm > 0.0 ? thickness_mm : thickness_at(wall);
        const parts::Material& m = c_.request.material;
        const fixings::FirstResonance f =
            fixings::first_resonance(Length::mm(r.longer_mm), Length::mm(r.shorter_mm), Length::mm(w.thickness_mm),
                                     {.e_GPa = m.e_GPa, .density_kg_m3 = m.density_kg_m3, .nu = m.nu});
        w.supported_Hz = f.supported_Hz;
        w.clamped_Hz = f.clamped_Hz;
        return w;
    }

    std::optional<Support> post_from(Point3 at, Vec3 outward) const {
        const Point3 from = at - outward * (0.5 * kLeastBrace_mm);
        const double length = inner_.first_hit(from, -outward);
        if (!std::isfinite(length) || length < 0.5 * kLeastBrace_mm) return std::nullopt;
        const Support post{at, from - outward * length};
        if (c_.is_on_baffle(post.to) && c_.request.baffle.separate) return std::nullopt;
        for (const parts::DriverBody& driver : drivers_)
            for (double s = 0.0; s <= length; s += kStep_mm)
                if (driver.distance_to(from - outward * s) < kBraceThickness_mm / 2.0 + parts::kBesideDriver_mm)
                    return std::nullopt;
        return post;
    }

    const Case& c_;
    double wall_mm_;
    measure::TriangleTree outer_, inner_;
    std::vector<parts::DriverBody> drivers_;
    std::vector<Support> supports_;
    std::vector<FlatWall> walls_;
    std::vector<WallResonance> resonances_;
    std::vector<double> thickness_;
};

}  // namespace

void check_stiffness(const Case& c, Verdict& verdict) {
    StiffnessFigures& figures = verdict.stiffness;
    const parts::Material& material = c.request.material;
    figures.plays_to_Hz = c.request.plays_to_Hz;
    figures.wanted_Hz = kBand * c.request.plays_to_Hz;
    figures.e_GPa = material.e_GPa;
    const std::string name = "walls, first resonance";
    if (material.e_GPa <= 0.0 || material.density_kg_m3 <= 0.0) {
        if (figures.plays_to_Hz > 0.0)
            verdict.lines.push_back({name, Kind::Fit, false, 0.0, figures.wanted_Hz, "Hz",
                                     fmt::format("not judged: the modulus of elasticity of {} is not known; give "
                                                 "material = {{ name, density, e }}",
                                                 material.name)});
        return;
    }
    if (c.air_body.triangles.empty() || c.outer_body.triangles.empty()) return;
    const Walls walls(c);
    const auto lowest = walls.lowest();
    if (!lowest) return;  // all of it is curved
    figures.lowest = walls.at(*lowest);
    figures.with_brace = walls.with_brace(*lowest);
    if (figures.plays_to_Hz <= 0.0) return;
    const WallResonance& w = *figures.lowest;
    std::string note = fmt::format(
        "{}; {:.0f} x {:.0f} mm of nearly flat wall, {:.2f} mm of {} (E {:.2g} GPa, least of its range): simply "
        "supported, clamped {:.0f} Hz, a real wall lies between (Leissa); limit is twice plays_to (common practice)",
        place(w.centre), w.longer_mm, w.shorter_mm, w.thickness_mm, material.name, material.e_GPa, w.clamped_Hz);
    if (figures.with_brace)
        note += fmt::format("; one more brace {}: {:.0f} to {:.0f} Hz", place(figures.with_brace->from),
                            figures.with_brace->lowest.supported_Hz, figures.with_brace->lowest.clamped_Hz);
    verdict.lines.push_back(at_least(name, Kind::Fit, w.supported_Hz, figures.wanted_Hz, "Hz", std::move(note)));
    if (!verdict.lines.back().ok) verdict.lines.back().place = w.centre;
}

}  // namespace geom::check

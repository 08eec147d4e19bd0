// Bases of the cautions: service precautions for restraint systems; before drilling, and the 25 mm of wiring from
// moving parts, a service-manual page on fitting accessories. They are stated, not judged.
#include "geom/check/ring_check.h"

#include "geom/check/internal/case.h"
#include "geom/check/internal/layers_check.h"
#include "geom/core/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace geom::check {
namespace {

constexpr double kHole_mm = 0.01;  // of the B-rep's hole against the asked one

void check_webs(const parts::Ring& ring, Verdict& verdict) {
    EXPECTS(!ring.webs.empty());
    const auto& worst = *std::min_element(ring.webs.begin(), ring.webs.end(), [](const auto& a, const auto& b) {
        return a.left_mm - a.wanted_mm < b.left_mm - b.wanted_mm;
    });
    CheckLine line = at_least("webs between holes, bore and faces", Kind::Fit, worst.left_mm, worst.wanted_mm, "mm",
                              fmt::format("nearest to its limit of {}: {} {}; never told too large", ring.webs.size(),
                                          worst.between, place(worst.at)));
    line.place = worst.at;
    verdict.lines.push_back(std::move(line));
}

void check_holes(const parts::Ring& ring, Verdict& verdict) {
    double diameter = 0.0, axis = 0.0;
    for (const parts::RingHole& hole : ring.holes) {
        diameter = std::max(diameter, std::abs(hole.made_mm - hole.diameter_mm));
        axis = std::max(axis, hole.off_axis_mm);
    }
    verdict.lines.push_back(at_most("hole diameters", Kind::Fit, diameter, kHole_mm, "mm",
                                    "largest difference to the asked one, cylinders of the B-rep"));
    verdict.lines.push_back(
        at_most("hole axes", Kind::Fit, axis, kHole_mm, "mm", "farthest from the asked one, cylinders of the B-rep"));
}

}  // namespace

Result<Verdict> judge_ring(const parts::Ring& ring, const parts::RingRequest& request, const Written& written,
                           const std::optional<RingSurroundings>& around, const Context& context) {
    const Stage stage(context, "proof");
    EXPECTS(written.products.size() == 1);
    Verdict verdict;
    GAPWRIGHT_TRY(read, read_back_of(ring.product, written.products.front()));
    std::vector<ReadBack> products{std::move(read)};
    GAPWRIGHT_CHECK(check_solids(products, written.step, context, verdict));
    check_webs(ring, verdict);
    check_holes(ring, verdict);
    GAPWRIGHT_CHECK(check_layers(ring, context, verdict));
    check_own_bore(ring, request, products.front().mesh, verdict);
    if (context.is_cancelled()) return Context::interrupted();
    if (around) {
        const Stage fit(context, "proof/fit");
        check_ring_fit(ring, request, products.front().mesh, *around, verdict);
    }
    const measure::SolidMeasure& solid = products.front().solid;
    verdict.mass_kg = solid.volume.mm3() * 1e-9 * request.material.density_kg_m3;
    verdict.centre_of_mass = solid.centre;
    verdict.box = solid.box;
    verdict.faces = solid.faces;
    verdict.bspline_faces = solid.bspline_faces;
    verdict.plane_faces = solid.plane_faces;
    return verdict;
}

std::vector<Caution> ring_cautions(const parts::RingRequest& request, const Verdict& verdict) {
    std::vector<Caution> out;
    const FrontFit& front = verdict.driver_fit.front;
    if (!verdict.driver_fit.has_driver)
        out.push_back(
            {"room behind the ring",
             "Behind the ring, no limit and no keep-out was looked at. Measure the driver's depth against window "
             "glass, its guides and the winding gear at every height of the glass, and cone and surround against the "
             "grille."});
    if (front.asked_mm <= 0.0 && front.free_mm < front.cone_needs_mm && front.cone_is_estimated)
        out.push_back({"room before the cone",
                       fmt::format("Before the driver's seat {:.1f} mm are free, up to {}; the cone needs about "
                                   "{:.1f} mm, a grille more. front_height and xmax of the driver have it judged.",
                                   front.free_mm, front.met, front.cone_needs_mm)});
    out.push_back({"drilling into the vehicle",
                   "Before drilling, look at the other side for wiring, lines, tanks and airbag sensors; use a depth "
                   "stop, deburr and paint the hole. Keep wiring 25 mm from moving parts."});
    out.push_back({"airbags and sensors",
                   "Doors and pillars hold airbags and pressure sensors that need the door's cavity as it is: keep "
                   "what the maker sealed sealed, and cut or splice no wiring of the restraint system."});
    out.push_back(heat_caution(request.material));
    return out;
}

}  // namespace geom::check

// Each fixing's hole against ISO 273 and its axis, its edge distance and a foot's least web section against the rules:
// hole, axis and web were measured on the B-rep when it was made.
#include "geom/check/internal/case.h"

#include "geom/core/text.h"
#include "geom/fixings/bolt.h"

#include <fmt/format.h>

namespace geom::check {

void check_fixings(const Case& c, Verdict& verdict) {
    for (const parts::FixingMade& f : c.enclosure().fixings) {
        const char* kind = f.kind == parts::FixingKind::Sleeve  ? "sleeve"
                           : f.kind == parts::FixingKind::Plate ? "plate"
                           : f.kind == parts::FixingKind::Rim   ? "rim"
                                                                : "foot";
        const std::string who = fmt::format("{} \"{}\", ", kind, f.name);
        const Result<fixings::Thread> thread = fixings::find_thread(f.thread, c.request.own_threads);
        const auto asked =
            thread ? fixings::hole_for(*thread, f.use, false) : Result<fixings::HoleShape>(thread.error());
        if (asked) {
            const fixings::MetalSleeve sleeve = fixings::metal_sleeve(*thread, f.use);
            const double wanted = f.has_metal_sleeve ? sleeve.outside_mm : asked->hole_mm;
            const double hole = f.measured_hole_mm > 0.0 ? f.measured_hole_mm : f.hole_mm;
            const std::string series = f.use.fit == fixings::Fit::Fine     ? "fine"
                                       : f.use.fit == fixings::Fit::Medium ? "medium"
                                                                           : "coarse";
            std::string what = fmt::format("clearance hole for {}, ISO 273 {}", f.thread, series);
            if (f.use.play.mm() > 0.0)
                what += fmt::format(" and {} mm of play each way", plain_number(f.use.play.mm()));
            if (f.has_metal_sleeve)
                what = fmt::format("bore for a metal sleeve of {} by {} mm, {} mm long (inside: {})",
                                   plain_number(sleeve.outside_mm), plain_number(sleeve.inside_mm),
                                   plain_number(f.grip_mm), what);
            verdict.lines.push_back(
                {who + "hole", Kind::Fit, std::abs(hole - wanted) < 1e-6, hole, wanted, "mm", "exactly; " + what});
        }
        if (f.measured_hole_mm > 0.0)
            verdict.lines.push_back(at_most(who + "hole's axis", Kind::Fit, f.measured_off_axis_mm, 0.01, "mm",
                                            "off the bolt's line anywhere along it, measured on the B-rep"));
        verdict.lines.push_back(at_least(
            who + "edge distance", Kind::Fit, f.edge_distance_mm, f.edge_wanted_mm, "mm",
            fmt::format("{}; hole's centre to the nearest edge, {} mm wanted: 2 d in metal, 3 d in all else (common "
                        "practice)",
                        place(f.point), f.edge_wanted_mm)));
        if (f.kind == parts::FixingKind::Foot)
            verdict.lines.push_back(at_least(
                who + "web section", Kind::Fit, f.web_section_mm2, f.web_wanted_mm2, "mm2",
                "least section between pad and shell, cut on the B-rep; bolt diameter x 3 by wall x 2 wanted"));
    }
}

}  // namespace geom::check

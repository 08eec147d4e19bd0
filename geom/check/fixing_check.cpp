// Each foot's hole against ISO 273 medium, its edge distance and its web's least section against the rules; the web was
// measured by cuts on the B-rep when it was made.
#include "geom/check/internal/case.h"

#include "geom/fixings/threads.h"

#include <fmt/format.h>

namespace geom::check {

void check_fixings(const Case& c, Verdict& verdict) {
    for (const parts::FixingMade& f : c.enclosure().fixings) {
        const std::string who = "foot \"" + f.name + "\", ";
        if (const Result<fixings::Thread> thread = fixings::find_thread(f.thread, c.request.own_threads)) {
            const double off = std::abs(f.hole_mm - thread->hole_medium_mm);
            verdict.lines.push_back({who + "hole", Kind::Fit, off < 1e-6, f.hole_mm, thread->hole_medium_mm, "mm",
                                     "exactly; clearance hole for " + f.thread + ", ISO 273 medium"});
        }
        verdict.lines.push_back(
            at_least(who + "edge distance", Kind::Fit, f.edge_distance_mm, f.edge_wanted_mm, "mm",
                     fmt::format("{}; hole's centre to the pad's nearest edge, {} d wanted (common practice)",
                                 place(f.point), c.request.material.is_metal ? 2 : 3)));
        verdict.lines.push_back(
            at_least(who + "web section", Kind::Fit, f.web_section_mm2, f.web_wanted_mm2, "mm2",
                     "least section between pad and shell, cut on the B-rep; bolt diameter x 3 by wall x 2 wanted"));
    }
}

}  // namespace geom::check

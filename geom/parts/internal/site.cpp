// A heat-set insert's hole is half a millimetre to one deeper than the insert [common practice]; a thread cut in the
// material itself engages 2.5 d in plastics and boards and 2 d in light metal [common practice]. Solid round a tapped
// hole: 2.5 d [common practice].
#include "geom/parts/internal/site.h"

#include "geom/core/text.h"
#include "geom/fixings/threads.h"

#include <BRepAdaptor_Curve.hxx>
#include <BRepTools.hxx>
#include <BRepTools_WireExplorer.hxx>
#include <GCPnts_QuasiUniformDeflection.hxx>
#include <TopoDS.hxx>

namespace geom::parts {

Result<Outline> outline_of(const Site& site, const TopoDS_Face& face) {
    return guard_occt("baffle outline", [&]() -> Result<Outline> {
        Loop loop;
        for (BRepTools_WireExplorer e(BRepTools::OuterWire(face)); e.More(); e.Next()) {
            const BRepAdaptor_Curve curve(e.Current());
            GCPnts_QuasiUniformDeflection points(curve, 0.01);
            const int n = points.NbPoints();
            for (int i = 1; i < n; ++i) {  // the last one is the next edge's first
                const int k = e.Orientation() == TopAbs_FORWARD ? i : n + 1 - i;
                loop.push_back(site.flat(from_occt(points.Value(k))));
            }
        }
        if (loop.size() < 3)
            return Fault{FaultCode::Internal, "baffle outline: the face has no border", {}, {}, "part"};
        return Outline(std::move(loop));
    });
}

std::string tenths(double mm) {
    return plain_number(std::round(mm * 10.0) / 10.0);
}

std::string place_text(Point3 p) {
    const auto tenth = [](double v) { return std::round(v * 10.0) / 10.0; };
    return plain_vector({tenth(p.x), tenth(p.y), tenth(p.z)});
}

Result<Grip> grip_of(const std::string& thread_name, const Material& material, bool may_have_inserts,
                     const std::vector<fixings::Thread>& own_threads) {
    GAPWRIGHT_TRY(thread, fixings::find_thread(thread_name, own_threads));
    if (may_have_inserts && !material.is_metal && !material.is_board && thread.insert_pilot_mm > 0.0)
        return Grip{.hole_mm = thread.insert_pilot_mm,
                    .depth_mm = thread.insert_length_mm + 0.75,
                    .boss_mm = thread.insert_boss_mm,
                    .has_insert = true};
    return Grip{.hole_mm = thread.tap_drill_mm,
                .depth_mm = (material.is_metal ? 2.0 : 2.5) * thread.d_mm,
                .boss_mm = 2.5 * thread.d_mm,
                .has_insert = false};
}

}  // namespace geom::parts

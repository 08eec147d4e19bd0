// Faces are integrated each on its own and added in the order in which the kernel lists them, so that the sum does
// not depend on threads. The origin of the integrals is the middle of the box.
#include "geom/measure/brep_measure.h"

#include "geom/core/parallel.h"
#include "geom/measure/internal/brep_validity.h"
#include "geom/measure/internal/surface_integral.h"
#include "geom/measure/internal/tight_box.h"
#include "geom/skin/internal/occt.h"

#include <BRep_Tool.hxx>
#include <GeomAdaptor_Surface.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Edge.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Vertex.hxx>

namespace geom::measure {

namespace {

int count(const TopoDS_Shape& shape, TopAbs_ShapeEnum kind) {
    int n = 0;
    for (TopExp_Explorer it(shape, kind); it.More(); it.Next()) ++n;
    return n;
}

}  // namespace

Result<SolidMeasure> measure_solid(const Brep& solid, const Context& context) {
    EXPECTS(!solid.is_null());
    return guard_occt("measure", [&]() -> Result<SolidMeasure> {
        const TopoDS_Shape& shape = to_occt(solid);
        SolidMeasure out;
        std::vector<TopoDS_Face> faces;
        for (TopExp_Explorer it(shape, TopAbs_FACE); it.More(); it.Next()) faces.push_back(TopoDS::Face(it.Current()));
        for (const TopoDS_Face& face : faces) {
            const GeomAdaptor_Surface surface(BRep_Tool::Surface(face));
            if (surface.GetType() == GeomAbs_BSplineSurface) ++out.bspline_faces;
            if (surface.GetType() == GeomAbs_Plane) ++out.plane_faces;
            if (surface.GetType() == GeomAbs_Cylinder) ++out.cylinder_faces;
        }
        out.faces = static_cast<int>(faces.size());
        out.solids = count(shape, TopAbs_SOLID);
        out.shells = count(shape, TopAbs_SHELL);
        if (faces.empty()) return out;
        if (context.is_cancelled()) return Context::interrupted();

        out.box = internal::tight_box(shape);
        const Point3 origin = (out.box.lo + out.box.hi) * 0.5;
        std::vector<internal::FaceIntegral> sums(faces.size());
        // The kernel's own exceptions must not cross the threads' border as they are.
        std::vector<std::string> failed(faces.size());
        parallel_for(faces.size(), 1, [&](std::size_t begin, std::size_t end) {
            for (std::size_t i = begin; i < end; ++i) {
                try {
                    sums[i] = internal::integrate_face(faces[i], origin);
                } catch (const Standard_Failure& failure) {
                    failed[i] = failure.GetMessageString();
                    if (failed[i].empty()) failed[i] = "no reason given";
                }
            }
        });
        for (std::size_t i = 0; i < faces.size(); ++i)
            if (!failed[i].empty())
                return Fault{FaultCode::Internal,
                             "measure: face " + std::to_string(i + 1) + " has no integral: " + failed[i],
                             {},
                             {},
                             "measure"};
        double volume = 0.0, area = 0.0;
        Vec3 moment;
        for (const internal::FaceIntegral& s : sums) {
            volume += s.volume_mm3;
            area += s.area_mm2;
            moment += s.moment_mm4;
        }
        out.volume = Volume::mm3(volume);
        out.area = Area::mm2(area);
        out.centre = volume != 0.0 ? origin + moment / volume : origin;
        out.valid = internal::passes_analyser(shape);
        out.closed = internal::is_closed(shape);
        out.max_tolerance_mm = internal::largest_tolerance(shape);
        return out;
    });
}

}  // namespace geom::measure

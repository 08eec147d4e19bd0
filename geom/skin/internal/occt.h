// The bridge between Brep and the kernel's TopoDS_Shape, and the one place where the kernel's exceptions stop.
#pragma once

#include "geom/core/result.h"
#include "geom/skin/brep.h"

#include <Standard_Failure.hxx>
#include <TopoDS_Shape.hxx>
#include <gp_Dir.hxx>
#include <gp_Pnt.hxx>
#include <gp_Vec.hxx>

#include <new>
#include <string>

namespace geom {

struct Brep::Impl {
    TopoDS_Shape shape;
};

inline Brep to_brep(const TopoDS_Shape& shape) {
    return Brep(std::make_shared<Brep::Impl>(Brep::Impl{shape}));
}
inline const TopoDS_Shape& to_occt(const Brep& brep) {
    return brep.impl().shape;
}
inline gp_Pnt to_occt(Point3 p) {
    return {p.x, p.y, p.z};
}
inline gp_Dir to_occt_dir(Vec3 v) {
    return {v.x, v.y, v.z};
}
inline gp_Vec to_occt_vec(Vec3 v) {
    return {v.x, v.y, v.z};
}
inline Vec3 from_occt(const gp_Pnt& p) {
    return {p.X(), p.Y(), p.Z()};
}
inline Vec3 from_occt(const gp_Dir& p) {
    return {p.X(), p.Y(), p.Z()};
}
inline Vec3 from_occt(const gp_Vec& p) {
    return {p.X(), p.Y(), p.Z()};
}

/// Runs `work` (returning a Result) and turns the kernel's exceptions into a Fault that names the stage.
template <class F>
auto guard_occt(const char* stage, F&& work) -> decltype(work()) {
    try {
        return work();
    } catch (const Standard_Failure& failure) {
        return Fault{FaultCode::Internal,
                     std::string(stage) + ": the B-rep kernel failed: " + failure.GetMessageString(),
                     {},
                     {},
                     stage};
    } catch (const std::bad_alloc&) {
        return Fault{FaultCode::MemoryLimit, std::string(stage) + ": out of memory", "use a coarser voxel", {}, stage};
    }
}

}  // namespace geom

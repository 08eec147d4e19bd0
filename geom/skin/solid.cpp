// Two closed shells, the inner one reversed, are a solid with a void by definition: nothing is cut.
#include "geom/skin/internal/occt.h"
#include "geom/skin/skin.h"

#include <BRep_Builder.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Shell.hxx>
#include <TopoDS_Solid.hxx>

namespace geom::skin {

namespace {

TopoDS_Shell only_shell(const TopoDS_Shape& shape) {
    TopExp_Explorer shells(shape, TopAbs_SHELL);
    return shells.More() ? TopoDS::Shell(shells.Current()) : TopoDS_Shell();
}

}  // namespace

Result<Brep> solid_from_shells(const Brep& outer, const Brep& inner) {
    EXPECTS(!outer.is_null());
    return guard_occt("skin", [&]() -> Result<Brep> {
        const TopoDS_Shell outside = only_shell(to_occt(outer));
        if (outside.IsNull()) return Fault{FaultCode::Internal, "skin: the outer shape has no shell", {}, {}, "skin"};
        BRep_Builder builder;
        TopoDS_Solid solid;
        builder.MakeSolid(solid);
        builder.Add(solid, outside);
        if (!inner.is_null()) {
            const TopoDS_Shell inside = only_shell(to_occt(inner));
            if (inside.IsNull())
                return Fault{FaultCode::Internal, "skin: the inner shape has no shell", {}, {}, "skin"};
            builder.Add(solid, inside.Reversed());
        }
        return to_brep(solid);
    });
}

}  // namespace geom::skin

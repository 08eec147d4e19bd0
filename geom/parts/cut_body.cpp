#include "geom/parts/features.h"
#include "geom/parts/internal/boolean.h"

#include <fmt/format.h>

namespace geom::parts {

Result<Brep> cut_body(const std::string& name, const Brep& body, const Plane& plane) {
    GAPWRIGHT_TRY(pieces, pieces_at(name, to_occt(body), plane));
    if (pieces.behind.size() != 1)
        return Fault{
            FaultCode::MethodRefused,
            fmt::format("{}: its sharp plane leaves the body in {} pieces, wanted one", name, pieces.behind.size()),
            "leave sharp out there, or move the plane", plane.point, "part"};
    return to_brep(pieces.behind.front());
}

}  // namespace geom::parts

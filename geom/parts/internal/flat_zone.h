// Where the faces of a body lie exactly in a plane: plane faces, and the spans of splines whose control points do.
#pragma once

#include "geom/parts/sharp_edge.h"

#include <TopoDS_Shape.hxx>

#include <vector>

namespace geom::parts {

/// The flat part of one side of a corner. Coordinates: along the edge, and from the edge into the face.
class FlatZone {
public:
    /// `face`: corner.a or corner.b; `into`: corner.into_a() or into_b().
    FlatZone(const TopoDS_Shape& body, const Corner& corner, const Plane& face, Vec3 into);

    /// Where the line at this distance from the edge lies in the zone, rising; and where it lies in plane faces.
    std::vector<space::Stretch> at(double from_edge_mm) const { return crossed(from_edge_mm, false); }
    std::vector<space::Stretch> in_plane_faces(double from_edge_mm) const { return crossed(from_edge_mm, true); }

private:
    struct Place {
        double s = 0.0, u = 0.0;
    };
    struct Piece {
        std::vector<std::vector<Place>> loops;
        bool is_plane_face = false;
    };
    std::vector<space::Stretch> crossed(double u, bool plane_faces_alone) const;

    std::vector<Piece> pieces_;
};

}  // namespace geom::parts

// The block that a part standing on a scanned face is cut out of: all the room in front of the face, a gasket away from
// it, so that what the part and the block have in common stands on the face.
//
// Frame     vehicle, mm; the seat plane's outward points from the vehicle to the listener, heights are over the seat.
// Method    the face is closed over its opening and over small gaps of the scan (geom/scan/relief.h), then field and
//           skin are the box's own (geom/space, geom/skin) between four planes beyond the reach and one in front. A
//           gasket is thinner than a voxel can show beside a sheet without thickness, so the samples are first set back
//           along their normals, and by as much more is kept away from them: the ball about a sample is held by the
//           larger one about the sample set back, so this can take room but never give any.
#pragma once

#include "geom/core/context.h"
#include "geom/scan/relief.h"
#include "geom/skin/skin.h"
#include "geom/space/room.h"

#include <string>
#include <vector>

namespace geom::parts {

struct ScanFootRequest {
    Plane seat;             ///< point: on the part's axis
    Vec3 up{0, 0, 1};       ///< direction
    double reach_mm = 0.0;  ///< the foot covers the disc of this radius about the axis: a ring's outside
    double bore_mm =
        0.0;  ///< radius about the axis of what is cut out of the part anyway; there nothing scanned counts
    double front_mm = 0.0;               ///< the block goes at least this high over the seat
    double depth_mm = 40.0;              ///< the face may lie this far behind the seat
    Length gasket = Length::mm(0);       ///< between part and face
    Length edge_radius = Length::mm(4);  ///< least rounding of what of the foot stands into a hollow of the face
    Length bridge = Length::mm(12);      ///< gaps of the scan (small holes of the face) up to this wide are bridged
    Length voxel = Length::mm(0);        ///< 0: chosen
};

struct ScanFoot {
    Brep block;                                ///< closed solid, one piece
    double front_mm = 0.0;                     ///< its plane face lies this high over the seat
    double lowest_mm = 0.0, highest_mm = 0.0;  ///< of the scanned face over the seat, from bore to reach
    double bound_mm = 0.0;                     ///< the face may come nearer to the foot than the gasket by this much
    scan::Relief relief;                       ///< heights of the face at every place; its view: view_of()
    skin::SkinQuality quality;
    space::RoomReport room;
    std::vector<std::string> notes;
};

/// Origin on the axis in the seat plane, z to the listener, y up.
Frame view_of(const ScanFootRequest& request);

/// What of a raw scan counts; cropped before its surface is estimated it takes a fraction of the time.
scan::RawScan cropped_for(const ScanFootRequest& request, const scan::RawScan& raw);

/// Faults: BadJob         a length without meaning
///         BadScan        no face there, or not all round: the place and how wide
///         MethodRefused  no fair skin: see geom/skin
Result<ScanFoot> scan_foot(const scan::Surface& surface, const ScanFootRequest& request, const Context& context);

}  // namespace geom::parts

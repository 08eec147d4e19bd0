// A ring on a scanned face: what of the scan it asks for, and the foot that the face gives it.
//
// Frame   vehicle, mm; heights are over the ring's seat plane.
#pragma once

#include "geom/parts/ring.h"
#include "geom/parts/scan_foot.h"

namespace geom::parts {

struct RingFootOptions {
    Length gasket = Length::mm(0);       ///< between ring and face
    Length edge_radius = Length::mm(4);  ///< least rounding of what stands into a hollow of the face
    Length bridge = Length::mm(12);      ///< gaps of the scan up to this wide are bridged
    Length depth = Length::mm(40);       ///< the face may lie this far behind the seat plane
};

/// Faults: those of make_ring() that need no model
Result<ScanFootRequest> foot_under(const RingRequest& request, const RingFootOptions& options);

/// What of a raw scan lies about ring and driver, so that only that has to be levelled.
scan::RawScan scan_about(const RingRequest& request, const ScanFootRequest& foot, const scan::RawScan& raw);

/// The ring gets the foot; bolts are told how high it is under their heads.
void stand_on(const ScanFoot& foot, const RingFootOptions& options, RingRequest& request);

}  // namespace geom::parts

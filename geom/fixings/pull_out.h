// What pulls a screw out of what holds it.
//
// Method  insert: the plastic shears round the insert, pi D L tau on its pilot's diameter. Thread in the material:
//         it strips over half the cylinder at its pitch diameter, pi d2 L tau / 2. Screw in board: d L times the
//         board's withdrawal strength.
// Source  strengths [common practice], at the safe end: printed plastics 10 MPa, laminate 15 MPa, soft aluminium 48 MPa
//         (0.6 of Rp0.2 80 MPa of EN AW-5754), board face 8 MPa withdrawal; nothing is borne in a board's edge.
#pragma once

#include "geom/fixings/threads.h"

namespace geom::fixings {

/// What holds a thread, as its strength goes.
enum class Holder { Printed, Laminate, Board, Metal };

enum class Hold {
    Insert,  ///< heat-set; as a screw of the insert's outside where the material is board
    Thread   ///< cut or formed into the material itself
};

double shear_MPa(Holder holder);  ///< of a board: its withdrawal strength

/// `engaged_mm`: of an insert its length, of a thread what of it is in the material.
double pull_out_N(const Thread& thread, Hold hold, Holder holder, double engaged_mm);

/// Length of thread for all of the bolt's strength, in its diameter: 1.0 steel, 2.0 aluminium, 2.5 plastic and board
/// [common practice].
double wanted_engagement_d(Holder holder);

}  // namespace geom::fixings

// The boards of a made box: with the holes of its features, and drawn for the saw.
#pragma once

#include "geom/parts/enclosure.h"

namespace geom::parts {

/// Gives every board what was cut out of the made box there, and adds a drawing of each plane one.
/// EXPECTS: boards that are bare, and the products
/// Faults: MethodRefused  a baffle with a ring or a dish
///         Internal       a board that is not one solid after its holes
Status finish_boards(const EnclosureRequest& request, Enclosure& made);

}  // namespace geom::parts

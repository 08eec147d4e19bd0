// Binary STL, millimetres, vehicle frame: our own writer, so that the bytes follow from the mesh alone.
//
// Layout    80 header bytes (never starting with "solid"), a little-endian count, then per facet a unit normal, three
//           corners as float32 and two zero bytes.
// Closed    a reader joins corners that are equal to the bit. Rounding to float32 may make two vertices one, or put
//           three on a line: such facets are taken out so that the rest stays closed (float_facets()).
#pragma once

#include "geom/core/result.h"
#include "geom/core/tri_mesh.h"

#include <cstddef>
#include <filesystem>
#include <string>
#include <string_view>

namespace exports {

/// The mesh as a float32 file holds it.
struct FloatFacets {
    geom::TriMesh mesh;       ///< every coordinate exactly a float; vertices equal to the bit are one
    std::size_t dropped = 0;  ///< facets that had two corners on one place, or folded flat onto another
    std::size_t flipped = 0;  ///< facets with three corners on a line, swapped away with their neighbour
};

/// Rounds to float32 and takes out what has become degenerate. A closed mesh stays closed: a facet whose corners fell
/// together is a collapsed edge, whose two other neighbours then meet; a facet on a line swaps its longest edge with
/// the facet across it; two facets on the same three corners facing each other vanish together.
FloatFacets float_facets(const geom::TriMesh& mesh);

/// The bytes of the file. Facets keep the order of the mesh.
std::string stl_bytes(const geom::TriMesh& mesh, std::string_view product);

/// Faults: CannotWrite
geom::Status write_stl(const geom::TriMesh& mesh, std::string_view product, const std::filesystem::path& file);

}  // namespace exports

// The sections of a job file, one function each. Every key of the contract is asked for here: those of work that is
// not built yet too, so that they are refused by name and never taken for a slip of the pen.
#pragma once

#include "geom/job/internal/table.h"
#include "geom/job/job.h"

namespace geom::job {

/// A keep-out whose mesh is read once the job itself has been found good.
struct MeshToRead {
    std::size_t keep_out = 0;  ///< index in RoomOptions::keep_outs
    std::filesystem::path file;
    scan::FileUnit unit = scan::FileUnit::Millimetre;
    std::string title;  ///< "[[space.keep_out]] 'flap' swing"
    int line = 0;
    bool may_be_open = false;  ///< it moves, and may be a sheet
};

void read_scan_section(const Table& scan, Job& job);
void read_space_section(const Table& space, Job& job, std::vector<MeshToRead>& meshes);
void read_enclosure_section(const Table& enclosure, Job& job);
/// The same for a box from numbers, whose sizes and walls stand elsewhere.
void read_enclosure_of_box(const Table& enclosure, Job& job);
/// [[thread]]: rows of the job's own; before anything that names a thread.
void read_threads(const std::vector<Table>& threads, Job& job);
void read_fixings(const std::vector<Table>& fixings, Job& job);
void read_braces(const Table& enclosure, Job& job);
void read_load_section(const Table& load, Job& job);
void read_make_section(const Table& make, Job& job);

/// [box], and the keys of [enclosure] that a box from numbers has too.
void read_box_section(const Table& top, Job& job);

/// [ring], and what of the job's other sections belongs to a ring.
void read_ring_section(const Table& top, Job& job);
/// What lies round a ring: limits, keep-outs, and the clearance that the driver's body keeps from the scan.
void read_ring_space(const Table& space, Job& job, std::vector<MeshToRead>& meshes);

/// An outline in a plane: a diameter, or a table with one of ellipse, rectangle, points, drawing.
std::optional<parts::RingOutline> outline_of(const Table& owner, const std::string& key, Job& job);
/// The same for a key that may be left out; `otherwise` is what `resolved` then says ("" says nothing).
std::optional<parts::RingOutline> maybe_outline(const Table& owner, const std::string& key, Job& job,
                                                const std::string& otherwise);

/// `grille_room`, a height or { height, diameter }.
std::optional<parts::GrilleRoom> grille_room_of(const Table& table);

/// Reads [driver] with its own file, if it names one.
/// Faults: those of the driver's file
Status read_driver_section(const Table& top, Job& job);

/// "mm", "cm", "m" or "in" as a unit of bare lengths; `fallback` empty: the key has to be there.
Unit length_unit_of(const Table& table, const std::string& key, const std::string& fallback);
scan::FileUnit file_unit_of(const Unit& unit);

/// The thread a key names; known ones are those of the fastener table and of the job's own [[thread]].
std::string thread_of(const Table& table, const std::string& key, std::optional<std::string> fallback);

/// `name`, or { name, density }.
parts::Material material_of(const Table& table, const std::string& key, const parts::Material& fallback);

/// What makes a joint tight: `seal = "tape"`, or { cord }.
parts::Seal seal_of(const Table& table);
/// Room for the tool of a joint's screws: `tool = { diameter, length }`.
std::optional<fixings::ToolRoom> tool_of(const Table& table);

/// A plane from `point` and `outward`.
Plane plane_of(const Table& table);

}  // namespace geom::job

// [ring]: the seat on the vehicle, the height, and the bolts into the vehicle, by points or on a circle.
#include "geom/core/text.h"
#include "geom/job/internal/sections.h"
#include "geom/space/field.h"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

namespace geom::job {
namespace {

constexpr int kMostBolts = 24;

void read_seat(const Table& seat, parts::RingSeat& into) {
    into.plane = {seat.point("centre"), seat.direction("outward")};
    into.outside = parts::round_outline(seat.length("outside", Allowed::Positive));
    for (const char* key : {"opening", "outline", "scan"})
        seat.not_built(key, "seats are round and flat so far: centre, outward and outside, a diameter");
}

/// One table of the list: a bolt at a point, or a circle of bolts about the seat's axis.
void read_bolts(const Table& table, Vec3 up, parts::RingRequest& ring) {
    parts::RingBolt bolt;
    bolt.name = table.text("name", std::to_string(ring.bolts.size() + 1));
    bolt.thread = thread_of(table, "thread", "M5");
    bolt.under_head = table.maybe_length("under_head", Allowed::Positive, "none: a plain hole");
    for (const char* key : {"countersunk", "head"}) table.not_built(key, "heads are round, sunk to under_head");
    if (!table.has("circle")) {
        for (const char* key : {"count", "turn"})
            if (table.has(key))
                table.refuse(key, "stands without circle; wanted the diameter of the circle too",
                             "or give at = [x, y, z]");
        bolt.point = table.point("at");
        for (const char* key : {"circle", "count", "turn"}) table.known(key);
        ring.bolts.push_back(bolt);
        return;
    }
    if (table.has("at")) table.refuse("at", "and circle both say where bolts are; wanted one of them");
    table.known("at");
    const double radius = table.length("circle", Allowed::Positive).mm() / 2.0;
    const int count = table.count("count", 1);
    const double turn = table.angle("turn", Angle::deg(0)).rad();
    if (count > kMostBolts) {
        table.refuse("count", fmt::format("is {}; wanted at most {}", count, kMostBolts));
        return;
    }
    if (norm(ring.seat.plane.outward) <= 0.0) return;  // told with the seat
    const Frame seat = space::box_frame(ring.seat.plane, up);
    const std::string name = bolt.name;
    for (int i = 0; i < count; ++i) {
        const double a = turn + 2.0 * std::numbers::pi * i / count;
        bolt.point = seat.to_parent({radius * std::sin(a), 0.0, radius * std::cos(a)});
        if (count > 1) bolt.name = fmt::format("{}, {} of {}", name, i + 1, count);
        ring.bolts.push_back(bolt);
    }
}

}  // namespace

void read_ring_section(const Table& top, Job& job) {
    parts::RingRequest& ring = job.ring.emplace();
    for (const char* section : {"scan", "space", "load"})
        top.not_built(section, "leave it out: a ring is not held against what lies round it yet");
    for (const char* section : {"enclosure", "fixing"})
        if (top.has(section)) {
            if (top.is_list(section))
                for (const Table& each : top.tables(section)) each.judge_no_keys();
            else
                top.table(section).judge_no_keys();
            top.refuse(section, "stands in a job of part = \"ring\"",
                       "take it out, or give [job] part = \"enclosure\"");
        }
    const Table table = top.required_table("ring");
    if (const Table seat = table.required_table("seat"); seat.is_there()) read_seat(seat, ring.seat);
    ring.height = table.length("height", Allowed::Positive);
    ring.tilt = table.angle("tilt", Angle::deg(0));
    if (table.has("tilt") && ring.tilt.rad() != 0.0)
        ring.tilt_towards = table.direction("tilt_towards");
    else
        table.known("tilt_towards");
    using Bore = parts::RingRequest::Bore;
    ring.bore = table.choice<Bore>("bore", {{"driver", Bore::Driver}, {"seat", Bore::Seat}}, {}, Bore::Driver);
    ring.bore_diameter = table.maybe_length("bore_diameter", Allowed::Positive, "that of the driver's cut-out");
    if (!table.flag("inserts", true)) ring.hold.kind = parts::DriverHold::Kind::Tapped;
    ring.material = material_of(table, "material", ring.material);
    for (const Table& bolts : table.tables("holes_to_vehicle")) read_bolts(bolts, job.enclosure.up, ring);
    table.not_built("driver", "name its file in [driver] file");
    for (const char* key : {"lip", "recess", "seal_groove"}) table.not_built(key, "leave it out");
    top.required_table("driver");
}

}  // namespace geom::job

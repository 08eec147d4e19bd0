// [ring]: the seat on the vehicle, the shape over it, what holds the driver, and the bolts into the vehicle.
#include "geom/core/text.h"
#include "geom/job/internal/sections.h"
#include "geom/space/field.h"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

namespace geom::job {
namespace {

constexpr int kMostBolts = 24;

using parts::RingRequest;

/// A key that is a length, or a table whose `first` is that length.
bool is_short(const Table& table, const char* key) {
    return table.has(key) && !table.is_table(key);
}

void read_scanned(const Table& seat, RingJob& ring) {
    seat.known("scan");
    if (!seat.has("scan")) return;
    parts::RingFootOptions options;
    if (!seat.is_table("scan")) {
        if (seat.flag("scan", false)) ring.foot = options;
        return;
    }
    const Table scan = seat.table("scan");
    options.gasket = scan.length("gasket", Allowed::NotNegative, options.gasket);
    options.edge_radius = scan.length("edge_radius", Allowed::NotNegative, options.edge_radius);
    options.bridge = scan.length("bridge", Allowed::NotNegative, options.bridge);
    options.depth = scan.length("depth", Allowed::Positive, options.depth);
    ring.foot = options;
}

void read_seat(const Table& seat, Job& job) {
    parts::RingSeat& into = job.ring->request.seat;
    into.plane = {seat.point("centre"), seat.direction("outward")};
    if (const auto outside = outline_of(seat, "outside", job)) into.outside = *outside;
    into.opening = maybe_outline(seat, "opening", job, "not said");
    read_scanned(seat, *job.ring);
    seat.known("outline");
    if (seat.has("outline"))
        seat.refuse("outline", "is no key of a seat", "write outside = { drawing = \"seat.dxf\" }");
}

void read_tilt(const Table& table, RingRequest& ring) {
    ring.tilt = table.angle("tilt", Angle::deg(0));
    if (table.has("tilt") && ring.tilt.rad() != 0.0)
        ring.tilt_towards = table.direction("tilt_towards");
    else
        table.known("tilt_towards");
}

void read_shape(const Table& table, Job& job) {
    RingRequest& ring = job.ring->request;
    ring.height = table.length("height", Allowed::Positive);
    read_tilt(table, ring);
    ring.front = maybe_outline(table, "front", job, "straight up from the seat");
    if (const Table step = table.table("step"); step.is_there()) {
        parts::RingStep read;
        if (const auto outside = outline_of(step, "outside", job)) read.outside = *outside;
        read.height = step.length("height", Allowed::Positive);
        ring.step = read;
    }
    table.known("rain_lip");
    if (table.has("rain_lip")) {
        parts::RainLip lip;
        if (is_short(table, "rain_lip")) {
            lip.length = table.length("rain_lip", Allowed::Positive);
        } else {
            const Table read = table.table("rain_lip");
            lip.length = read.length("length", Allowed::Positive);
            lip.spread = read.angle("spread", lip.spread);
            lip.wall = read.length("wall", Allowed::Positive, lip.wall);
        }
        ring.rain_lip = lip;
    }
    table.known("lip");
    if (table.has("lip")) {
        parts::RingLip lip;
        if (is_short(table, "lip")) {
            lip.height = table.length("lip", Allowed::Positive);
        } else {
            const Table read = table.table("lip");
            lip.height = read.length("height", Allowed::Positive);
            lip.play = read.length("play", Allowed::NotNegative, lip.play);
        }
        ring.lip = lip;
    }
}

void read_bore(const Table& table, Job& job) {
    RingRequest& ring = job.ring->request;
    using Bore = RingRequest::Bore;
    ring.bore = table.choice<Bore>("bore", {{"driver", Bore::Driver}, {"seat", Bore::Seat}, {"opening", Bore::Opening}},
                                   {}, Bore::Driver);
    ring.bore_diameter = table.maybe_length("bore_diameter", Allowed::Positive, "that of the driver's cut-out");
    ring.bore_outline = maybe_outline(table, "bore_outline", job, "");
    if (ring.bore_outline && ring.bore_diameter)
        table.refuse("bore_outline", "and bore_diameter both size the bore; wanted one of them");
    table.known("flare");
    if (table.has("flare")) {
        using Kind = parts::RingFlare::Kind;
        parts::RingFlare flare;
        if (is_short(table, "flare")) {
            flare.size = table.length("flare", Allowed::Positive);
        } else {
            const Table read = table.table("flare");
            flare.size = read.length("size", Allowed::Positive);
            flare.kind =
                read.choice<Kind>("form", {{"chamfer", Kind::Chamfer}, {"round", Kind::Round}}, {}, Kind::Chamfer);
            if (flare.kind == Kind::Chamfer)
                flare.from_axis = read.angle("angle", flare.from_axis);
            else if (read.known("angle"); read.has("angle"))
                read.refuse("angle", "stands beside form = \"round\"");
        }
        ring.flare = flare;
    }
    ring.free_area = table.maybe_number("free_area", Allowed::Positive, "told, not judged");
    if (ring.free_area && *ring.free_area > 2.0)
        table.refuse("free_area", fmt::format("is {}; wanted the share of the cone's area, such as 0.8",
                                              plain_number(*ring.free_area)));
}

void read_grooves(const Table& table, RingRequest& ring) {
    using On = parts::RingGroove::On;
    table.known("seal_groove");
    if (!table.has("seal_groove")) return;
    const auto one = [&](const Table& read) {
        const On on = read.choice<On>("on", {{"seat", On::Seat}, {"front", On::Front}}, {}, On::Seat);
        ring.grooves.push_back({on, read.length("cord", Allowed::Positive)});
    };
    if (table.is_list("seal_groove"))
        for (const Table& each : table.tables("seal_groove")) one(each);
    else if (table.is_table("seal_groove"))
        one(table.table("seal_groove"));
    else
        ring.grooves.push_back({On::Seat, table.length("seal_groove", Allowed::Positive)});
}

void read_hold(const Table& table, Job& job) {
    RingRequest& ring = job.ring->request;
    using Kind = parts::DriverHold::Kind;
    ring.hold.kind = table.choice<Kind>(
        "driver_screws",
        {{"insert", Kind::Insert}, {"tapped", Kind::Tapped}, {"wood screw", Kind::WoodScrew}, {"nut", Kind::Through}},
        {}, Kind::Insert);
    table.known("wood_screw");
    if (ring.hold.kind == Kind::WoodScrew)
        ring.hold.wood_screw = table.text("wood_screw", ring.hold.wood_screw);
    else if (table.has("wood_screw"))
        table.refuse("wood_screw", "stands without driver_screws = \"wood screw\"");
    ring.recess = table.maybe_length("recess", Allowed::NotNegative, "that of the driver's file");
    ring.flange_outline = maybe_outline(table, "flange_outline", job, "");
    table.known("screws_at");
    if (table.has("screws_at"))
        for (const Point3& p :
             table.flat_points("screws_at", 1, kMostBolts, "points about the driver's centre, such as [[70, 42], ..]"))
            ring.screws_at.push_back({p.x, p.y, 0.0});
}

void read_layers(const Table& table, RingJob& ring) {
    table.known("layers");
    if (!table.has("layers")) return;
    parts::SheetOptions sheets;
    if (is_short(table, "layers")) {
        sheets.thickness = table.length("layers", Allowed::Positive);
    } else {
        using Depth = parts::DowelOptions::Depth;
        parts::DowelOptions& dowels = sheets.dowels;
        const Table read = table.table("layers");
        sheets.thickness = read.length("thickness", Allowed::Positive);
        dowels.diameter = read.length("dowel", Allowed::Positive, dowels.diameter);
        dowels.count = read.count("dowels", 0, dowels.count);
        dowels.wall = read.length("wall", Allowed::Positive, dowels.wall);
        dowels.depth =
            read.choice<Depth>("depth", {{"half", Depth::Halfway}, {"through", Depth::Through}}, {}, Depth::Halfway);
        dowels.opens_at_seat = read.flag("through_seat", dowels.opens_at_seat);
        if (dowels.opens_at_seat && dowels.depth == Depth::Halfway)
            read.refuse("through_seat", "stands without depth = \"through\"");
    }
    if (ring.foot)
        table.refuse("layers", "stands beside a scanned seat; wanted a plane one", "take scan out of the seat");
    if (ring.request.rain_lip)
        table.refuse("layers", "stands beside rain_lip, which no sheet holds", "take one of them out");
    ring.request.layers = sheets;
}

/// One table of the list: a bolt at a point, or a circle of bolts about the seat's axis.
void read_bolts(const Table& table, Vec3 up, RingRequest& ring) {
    parts::RingBolt bolt;
    bolt.name = table.text("name", std::to_string(ring.bolts.size() + 1));
    bolt.thread = thread_of(table, "thread", "M5");
    bolt.under_head = table.maybe_length("under_head", Allowed::Positive, "none: the head stands on the front");
    bolt.is_countersunk = table.flag("countersunk", false);
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

/// Sections of other parts.
void refuse_sections(const Table& top) {
    top.not_built("load", "leave it out: a ring's bolts are not held against a load yet");
    for (const char* section : {"enclosure", "fixing"})
        if (top.has(section)) {
            if (top.is_list(section))
                for (const Table& each : top.tables(section)) each.judge_no_keys();
            else
                top.table(section).judge_no_keys();
            top.refuse(section, "stands in a job of part = \"ring\"",
                       "take it out, or give [job] part = \"enclosure\"");
        }
}

}  // namespace

void read_ring_section(const Table& top, Job& job) {
    RingJob& ring = job.ring.emplace();
    refuse_sections(top);
    const Table table = top.required_table("ring");
    if (const Table seat = table.required_table("seat"); seat.is_there()) read_seat(seat, job);
    read_shape(table, job);
    read_bore(table, job);
    read_hold(table, job);
    read_grooves(table, ring.request);
    read_layers(table, ring);
    ring.grille_room = grille_room_of(table);
    ring.request.door_volume = table.maybe_volume("door_volume", Allowed::Positive, "not said");
    ring.request.material = material_of(table, "material", ring.request.material);
    for (const Table& bolts : table.tables("holes_to_vehicle")) read_bolts(bolts, job.enclosure.up, ring.request);
    table.not_built("driver", "name its file in [driver] file");
    top.required_table("driver");
}

}  // namespace geom::job

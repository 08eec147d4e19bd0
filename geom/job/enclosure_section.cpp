#include "geom/core/text.h"
#include "geom/job/internal/sections.h"
#include "geom/parts/port.h"
#include "geom/sound/box.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::job {

namespace {

constexpr Length kSlotCorner = Length::mm(3);  // of a slot, where its lesser side is twice that or more

/// What walls of a material given by its density swing with.
void read_elasticity(const Table& table, parts::Material& material) {
    if (const auto e = table.maybe_number(
            "e", Allowed::Positive, material.e_GPa > 0.0 ? plain_number(material.e_GPa) + " GPa" : "not known", " GPa"))
        material.e_GPa = *e;
    if (material.e_GPa > 1000.0)
        table.refuse("e", fmt::format("is {} GPa; wanted at most 1000", plain_number(material.e_GPa)),
                     "it counts in GPa: a plastic has 2, aluminium 70");
    constexpr double kUsual_nu = 0.3;
    material.nu = table.number("nu", Allowed::NotNegative, material.nu > 0.0 ? material.nu : kUsual_nu);
    if (material.nu >= 0.5)
        table.refuse("nu", fmt::format("is {}; wanted less than 0.5", plain_number(material.nu)),
                     "Poisson's ratio: 0.3 to 0.4 of plastics and metals");
}

}  // namespace

parts::Material material_of(const Table& table, const std::string& key, const parts::Material& fallback) {
    table.known(key);
    const bool is_table = table.is_table(key);
    const Table inner = is_table ? table.table(key) : table;
    const std::string name_key = is_table ? "name" : key;
    const std::string name = is_table ? inner.text("name") : inner.text(key, fallback.name);
    std::optional<parts::Material> material = parts::find_material(name);
    if (is_table && inner.has("density")) {
        if (!material) material = parts::Material{.name = name, .density_kg_m3 = 0.0};
        material->density_kg_m3 = inner.number("density", Allowed::Positive, {}, " kg/m3");
        if (material->density_kg_m3 > 0.0 && (material->density_kg_m3 < 20.0 || material->density_kg_m3 > 23000.0))
            inner.refuse("density",
                         fmt::format("is {} kg/m3; wanted 20 to 23000", plain_number(material->density_kg_m3)),
                         "water has 1000 kg/m3, aluminium 2700");
        read_elasticity(inner, *material);
        return *material;
    }
    if (is_table)
        for (const char* elastic : {"density", "e", "nu"}) inner.known(elastic);
    if (material) {
        table.note(key + ".density", plain_number(material->density_kg_m3) + " kg/m3", true);
        return *material;
    }
    if (inner.is_text(name_key)) {
        const auto known = parts::known_materials();
        const std::string near = nearest_word(name, known);
        inner.refuse(name_key,
                     fmt::format("is \"{}\": unknown material{}", name,
                                 near.empty() ? "" : fmt::format("; did you mean \"{}\"?", near)),
                     fmt::format("known: {}; or give {{ name, density }} with the density in kg/m3", listed(known)));
    }
    return fallback;
}

namespace {

void read_separate_baffle(const Table& table, parts::Baffle& baffle, const parts::Material& shell) {
    for (const char* key :
         {"screw_thread", "screw_pitch", "inserts", "flange_width", "flange_thickness", "material", "seal", "tool"}) {
        table.known(key);
        if (table.has(key) && !baffle.separate)
            table.refuse(key, "is of a separate baffle, and this one is integral",
                         "leave it out, or give made = \"separate\"");
    }
    if (!baffle.separate) return;
    baffle.screw_thread = thread_of(table, "screw_thread", baffle.screw_thread);
    baffle.screw_pitch = table.length("screw_pitch", Allowed::Positive, baffle.screw_pitch);
    baffle.inserts = table.flag("inserts", true);
    baffle.flange_width = table.maybe_length("flange_width", Allowed::Positive, "chosen from the screws");
    baffle.flange_thickness = table.maybe_length("flange_thickness", Allowed::Positive, "chosen from the screws");
    baffle.seal = seal_of(table);
    baffle.tool = tool_of(table);
    if (table.has("material"))
        baffle.material = material_of(table, "material", shell);
    else
        table.note("material", "as the shell", true);
}

using What = parts::Adjust::What;

/// The place of a baffle that stays while something else is adjusted.
void read_baffle_place(const Table& table, parts::Baffle& baffle) {
    double at_mm = 0.0;
    if (table.has("travel")) {
        const auto travel = table.lengths("travel", 2, "two equal lengths for a baffle that stays");
        if (travel.size() == 2 && travel[0] != travel[1])
            table.refuse(
                "travel",
                fmt::format("is {} mm to {} mm, and the baffle stays where it is while something else is adjusted",
                            plain_number(travel[0]), plain_number(travel[1])),
                "give its place, at = t, in place of travel; or adjust = \"baffle\"");
        if (travel.size() == 2) at_mm = travel[0];
        if (table.has("at")) table.refuse("at", "and travel both say where the baffle stays; wanted one of them");
    } else {
        table.known("travel");
        at_mm = table.length("at", Allowed::Any, Length::mm(0)).mm();
    }
    table.known("at");
    baffle.travel_lo_mm = baffle.travel_hi_mm = at_mm;
}

void read_travel(const Table& table, parts::Baffle& baffle) {
    table.known("at");
    if (table.has("at"))
        table.refuse("at", "is of a baffle that stays, and this one is adjusted",
                     "leave it out and give travel; or adjust something else");
    const auto travel = table.lengths("travel", 2, "two lengths, [least t, most t]");
    if (travel.size() == 2) {
        baffle.travel_lo_mm = travel[0];
        baffle.travel_hi_mm = travel[1];
        const std::string found = fmt::format("is {} mm to {} mm", plain_number(travel[0]), plain_number(travel[1]));
        if (travel[0] == travel[1])
            table.refuse("travel", found + ", which leaves no travel; wanted least t before most t",
                         "the baffle moves to where the net volume is the asked one; give it room");
        else if (travel[0] > travel[1])
            table.refuse("travel", found + ", which is upside down; wanted least t before most t",
                         "larger t is further out, along outward");
    }
}

void read_ring(const Table& table, parts::RaisedRing& ring) {
    ring.height = table.length("height", Allowed::Positive);
    ring.width = table.maybe_length("width", Allowed::Positive, "as the flange needs it");
    ring.edge = table.length("edge", Allowed::NotNegative, ring.edge);
    if (table.has("height") && ring.height.mm() > 0.0 && ring.edge >= ring.height)
        table.refuse(table.has("edge") ? "edge" : "height",
                     fmt::format("is {} mm; wanted an edge less than the height (edge {} mm, height {} mm)",
                                 plain_number((table.has("edge") ? ring.edge : ring.height).mm()),
                                 plain_number(ring.edge.mm()), plain_number(ring.height.mm())),
                     "edge is the chamfer of the ring's outer edge; 0 leaves it sharp");
}

void read_dish(const Table& table, parts::SunkDish& dish) {
    constexpr double kMostFlank_deg = 75.0;
    dish.depth = table.length("depth", Allowed::Positive);
    dish.width = table.maybe_length("width", Allowed::Positive, "as the flange needs it");
    dish.flank = table.angle("flank", dish.flank);
    if (dish.flank.deg() < 0.0 || dish.flank.deg() > kMostFlank_deg)
        table.refuse("flank",
                     fmt::format("is {} deg; wanted 0 deg to {} deg", plain_number(dish.flank.deg()),
                                 plain_number(kMostFlank_deg)),
                     "it leans by so much from the driver's axis: 0 deg is a cylinder, 45 deg a chamfer");
}

void read_shape(const Table& table, parts::Baffle& baffle) {
    using parts::BaffleShape;
    baffle.shape = table.choice<BaffleShape>(
        "shape", {{"flat", BaffleShape::Flat}, {"ring", BaffleShape::Ring}, {"dish", BaffleShape::Dish}}, {},
        BaffleShape::Flat);
    const std::pair<const char*, BaffleShape> forms[] = {{"ring", BaffleShape::Ring}, {"dish", BaffleShape::Dish}};
    for (const auto& [key, shape] : forms) {
        table.known(key);
        if (baffle.shape != shape) {
            if (!table.has(key)) continue;
            table.table(key).judge_no_keys();
            table.refuse(key, fmt::format("stands beside another shape; wanted shape = \"{}\"", key),
                         "leave it out, or give that shape");
            continue;
        }
        const Table form = table.required_table(key);
        if (!form.is_there()) continue;
        if (shape == BaffleShape::Ring)
            read_ring(form, baffle.ring);
        else
            read_dish(form, baffle.dish);
    }
    baffle.grille_room = grille_room_of(table);
}

/// How the baffle is made, whatever its place comes from.
void read_baffle_making(const Table& table, Job& job) {
    parts::Baffle& baffle = job.enclosure.baffle;
    baffle.separate = table.choice<bool>("made", {{"integral", false}, {"separate", true}}, {}, false);
    read_separate_baffle(table, baffle, job.enclosure.material);
    read_shape(table, baffle);
}

void read_baffle(const Table& table, Job& job) {
    parts::Baffle& baffle = job.enclosure.baffle;
    baffle.plane = plane_of(table);
    if (job.enclosure.adjust.what == What::Baffle)
        read_travel(table, baffle);
    else
        read_baffle_place(table, baffle);
    baffle.thickness = table.length("thickness", Allowed::Positive, Length::mm(12));
    baffle.rim_radius = table.length("rim_radius", Allowed::NotNegative, Length::mm(3));
    if (baffle.thickness.mm() > 0.0 && baffle.rim_radius >= baffle.thickness)
        table.refuse("rim_radius",
                     fmt::format("is {} mm; wanted less than the thickness of {} mm",
                                 plain_number(baffle.rim_radius.mm()), plain_number(baffle.thickness.mm())));
    read_baffle_making(table, job);
}

/// Where what is adjusted may lie: from least to most.
void read_adjust_range(const Table& enclosure, parts::Adjust& adjust) {
    const bool is_wall = adjust.what == What::Wall;
    const char* wanted = is_wall ? "two lengths, [least wall, most wall]" : "two lengths, [furthest in, furthest out]";
    const auto range = enclosure.lengths("adjust_range", 2, wanted);
    if (range.size() != 2) return;
    adjust.lo_mm = range[0];
    adjust.hi_mm = range[1];
    const std::string found = fmt::format("is {} mm to {} mm", plain_number(range[0]), plain_number(range[1]));
    if (range[0] == range[1])
        enclosure.refuse("adjust_range", found + ", which leaves no room to adjust; wanted the least before the most");
    else if (range[0] > range[1])
        enclosure.refuse("adjust_range", found + ", which is upside down; wanted the least before the most",
                         is_wall ? "" : "larger is further out, along the limit's outward");
}

void read_fill(const Table& enclosure, parts::Adjust& adjust) {
    using Fill = parts::Adjust::Fill;
    const std::vector<std::pair<std::string, Fill>> ways = {
        {"integral", Fill::Integral}, {"separate", Fill::Separate}, {"told", Fill::Told}};
    if (enclosure.is_table("fill"))
        adjust.fill = enclosure.table("fill").choice<Fill>("made", ways, {}, Fill::Integral);
    else
        adjust.fill = enclosure.choice<Fill>("fill", ways, {}, Fill::Integral);
}

/// What is adjusted. A limit's name is looked up later, when the limits are known.
void read_adjust(const Table& enclosure, parts::Adjust& adjust) {
    const std::string way = enclosure.text("adjust", "baffle");
    constexpr std::string_view kLimit = "limit:";
    if (way == "wall") {
        adjust.what = What::Wall;
    } else if (way == "fill") {
        adjust.what = What::Fill;
    } else if (way.rfind(kLimit, 0) == 0) {
        adjust.what = What::Limit;
        adjust.limit = way.substr(kLimit.size());
    } else if (way != "baffle") {
        enclosure.refuse(
            "adjust",
            fmt::format("is \"{}\"; wanted \"baffle\", \"limit:<name of a limit>\", \"wall\" or \"fill\"", way),
            "one of them is changed until the box holds the net volume");
    }
    const bool has_range = adjust.what == What::Limit || adjust.what == What::Wall;
    enclosure.known("adjust_range");
    if (has_range)
        read_adjust_range(enclosure, adjust);
    else if (enclosure.has("adjust_range"))
        enclosure.refuse("adjust_range", "is for a limit or the wall, and another thing is adjusted", "leave it out");
    enclosure.known("fill");
    if (adjust.what == What::Fill)
        read_fill(enclosure, adjust);
    else if (enclosure.has("fill"))
        enclosure.refuse("fill", "is for adjust = \"fill\", and another thing is adjusted",
                         "leave it out, or give adjust = \"fill\"");
}

void read_wall(const Table& enclosure, parts::EnclosureRequest& request) {
    if (request.adjust.what != What::Wall) {
        request.wall = enclosure.length("wall", Allowed::Positive, Length::mm(6));
        return;
    }
    enclosure.known("wall");
    if (enclosure.has("wall"))
        enclosure.refuse("wall", "is given, and adjust = \"wall\" asks for it to be found",
                         "leave it out; adjust_range holds it");
    request.wall = Length::mm(request.adjust.lo_mm);
}

void read_terminal(const Table& table, Job& job) {
    parts::Terminal terminal;
    terminal.diameter = table.length("diameter", Allowed::Positive, Length::mm(20));
    terminal.at = table.point("at");
    terminal.displacement = table.maybe_volume("displacement", Allowed::NotNegative, "none: the hole alone");
    job.enclosure.terminal = terminal;
}

/// A circle, or a rectangle with rounded corners instead.
void read_section(const Table& table, parts::Port& port) {
    if (table.has("diameter") == table.has("slot")) {
        table.refuse(table.has("slot") ? "slot" : "diameter",
                     table.has("slot") ? "stands beside diameter; wanted one of them"
                                       : "is missing, and so is slot; wanted one of them",
                     "diameter = 50 makes a round tube, slot = [120, 18] one as wide and as high as that");
        for (const char* key : {"diameter", "slot", "corner_radius", "turn"}) table.known(key);
        return;
    }
    if (!table.has("slot")) {
        table.known("slot");
        for (const char* key : {"corner_radius", "turn"}) {
            table.known(key);
            if (table.has(key))
                table.refuse(key, "is of a slot, and a diameter is given", "leave it out, or give slot");
        }
        port.diameter = table.length("diameter", Allowed::Positive);
        return;
    }
    table.known("diameter");
    const std::vector<double> sides = table.lengths("slot", 2, "[width, height] of its inside");
    parts::PortSlot slot;
    if (sides.size() == 2) {
        slot.width = Length::mm(sides[0]), slot.height = Length::mm(sides[1]);
        if (sides[0] <= 0.0 || sides[1] <= 0.0)
            table.refuse(
                "slot",
                fmt::format("is {} x {} mm; wanted sides above 0", plain_number(sides[0]), plain_number(sides[1])),
                "slot = [120, 18] is 120 mm wide and 18 mm high inside");
    }
    const Length most = std::min(slot.width, slot.height) * 0.5;
    slot.corner_radius =
        table.length("corner_radius", Allowed::NotNegative, std::min(kSlotCorner, std::max(Length(), most)));
    if (sides.size() == 2 && slot.corner_radius > most)
        table.refuse("corner_radius",
                     fmt::format("is {} mm; wanted at most half the slot's lesser side, {} mm",
                                 plain_number(slot.corner_radius.mm()), plain_number(most.mm())),
                     "half the lesser side makes its ends half circles; leave corner_radius out for a usual one");
    slot.turn = table.angle("turn", Angle());
    port.slot = slot;
}

void read_bend(const Table& table, parts::Port& port) {
    parts::PortBend bend;
    bend.towards = table.direction("towards");
    bend.after = table.maybe_length("after", Allowed::Positive, "as near behind the baffle as it goes");
    bend.radius = table.maybe_length("radius", Allowed::Positive, "as much as the inside is high in the bend's plane");
    bend.angle = table.angle("angle", bend.angle);
    port.bend = bend;
}

void read_port(const Table& table, parts::EnclosureRequest& request) {
    table.not_built("made", "leave it out: the tube is of the baffle's own material, or glued in where that is board");
    parts::Port port;
    read_section(table, port);
    port.at = table.point("at");
    if (const Table bend = table.table("bend"); bend.is_there()) read_bend(bend, port);
    if (table.has("tuning") == table.has("length"))
        table.refuse(table.has("tuning") ? "length" : "tuning",
                     table.has("tuning") ? "stands beside tuning; wanted one of them"
                                         : "is missing, and so is length; wanted one of them",
                     "tuning in Hz: the length follows from it and the net volume");
    if (table.has("tuning")) {
        table.known("length");
        port.tuning_hz = table.number("tuning", Allowed::Positive, {}, " Hz");
        if (port.tuning_hz < parts::kLeastTuning_hz || port.tuning_hz > parts::kMostTuning_hz)
            table.refuse("tuning",
                         fmt::format("is {} Hz; wanted {} to {} Hz", plain_number(port.tuning_hz),
                                     plain_number(parts::kLeastTuning_hz), plain_number(parts::kMostTuning_hz)),
                         "most ported boxes are tuned to 25 to 60 Hz");
    } else if (table.has("length")) {
        table.known("tuning");
        port.length = table.length("length", Allowed::Positive);
    }
    port.wall = table.length("wall", Allowed::Positive, port.wall);
    port.mouth = table.length("mouth", Allowed::NotNegative, port.mouth);
    port.free_way =
        table.maybe_length("free_way", Allowed::NotNegative, "its diameter, of a slot four areas over the border");
    port.walls = table.count("walls", 0, 0);
    if (port.walls > 2)
        table.refuse("walls", fmt::format("is {}; wanted 0, 1 or 2", port.walls),
                     "how many inner walls the tube's inner end lies along");
    request.port = port;
}

void read_lining(const Table& table, parts::EnclosureRequest& request) {
    using Kind = parts::Lining::Kind;
    parts::Lining lining;
    lining.thickness = table.length("thickness", Allowed::Positive);
    lining.kind = table.choice<Kind>("kind", {{"fibre", Kind::Fibre}, {"foam", Kind::Foam}, {"sheet", Kind::Sheet}}, {},
                                     Kind::Fibre);
    table.known("gain");
    if (lining.kind != Kind::Sheet) {
        lining.gain = table.number("gain", Allowed::Positive, sound::kLeastGain);
        if (lining.gain < sound::kLeastGain || lining.gain > sound::kMostGain)
            table.refuse("gain",
                         fmt::format("is {}; wanted {} to {}", plain_number(lining.gain),
                                     plain_number(sound::kLeastGain), plain_number(sound::kMostGain)),
                         fmt::format("apparent over net volume: 1 when it is not known, 1.15 to {} in practice",
                                     plain_number(sound::kUsualMostGain)));
    } else if (table.has("gain")) {
        table.refuse("gain", "is of fibre and foam, and sheet makes no box seem larger", "leave it out");
    }
    request.lining = lining;
}

void read_tolerance(const Table& enclosure, parts::EnclosureRequest& request) {
    request.tolerance_rel = enclosure.number("tolerance", Allowed::Positive, 0.002);
    if (request.tolerance_rel >= 0.5)
        enclosure.refuse("tolerance", fmt::format("is {}; wanted less than 0.5", plain_number(request.tolerance_rel)),
                         "it is relative: 0.002 is 0.2 %");
}

/// What stands in the air of every box.
void read_inside(const Table& enclosure, Job& job) {
    if (const Table terminal = enclosure.table("terminal"); terminal.is_there()) read_terminal(terminal, job);
    read_braces(enclosure, job);
    if (const Table port = enclosure.table("port"); port.is_there()) read_port(port, job.enclosure);
    if (const Table lining = enclosure.table("lining"); lining.is_there()) read_lining(lining, job.enclosure);
}

}  // namespace

void read_enclosure_of_box(const Table& enclosure, Job& job) {
    parts::EnclosureRequest& request = job.enclosure;
    const auto asked = enclosure.maybe_volume("net_volume", Allowed::Positive, "not asked: told as made");
    request.asks_volume = asked.has_value();
    request.net_volume = asked.value_or(Volume::litres(1));
    read_tolerance(enclosure, request);
    const char* usual = request.make.method == parts::Method::Boards ? "MDF" : "ASA";
    request.material = material_of(enclosure, "material", parts::find_material(usual).value_or(request.material));
    for (const char* key : {"wall", "adjust", "adjust_range", "fill"}) {
        enclosure.known(key);
        if (enclosure.has(key))
            enclosure.refuse(key, "is of a box that follows a scan", "sizes and walls of this one stand in [box]");
    }
    if (const Table baffle = enclosure.table("baffle"); baffle.is_there()) {
        for (const char* key : {"point", "outward", "travel", "at", "thickness", "rim_radius"}) {
            baffle.known(key);
            if (baffle.has(key))
                baffle.refuse(key, "is of a box that follows a scan",
                              "[box] baffle names the side, and its thickness is that of the side's wall");
        }
        read_baffle_making(baffle, job);
    } else {
        enclosure.known("baffle");
    }
    if (request.make.method == parts::Method::Boards && request.baffle.shape != parts::BaffleShape::Flat)
        enclosure.table("baffle").refuse("shape", "is no plane, and boards are",
                                         "give \"flat\", or [make] method = \"print\"");
    read_inside(enclosure, job);
}

void read_enclosure_section(const Table& enclosure, Job& job) {
    parts::EnclosureRequest& request = job.enclosure;
    request.net_volume = enclosure.volume("net_volume", Allowed::Positive);
    read_tolerance(enclosure, request);
    read_adjust(enclosure, request.adjust);
    read_wall(enclosure, request);
    request.material = material_of(enclosure, "material", parts::find_material("ASA").value_or(request.material));
    if (const Table baffle = enclosure.required_table("baffle"); baffle.is_there()) read_baffle(baffle, job);
    read_inside(enclosure, job);

    request.room.baffle = request.baffle.plane;
    request.room.travel_lo_mm = request.baffle.travel_lo_mm;
    request.room.travel_hi_mm = request.baffle.travel_hi_mm;
    request.room.up = request.up;
    request.room.wall = request.wall;
}

void read_make_section(const Table& table, Job& job) {
    parts::Make& make = job.enclosure.make;
    using parts::Method;
    if (job.box)
        make.method = table.choice<Method>(
            "method", {{"boards", Method::Boards}, {"print", Method::Print}, {"layup", Method::Layup}}, {},
            Method::Boards);
    else
        make.method =
            table.choice<Method>("method", {{"print", Method::Print}, {"cnc", Method::Cnc}, {"layup", Method::Layup}},
                                 {"layers"}, Method::Print);
    make.chord_error = table.length("chord_error", Allowed::Positive, Length::mm(0.05));
    if (make.chord_error.mm() > 0.05 || make.chord_error.mm() < 0.001)
        table.refuse("chord_error",
                     fmt::format("is {} mm; wanted 0.001 mm to 0.05 mm", plain_number(make.chord_error.mm())));
    if (table.has("bed")) {
        const auto bed = table.lengths("bed", 3, "three lengths, such as [256, 256, 256]");
        if (bed.size() == 3) make.bed = Vec3{bed[0], bed[1], bed[2]};
        for (const double side : bed)
            if (side <= 0.0) {
                table.refuse("bed", fmt::format("has a side of {} mm; wanted more than 0 mm", plain_number(side)));
                break;
            }
    } else {
        table.note("bed", "none: size is not judged", true);
        table.known("bed");
    }
    using Plug = parts::Make::Plug;
    const std::vector<std::pair<std::string, Plug>> plugs = {{"inner", Plug::Inner}, {"outer", Plug::Outer}};
    table.known("plug");
    if (make.method == Method::Layup)
        make.plug = table.choice<Plug>("plug", plugs, {}, Plug::Outer);
    else if (table.has("plug"))
        table.refuse("plug", "is of a lay-up, and the method is another", "leave it out, or give method = \"layup\"");
}

}  // namespace geom::job

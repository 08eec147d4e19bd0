#include "geom/core/text.h"
#include "geom/fixings/threads.h"
#include "geom/job/internal/sections.h"

#include <fmt/format.h>

#include <set>

namespace geom::job {

std::string thread_of(const Table& table, const std::string& key, std::optional<std::string> fallback) {
    const std::string name = table.text(key, std::move(fallback));
    if (!table.is_text(key)) return name;
    if (fixings::find_thread(name)) return name;
    std::vector<std::string> known;
    for (const fixings::Thread& thread : fixings::threads()) known.emplace_back(thread.name);
    table.refuse(key, fmt::format("is \"{}\": unknown thread; wanted {}", name, listed(known, "or")));
    return known.front();
}

parts::Material material_of(const Table& table, const std::string& key, const parts::Material& fallback) {
    table.known(key);
    const bool is_table = table.is_table(key);
    const Table inner = is_table ? table.table(key) : table;
    const std::string name_key = is_table ? "name" : key;
    const std::string name = is_table ? inner.text("name") : inner.text(key, fallback.name);
    std::optional<parts::Material> material = parts::find_material(name);
    if (is_table && inner.has("density")) {
        if (!material) material = parts::Material{name, 0.0, false, 0.0};
        material->density_kg_m3 = inner.number("density", Allowed::Positive, {}, " kg/m3");
        if (material->density_kg_m3 > 0.0 && (material->density_kg_m3 < 20.0 || material->density_kg_m3 > 23000.0))
            inner.refuse("density",
                         fmt::format("is {} kg/m3; wanted 20 to 23000", plain_number(material->density_kg_m3)),
                         "water has 1000 kg/m3, aluminium 2700");
        return *material;
    }
    if (is_table) inner.known("density");
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
    for (const char* key : {"screw_thread", "screw_pitch", "inserts", "flange_width", "flange_thickness", "material"}) {
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
    if (table.has("material"))
        baffle.material = material_of(table, "material", shell);
    else
        table.note("material", "as the shell", true);
}

void read_baffle(const Table& table, Job& job) {
    parts::Baffle& baffle = job.enclosure.baffle;
    baffle.plane = plane_of(table);
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
    baffle.thickness = table.length("thickness", Allowed::Positive, Length::mm(12));
    baffle.separate = table.choice<bool>("made", {{"integral", false}, {"separate", true}}, {}, false);
    baffle.rim_radius = table.length("rim_radius", Allowed::NotNegative, Length::mm(3));
    if (baffle.thickness.mm() > 0.0 && baffle.rim_radius >= baffle.thickness)
        table.refuse("rim_radius",
                     fmt::format("is {} mm; wanted less than the thickness of {} mm",
                                 plain_number(baffle.rim_radius.mm()), plain_number(baffle.thickness.mm())));
    read_separate_baffle(table, baffle, job.enclosure.material);
}

void read_terminal(const Table& table, Job& job) {
    parts::Terminal terminal;
    terminal.diameter = table.length("diameter", Allowed::Positive, Length::mm(20));
    terminal.at = table.point("at");
    terminal.displacement = table.maybe_volume("displacement", Allowed::NotNegative, "none: the hole alone");
    job.enclosure.terminal = terminal;
}

void read_braces(const Table& enclosure) {
    if (enclosure.is_list("braces"))
        enclosure.not_built("braces", "leave it out or give 0");
    else if (enclosure.count("braces", 0, 0) > 0)
        enclosure.refuse("braces", "other than 0 is not built yet", "leave it out or give 0", FaultCode::NotBuilt);
}

}  // namespace

void read_enclosure_section(const Table& enclosure, Job& job) {
    parts::EnclosureRequest& request = job.enclosure;
    request.net_volume = enclosure.volume("net_volume", Allowed::Positive);
    request.tolerance_rel = enclosure.number("tolerance", Allowed::Positive, 0.002);
    if (request.tolerance_rel >= 0.5)
        enclosure.refuse("tolerance", fmt::format("is {}; wanted less than 0.5", plain_number(request.tolerance_rel)),
                         "it is relative: 0.002 is 0.2 %");
    request.wall = enclosure.length("wall", Allowed::Positive, Length::mm(6));
    request.material = material_of(enclosure, "material", parts::find_material("ASA").value_or(request.material));
    if (const Table baffle = enclosure.required_table("baffle"); baffle.is_there()) read_baffle(baffle, job);
    if (const Table terminal = enclosure.table("terminal"); terminal.is_there()) read_terminal(terminal, job);
    read_braces(enclosure);
    enclosure.not_built("port", "leave it out: closed boxes are built so far");
    enclosure.not_built("lining", "leave it out: fibre and foam do not change the net volume");

    request.room.baffle = request.baffle.plane;
    request.room.travel_lo_mm = request.baffle.travel_lo_mm;
    request.room.travel_hi_mm = request.baffle.travel_hi_mm;
    request.room.up = request.up;
    request.room.wall = request.wall;
}

void read_fixings(const std::vector<Table>& fixings, Job& job) {
    enum class FixingKind { Foot };
    std::set<std::string> names;
    for (const Table& table : fixings) {
        parts::Foot foot;
        table.choice<FixingKind>("kind", {{"foot", FixingKind::Foot}}, {"sleeve", "plate", "rim"}, {});
        foot.name = table.text("name", fmt::format("foot {}", job.enclosure.feet.size() + 1));
        foot.point = table.point("point");
        foot.axis = table.direction("axis");
        foot.thread = thread_of(table, "thread", "M8");
        if (!names.insert(foot.name).second)
            table.refuse("name", fmt::format("\"{}\" is used twice; wanted a name of its own", foot.name));
        job.enclosure.feet.push_back(foot);
    }
}

void read_make_section(const Table& table, Job& job) {
    parts::Make& make = job.enclosure.make;
    using parts::Method;
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

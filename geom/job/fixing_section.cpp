// [[fixing]], [[thread]], [load] and the braces of [enclosure]: what holds the box, and what it is held to.
//
// Keys that every fixing has: name, kind, thread, head, fit, grade, washer, play, slot, tool, metal_sleeve, belongs_to.
#include "geom/core/text.h"
#include "geom/fixings/bolt.h"
#include "geom/job/internal/sections.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <set>

namespace geom::job {

std::string thread_of(const Table& table, const std::string& key, std::optional<std::string> fallback) {
    const std::string name = table.text(key, std::move(fallback));
    if (!table.is_text(key)) return name;
    const std::vector<fixings::Thread>& own = table.file().own_threads;
    if (fixings::find_thread(name, own)) return name;
    std::vector<std::string> known;
    for (const fixings::Thread& thread : fixings::threads()) known.emplace_back(thread.name);
    for (const fixings::Thread& thread : own) known.emplace_back(thread.name);
    table.refuse(key, fmt::format("is \"{}\": unknown thread; wanted {}", name, listed(known, "or")),
                 "a thread of your own is a [[thread]] table");
    return known.front();
}

namespace {

using fixings::HeadKind;
enum class Kind { Foot, Sleeve, Plate, Rim };
constexpr int kMostBraces = 12;
constexpr double kLeastK = 0.3, kMostK = 0.5;  // where the neutral line of a bend can lie [common practice]

std::string lower(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return std::tolower(c); });
    return text;
}

/// Bolts of seat belts and child seats hold people and nothing else.
void refuse_belts(const Table& table, const std::string& belongs_to) {
    const std::string words = lower(belongs_to);
    for (const char* word : {"belt", "isofix", "child seat", "top tether"})
        if (words.find(word) != std::string::npos) {
            table.refuse(
                "belongs_to",
                fmt::format("is \"{}\": anchorages of belts and child seats are never used for a box", belongs_to),
                "take another bolt of the vehicle, or set a new one where a licensed workshop agrees");
            return;
        }
}

fixings::BoltUse read_use(const Table& table) {
    fixings::BoltUse use;
    use.head = table.choice<HeadKind>("head",
                                      {{"hexagon", HeadKind::Hexagon},
                                       {"socket", HeadKind::Socket},
                                       {"button", HeadKind::Button},
                                       {"countersunk", HeadKind::Countersunk}},
                                      {}, HeadKind::Hexagon);
    using fixings::Fit;
    use.fit = table.choice<Fit>("fit", {{"fine", Fit::Fine}, {"medium", Fit::Medium}, {"coarse", Fit::Coarse}}, {},
                                Fit::Medium);
    using fixings::Grade;
    use.grade = table.choice<Grade>("grade", {{"8.8", Grade::G8_8}, {"10.9", Grade::G10_9}}, {}, Grade::G8_8);
    use.has_washer = table.flag("washer", use.head != HeadKind::Countersunk);
    if (use.has_washer && use.head == HeadKind::Countersunk)
        table.refuse("washer", "stands with a countersunk head, which takes none", "leave it out");
    use.play = table.length("play", Allowed::NotNegative, Length::mm(0));
    if (use.play.mm() > 10.0)
        table.refuse("play", fmt::format("is {} mm each way; wanted at most 10", plain_number(use.play.mm())),
                     "a longer hole is a slot = { along, length }");
    if (const Table slot = table.table("slot"); slot.is_there())
        use.slot = fixings::Slot{slot.direction("along"), slot.length("length", Allowed::Positive)};
    if (const Table tool = table.table("tool"); tool.is_there())
        use.tool =
            fixings::ToolRoom{tool.length("diameter", Allowed::Positive), tool.length("length", Allowed::Positive)};
    table.known("metal_sleeve");
    if (table.has("metal_sleeve")) use.metal_sleeve = table.flag("metal_sleeve", false);
    return use;
}

std::string read_belonging(const Table& table) {
    const std::string belongs_to = table.text("belongs_to", "");
    refuse_belts(table, belongs_to);
    return belongs_to;
}

/// What a bolt at one place has.
template <class Fixing>
Fixing read_at_point(const Table& table, const std::string& name) {
    Fixing fixing;
    fixing.name = name;
    fixing.point = table.point("point");
    fixing.axis = table.direction("axis");
    fixing.thread = thread_of(table, "thread", "M8");
    fixing.use = read_use(table);
    fixing.belongs_to = read_belonging(table);
    return fixing;
}

parts::Sleeve read_sleeve(const Table& table, const std::string& name) {
    parts::Sleeve sleeve = read_at_point<parts::Sleeve>(table, name);
    sleeve.tube_wall = table.maybe_length("tube_wall", Allowed::Positive, "that of the shell");
    sleeve.recess = table.length("recess", Allowed::NotNegative, Length::mm(0));
    return sleeve;
}

parts::Bend read_bend(const Table& table) {
    parts::Bend bend;
    bend.at = plane_of(table.required_table("at"));
    bend.by = table.angle("by");
    bend.inner_radius = table.maybe_length("inner_radius", Allowed::Positive, "the plate's thickness");
    table.known("points");
    if (table.has("points")) bend.points = table.points("points", 1, 12, "one to twelve places of the vehicle's bolts");
    bend.length = table.maybe_length("length", Allowed::Positive, "as its bolts need it");
    bend.k_factor = table.number("k_factor", Allowed::Positive, bend.k_factor);
    if (bend.k_factor < kLeastK || bend.k_factor > kMostK)
        table.refuse("k_factor",
                     fmt::format("is {}; wanted {} to {}", plain_number(bend.k_factor), plain_number(kLeastK),
                                 plain_number(kMostK)),
                     "0.33 for a sharp bend, 0.5 for a wide one");
    return bend;
}

parts::MountPlate read_plate(const Table& table, const std::string& name) {
    parts::MountPlate plate;
    plate.name = name;
    plate.points = table.points("points", 2, 12, "two to twelve places of the vehicle's bolts");
    plate.axis = table.direction("axis");
    plate.thread = thread_of(table, "thread", "M8");
    plate.use = read_use(table);
    plate.belongs_to = read_belonging(table);
    plate.thickness = table.length("thickness", Allowed::Positive, Length::mm(4));
    table.known("material");
    if (table.has("material")) plate.material = material_of(table, "material", {});
    using Through = parts::MountPlate::Through;
    plate.through =
        table.choice<Through>("through", {{"back", Through::Back}, {"rim", Through::Rim}}, {}, Through::Back);
    plate.screw_thread = thread_of(table, "screw_thread", "M6");
    plate.screws = table.count("screws", 2, 4);
    for (const Table& edge : table.tables("floating")) {
        parts::FloatingEdge floating;
        floating.name = edge.text("name", fmt::format("edge {}", plate.floating.size() + 1));
        floating.plane = plane_of(edge);
        floating.gap = edge.length("gap", Allowed::NotNegative, Length::mm(3));
        plate.floating.push_back(floating);
    }
    if (const Table bend = table.table("bend"); bend.is_there()) plate.bend = read_bend(bend);
    return plate;
}

parts::PanelRim read_rim(const Table& table, const std::string& name) {
    parts::PanelRim rim;
    rim.name = name;
    rim.width = table.maybe_length("width", Allowed::Positive, "as head and edge distance need it");
    rim.thickness = table.maybe_length("thickness", Allowed::Positive, "the baffle's");
    rim.screw = table.text("screw", rim.screw);
    if (table.is_text("screw") && !fixings::find_wood_screw(rim.screw) &&
        !fixings::find_thread(rim.screw, table.file().own_threads)) {
        std::vector<std::string> known;
        for (const fixings::WoodScrew& screw : fixings::wood_screws()) known.push_back(screw.name);
        for (const fixings::Thread& thread : fixings::threads()) known.push_back(thread.name);
        table.refuse("screw", fmt::format("is \"{}\": unknown screw; wanted {}", rim.screw, listed(known, "or")));
    }
    rim.pitch = table.length("pitch", Allowed::Positive, rim.pitch);
    return rim;
}

}  // namespace

void read_threads(const std::vector<Table>& tables, Job& job) {
    for (const Table& table : tables) {
        fixings::Thread t;
        t.name = table.text("name");
        t.d_mm = table.length("d", Allowed::Positive).mm();
        const auto at_least = [&](const char* key, std::optional<double> fallback_mm, double least_mm) {
            const double mm = table
                                  .length(key, Allowed::Positive,
                                          fallback_mm ? std::optional(Length::mm(*fallback_mm)) : std::nullopt)
                                  .mm();
            if (table.has(key) && mm < least_mm)
                table.refuse(key,
                             fmt::format("is {} mm; wanted at least {} mm", plain_number(mm), plain_number(least_mm)));
            return mm;
        };
        t.pitch_mm = at_least("pitch", {}, 0.1);
        t.hole_medium_mm = at_least("hole", {}, t.d_mm);
        t.hole_fine_mm = at_least("hole_fine", t.hole_medium_mm, t.d_mm);
        t.hole_coarse_mm = at_least("hole_coarse", t.hole_medium_mm, t.d_mm);
        t.washer_outside_mm = at_least("washer", {}, t.hole_medium_mm);
        t.washer_hole_mm = t.hole_fine_mm;
        t.washer_thickness_mm = at_least("washer_thickness", {}, 0.1);
        t.socket_outside_mm = at_least("socket", {}, t.d_mm);
        t.tap_drill_mm = at_least("tap_drill", t.d_mm - t.pitch_mm, 0.1);
        t.proof_load_8_8_N = table.number("proof_load", Allowed::Positive, {}, " N");
        t.proof_load_10_9_N = t.proof_load_8_8_N;
        const double d = t.d_mm - 0.938194 * t.pitch_mm;  // ISO 898-1
        t.stress_area_mm2 = 0.785398163397448 * d * d;
        t.hexagon = {at_least("head", {}, t.d_mm), at_least("head_height", {}, 0.1), at_least("key", {}, 0.1)};
        t.socket = t.hexagon;
        if (t.name.empty() || fixings::find_thread(t.name, table.file().own_threads))
            table.refuse("name", fmt::format("is \"{}\"; wanted a name that no other thread has", t.name));
        table.file().own_threads.push_back(t);
    }
    if (!tables.empty()) job.enclosure.own_threads = tables.front().file().own_threads;
}

void read_fixings(const std::vector<Table>& tables, Job& job) {
    std::set<std::string> names;
    int number = 0;
    for (const Table& table : tables) {
        ++number;
        const Kind kind = table.choice<Kind>(
            "kind", {{"foot", Kind::Foot}, {"sleeve", Kind::Sleeve}, {"plate", Kind::Plate}, {"rim", Kind::Rim}}, {},
            {});
        const std::string word = table.is_text("kind") ? table.text("kind") : "foot";
        const std::string name = table.text("name", fmt::format("{} {}", word, number));
        if (!names.insert(name).second)
            table.refuse("name", fmt::format("\"{}\" is used twice; wanted a name of its own", name));
        parts::EnclosureRequest& request = job.enclosure;
        switch (kind) {
            case Kind::Foot:
                request.feet.push_back(read_at_point<parts::Foot>(table, name));
                break;
            case Kind::Sleeve:
                request.sleeves.push_back(read_sleeve(table, name));
                break;
            case Kind::Plate:
                request.plates.push_back(read_plate(table, name));
                break;
            case Kind::Rim:
                if (request.panel_rim)
                    table.refuse("kind", "= \"rim\" stands twice; a baffle has one rim", "leave one out");
                request.panel_rim = read_rim(table, name);
                break;
        }
    }
}

void read_braces(const Table& enclosure, Job& job) {
    if (enclosure.is_list("braces")) {
        for (const Table& table : enclosure.tables("braces")) {
            parts::Brace brace;
            brace.name = table.text("name", fmt::format("brace {}", job.enclosure.braces.size() + 1));
            brace.axis = table.direction("axis");
            brace.at = table.point("at");
            brace.thickness = table.length("thickness", Allowed::Positive, brace.thickness);
            job.enclosure.braces.push_back(brace);
        }
        return;
    }
    job.enclosure.braces_to_place = enclosure.count("braces", 0, 0);
    if (job.enclosure.braces_to_place > kMostBraces)
        enclosure.refuse("braces", fmt::format("is {}; wanted at most {}", job.enclosure.braces_to_place, kMostBraces),
                         "more do not stiffen a box any further; places of your own are a list");
}

void read_load_section(const Table& load, Job& job) {
    job.enclosure.deceleration_g = load.number("deceleration", Allowed::Positive, 20.0, " g");
    if (job.enclosure.deceleration_g > 100.0)
        load.refuse("deceleration",
                    fmt::format("is {} g; wanted at most 100", plain_number(job.enclosure.deceleration_g)),
                    "it counts in g: 20 is a hard stop");
}

}  // namespace geom::job

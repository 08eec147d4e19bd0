// [box]: the shape, its sizes and walls, and how its boards meet.
#include "geom/core/text.h"
#include "geom/job/internal/sections.h"

#include <fmt/format.h>

#include <algorithm>

namespace geom::job {
namespace {

using parts::BoxRequest;
using parts::BoxShape;
using parts::BoxSize;

constexpr double kLeastSolved_mm = 20.0, kMostSolved_mm = 3000.0;
constexpr int kMostLayers = 4;

const std::vector<BoxSize>& all_sizes() {
    static const std::vector<BoxSize> all = {BoxSize::Width,    BoxSize::Height,      BoxSize::Depth,
                                             BoxSize::TopWidth, BoxSize::TopDepth,    BoxSize::Nose,
                                             BoxSize::Diameter, BoxSize::BackDiameter};
    return all;
}

bool slopes(const BoxRequest& box, const char* side) {
    return std::find(box.sloping.begin(), box.sloping.end(), side) != box.sloping.end();
}

std::vector<BoxSize> sizes_of(const BoxRequest& box) {
    switch (box.shape) {
        case BoxShape::Rectangular:
            return {BoxSize::Width, BoxSize::Height, BoxSize::Depth};
        case BoxShape::Wedge: {
            std::vector<BoxSize> sizes{BoxSize::Width, BoxSize::Height, BoxSize::Depth};
            if (slopes(box, "left") || slopes(box, "right")) sizes.push_back(BoxSize::TopWidth);
            if (slopes(box, "front") || slopes(box, "back")) sizes.push_back(BoxSize::TopDepth);
            return sizes;
        }
        case BoxShape::NosedWedge:
            return {BoxSize::Width, BoxSize::Height, BoxSize::Depth, BoxSize::TopDepth, BoxSize::Nose};
        case BoxShape::Cylinder:
            return {BoxSize::Diameter, BoxSize::Depth};
        case BoxShape::Frustum:
            return {BoxSize::Diameter, BoxSize::BackDiameter, BoxSize::Depth};
        case BoxShape::Prism:
            break;
    }
    switch (box.along) {
        case parts::PrismAlong::Width:
            return {BoxSize::Width};
        case parts::PrismAlong::Height:
            return {BoxSize::Height};
        case parts::PrismAlong::Depth:
            break;
    }
    return {BoxSize::Depth};
}

std::vector<std::string> sides_of(const BoxRequest& box) {
    switch (box.shape) {
        case BoxShape::Cylinder:
        case BoxShape::Frustum:
            return {"front", "back", "side"};
        case BoxShape::Prism: {
            std::vector<std::string> sides = {"front", "back", "left", "right", "top", "bottom", "side"};
            const std::size_t n = box.outline ? box.outline->path.size() : 0;
            for (std::size_t i = 1; i <= n; ++i) sides.push_back(fmt::format("side {}", i));
            return sides;
        }
        case BoxShape::NosedWedge:
            return {"front", "nose", "back", "left", "right", "top", "bottom"};
        case BoxShape::Rectangular:
        case BoxShape::Wedge:
            break;
    }
    return {"front", "back", "left", "right", "top", "bottom"};
}

void read_sloping(const Table& table, BoxRequest& box) {
    table.known("sloping");
    if (box.shape != BoxShape::Wedge) {
        if (table.has("sloping"))
            table.refuse("sloping", "is of a wedge, and the shape is another",
                         "leave it out, or give shape = \"wedge\"");
        return;
    }
    box.sloping = table.texts("sloping");
    for (const std::string& side : box.sloping)
        if (side != "front" && side != "back" && side != "left" && side != "right")
            table.refuse("sloping", fmt::format("names \"{}\"; wanted front, back, left or right", side),
                         "sides that lean towards the top, such as [\"front\"]");
}

/// A length, or "solve" for the one that is found.
void read_size(const Table& table, BoxSize size, BoxRequest& box) {
    const std::string key = parts::name_of(size);
    if (!table.is_text(key) || table.text(key) != "solve") {
        box.sizes[size] = table.length(key, Allowed::Positive);
        return;
    }
    if (box.solve)
        table.refuse(key,
                     fmt::format("is to be found as well as {}; wanted one size left open", parts::name_of(*box.solve)),
                     "give all sizes but one");
    box.solve = size;
}

void read_sizes(const Table& table, BoxRequest& box) {
    const std::vector<BoxSize> own = sizes_of(box);
    for (const BoxSize size : all_sizes()) {
        const std::string key = parts::name_of(size);
        if (std::find(own.begin(), own.end(), size) != own.end()) {
            read_size(table, size, box);
            continue;
        }
        table.known(key);
        if (!table.has(key)) continue;
        std::vector<std::string> names;
        for (const BoxSize s : own) names.push_back(parts::name_of(s));
        table.refuse(key, "is no size of this shape", "its sizes are " + listed(names));
    }
    table.known("solve_range");
    if (!box.solve) {
        if (table.has("solve_range"))
            table.refuse("solve_range", "stands beside sizes that are all given; wanted one \"solve\"",
                         "leave it out, or leave a size open");
        return;
    }
    box.solve_lo_mm = kLeastSolved_mm;
    box.solve_hi_mm = kMostSolved_mm;
    if (!table.has("solve_range")) {
        table.note("solve_range", fmt::format("{} mm to {} mm", kLeastSolved_mm, kMostSolved_mm), true);
        return;
    }
    const auto range = table.lengths("solve_range", 2, "two lengths, [least, most]");
    if (range.size() != 2) return;
    box.solve_lo_mm = range[0];
    box.solve_hi_mm = range[1];
    if (range[0] < 1.0 || range[1] <= range[0])
        table.refuse("solve_range",
                     fmt::format("is {} mm to {} mm; wanted the least, of 1 mm or more, before the most",
                                 plain_number(range[0]), plain_number(range[1])),
                     "the open size is looked for between the two");
}

std::vector<Length> layers_of(const Table& walls, const std::string& side) {
    std::vector<Length> layers;
    if (!walls.is_list(side)) return {walls.length(side, Allowed::Positive)};
    for (const double mm : walls.lengths(side, 1, kMostLayers,
                                         "a thickness, or up to four layers from the outside in, such as [18, 18]")) {
        if (mm <= 0.0) {
            walls.refuse(side, fmt::format("has a layer of {} mm; wanted more than 0", plain_number(mm)),
                         "give each board's thickness, the outermost first");
            break;
        }
        layers.push_back(Length::mm(mm));
    }
    return layers;
}

void read_walls(const Table& table, Job& job) {
    BoxRequest& box = *job.box;
    job.enclosure.wall = table.length("wall", Allowed::Positive);
    const Table walls = table.table("walls");
    if (!walls.is_there()) return;
    for (const std::string& side : sides_of(box))
        if (walls.has(side))
            box.walls[side] = layers_of(walls, side);
        else
            walls.known(side);
}

void read_joints(const Table& table, BoxRequest& box) {
    enum class Joints { Mitre, Butt };
    const Joints joints =
        table.choice<Joints>("joints", {{"mitre", Joints::Mitre}, {"butt", Joints::Butt}}, {}, Joints::Butt);
    table.known("through");
    const bool is_round = box.shape == BoxShape::Cylinder || box.shape == BoxShape::Frustum;
    if (joints == Joints::Mitre) {
        if (table.has("through"))
            table.refuse("through", "is of butt joints, and these are mitred",
                         "leave it out, or give joints = \"butt\"");
        return;
    }
    if (table.has("through")) {
        box.through = table.texts("through");
    } else {
        using parts::PrismAlong;
        if (is_round)
            box.through = {"front", "back"};
        else if (box.shape == BoxShape::NosedWedge)
            box.through = {"left", "right", "top", "bottom", "back", "nose", "front"};
        else if (box.shape != BoxShape::Prism)
            box.through = {"top", "bottom", "left", "right", "back", "front"};
        else if (box.along == PrismAlong::Depth)
            box.through = {"front", "back"};
        else
            box.through = box.along == PrismAlong::Width ? std::vector<std::string>{"left", "right"}
                                                         : std::vector<std::string>{"top", "bottom"};
        table.note("through", listed(box.through), true);
    }
}

}  // namespace

void read_box_section(const Table& top, Job& job) {
    BoxRequest& box = *job.box;
    const Table table = top.required_table("box");
    read_enclosure_of_box(top.table("enclosure"), job);
    if (!table.is_there()) return;
    box.shape = table.choice<BoxShape>("shape",
                                       {{"rectangular", BoxShape::Rectangular},
                                        {"wedge", BoxShape::Wedge},
                                        {"nosed wedge", BoxShape::NosedWedge},
                                        {"cylinder", BoxShape::Cylinder},
                                        {"frustum", BoxShape::Frustum},
                                        {"prism", BoxShape::Prism}},
                                       {}, std::nullopt);
    box.sizes_are_inside = table.choice<bool>("sizes", {{"outside", false}, {"inside", true}}, {}, false);
    table.known("outline");
    table.known("along");
    if (box.shape == BoxShape::Prism) {
        using parts::PrismAlong;
        box.outline = outline_of(table, "outline", job);
        box.along = table.choice<PrismAlong>(
            "along", {{"depth", PrismAlong::Depth}, {"width", PrismAlong::Width}, {"height", PrismAlong::Height}}, {},
            PrismAlong::Depth);
    } else {
        for (const char* key : {"outline", "along"})
            if (table.has(key))
                table.refuse(key, "is of a prism, and the shape is another", "leave it out, or give shape = \"prism\"");
    }
    read_sloping(table, box);
    read_sizes(table, box);
    read_walls(table, job);
    read_joints(table, box);
    box.baffle = table.text("baffle", box.shape == BoxShape::Prism && box.along != parts::PrismAlong::Depth
                                          ? (box.along == parts::PrismAlong::Width ? "right" : "top")
                                          : "front");
    if (box.solve && !job.enclosure.asks_volume)
        table.refuse(parts::name_of(*box.solve), "is to be found, and no volume is asked for",
                     "give [enclosure] net_volume, or the size");
    const double least = parts::least_wall(job.enclosure.make.method).mm();
    if (job.enclosure.wall.mm() > 0.0 && job.enclosure.wall.mm() < least)
        table.refuse("wall",
                     fmt::format("is {} mm; wanted at least {} mm by this method",
                                 plain_number(job.enclosure.wall.mm()), plain_number(least)),
                     "thicker boards, or another [make] method");
}

}  // namespace geom::job

#include "geom/core/text.h"
#include "geom/job/internal/sections.h"
#include "geom/space/plate.h"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

namespace geom::job {

namespace {

constexpr Length kDriverClearance = Length::mm(2);  // of a ring's driver to what was scanned [common practice]

/// sharp = true, false or "outside".
space::LimitEdges edges_of(const Table& table) {
    using space::LimitEdges;
    if (table.is_text("sharp"))
        return table.choice<LimitEdges>("sharp", {{"outside", LimitEdges::SharpOutside}}, {}, LimitEdges::SharpOutside);
    return table.flag("sharp", false) ? LimitEdges::Sharp : LimitEdges::Rounded;
}

/// The name of a limit, or a list of names.
std::vector<std::string> sharp_with(const Table& table) {
    const std::string key = "sharp_with";
    table.known(key);
    if (!table.has(key)) return {};
    if (table.is_text(key)) return {table.text(key)};
    if (table.is_list(key) && !table.is_list_empty(key)) return table.texts(key);
    table.refuse(key, "names no limit; wanted the name of another limit, or a list of names",
                 "such as sharp_with = \"rear\" or [\"rear\", \"top\"]; without the key the edges are rounded");
    return {};
}

void read_limits(const Table& space, space::RoomOptions& room) {
    for (const Table& table : space.tables("limits")) {
        space::Limit limit;
        limit.name = table.text("name", fmt::format("limit {}", room.limits.size() + 1));
        limit.plane = plane_of(table);
        limit.clearance = table.length("clearance", Allowed::NotNegative, Length::mm(0));
        limit.covering = table.flag("covering", true);
        limit.edges = edges_of(table);
        limit.sharp_with = sharp_with(table);
        room.limits.push_back(limit);
    }
}

void read_open_planes(const Table& space, space::RoomOptions& room) {
    for (const Table& table : space.tables("open")) {
        space::OpenPlane open;
        open.name = table.text("name", fmt::format("opening {}", room.open.size() + 1));
        open.plane = plane_of(table);
        room.open.push_back(open);
    }
    if (!space.has("open")) space.note("open", "the outermost baffle plane", true);
}

space::BoxShape box_of(const Table& table) {
    const space::BoxShape box{table.point("min"), table.point("max")};
    for (std::size_t a = 0; a < 3 && table.has("min") && table.has("max"); ++a) {
        if (box.min[a] < box.max[a]) continue;
        table.refuse("max",
                     fmt::format("is not beyond min along {}: {} mm to {} mm", "xyz"[a], plain_number(box.min[a]),
                                 plain_number(box.max[a])),
                     "min holds the least x, y and z, max the greatest");
        break;
    }
    return box;
}

space::CylinderShape cylinder_of(const Table& table) {
    const space::CylinderShape cylinder{table.point("from"), table.point("to"),
                                        table.length("radius", Allowed::Positive).mm()};
    if (table.has("from") && table.has("to") && distance(cylinder.from, cylinder.to) < 1e-6)
        table.refuse("to", "is the same point as from; wanted the other end of the axis");
    return cylinder;
}

space::SphereShape sphere_of(const Table& table) {
    const Point3 centre = table.point("centre");
    return {centre, table.length("radius", Allowed::Positive).mm()};
}

MeshToRead mesh_of(const Table& keep_out, const Table& table, const char* key, std::size_t index) {
    MeshToRead mesh;
    mesh.keep_out = index;
    mesh.file = table.file().folder() / table.text("file");
    const std::string job_unit(table.file().length_unit().name);
    mesh.unit = file_unit_of(length_unit_of(table, "length_unit", job_unit));
    mesh.title = keep_out.title_of(key);
    mesh.line = keep_out.line(key);
    return mesh;
}

/// { corners, thickness }
TriMesh plate_of(const Table& table) {
    const auto corners = table.points("corners", 3, 1000, "at least three corners, in order round the plate");
    const Length thickness = table.length("thickness", Allowed::Positive);
    if (corners.empty() || !(thickness.mm() > 0.0)) return {};
    auto mesh = space::plate_mesh(corners, thickness);
    if (mesh) return std::move(*mesh);
    table.refuse("corners", mesh.error().what, mesh.error().hint);
    return {};
}

space::Swing swing_of(const Table& table) {
    constexpr double kFullTurn_rad = 2.0 * std::numbers::pi + 1e-9;
    space::Swing swing;
    swing.hinge = table.point("hinge");
    swing.axis = table.direction("axis");
    swing.from = table.angle("from");
    swing.to = table.angle("to");
    for (const char* key : {"from", "to"}) {
        const Angle angle = key == std::string_view("from") ? swing.from : swing.to;
        if (std::abs(angle.rad()) > kFullTurn_rad)
            table.refuse(key,
                         fmt::format("is {}; wanted -360 to 360 deg", quantity_text(angle.rad(), QuantityKind::Angle)));
    }
    if (!table.has("from") || !table.has("to")) return swing;
    const double turn = std::abs(swing.to.rad() - swing.from.rad());
    if (turn < 1e-6)
        table.refuse("to", fmt::format("is {}, the same as from", quantity_text(swing.to.rad(), QuantityKind::Angle)),
                     "a flap that does not move is a mesh, a plate or a box");
    else if (turn > kFullTurn_rad)
        table.refuse(
            "to", fmt::format("is {} from from; wanted at most a full turn", quantity_text(turn, QuantityKind::Angle)));
    return swing;
}

space::Travel travel_of(const Table& table) {
    space::Travel slide;
    slide.path = table.points("path", 2, 1000,
                              "at least two shifts from where the shape is drawn, such as [[0, 0, 0], [0, 240, 15]]");
    double length = 0.0;
    for (std::size_t i = 1; i < slide.path.size(); ++i) length += distance(slide.path[i - 1], slide.path[i]);
    if (!slide.path.empty() && length < 1e-3)
        table.refuse("path", "goes nowhere; wanted two places apart", "a seat that does not move is a mesh or a box");
    return slide;
}

/// Reads the one shape that is drawn in numbers; `found` holds what else gives one, `others` names it.
void read_shape(const Table& table, space::KeepOut& keep_out, std::vector<std::string> found, const char* others) {
    const bool stands = !space::is_moving(keep_out.motion) && std::string_view(others) != "file";
    for (const char* shape : {"box", "cylinder", "sphere", "plate", "mesh"})
        if (table.has(shape) && (stands || shape != std::string_view("mesh"))) found.emplace_back(shape);
    if (const Table box = table.table("box"); box.is_there()) keep_out.shape = box_of(box);
    if (const Table cylinder = table.table("cylinder"); cylinder.is_there()) keep_out.shape = cylinder_of(cylinder);
    if (const Table sphere = table.table("sphere"); sphere.is_there()) keep_out.shape = sphere_of(sphere);
    if (const Table plate = table.table("plate"); plate.is_there()) keep_out.shape = plate_of(plate);
    if (found.size() != 1)
        table.file().add_fault(
            FaultCode::BadJob, table.line(),
            found.empty()
                ? fmt::format("{} has no shape; wanted one of box, cylinder, sphere, plate, {}{}", table.title(),
                              stands ? "mesh, " : "", others)
                : fmt::format("{} has {} shapes ({}); wanted one", table.title(), found.size(), listed(found)),
            "a keep-out has one shape; write another [[space.keep_out]] for another");
}

void read_keep_outs(const Table& space, Job& job, std::vector<MeshToRead>& meshes) {
    auto& room = job.enclosure.room;
    for (const Table& table : space.tables("keep_out")) {
        space::KeepOut keep_out;
        keep_out.name = table.text("name", fmt::format("keep-out {}", room.keep_outs.size() + 1));
        keep_out.clearance = table.length("clearance", Allowed::NotNegative, Length::mm(0));
        keep_out.covering = table.flag("covering", true);
        keep_out.blocks_tools = table.flag("blocks_tools", true);
        std::vector<std::string> shapes;
        for (const char* shape : {"swing", "slide"})
            if (table.has(shape)) shapes.emplace_back(shape);
        read_shape(table, keep_out, shapes, "swing, slide");
        if (const Table mesh = table.table("mesh"); mesh.is_there())
            meshes.push_back(mesh_of(table, mesh, "mesh", room.keep_outs.size()));
        for (const char* key : {"swing", "slide"}) {
            const Table moving = table.table(key);
            if (!moving.is_there()) continue;
            if (key == std::string_view("swing"))
                keep_out.motion = swing_of(moving);
            else
                keep_out.motion = travel_of(moving);
            std::vector<std::string> drawn;
            if (moving.has("file")) {
                drawn.emplace_back("file");
                meshes.push_back(mesh_of(table, moving, key, room.keep_outs.size()));
                meshes.back().may_be_open = true;
            }
            read_shape(moving, keep_out, drawn, "file");
            keep_out.on_way_in = moving.choice<space::OnWayIn>("way_in",
                                                               {{"from", space::OnWayIn::From},
                                                                {"to", space::OnWayIn::To},
                                                                {"swept", space::OnWayIn::Swept},
                                                                {"none", space::OnWayIn::None}},
                                                               {}, space::OnWayIn::From);
        }
        if (!meshes.empty() && meshes.back().keep_out == room.keep_outs.size())
            job.input_files.push_back(meshes.back().file);
        room.keep_outs.push_back(std::move(keep_out));
    }
}

/// The way in as moves, each a table with `slide`, or with `turn`, `axis` and `about`.
std::vector<space::Move> moves_of(const Table& space) {
    constexpr double kLeastSlide_mm = 1e-3, kLeastTurn_deg = 1e-3, kMostTurn_deg = 180.0;
    std::vector<space::Move> moves;
    for (const Table& table : space.tables("insert")) {
        for (const char* key : {"slide", "turn", "axis", "about"}) table.known(key);
        const bool slides = table.has("slide"), turns = table.has("turn");
        if (slides == turns) {
            const std::string what = table.title() + (slides ? " has both slide and turn; wanted one of them"
                                                             : " has neither slide nor turn; wanted one of them");
            const std::string hint =
                "one move slides or turns: { slide = [0, 120, 0] } or "
                "{ turn = \"20 deg\", axis = [1, 0, 0], about = [0, 10, 5] }";
            if (slides)
                table.file().add_fault(FaultCode::BadJob, table.line(), what, hint);
            else
                table.file().add_missing(table.line(), what, hint);
            continue;
        }
        if (slides) {
            for (const char* key : {"axis", "about"})
                if (table.has(key)) table.refuse(key, "stands beside slide; it belongs to a turn");
            const Vec3 by = table.point("slide");
            if (norm(by) < kLeastSlide_mm)
                table.refuse("slide", fmt::format("is {} mm, which goes nowhere", plain_vector(by)),
                             "give how far the part goes along each vehicle axis, such as [0, 120, 0]");
            else
                moves.emplace_back(space::Slide{by});
            continue;
        }
        const Angle angle = table.angle("turn");
        const Vec3 axis = table.direction("axis");
        const Point3 about = table.point("about");
        const double deg = std::abs(angle.deg());
        if (table.is_text("turn") && (deg < kLeastTurn_deg || deg > kMostTurn_deg + 1e-9))
            table.refuse("turn",
                         fmt::format("is {}; wanted up to 180 deg either way, and not nothing",
                                     quantity_text(angle.rad(), QuantityKind::Angle)),
                         "a larger turn is written as two");
        else
            moves.emplace_back(space::Turn{angle.rad(), axis, about});
    }
    return moves;
}

}  // namespace

void read_space_section(const Table& space, Job& job, std::vector<MeshToRead>& meshes) {
    space::RoomOptions& room = job.enclosure.room;
    room.clearance = space.length("clearance", Allowed::NotNegative, Length::mm(4));
    room.covering = space.length("covering", Allowed::NotNegative, Length::mm(0));
    room.edge_radius = space.length("edge_radius", Allowed::NotNegative, Length::mm(8));
    job.enclosure.inner_radius = space.length("inner_radius", Allowed::NotNegative, Length::mm(4));
    room.inner_radius = job.enclosure.inner_radius;
    space.known("insert");
    if (space.is_list("insert") && space.is_list_empty("insert"))
        space.refuse("insert", "is an empty list; wanted a direction, or moves that end seated",
                     "leave the key out for straight in through the baffle, or write [0, 1, 0] or "
                     "[ { slide = [0, 120, 0] } ]");
    else if (space.is_list_of_lists_or_tables("insert"))
        room.moves = moves_of(space);
    else
        room.insert = space.maybe_direction("insert", plain_vector(-room.baffle.outward));
    room.insert_clearance = space.length("insert_clearance", Allowed::NotNegative, room.clearance);
    read_limits(space, room);
    read_open_planes(space, room);
    read_keep_outs(space, job, meshes);
    if (const auto voxel = space.maybe_length("voxel", Allowed::Positive, "chosen from wall, rounding and clearance")) {
        room.voxel = *voxel;
        if (voxel->mm() < 0.25 || voxel->mm() > 10.0)
            space.refuse("voxel", fmt::format("is {}; wanted 0.25 mm to 10 mm",
                                              quantity_text(voxel->mm(), QuantityKind::Length)));
    }
}

void read_ring_space(const Table& space, Job& job, std::vector<MeshToRead>& meshes) {
    space::RoomOptions& room = job.enclosure.room;
    room.clearance = space.length("clearance", Allowed::NotNegative, kDriverClearance);
    read_limits(space, room);
    read_keep_outs(space, job, meshes);
    for (const char* key : {"covering", "edge_radius", "inner_radius", "insert", "insert_clearance", "open", "voxel"}) {
        space.known(key);
        if (space.has(key))
            space.refuse(key, "stands in a job of part = \"ring\"",
                         "of a ring's [space] count clearance, limits and keep_out");
    }
}

}  // namespace geom::job

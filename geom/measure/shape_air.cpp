#include "geom/measure/shape_air.h"

#include "geom/measure/internal/air_by_lips.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/shells.h"
#include "geom/measure/triangle_tree.h"
#include "geom/measure/winding_tree.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

namespace geom::measure {

namespace {

std::string place(Point3 p) {
    return fmt::format("{:.4g}, {:.4g}, {:.4g}", p.x, p.y, p.z);
}

Opening opening_at(const Plane& plane, const AskedOpening& asked, std::size_t number) {
    // The asked point laid into the plane; wide enough for an opening that is asked a little off its middle.
    const Point3 foot = asked.at - plane.outward * plane.height(asked.at);
    return {fmt::format("{}", number), {foot, plane.outward}, 0.5 * asked.width_mm * 1.25};
}

/// Planes near the opening whose faces look at the air, widest first.
std::vector<Plane> faces_round(const TriMesh& mesh, const TriangleTree& tree, const AskedOpening& asked,
                               Point3 inside) {
    Aabb near;
    const Vec3 reach = Vec3{1, 1, 1} * asked.width_mm;
    near.grow(asked.at - reach);
    near.grow(asked.at + reach);
    std::vector<std::uint32_t> found;
    tree.overlapping(near, found);
    struct Face {
        Plane plane;
        double area = 0.0;
    };
    std::vector<Face> faces;
    for (const std::uint32_t t : found) {
        const Point3 a = mesh.corner(t, 0);
        const Vec3 area = cross(mesh.corner(t, 1) - a, mesh.corner(t, 2) - a) * 0.5;
        if (norm(area) <= 0.0) continue;
        const Vec3 n = unit(area);
        // The material's outside is where the air is.
        if (dot(n, inside - a) <= 0.0) continue;
        const auto same = std::find_if(faces.begin(), faces.end(), [&](const Face& f) {
            return dot(f.plane.outward, -n) > 1.0 - 1e-5 && std::abs(f.plane.height(a)) < 0.02;
        });
        if (same != faces.end())
            same->area += norm(area);
        else
            faces.push_back({{a, -n}, norm(area)});
    }
    std::stable_sort(faces.begin(), faces.end(), [](const Face& a, const Face& b) { return a.area > b.area; });
    std::vector<Plane> planes;
    for (const Face& f : faces)
        if (std::abs(f.plane.height(asked.at)) <= asked.width_mm) planes.push_back(f.plane);
    if (planes.size() > 16) planes.resize(16);
    return planes;
}

/// Lids of the faces that look at the air, as a second method; also what each opening's lid measures.
void close_by_lids(const TriMesh& wall_side, ShapeAir& out) {
    const Shells shells = take_apart(wall_side);
    double volume = 0.0, slack = 0.0, area = 0.0;
    std::vector<BorderLoop> loops;
    for (const MeshShell& shell : shells.shells) {
        volume -= shell.volume_mm3;  // they look inwards
        area += shell.area_mm2;
        for (const BorderLoop& loop : shell.loops) {
            slack += loop.lid_mm2 * (loop.flatness_mm + 0.01);
            loops.push_back(loop);
        }
    }
    out.by_lids = Volume::mm3(std::abs(volume));
    out.bound = Volume::mm3(slack + 1e-9 * std::abs(volume));
    out.wall = Area::mm2(area);
    for (ClosedOpening& opening : out.closed)
        for (const BorderLoop& loop : loops) {
            const double off = std::abs(opening.plane.height(loop.middle));
            if (off > 0.05 || distance(loop.middle, opening.plane.point) > 0.5 * opening.width_mm + 1e-6) continue;
            opening.area_mm2 = loop.lid_mm2;
            opening.plane.point = loop.middle;
        }
    for (ClosedOpening& opening : out.closed)
        for (const BorderLoop& loop : loops)
            if (loop.middle == opening.plane.point) opening.width_mm = loop.width_mm;
}

/// A surface without thickness: borders are the openings.
Result<ShapeAir> air_of_sheet(const Shells& shells, Point3 inside, const std::vector<AskedOpening>& openings) {
    std::size_t holds = shells.shells.size();
    double least = 0.0;
    for (std::size_t i = 0; i < shells.shells.size(); ++i) {
        TriMesh mesh = shells.of_shell(i);
        for (const BorderLoop& loop : shells.shells[i].loops) mesh = merged({std::move(mesh), shells.lid(loop)});
        const double v = std::abs(shells.shells[i].volume_mm3);
        if (std::abs(winding_number(mesh, inside)) > 0.5 && (holds == shells.shells.size() || v < least))
            holds = i, least = v;
    }
    if (holds == shells.shells.size())
        return Fault{FaultCode::AirBlocked,
                     "inside: " + place(inside) + " lies in no part of the surface",
                     "give a point in the air, in mm and in the file's axes",
                     inside,
                     {}};
    ShapeAir out;
    const MeshShell& shell = shells.shells[holds];
    out.volume = Volume::mm3(least);
    out.by_lids = Volume::mm3(std::abs(shell.by_sections_mm3));
    out.wall = Area::mm2(shell.area_mm2);
    out.bound = Volume::mm3(1e-12 * shell.area_mm2 * norm(shell.box.size()));
    std::vector<char> used(openings.size(), 0);
    double beyond_mm3 = 0.0;
    for (const BorderLoop& loop : shell.loops) {
        std::size_t asked = openings.size();
        for (std::size_t i = 0; i < openings.size(); ++i)
            if (used[i] == 0 && distance(openings[i].at, loop.middle) <= 0.5 * loop.width_mm + 1e-9) asked = i;
        if (!openings.empty() && asked == openings.size())
            return Fault{FaultCode::AirBlocked,
                         fmt::format("there is one more opening, {:.4g} mm wide, that was not named", loop.width_mm),
                         fmt::format("name it: --opening {},{:.0f}", place(loop.middle), std::ceil(loop.width_mm)),
                         loop.middle,
                         {}};
        if (asked < openings.size()) used[asked] = 1;
        const Vec3 outward = shell.volume_mm3 < 0.0 ? -loop.normal : loop.normal;
        out.closed.push_back({asked < openings.size() ? openings[asked].at : loop.middle,
                              {loop.middle, outward},
                              loop.lid_mm2,
                              loop.width_mm,
                              "lid over a border"});
        // A border within a bent face: the face goes on over it, where one is found that fits it.
        const internal::Continued over = internal::continued(loop, shells.mesh, loop.width_mm);
        if (!over.lies_in_it || over.face.kind == "plane" || over.face.off_mm > 0.02 * loop.width_mm) continue;
        beyond_mm3 += shell.volume_mm3 < 0.0 ? -over.beyond_mm3 : over.beyond_mm3;
        out.closed.back().area_mm2 = over.area_mm2;
        out.closed.back().how = over.how();
        out.uncertainty += Volume::mm3(loop.lid_mm2 * 2.0 * over.face.off_mm);
        out.bound += Volume::mm3(std::abs(over.beyond_mm3)) + Volume::mm3(loop.lid_mm2 * 2.0 * over.face.off_mm);
    }
    out.volume += Volume::mm3(beyond_mm3);
    out.method = "signed tetrahedra of the surface and of what closes its borders";
    out.other = "areas of sections along z, with flat lids over the borders";
    for (std::size_t i = 0; i < openings.size(); ++i)
        if (used[i] == 0)
            return Fault{FaultCode::AirBlocked,
                         "opening: no border of the surface lies round " + place(openings[i].at),
                         "give a point nearer to its middle",
                         openings[i].at,
                         {}};
    return out;
}

/// Where all lips lie on planes, the mesh cut there is the first method and the lids are the second.
ShapeAir with_planes(const TriMesh& mesh, ShapeAir by_lips, Point3 inside) {
    std::vector<Opening> closed;
    for (const ClosedOpening& c : by_lips.closed) {
        if (c.how != internal::kFlush) return by_lips;
        closed.push_back({fmt::format("{}", closed.size() + 1), c.plane, 0.55 * c.width_mm});
    }
    const auto air = air_of_mesh(mesh, closed, inside);
    if (!air) return by_lips;
    by_lips.by_lids = by_lips.volume;
    by_lips.volume = air->volume;
    by_lips.bound = by_lips.uncertainty + Volume::mm3(1e-9 * air->volume.mm3());
    for (const ClosedOpening& c : by_lips.closed) by_lips.bound += Volume::mm3(0.01 * c.area_mm2);
    by_lips.method = ShapeAir{}.method;
    by_lips.other = ShapeAir{}.other;
    return by_lips;
}

}  // namespace

Result<ShapeAir> air_of_shape(const TriMesh& mesh, Point3 inside, const std::vector<AskedOpening>& openings,
                              const Context& context) {
    EXPECTS(!mesh.triangles.empty() && is_finite(inside));
    const Stage stage(context, "volume/air");
    const Shells shells = take_apart(mesh);
    if (std::any_of(shells.shells.begin(), shells.shells.end(), [](const MeshShell& s) { return !s.loops.empty(); }))
        return air_of_sheet(shells, inside, openings);
    if (winding_number(mesh, inside) > 0.5)
        return Fault{FaultCode::AirBlocked,
                     "inside: " + place(inside) + " lies in the material",
                     "give a point in the air, in mm and in the file's axes",
                     inside,
                     {}};
    // Sharp lips tell the inner face from the hole's side, so they come first; rounded ones are found by planes alone.
    auto by_lips = internal::air_by_lips(mesh, inside, openings, context);
    if (by_lips) return with_planes(mesh, std::move(*by_lips), inside);
    if (by_lips.error().code == FaultCode::Interrupted) return by_lips;
    const TriangleTree tree(mesh);
    std::vector<Opening> closed;
    ShapeAir out;
    for (const AskedOpening& asked : openings) {
        bool found = false;
        for (const Plane& plane : faces_round(mesh, tree, asked, inside)) {
            if (context.is_cancelled()) return Context::interrupted();
            const Opening opening = opening_at(plane, asked, closed.size() + 1);
            // With one opening capped the rest may stay open: only that its loop is there counts here.
            const auto alone = air_of_mesh(mesh, {opening}, inside);
            if (!alone && alone.error().what.starts_with("opening")) continue;
            closed.push_back(opening);
            out.closed.push_back({asked.at, opening.plane, 0.0, asked.width_mm, "flush with the inner face"});
            found = true;
            break;
        }
        if (!found)
            return Fault{FaultCode::AirBlocked,
                         fmt::format("opening: no face that looks at the air has a hole of up to {:.4g} mm round {}",
                                     asked.width_mm, place(asked.at)),
                         "give a point in the hole near its inner end, and a width that takes all of it in",
                         asked.at,
                         {}};
    }
    auto air = air_of_mesh(mesh, closed, inside);
    if (!air) {
        Fault fault = air.error();
        fault.stage = {};
        fault.code = FaultCode::AirBlocked;
        if (!fault.what.starts_with("opening"))
            fault.hint = "name every opening with --opening x,y,z,width; or the point lies outside of all hollows";
        return fault;
    }
    out.volume = air->volume;
    close_by_lids(air->wall_side, out);
    return out;
}

}  // namespace geom::measure

// A part made of planes and cylinders with everything that judge() looks at: shell with driver, terminal and two feet,
// in a gap whose walls stand a known distance off.
#pragma once

#include "tests/measure/shapes.h"

#include "geom/check/internal/case.h"
#include "geom/check/verdict.h"
#include "geom/measure/brep_measure.h"

#include <Message.hxx>
#include <Message_Messenger.hxx>
#include <STEPCAFControl_Writer.hxx>
#include <TDataStd_Name.hxx>
#include <TDocStd_Document.hxx>
#include <XCAFApp_Application.hxx>
#include <XCAFDoc_DocumentTool.hxx>
#include <XCAFDoc_ShapeTool.hxx>

namespace shapes {

inline void write_step(const std::vector<std::pair<std::string, TopoDS_Shape>>& products,
                       const std::filesystem::path& file) {
    Message::DefaultMessenger()->ChangePrinters().Clear();
    Handle(TDocStd_Document) document;
    XCAFApp_Application::GetApplication()->NewDocument("MDTV-XCAF", document);
    const Handle(XCAFDoc_ShapeTool) tool = XCAFDoc_DocumentTool::ShapeTool(document->Main());
    for (const auto& [name, shape] : products) TDataStd_Name::Set(tool->AddShape(shape, false), name.c_str());
    STEPCAFControl_Writer writer;
    writer.SetNameMode(true);
    writer.Transfer(document);
    writer.Write(file.string().c_str());
    XCAFApp_Application::GetApplication()->Close(document);
}

/// 200 x 160 x 120 outside (x, y, z), baffle at y = 0 looking to -y, 12 thick, wall 6; driver's hole of radius 50 about
/// (100, 0, 60); a foot's pad under the floor about (30, 40, -4.5).
struct TestPart {
    geom::parts::Made made;
    geom::parts::EnclosureRequest request;
    geom::scan::Surface surface;
    std::vector<std::pair<std::string, TopoDS_Shape>> step;  ///< what the STEP file will hold
    std::vector<TriMesh> meshes;                             ///< what the STL files will hold, one a product

    static constexpr double kWall = 6, kGap = 4.5, kHole = 50;
    double air_mm3 = 188.0 * 142 * 108 + kPi * kHole * kHole * 12;
    double driver_mm3 = 400e3;

    TestPart() {
        using namespace geom;
        const TopoDS_Shape outer = box({0, 0, 0}, {200, 160, 120}), air = box({6, 12, 6}, {194, 154, 114});
        const TopoDS_Shape pad =
            cut(cylinder({30, 40, -4.5}, {0, 0, 1}, 15, 5.5), cylinder({30, 40, -6}, {0, 0, 1}, 3.3, 2.0));
        const TopoDS_Shape shell = cut(fuse(cut(outer, air), pad), cylinder({100, -1, 60}, {0, 1, 0}, kHole, 20));

        request.name = "test";
        request.net_volume = Volume::mm3(air_mm3 - driver_mm3);
        request.wall = Length::mm(kWall);
        request.material = {"test plastic", 1000.0, false, 95.0};
        request.baffle.plane = {{100, 0, 60}, {0, -1, 0}};
        request.baffle.travel_lo_mm = -20;
        request.baffle.travel_hi_mm = 0;
        request.room.clearance = Length::mm(4);
        request.room.covering = Length::mm(0.5);
        request.room.baffle = request.baffle.plane;
        parts::DriverMount mount;
        mount.centre = {100, 0, 60};
        mount.driver.cutout_diameter = Length::mm(2 * kHole);
        mount.driver.basket_diameter = Length::mm(98);
        mount.driver.flange_diameter = Length::mm(112);
        mount.driver.mounting_depth = Length::mm(70);
        mount.driver.magnet_diameter = Length::mm(80);
        mount.driver.magnet_depth = Length::mm(30);
        mount.driver.mass_kg = 2.0;
        request.driver = mount;
        parts::Foot foot;
        foot.name = "rail";
        foot.point = {30, 40, -4.5};
        foot.axis = {0, 0, -1};
        foot.thread = "M6";
        request.feet.push_back(foot);

        parts::Enclosure& e = made.enclosure;
        e.products.push_back({"shell", to_brep(shell), request.material, {0.8f, 0.8f, 0.8f}, false});
        e.outer_body = to_brep(outer);
        e.air_body = to_brep(air);
        e.baffle_plane = e.seat_plane = request.baffle.plane;
        e.net_by_field = Volume::mm3((air_mm3 - driver_mm3) * 1.0002);
        e.net_by_brep = Volume::mm3(air_mm3 - driver_mm3);
        e.solids_in_air = Volume::mm3(driver_mm3);
        e.driver_seats = {e.seat_plane};
        e.openings = {{"driver", e.seat_plane, kHole}};
        e.air_pieces = {{"shell", e.openings, {100, 80, 60}}};
        parts::FixingMade made_foot;
        made_foot.name = "rail";
        made_foot.thread = "M6";
        made_foot.point = foot.point;
        made_foot.axis = foot.axis;
        made_foot.hole_mm = 9.6;  // with a metal sleeve round 6.6
        made_foot.has_metal_sleeve = true;
        made_foot.grip_mm = made_foot.bears_mm = 7.2;
        made_foot.seat_radius_mm = 18.5;
        made_foot.edge_distance_mm = 18.5;
        made_foot.edge_wanted_mm = 18;
        made_foot.web_section_mm2 = 230;
        made_foot.web_wanted_mm2 = 216;
        e.fixings.push_back(made_foot);
        // A second one far from it, so that nothing turns about the first.
        made_foot.name = "rail, right";
        made_foot.point.x = 170;
        e.fixings.push_back(made_foot);
        made.room.report.bound_mm = 0.24;
        made.room.report.edge_bound_mm = 0.8;
        made.room.report.field_bound_mm = 0.1;
        e.outer_quality.proud_max_mm = 0.32;

        // The gap: walls kGap off on five sides, before the mouth nothing; the foot stands on the floor.
        const double g = kGap;
        for (double a = -g; a <= 200 + g; a += 2)
            for (double b = 2; b <= 160 + g; b += 2) {
                add({a, b, -g});
                add({a, b, 120 + g});
            }
        for (double a = 0; a <= 120; a += 2)
            for (double b = 2; b <= 160 + g; b += 2) {
                add({-g, b, a});
                add({200 + g, b, a});
            }
        for (double a = -g; a <= 200 + g; a += 2)
            for (double b = 0; b <= 120; b += 2) add({a, 160 + g, b});
        surface.raw = surface.points;
        surface.bound_mm = 0.2;
        surface.spacing_mm = 2.0;

        step = {{"shell", shell}};
        meshes = {require(measure::tessellate(e.products[0].solid, request.make.chord_error, {}))};
    }

    void add(Point3 p) {
        surface.points.push_back(p);
        surface.normals.push_back({0, 0, 1});
        surface.radius_mm.push_back(1.8f);
    }

    geom::Result<geom::check::Verdict> judged(const std::string& folder_name = "judge") const {
        const Folder folder(folder_name);
        geom::check::Written written;
        written.step = folder / "part.step";
        write_step(step, written.step);
        for (std::size_t i = 0; i < meshes.size(); ++i) {
            written.products.push_back({made.enclosure.products[i].name, folder / (std::to_string(i) + ".stl")});
            write_stl(meshes[i], written.products.back().stl);
        }
        return geom::check::judge(made, request, surface, written, {});
    }
};

/// What one check works on, without the rest of the proof: no files, no meshes.
inline geom::check::Case bare_case(const TestPart& part, const geom::check::Written& written) {
    return {.made = part.made,
            .request = part.request,
            .surface = part.surface,
            .written = written,
            .context = {},
            .products = {},
            .part = {},
            .outer_body = {},
            .air_body = {}};
}

inline const geom::check::CheckLine& line(const geom::check::Verdict& verdict, const std::string& name) {
    for (const auto& l : verdict.lines)
        if (l.name == name) return l;
    FAIL("no line named " + name);
    return verdict.lines.front();
}

/// Names of the lines that failed.
inline std::vector<std::string> failed(const geom::check::Verdict& verdict) {
    std::vector<std::string> names;
    for (const auto& l : verdict.lines)
        if (!l.ok) names.push_back(l.name);
    return names;
}

}  // namespace shapes

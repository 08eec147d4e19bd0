// The solids of the reference, sections 4 to 5.3: on B-rep to 1e-9, through every format and unit within the chord.
#include "tests/measure/reference_solids.h"

#include "geom/measure/brep_measure.h"
#include "geom/measure/mesh_measure.h"
#include "geom/measure/shape_file.h"
#include "geom/measure/shape_volume.h"
#include "tests/measure/shapes.h"
#include "tests/support/mesh_files.h"
#include "tests/support/temp_folder.h"

#include <BRepBuilderAPI_GTransform.hxx>
#include <BRepPrimAPI_MakeSphere.hxx>
#include <Interface_Static.hxx>
#include <STEPControl_Writer.hxx>
#include <gp_GTrsf.hxx>

using namespace geom;
using namespace geom::measure;
using shapes::kPi;
using shapes::require;

namespace {

const Context kQuiet{};

bool agrees(double v, reference::Printed printed) {
    return std::abs(v - printed.value) <= 0.5000001 * printed.last_digit + 1e-12 * std::abs(printed.value);
}

/// The mesh in one file of each format and unit, read back and measured: `told` gets what it holds.
template <class Told>
void through_every_format(const TriMesh& mesh, const support::TempFolder& folder, Told&& told) {
    const auto measured = [&](const std::string& ending, std::optional<scan::FileUnit> unit, const std::string& bytes) {
        const std::string path = (folder.path() / ("a." + ending)).string();
        std::ofstream(path, std::ios::binary) << bytes;
        ShapeFile file = require(read_shape(path, unit, kQuiet));
        REQUIRE(file.mesh);
        INFO(ending << " " << (unit ? scan::name_of(*unit) : "") << " " << file.format);
        told(require(volume_of_mesh(std::move(*file.mesh), kQuiet)));
    };
    for (const scan::FileUnit unit : scan::kFileUnits) {
        const double f = 1.0 / scan::one(unit).mm();
        measured("stl", unit, support::stl_binary(mesh, f));
        measured("stl", unit, support::stl_text(mesh, f));
        measured("obj", unit, support::obj_text(mesh, f));
        measured("off", unit, support::off_text(mesh, f));
        measured("ply", unit, support::ply_binary(mesh, f));
        measured("ply", unit, support::ply_text(mesh, f));
    }
    measured("glb", {}, support::glb(mesh, 0.001));
    measured("gltf", {}, support::gltf_text(mesh, 0.001));
    for (const auto& [name, mm] : std::initializer_list<std::pair<const char*, double>>{{"micron", 0.001},
                                                                                        {"millimeter", 1},
                                                                                        {"centimeter", 10},
                                                                                        {"inch", 25.4},
                                                                                        {"foot", 304.8},
                                                                                        {"meter", 1000}})
        measured("3mf", {}, support::three_mf(mesh, 1.0 / mm, name));
}

void check_sound(const ShapeVolume& v) {
    REQUIRE(v.known);
    CHECK(v.exact);
    for (const SecondValue& other : v.others) CHECK(std::abs((other.volume - v.volume).mm3()) <= other.bound.mm3());
}

}  // namespace

TEST_CASE("the reference's B-rep solids hold their closed forms to 1e-9", "[reference_solids]") {
    for (const reference::Solid& s : reference::solids()) {
        INFO(s.section << " " << s.name);
        CHECK(agrees(s.formula_mm3, s.volume));
        for (const bool moved : {false, true}) {
            const TopoDS_Shape shape = moved ? shapes::moved(s.shape, shapes::skew_motion()) : s.shape;
            const ShapeVolume v = require(volume_of_breps({{s.name, to_brep(shape)}}, Length::mm(0.1), kQuiet));
            check_sound(v);
            CHECK(v.flaws.empty());
            REQUIRE(v.others.size() == 1);
            CHECK(v.volume.mm3() == Approx(s.formula_mm3).epsilon(1e-9));
            CHECK(v.low <= v.volume);
            CHECK(v.volume <= v.high);
            if (s.area.value > 0.0) CHECK(v.area.mm2() == Approx(s.area.value).margin(s.area.last_digit));
        }
    }
}

TEST_CASE("an ellipsoid of rational splines holds its closed form", "[reference_solids]") {
    const auto& s = reference::superellipsoids().front();
    gp_GTrsf stretch;
    for (int k = 1; k <= 3; ++k) stretch.SetValue(k, k, reference::kHalfAxes[static_cast<std::size_t>(k - 1)] / 50.0);
    const TopoDS_Shape shape = BRepBuilderAPI_GTransform(BRepPrimAPI_MakeSphere(50.0).Shape(), stretch, true).Shape();
    const ShapeVolume v = require(volume_of_breps({{s.name, to_brep(shape)}}, Length::mm(0.1), kQuiet));
    check_sound(v);
    CHECK(v.volume.mm3() == Approx(4.0 / 3.0 * kPi * 150 * 100 * 60).epsilon(1e-9));
    CHECK(v.area.mm2() == Approx(130777.463).epsilon(1e-8));
}

TEST_CASE("the reference's B-rep solids come through STEP in every unit", "[reference_solids]") {
    const support::TempFolder folder;
    const std::string path = (folder.path() / "a.step").string();
    for (const char* unit : {"UM", "MM", "CM", "M", "INCH", "FT"}) {
        Interface_Static::SetCVal("write.step.unit", unit);
        STEPControl_Writer writer;
        for (const reference::Solid& s : reference::solids()) writer.Transfer(s.shape, STEPControl_AsIs);
        REQUIRE(writer.Write(path.c_str()) == IFSelect_RetDone);
        Interface_Static::SetCVal("write.step.unit", "MM");
        const ShapeFile file = require(read_shape(path, {}, kQuiet));
        REQUIRE(file.breps.size() == reference::solids().size());
        for (std::size_t i = 0; i < file.breps.size(); ++i) {
            const reference::Solid& s = reference::solids()[i];
            INFO(unit << " " << s.section << " " << s.name);
            const SolidMeasure m = require(measure_solid(file.breps[i].shape, kQuiet));
            CHECK(m.closed);
            CHECK(m.volume.mm3() == Approx(s.formula_mm3).epsilon(1e-9));
        }
    }
}

TEST_CASE("the reference's solids come through every format and unit within the chord", "[reference_solids]") {
    const support::TempFolder folder;
    const double chord = 0.5;
    for (const reference::Solid& s : reference::solids()) {
        INFO(s.section << " " << s.name);
        const TriMesh mesh = require(tessellate(to_brep(s.shape), Length::mm(chord), kQuiet));
        const double own = signed_volume_mm3(mesh);
        through_every_format(mesh, folder, [&](const ShapeVolume& v) {
            check_sound(v);
            CHECK(std::abs(v.volume.mm3() - own) <= v.rounding.mm3());
            CHECK(std::abs(v.volume.mm3() - s.formula_mm3) <= v.area.mm2() * chord + v.rounding.mm3());
        });
    }
}

TEST_CASE("superellipsoids lie between their triangles and those stretched to hold them, in every format and unit",
          "[reference_solids]") {
    const support::TempFolder folder;
    for (const reference::Superellipsoid& s : reference::superellipsoids()) {
        INFO(s.name);
        const double formula = s.formula_mm3();
        CHECK(agrees(formula, s.volume));
        const TriMesh coarse = s.mesh(16);
        const double upper = s.upper_mm3(coarse);
        through_every_format(coarse, folder, [&](const ShapeVolume& v) {
            check_sound(v);
            CHECK(v.volume.mm3() <= formula + v.rounding.mm3());
            CHECK(upper >= formula);
        });
        // Fine ones close in on the printed value.
        const TriMesh fine = s.mesh(160);
        const ShapeVolume v = require(volume_of_mesh({.mesh = fine}, kQuiet));
        const double gap = s.upper_mm3(fine) - v.volume.mm3();
        CAPTURE(gap / formula);
        CHECK(formula - v.volume.mm3() <= gap);
        CHECK(gap < 2e-3 * formula);
        CHECK(v.volume.mm3() == Approx(s.volume.value).epsilon(1e-3));
    }
}

TEST_CASE("lanterns, prisms and a superellipse hold the reference's numbers", "[reference_solids]") {
    const support::TempFolder folder;
    struct Row {
        int n, m;
        reference::Printed area, volume;
    };
    for (const Row& row :
         {Row{16, 1, {31215.8921, 1e-4}, {770365.006, 1e-3}}, Row{16, 16, {31581.0838, 1e-4}, {770365.006, 1e-3}},
          Row{16, 256, {82874.5868, 1e-4}, {770365.006, 1e-3}}, Row{64, 64, {31426.6316, 1e-4}, {784452.345, 1e-3}},
          Row{64, 4096, {83591.9565, 1e-4}, {784452.345, 1e-3}}}) {
        INFO(row.n << " sides, " << row.m << " bands");
        const TriMesh mesh = reference::lantern(row.n, row.m);
        const double ends = row.n * 2500.0 * std::sin(2 * kPi / row.n);
        const bool small = row.n * row.m < 1000;
        const ShapeVolume v = require(volume_of_mesh({.mesh = mesh, .look_for_crossings = small}, kQuiet));
        check_sound(v);
        if (small) CHECK(v.flaws.empty());
        CHECK(agrees(v.volume.mm3(), row.volume));
        CHECK(agrees(v.area.mm2() - ends, row.area));
        if (!small) continue;
        through_every_format(mesh, folder, [&](const ShapeVolume& read) {
            check_sound(read);
            CHECK(std::abs((read.volume - v.volume).mm3()) <= read.rounding.mm3());
        });
    }
    // What an inscribed prism lacks of its cylinder.
    for (const auto& [r, n, percent] : std::initializer_list<std::tuple<double, int, double>>{
             {10, 71, 0.1305}, {10, 32, 0.6413}, {50, 158, 0.02635}, {100, 100, 0.06578}, {200, 315, 0.00663}}) {
        std::vector<std::array<double, 2>> outline;
        for (int i = 0; i < n; ++i) outline.push_back({r * std::cos(2 * kPi * i / n), r * std::sin(2 * kPi * i / n)});
        const ShapeVolume v = require(volume_of_mesh({.mesh = reference::prism(outline, 30)}, kQuiet));
        CHECK(100.0 * (1.0 - v.volume.mm3() / (kPi * r * r * 30)) == Approx(percent).margin(5.1e-5));
    }
    std::vector<std::array<double, 2>> superellipse;
    for (int i = 0; i < 20000; ++i) {
        const double u = 2 * kPi * i / 20000.0, c = std::cos(u), s = std::sin(u);
        superellipse.push_back(
            {std::copysign(150 * std::sqrt(std::abs(c)), c), std::copysign(100 * std::sqrt(std::abs(s)), s)});
    }
    const TriMesh plate = reference::prism(superellipse, 10);
    CHECK(require(volume_of_mesh({.mesh = plate, .look_for_crossings = false}, kQuiet)).volume.mm3() ==
          Approx(556222.403).epsilon(1e-6));
    for (const SectionRow& row : section_table(plate, 2, 4).rows)
        CHECK(row.area_mm2 == Approx(55622.2403).epsilon(1e-6));
}

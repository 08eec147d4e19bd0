#include "tests/measure/shapes.h"

#include "geom/measure/brep_measure.h"

#include <Message.hxx>
#include <Message_Messenger.hxx>
#include <STEPCAFControl_Writer.hxx>
#include <TDataStd_Name.hxx>
#include <TDocStd_Document.hxx>
#include <XCAFApp_Application.hxx>
#include <XCAFDoc_DocumentTool.hxx>
#include <XCAFDoc_ShapeTool.hxx>

using namespace shapes;
using geom::measure::read_step;

namespace {

struct Named {
    const char* name;
    TopoDS_Shape shape;
};

void write(const std::vector<Named>& products, const std::filesystem::path& file, bool as_assembly) {
    Message::DefaultMessenger()->ChangePrinters().Clear();  // the kernel's writer talks
    Handle(TDocStd_Document) document;
    XCAFApp_Application::GetApplication()->NewDocument("MDTV-XCAF", document);
    const Handle(XCAFDoc_ShapeTool) tool = XCAFDoc_DocumentTool::ShapeTool(document->Main());
    TDF_Label root;
    if (as_assembly) {
        root = tool->NewShape();
        TDataStd_Name::Set(root, "assembly");
    }
    gp_Trsf shift;
    shift.SetTranslation(gp_Vec(5, 6, 7));
    for (const Named& p : products) {
        const TDF_Label label = tool->AddShape(p.shape, false);
        TDataStd_Name::Set(label, p.name);
        if (as_assembly) tool->AddComponent(root, label, TopLoc_Location(shift));
    }
    tool->UpdateAssemblies();
    STEPCAFControl_Writer writer;
    writer.SetNameMode(true);
    REQUIRE(writer.Transfer(document));
    REQUIRE(writer.Write(file.string().c_str()) == IFSelect_RetDone);
    XCAFApp_Application::GetApplication()->Close(document);
}

}  // namespace

TEST_CASE("products of a STEP file come back with names, places and volumes", "[measure][step]") {
    const Folder folder("step");
    const std::vector<Named> products{{"shell", hill_block()}, {"baffle", cylinder({0, 0, 0}, {0, 0, 1}, 30, 12)}};
    const bool as_assembly = GENERATE(false, true);
    CAPTURE(as_assembly);
    write(products, folder / "a.step", as_assembly);
    const auto back = require(read_step((folder / "a.step").string()));
    REQUIRE(back.size() == 2);
    for (const auto& p : back) {
        const auto m = require(geom::measure::measure_solid(p.shape, {}));
        CHECK(m.valid);
        CHECK(m.closed);
        CHECK(m.solids == 1);
        const Vec3 shift = as_assembly ? Vec3{5, 6, 7} : Vec3{};
        if (p.name == "shell") {
            CHECK(m.volume.mm3() == Approx(hill_block_mm3()).epsilon(1e-9));
            CHECK(m.box.lo.x == Approx(shift.x).margin(1e-6));
        } else {
            CHECK(p.name == "baffle");
            CHECK(m.volume.mm3() == Approx(kPi * 900 * 12).epsilon(1e-9));
            CHECK(geom::distance(m.centre, Point3{0, 0, 6} + shift) < 1e-6);
        }
    }
}

TEST_CASE("a file that is no STEP is refused", "[measure][step][fault]") {
    const Folder folder("step-bad");
    std::ofstream(folder / "prose.step") << "this is no such file\n";
    for (const char* name : {"prose.step", "missing.step"}) {
        const auto result = read_step((folder / name).string());
        REQUIRE_FALSE(result.has_value());
        CHECK(result.error().code == geom::FaultCode::Unreadable);
    }
}

// The kernel's XCAF writer does the translation; the text it prints is then made the same for the same part:
//   header   written by us in whole: the kernel puts the clock, the user and its own counters there
//   names    every label has one, so that the writer never falls back on its numbered default
//   colours  written by us: the kernel's writer goes through the products in the order of their addresses
//   locale   the kernel's float writer prints under the "C" locale of the process unless a host program changed it;
//            compact_part21() prints the points anew in any case
// 3D curves alone describe the edges (no curves in parameter space): it halves the file, and every reader can project.
#include "exports/step.h"

#include "exports/internal/part21.h"
#include "exports/internal/write_bytes.h"
#include "geom/skin/internal/occt.h"

#include <Interface_Static.hxx>
#include <Message.hxx>
#include <Message_Messenger.hxx>
#include <STEPCAFControl_Controller.hxx>
#include <STEPCAFControl_Writer.hxx>
#include <STEPConstruct.hxx>
#include <StepData_Protocol.hxx>
#include <StepData_StepModel.hxx>
#include <StepData_StepWriter.hxx>
#include <StepRepr_Representation.hxx>
#include <StepRepr_RepresentationContext.hxx>
#include <StepRepr_RepresentationItem.hxx>
#include <TDF_Label.hxx>
#include <TDataStd_Name.hxx>
#include <TDocStd_Document.hxx>
#include <TopExp_Explorer.hxx>
#include <TopLoc_Location.hxx>
#include <Transfer_FinderProcess.hxx>
#include <XCAFDoc_DocumentTool.hxx>
#include <XCAFDoc_ShapeTool.hxx>
#include <XSControl_TransferWriter.hxx>
#include <XSControl_WorkSession.hxx>

#include <fmt/format.h>

#include <mutex>
#include <sstream>

namespace exports {
namespace {

using geom::parts::Product;

/// The kernel's settings are process-wide: one writer at a time.
std::mutex& kernel_settings() {
    static std::mutex mutex;
    return mutex;
}

/// Silences the kernel's messenger for as long as it lives: the library never prints.
class QuietKernel {
public:
    QuietKernel() : printers_(Message::DefaultMessenger()->Printers()) {
        Message::DefaultMessenger()->ChangePrinters().Clear();
    }
    ~QuietKernel() { Message::DefaultMessenger()->ChangePrinters() = printers_; }
    QuietKernel(const QuietKernel&) = delete;
    QuietKernel& operator=(const QuietKernel&) = delete;

private:
    Message_SequenceOfPrinters printers_;
};

void set_name(const TDF_Label& label, const std::string& utf8) {
    TDataStd_Name::Set(label, TCollection_ExtendedString(utf8.c_str(), Standard_True));
}

Handle(TDocStd_Document) assemble(const std::vector<Product>& products, const std::string& name) {
    Handle(TDocStd_Document) document = new TDocStd_Document("BinXCAF");
    const Handle(XCAFDoc_ShapeTool) shapes = XCAFDoc_DocumentTool::ShapeTool(document->Main());
    const TDF_Label assembly = shapes->NewShape();
    set_name(assembly, name);
    for (const Product& product : products) {
        const TDF_Label part = shapes->AddShape(to_occt(product.solid), Standard_False, Standard_False);
        set_name(part, product.name);
        if (product.is_tool) continue;
        set_name(shapes->AddComponent(assembly, part, TopLoc_Location()), product.name);
    }
    shapes->UpdateAssemblies();
    return document;
}

std::string header(const std::string& name) {
    const std::string n = part21_string(name);
    return "ISO-10303-21;\nHEADER;\n"
           "FILE_DESCRIPTION(('" +
           n +
           "'),'2;1');\n"
           "FILE_NAME('" +
           n +
           ".step','1970-01-01T00:00:00',(''),(''),'gapwright','gapwright','');\n"
           "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));\nENDSEC;\n";
}

/// Entity numbers of the solids of a product, and of the context of the representation that holds them.
struct Styled {
    std::vector<int> items;
    int context = 0;
};

Styled find_solids(const Product& product, const Handle(StepData_StepModel) & model,
                   const Handle(Transfer_FinderProcess) & finder) {
    Styled styled;
    std::vector<Handle(StepRepr_RepresentationItem)> items;
    for (TopExp_Explorer e(to_occt(product.solid), TopAbs_SOLID); e.More(); e.Next()) {
        const Handle(StepRepr_RepresentationItem) item = STEPConstruct::FindEntity(finder, e.Current());
        if (item.IsNull()) continue;
        items.push_back(item);
        styled.items.push_back(model->Number(item));
    }
    for (int i = 1; i <= model->NbEntities() && styled.context == 0 && !items.empty(); ++i) {
        const auto representation = Handle(StepRepr_Representation)::DownCast(model->Value(i));
        if (representation.IsNull() || representation->Items().IsNull()) continue;
        for (int k = 1; k <= representation->NbItems(); ++k)
            if (representation->ItemsValue(k) == items.front())
                styled.context = model->Number(representation->ContextOfItems());
    }
    return styled;
}

/// ISO 10303-46 presentation: one styled item a solid, one colour a product.
std::string colour_entities(const Product& product, const Styled& styled, int& last) {
    if (styled.items.empty() || styled.context == 0) return {};
    const auto& c = product.colour;
    const int colour = ++last, fill = ++last, area = ++last, side = ++last, usage = ++last, style = ++last;
    std::string text = fmt::format(
        "#{}=COLOUR_RGB('',{},{},{});\n"
        "#{}=FILL_AREA_STYLE_COLOUR('',#{});\n"
        "#{}=FILL_AREA_STYLE('',(#{}));\n"
        "#{}=SURFACE_STYLE_FILL_AREA(#{});\n"
        "#{}=SURFACE_SIDE_STYLE('',(#{}));\n"
        "#{}=SURFACE_STYLE_USAGE(.BOTH.,#{});\n",
        colour, part21_real(static_cast<double>(c[0]), 6), part21_real(static_cast<double>(c[1]), 6),
        part21_real(static_cast<double>(c[2]), 6), fill, colour, area, fill, style, area, side, style, usage, side);
    const int assignment = ++last;
    text += fmt::format("#{}=PRESENTATION_STYLE_ASSIGNMENT((#{}));\n", assignment, usage);
    std::string items;
    for (const int item : styled.items) {
        text += fmt::format("#{}=STYLED_ITEM('color',(#{}),#{});\n", ++last, assignment, item);
        items += fmt::format("{}#{}", items.empty() ? "" : ",", last);
    }
    text += fmt::format("#{}=MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION('',({}),#{});\n", ++last, items,
                        styled.context);
    return text;
}

}  // namespace

geom::Result<std::string> step_text(const std::vector<Product>& products, const std::string& name,
                                    const StepOptions& options) {
    EXPECTS(!products.empty());
    for (const Product& product : products) EXPECTS(!product.solid.is_null());
    EXPECTS(options.point_decimals >= 6 && options.point_decimals <= 15);
    const std::scoped_lock lock(kernel_settings());
    return geom::guard_occt("files", [&]() -> geom::Result<std::string> {
        const QuietKernel quiet;
        STEPCAFControl_Controller::Init();
        Interface_Static::SetCVal("write.step.schema", "AP214IS");
        Interface_Static::SetCVal("write.step.unit", "MM");
        Interface_Static::SetCVal("xstep.cascade.unit", "MM");
        Interface_Static::SetIVal("write.surfacecurve.mode", 0);
        Interface_Static::SetIVal("write.precision.mode", 0);
        Interface_Static::SetCVal("write.step.product.name", "part");

        const Handle(TDocStd_Document) document = assemble(products, name);
        STEPCAFControl_Writer writer;
        writer.SetColorMode(Standard_False);
        writer.SetNameMode(Standard_True);
        writer.SetLayerMode(Standard_False);
        writer.SetPropsMode(Standard_False);
        writer.SetDimTolMode(Standard_False);
        writer.SetMaterialMode(Standard_False);
        if (!writer.Transfer(document, STEPControl_AsIs))
            return geom::Fault{
                geom::FaultCode::Internal, "STEP: the kernel could not translate the part", {}, {}, "files"};

        const Handle(StepData_StepModel) model = writer.ChangeWriter().Model();
        StepData_StepWriter printer(model);
        printer.SendModel(Handle(StepData_Protocol)::DownCast(writer.ChangeWriter().WS()->Protocol()));
        std::ostringstream text;
        text.imbue(std::locale::classic());
        printer.Print(text);
        const std::string whole = text.str();
        const std::size_t data = whole.find("DATA;"), end = whole.rfind("ENDSEC;");
        if (data == std::string::npos || end < data)
            return geom::Fault{geom::FaultCode::Internal, "STEP: the kernel printed no data section", {}, {}, "files"};
        std::string out = header(name);
        out += compact_part21(std::string_view(whole).substr(data, end - data), options.point_decimals);
        int last = model->NbEntities();
        for (const Product& product : products)
            out += colour_entities(
                product, find_solids(product, model, writer.ChangeWriter().WS()->TransferWriter()->FinderProcess()),
                last);
        out += "ENDSEC;\nEND-ISO-10303-21;\n";
        return out;
    });
}

geom::Status write_step(const std::vector<Product>& products, const std::string& name,
                        const std::filesystem::path& file, const StepOptions& options) {
    GAPWRIGHT_TRY(text, step_text(products, name, options));
    return write_bytes(file, text);
}

}  // namespace exports

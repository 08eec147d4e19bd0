// The kernel's XCAF writer does the translation; the text it prints is then made the same for the same part:
//   header   written by us in whole: the kernel puts the clock, the user and its own counters there
//   names    every label has one, so that the writer never falls back on its numbered default
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
#include <Quantity_Color.hxx>
#include <STEPCAFControl_Controller.hxx>
#include <STEPCAFControl_Writer.hxx>
#include <StepData_Protocol.hxx>
#include <StepData_StepModel.hxx>
#include <StepData_StepWriter.hxx>
#include <TDF_Label.hxx>
#include <TDataStd_Name.hxx>
#include <TDocStd_Document.hxx>
#include <TopLoc_Location.hxx>
#include <XCAFDoc_ColorTool.hxx>
#include <XCAFDoc_DocumentTool.hxx>
#include <XCAFDoc_ShapeTool.hxx>
#include <XSControl_WorkSession.hxx>

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
    const Handle(XCAFDoc_ColorTool) colours = XCAFDoc_DocumentTool::ColorTool(document->Main());
    const TDF_Label assembly = shapes->NewShape();
    set_name(assembly, name);
    for (const Product& product : products) {
        const TDF_Label part = shapes->AddShape(to_occt(product.solid), Standard_False, Standard_False);
        set_name(part, product.name);
        const auto& c = product.colour;
        colours->SetColor(part, Quantity_Color(c[0], c[1], c[2], Quantity_TOC_sRGB), XCAFDoc_ColorSurf);
        if (product.is_tool) continue;
        set_name(shapes->AddComponent(assembly, part, TopLoc_Location()), product.name);
    }
    shapes->UpdateAssemblies();
    return document;
}

std::string header(const std::string& name) {
    const std::string n = part21_string(name);
    return "ISO-10303-21;\nHEADER;\n"
           "FILE_DESCRIPTION(('" + n + "'),'2;1');\n"
           "FILE_NAME('" + n + ".step','1970-01-01T00:00:00',(''),(''),'gapwright','gapwright','');\n"
           "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));\nENDSEC;\n";
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
        writer.SetColorMode(Standard_True);
        writer.SetNameMode(Standard_True);
        writer.SetLayerMode(Standard_False);
        writer.SetPropsMode(Standard_False);
        writer.SetDimTolMode(Standard_False);
        writer.SetMaterialMode(Standard_False);
        if (!writer.Transfer(document, STEPControl_AsIs))
            return geom::Fault{geom::FaultCode::Internal, "STEP: the kernel could not translate the part", {}, {}, "files"};

        const Handle(StepData_StepModel) model = writer.ChangeWriter().Model();
        StepData_StepWriter printer(model);
        printer.SendModel(Handle(StepData_Protocol)::DownCast(writer.ChangeWriter().WS()->Protocol()));
        std::ostringstream text;
        text.imbue(std::locale::classic());
        printer.Print(text);
        const std::string whole = text.str();
        const std::size_t data = whole.find("DATA;");
        if (data == std::string::npos)
            return geom::Fault{geom::FaultCode::Internal, "STEP: the kernel printed no data section", {}, {}, "files"};
        return header(name) + compact_part21(std::string_view(whole).substr(data), options.point_decimals);
    });
}

geom::Status write_step(const std::vector<Product>& products, const std::string& name,
                        const std::filesystem::path& file, const StepOptions& options) {
    GAPWRIGHT_TRY(text, step_text(products, name, options));
    return write_bytes(file, text);
}

}  // namespace exports

// Products come back through the assembly document: a name and a placed solid for each leaf of the tree.
#include "geom/measure/brep_measure.h"

#include "geom/skin/internal/occt.h"

#include <Message.hxx>
#include <Message_Messenger.hxx>
#include <Message_Printer.hxx>
#include <Message_SequenceOfPrinters.hxx>
#include <STEPCAFControl_Reader.hxx>
#include <TCollection_AsciiString.hxx>
#include <TDF_LabelSequence.hxx>
#include <TDataStd_Name.hxx>
#include <TDocStd_Document.hxx>
#include <XCAFApp_Application.hxx>
#include <XCAFDoc_DocumentTool.hxx>
#include <XCAFDoc_ShapeTool.hxx>

namespace geom::measure {

namespace {

/// The kernel reports on the terminal unless its printers are taken away.
class Silence {
public:
    Silence() : printers_(Message::DefaultMessenger()->Printers()) {
        Message::DefaultMessenger()->ChangePrinters().Clear();
    }
    ~Silence() { Message::DefaultMessenger()->ChangePrinters() = printers_; }
    Silence(const Silence&) = delete;
    Silence& operator=(const Silence&) = delete;

private:
    Message_SequenceOfPrinters printers_;
};

std::string name_of(const TDF_Label& label) {
    Handle(TDataStd_Name) name;
    if (!label.FindAttribute(TDataStd_Name::GetID(), name)) return {};
    return TCollection_AsciiString(name->Get(), '?').ToCString();
}

void add_leaves(const TDF_Label& label, const TopLoc_Location& place, std::vector<StepProduct>& out) {
    TDF_Label real = label;
    TopLoc_Location here = place;
    if (XCAFDoc_ShapeTool::IsReference(label)) {
        XCAFDoc_ShapeTool::GetReferredShape(label, real);
        here = place * XCAFDoc_ShapeTool::GetLocation(label);
    }
    if (XCAFDoc_ShapeTool::IsAssembly(real)) {
        TDF_LabelSequence parts;
        XCAFDoc_ShapeTool::GetComponents(real, parts);
        for (const TDF_Label& part : parts) add_leaves(part, here, out);
        return;
    }
    const TopoDS_Shape shape = XCAFDoc_ShapeTool::GetShape(real);
    if (!shape.IsNull()) out.push_back({name_of(real), to_brep(shape.Moved(here))});
}

}  // namespace

Result<std::vector<StepProduct>> read_step(const std::string& file) {
    return guard_occt("read STEP", [&]() -> Result<std::vector<StepProduct>> {
        const Silence silence;
        const auto unreadable = [&](const char* why) {
            return Fault{FaultCode::Unreadable, file + ": " + why, "write it again", {}, "files"};
        };
        STEPCAFControl_Reader reader;
        reader.SetNameMode(true);
        reader.SetColorMode(false);
        reader.SetLayerMode(false);
        if (reader.ReadFile(file.c_str()) != IFSelect_RetDone) return unreadable("no STEP file, or a broken one");
        const Handle(XCAFApp_Application) application = XCAFApp_Application::GetApplication();
        Handle(TDocStd_Document) document;
        application->NewDocument("MDTV-XCAF", document);
        if (!reader.Transfer(document)) {
            application->Close(document);
            return unreadable("holds no product that the kernel can take over");
        }
        std::vector<StepProduct> products;
        TDF_LabelSequence roots;
        XCAFDoc_DocumentTool::ShapeTool(document->Main())->GetFreeShapes(roots);
        for (const TDF_Label& root : roots) add_leaves(root, TopLoc_Location(), products);
        application->Close(document);
        if (products.empty()) return unreadable("holds no product");
        return products;
    });
}

}  // namespace geom::measure

// The library dxflib knows the sections, tables and objects that a reader of release 2000 wants; what it prints goes
// through our own printer, so that numbers follow neither its rounding nor the locale.
#include "exports/dxf.h"

#include "exports/internal/write_bytes.h"

#include <fmt/format.h>

#include <dxflib/dl_dxf.h>

#include <array>
#include <cmath>

namespace exports {
namespace {

using geom::parts::FlatCircle;
using geom::parts::FlatDrawing;
using geom::parts::FlatPath;
using geom::parts::FlatPoint;
using geom::parts::FlatText;
using geom::parts::Operation;

constexpr int kDecimals = 9, kBulgeDecimals = 14;
constexpr int kBulgeCode = 42, kCommentCode = 999;

struct Layer {
    Operation operation;
    const char* name;
    int colour;  ///< of the format's own index
};
constexpr std::array<Layer, 7> kLayers{{{Operation::Outline, "outline", 7},
                                        {Operation::ThroughHole, "through-holes", 5},
                                        {Operation::Pocket, "pockets", 3},
                                        {Operation::Countersink, "countersinks", 6},
                                        {Operation::BendLine, "bend-lines", 1},
                                        {Operation::Text, "text", 8},
                                        {Operation::Reference, "reference", 9}}};

const char* layer_of(Operation operation) {
    for (const Layer& layer : kLayers)
        if (layer.operation == operation) return layer.name;
    return "0";
}

std::string real(double value, int decimals) {
    std::string text = fmt::format("{:.{}f}", value, decimals);
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text += '0';
    return text == "-0.0" ? "0.0" : text;
}

/// Collects the pairs of group code and value in memory.
class Printer : public DL_WriterA {
public:
    Printer() : DL_WriterA("", DL_VERSION_2000) {}
    void dxfReal(int code, double value) const override {
        pair(code, real(value, code == kBulgeCode ? kBulgeDecimals : kDecimals));
    }
    void dxfInt(int code, int value) const override { pair(code, std::to_string(value)); }
    void dxfHex(int code, int value) const override { pair(code, fmt::format("{:X}", value)); }
    void dxfString(int code, const char* value) const override { pair(code, value); }
    void dxfString(int code, const std::string& value) const override { pair(code, value); }

    std::string take() { return std::move(text_); }

private:
    void pair(int code, std::string_view value) const {
        if (code != kCommentCode) text_ += fmt::format("{:>3}\n{}\n", code, value);
    }
    mutable std::string text_;
};

DL_Attributes by_layer(const char* layer) {
    return {layer, 256, -1, "BYLAYER", 1.0};
}

void write_tables(DL_Dxf& dxf, Printer& out) {
    out.sectionTables();
    dxf.writeVPort(out);
    out.tableLinetypes(3);
    for (const char* name : {"BYBLOCK", "BYLAYER", "CONTINUOUS"})
        dxf.writeLinetype(out, DL_LinetypeData(name, name, 0, 0, 0.0));
    out.tableEnd();
    out.tableLayers(static_cast<int>(kLayers.size()) + 1);
    dxf.writeLayer(out, DL_LayerData("0", 0), DL_Attributes("", 7, -1, "CONTINUOUS", 1.0));
    for (const Layer& layer : kLayers)
        dxf.writeLayer(out, DL_LayerData(layer.name, 0), DL_Attributes("", layer.colour, -1, "CONTINUOUS", 1.0));
    out.tableEnd();
    out.tableStyle(1);
    dxf.writeStyle(out, DL_StyleData("standard", 0, 0.0, 1.0, 0.0, 0, 2.5, "txt", ""));
    out.tableEnd();
    dxf.writeView(out);
    dxf.writeUcs(out);
    out.tableAppid(1);
    dxf.writeAppid(out, "ACAD");
    out.tableEnd();
    dxf.writeDimStyle(out, 2.5, 1.25, 0.625, 0.625, 2.5);
    dxf.writeBlockRecord(out);
    out.tableEnd();
    out.sectionEnd();
}

void write_path(DL_Dxf& dxf, Printer& out, const FlatPath& path) {
    EXPECTS(path.points.size() >= 2);
    const DL_Attributes attributes = by_layer(layer_of(path.operation));
    if (!path.is_closed && path.points.size() == 2 && path.points[0].bulge == 0.0) {
        dxf.writeLine(out,
                      DL_LineData(path.points[0].x, path.points[0].y, 0.0, path.points[1].x, path.points[1].y, 0.0),
                      attributes);
        return;
    }
    dxf.writePolyline(out, DL_PolylineData(static_cast<int>(path.points.size()), 0, 0, path.is_closed ? 1 : 0),
                      attributes);
    for (const FlatPoint& p : path.points) dxf.writeVertex(out, DL_VertexData(p.x, p.y, 0.0, p.bulge));
    dxf.writePolylineEnd(out);
}

}  // namespace

std::string dxf_text(const FlatDrawing& drawing) {
    EXPECTS(!drawing.paths.empty() || !drawing.circles.empty());
    DL_Dxf dxf;
    Printer out;
    dxf.writeHeader(out);
    out.dxfString(9, "$INSUNITS");
    out.dxfInt(70, 4);
    out.dxfString(9, "$MEASUREMENT");
    out.dxfInt(70, 1);
    out.sectionEnd();
    write_tables(dxf, out);
    out.sectionBlocks();
    for (const char* name : {"*Model_Space", "*Paper_Space", "*Paper_Space0"}) {
        dxf.writeBlock(out, DL_BlockData(name, 0, 0.0, 0.0, 0.0));
        dxf.writeEndBlock(out, name);
    }
    out.sectionEnd();

    out.sectionEntities();
    for (const FlatPath& path : drawing.paths) write_path(dxf, out, path);
    for (const FlatCircle& circle : drawing.circles)
        dxf.writeCircle(out, DL_CircleData(circle.x, circle.y, 0.0, circle.radius_mm),
                        by_layer(layer_of(circle.operation)));
    for (const FlatText& text : drawing.texts)
        dxf.writeText(out,
                      DL_TextData(text.x, text.y, 0.0, text.x, text.y, 0.0, text.height_mm, 1.0, 0, 0, 0, text.text,
                                  "standard", 0.0),
                      by_layer(layer_of(Operation::Text)));
    out.sectionEnd();
    dxf.writeObjects(out);
    dxf.writeObjectsEnd(out);
    out.dxfEOF();
    return out.take();
}

geom::Status write_dxf(const FlatDrawing& drawing, const std::filesystem::path& file) {
    return write_bytes(file, dxf_text(drawing));
}

}  // namespace exports

// The SVG is written by hand: lines as one path a pen, letters as text that stays editable. The raster is painted by
// Cairo on an image in memory; no display is asked for.
#include "exports/internal/sheet.h"

#include <cairo.h>
#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <cstdio>
#include <memory>
#include <numbers>

namespace exports {
namespace {

/// Three decimals at most, no trailing zeros, never the locale's comma.
std::string text_of(double v) {
    char buffer[64];
    const auto end = std::to_chars(buffer, buffer + sizeof buffer, v, std::chars_format::fixed, 3).ptr;
    std::string text(buffer, end);
    while (text.back() == '0') text.pop_back();
    if (text.back() == '.') text.pop_back();
    if (text == "-0") text.erase(0, 1);
    return text;
}

std::string hex(const Rgb& colour) {
    char buffer[8];
    const auto byte = [](double v) {
        return static_cast<unsigned>(std::lround(std::fmin(std::fmax(v, 0.0), 1.0) * 255.0));
    };
    std::snprintf(buffer, sizeof buffer, "#%02x%02x%02x", byte(colour[0]), byte(colour[1]), byte(colour[2]));
    return buffer;
}

std::string escaped(const std::string& text) {
    std::string out;
    for (const char c : text) {
        if (c == '&')
            out += "&amp;";
        else if (c == '<')
            out += "&lt;";
        else if (c == '>')
            out += "&gt;";
        else if (c == '"')
            out += "&quot;";
        else
            out += static_cast<unsigned char>(c) < 0x20 ? ' ' : c;
    }
    return out;
}

std::string path_of(const std::vector<std::vector<Sheet::Point>>& lines, bool close) {
    std::string d;
    for (const auto& line : lines) {
        for (std::size_t i = 0; i < line.size(); ++i)
            d.append(i == 0   ? "M"
                     : i == 1 ? "L"
                              : " ")
                .append(text_of(line[i].x))
                .append(",")
                .append(text_of(line[i].y));
        if (close) d.append("Z");
    }
    return d;
}

struct SurfaceDeleter {
    void operator()(cairo_surface_t* s) const { cairo_surface_destroy(s); }
};
struct ContextDeleter {
    void operator()(cairo_t* c) const { cairo_destroy(c); }
};
using Surface = std::unique_ptr<cairo_surface_t, SurfaceDeleter>;
using Painter = std::unique_ptr<cairo_t, ContextDeleter>;

Surface surface_on(Raster& raster) {
    // RGB24 keeps one 32-bit word a pixel, the upper byte unused, rows without padding.
    return Surface(cairo_image_surface_create_for_data(reinterpret_cast<unsigned char*>(raster.pixels.data()),
                                                       CAIRO_FORMAT_RGB24, raster.width, raster.height,
                                                       4 * raster.width));
}

}  // namespace

void Sheet::draw(const std::vector<std::vector<Point>>& lines, const Pen& pen) {
    if (lines.empty()) return;
    Item item;
    item.lines = lines;
    item.pen = pen;
    items_.push_back(std::move(item));
}

void Sheet::fill(const std::vector<Point>& polygon, const Rgb& colour) {
    Item item;
    item.kind = Item::Kind::Fill;
    item.lines = {polygon};
    item.pen.colour = colour;
    items_.push_back(std::move(item));
}

void Sheet::write(Point at, const std::string& text, const Letters& letters) {
    Item item;
    item.kind = Item::Kind::Text;
    item.lines = {{at}};
    item.text = text;
    item.letters = letters;
    items_.push_back(std::move(item));
}

std::string Sheet::svg(const std::string& title) const {
    const std::string w = text_of(width_mm_), h = text_of(height_mm_);
    std::string out = fmt::format(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}mm\" height=\"{1}mm\" viewBox=\"0 0 {0} {1}\">\n"
        "<title>{2}</title>\n<rect width=\"{0}\" height=\"{1}\" fill=\"#ffffff\"/>\n",
        w, h, escaped(title));
    for (const Item& item : items_) {
        switch (item.kind) {
            case Item::Kind::Lines: {
                std::string more;
                if (item.pen.opacity < 1.0) more += fmt::format(" stroke-opacity=\"{}\"", text_of(item.pen.opacity));
                if (!item.pen.dashes_mm.empty()) {
                    more.append(" stroke-dasharray=\"");
                    for (const double dash : item.pen.dashes_mm) more.append(text_of(dash)).append(" ");
                    more.back() = '"';
                }
                out += fmt::format(
                    "<path fill=\"none\" stroke=\"{}\" stroke-width=\"{}\" stroke-linecap=\"round\" "
                    "stroke-linejoin=\"round\"{} d=\"{}\"/>\n",
                    hex(item.pen.colour), text_of(item.pen.width_mm), more, path_of(item.lines, false));
                break;
            }
            case Item::Kind::Fill:
                out += fmt::format("<path fill=\"{}\" d=\"{}\"/>\n", hex(item.pen.colour), path_of(item.lines, true));
                break;
            case Item::Kind::Text: {
                const std::string x = text_of(item.lines[0][0].x), y = text_of(item.lines[0][0].y);
                const char* anchor = item.letters.anchor == Anchor::Start    ? "start"
                                     : item.letters.anchor == Anchor::Middle ? "middle"
                                                                             : "end";
                std::string more;
                if (item.letters.is_bold) more += " font-weight=\"bold\"";
                if (item.letters.runs_up) more += fmt::format(" transform=\"rotate(-90 {} {})\"", x, y);
                out += fmt::format(
                    "<text x=\"{}\" y=\"{}\" font-family=\"sans-serif\" font-size=\"{}\" fill=\"{}\" "
                    "text-anchor=\"{}\"{}>{}</text>\n",
                    x, y, text_of(item.letters.size_mm), hex(item.letters.colour), anchor, more, escaped(item.text));
                break;
            }
        }
    }
    out += "</svg>\n";
    return out;
}

void Sheet::paint_on(Raster& raster) const {
    const Surface surface = surface_on(raster);
    const Painter painter(cairo_create(surface.get()));
    cairo_t* c = painter.get();
    const double scale = raster.width / width_mm_;
    cairo_scale(c, scale, scale);
    cairo_set_line_cap(c, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(c, CAIRO_LINE_JOIN_ROUND);
    for (const Item& item : items_) {
        const Rgb& ink = item.kind == Item::Kind::Text ? item.letters.colour : item.pen.colour;
        cairo_set_source_rgba(c, ink[0], ink[1], ink[2], item.pen.opacity);
        if (item.kind == Item::Kind::Text) {
            const Letters& l = item.letters;
            cairo_select_font_face(c, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                                   l.is_bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
            cairo_set_font_size(c, l.size_mm);
            cairo_text_extents_t extents;
            cairo_text_extents(c, item.text.c_str(), &extents);
            const double back = l.anchor == Anchor::Start    ? 0.0
                                : l.anchor == Anchor::Middle ? 0.5 * extents.x_advance
                                                             : extents.x_advance;
            cairo_save(c);
            cairo_translate(c, item.lines[0][0].x, item.lines[0][0].y);
            if (l.runs_up) cairo_rotate(c, -std::numbers::pi / 2.0);
            cairo_move_to(c, -back, 0.0);
            cairo_show_text(c, item.text.c_str());
            cairo_restore(c);
            continue;
        }
        cairo_new_path(c);
        for (const auto& line : item.lines) {
            for (std::size_t i = 0; i < line.size(); ++i)
                i == 0 ? cairo_move_to(c, line[i].x, line[i].y) : cairo_line_to(c, line[i].x, line[i].y);
            if (item.kind == Item::Kind::Fill) cairo_close_path(c);
        }
        if (item.kind == Item::Kind::Fill) {
            cairo_fill(c);
        } else {
            cairo_set_line_width(c, item.pen.width_mm);
            cairo_set_dash(c, item.pen.dashes_mm.data(), static_cast<int>(item.pen.dashes_mm.size()), 0.0);
            cairo_stroke(c);
        }
    }
    cairo_surface_flush(surface.get());
}

std::string png_bytes(const Raster& raster) {
    Raster copy = raster;
    const Surface surface = surface_on(copy);
    std::string bytes;
    const auto append = [](void* to, const unsigned char* data, unsigned int length) {
        static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(data), length);
        return CAIRO_STATUS_SUCCESS;
    };
    if (cairo_surface_write_to_png_stream(surface.get(), append, &bytes) != CAIRO_STATUS_SUCCESS) return {};
    return bytes;
}

}  // namespace exports

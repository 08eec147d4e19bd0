// A sheet of lines and letters in millimetres, y down, that can be written as SVG or painted on a raster.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

namespace exports {

using Rgb = std::array<double, 3>;  ///< sRGB, 0 to 1

/// 0xRRGGBB, row by row from the top.
struct Raster {
    int width = 0, height = 0;
    std::vector<std::uint32_t> pixels;
};

class Sheet {
public:
    struct Point {
        double x = 0.0, y = 0.0;
    };
    struct Pen {
        double width_mm = 0.25;
        Rgb colour{0, 0, 0};
        double opacity = 1.0;
        std::vector<double> dashes_mm;
    };
    enum class Anchor { Start, Middle, End };
    struct Letters {
        double size_mm = 3.5;
        Rgb colour{0, 0, 0};
        Anchor anchor = Anchor::Start;
        bool runs_up = false;  ///< turned by a quarter, read from the right
        bool is_bold = false;
    };

    Sheet(double width_mm, double height_mm) : width_mm_(width_mm), height_mm_(height_mm) {}

    double width_mm() const { return width_mm_; }
    double height_mm() const { return height_mm_; }
    /// Lines of one pen, drawn in the order of the calls.
    void draw(const std::vector<std::vector<Point>>& lines, const Pen& pen);
    void draw_line(Point a, Point b, const Pen& pen) { draw({{a, b}}, pen); }
    /// A filled polygon.
    void fill(const std::vector<Point>& polygon, const Rgb& colour);
    /// UTF-8; `at` is the left, middle or right end of the base line.
    void write(Point at, const std::string& text, const Letters& letters);

    /// Well-formed XML, its width and height in mm, one unit a millimetre.
    std::string svg(const std::string& title) const;
    /// Painted over what the raster holds; the sheet's width becomes the raster's.
    void paint_on(Raster& raster) const;

private:
    struct Item {
        enum class Kind { Lines, Fill, Text } kind = Kind::Lines;
        std::vector<std::vector<Point>> lines;
        Pen pen;
        std::string text;
        Letters letters;
    };
    double width_mm_, height_mm_;
    std::vector<Item> items_;
};

/// The bytes of an 8-bit RGB PNG; empty when the writer failed.
std::string png_bytes(const Raster& raster);

}  // namespace exports

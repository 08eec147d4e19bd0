// Reads a PNG back through Cairo's reader.
#pragma once

#include <cairo/cairo.h>

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <stdexcept>
#include <string>
#include <vector>

namespace png_reader {

struct Image {
    int width = 0, height = 0;
    std::vector<std::uint32_t> pixels;  // 0xRRGGBB
    std::uint32_t at(int x, int y) const {
        return pixels[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x)];
    }
};

inline Image read(const std::string& bytes) {
    struct Source {
        const std::string& bytes;
        std::size_t at = 0;
    } source{bytes};
    const auto feed = [](void* from, unsigned char* data, unsigned int length) {
        auto& s = *static_cast<Source*>(from);
        if (s.at + length > s.bytes.size()) return CAIRO_STATUS_READ_ERROR;
        std::memcpy(data, s.bytes.data() + s.at, length);
        s.at += length;
        return CAIRO_STATUS_SUCCESS;
    };
    cairo_surface_t* surface = cairo_image_surface_create_from_png_stream(feed, &source);
    if (cairo_surface_status(surface) != CAIRO_STATUS_SUCCESS) throw std::runtime_error("not a PNG");
    Image image;
    image.width = cairo_image_surface_get_width(surface);
    image.height = cairo_image_surface_get_height(surface);
    const int stride = cairo_image_surface_get_stride(surface);
    for (int y = 0; y < image.height; ++y)
        for (int x = 0; x < image.width; ++x) {
            std::uint32_t pixel = 0;
            std::memcpy(&pixel, cairo_image_surface_get_data(surface) + y * stride + 4 * x, 4);
            image.pixels.push_back(pixel & 0xffffffu);
        }
    cairo_surface_destroy(surface);
    return image;
}

/// Mean of the three channels, 0 to 255.
inline double grey(std::uint32_t pixel) {
    return static_cast<double>((pixel >> 16 & 255) + (pixel >> 8 & 255) + (pixel & 255)) / 3.0;
}

}  // namespace png_reader

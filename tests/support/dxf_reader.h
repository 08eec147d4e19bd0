// A reader of drawing files written from the format's published group codes alone: what it needs to measure lines,
// arcs, circles and polylines with bulges. It shares no code with the writer.
#pragma once

#include <map>
#include <string>
#include <utility>
#include <vector>

namespace dxf_reader {

struct Corner {
    double x = 0.0, y = 0.0, bulge = 0.0;
};
struct Entity {
    std::string type, layer, handle, text;
    std::vector<Corner> corners;  ///< of lines and polylines; a circle's or an arc's centre
    double radius = 0.0, from_deg = 0.0, to_deg = 0.0;
    bool is_closed = false;
};
struct Drawing {
    std::map<std::string, std::string> header;  ///< "$ACADVER" to its value
    std::vector<std::string> layers, sections;
    std::vector<Entity> entities;
    std::vector<std::string> handles;  ///< of all objects, in the file's order

    std::vector<Entity> on(const std::string& layer) const;
};

/// Throws std::runtime_error where the structure is broken.
Drawing read(const std::string& text);

/// Within a closed polyline or circle, by Green's theorem along fine steps of each arc; positive counter-clockwise.
double area(const Entity& entity);

}  // namespace dxf_reader

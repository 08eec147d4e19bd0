#include "tests/support/dxf_reader.h"

#include <cmath>
#include <numbers>
#include <sstream>
#include <stdexcept>

namespace dxf_reader {
namespace {

using Pair = std::pair<int, std::string>;

std::vector<Pair> pairs_of(const std::string& text) {
    std::istringstream lines(text);
    std::vector<Pair> pairs;
    for (std::string code, value; std::getline(lines, code);) {
        if (!std::getline(lines, value)) throw std::runtime_error("a group code without a value");
        pairs.emplace_back(std::stoi(code), value);
    }
    if (pairs.empty() || pairs.back() != Pair{0, "EOF"}) throw std::runtime_error("the file does not end with EOF");
    return pairs;
}

Entity entity_of(const std::vector<Pair>& pairs, std::size_t begin, std::size_t end) {
    Entity e;
    e.type = pairs[begin].second;
    std::size_t told = 0;
    for (std::size_t i = begin + 1; i < end; ++i) {
        const auto& [code, value] = pairs[i];
        if (code == 5) e.handle = value;
        if (code == 8) e.layer = value;
        if (code == 1) e.text = value;
        if (code == 10) e.corners.push_back({std::stod(value), 0.0, 0.0});
        if (code == 20) e.corners.back().y = std::stod(value);
        if (code == 11 && e.type == "LINE") e.corners.push_back({std::stod(value), 0.0, 0.0});
        if (code == 21 && e.type == "LINE") e.corners.back().y = std::stod(value);
        if (code == 42 && e.type == "LWPOLYLINE") e.corners.back().bulge = std::stod(value);
        if (code == 40) e.radius = std::stod(value);
        if (code == 50) e.from_deg = std::stod(value);
        if (code == 51) e.to_deg = std::stod(value);
        if (code == 70 && e.type == "LWPOLYLINE") e.is_closed = (std::stoi(value) & 1) != 0;
        if (code == 90) told = std::stoul(value);
    }
    if (e.type == "LWPOLYLINE" && told != e.corners.size()) throw std::runtime_error("a polyline's count is wrong");
    return e;
}

}  // namespace

Drawing read(const std::string& text) {
    const std::vector<Pair> pairs = pairs_of(text);
    Drawing drawing;
    std::string section, table;
    for (std::size_t i = 0; i < pairs.size(); ++i) {
        const auto& [code, value] = pairs[i];
        if (code == 0 && value == "SECTION") {
            if (!section.empty()) throw std::runtime_error("section " + section + " does not end");
            section = pairs.at(i + 1).second;
            drawing.sections.push_back(section);
        } else if (code == 0 && value == "ENDSEC") {
            section.clear();
        } else if (code == 0 && value == "TABLE") {
            table = pairs.at(i + 1).second;
        } else if (code == 0 && value == "ENDTAB") {
            table.clear();
        } else if (section == "HEADER" && code == 9) {
            drawing.header[value] = pairs.at(i + 1).second;
        } else if (section == "TABLES" && table == "LAYER" && code == 2 && value != "LAYER") {
            drawing.layers.push_back(value);
        } else if (section == "ENTITIES" && code == 0) {
            std::size_t end = i + 1;
            while (end < pairs.size() && pairs[end].first != 0) ++end;
            drawing.entities.push_back(entity_of(pairs, i, end));
        }
        if ((code == 5 && section != "HEADER") || (code == 105 && section == "TABLES"))
            drawing.handles.push_back(value);
    }
    if (!section.empty()) throw std::runtime_error("section " + section + " does not end");
    return drawing;
}

std::vector<Entity> Drawing::on(const std::string& layer) const {
    std::vector<Entity> found;
    for (const Entity& e : entities)
        if (e.layer == layer) found.push_back(e);
    return found;
}

double area(const Entity& e) {
    if (e.type == "CIRCLE") return std::numbers::pi * e.radius * e.radius;
    if (!e.is_closed) throw std::runtime_error("an open " + e.type + " has no area");
    double twice = 0.0;
    const auto step = [&](double ax, double ay, double bx, double by) { twice += ax * by - ay * bx; };
    for (std::size_t i = 0; i < e.corners.size(); ++i) {
        const Corner &a = e.corners[i], &b = e.corners[(i + 1) % e.corners.size()];
        if (a.bulge == 0.0) {
            step(a.x, a.y, b.x, b.y);
            continue;
        }
        // Centre from the chord's middle: the sagitta is bulge times half the chord, to the right of the way for a
        // counter-clockwise arc.
        const double angle = 4.0 * std::atan(a.bulge), dx = b.x - a.x, dy = b.y - a.y;
        const double k = (1.0 - a.bulge * a.bulge) / (4.0 * a.bulge);
        const double cx = (a.x + b.x) / 2.0 - k * dy, cy = (a.y + b.y) / 2.0 + k * dx;
        constexpr int kSteps = 20000;
        double px = a.x, py = a.y;
        for (int s = 1; s <= kSteps; ++s) {
            const double t = angle * s / kSteps;
            const double qx = cx + (a.x - cx) * std::cos(t) - (a.y - cy) * std::sin(t);
            const double qy = cy + (a.x - cx) * std::sin(t) + (a.y - cy) * std::cos(t);
            step(px, py, qx, qy);
            px = qx;
            py = qy;
        }
        if (std::hypot(px - b.x, py - b.y) > 1e-6) throw std::runtime_error("an arc does not end at its corner");
    }
    return twice / 2.0;
}

}  // namespace dxf_reader

// Seated is the identity, and each pose before it is the later one with the move taken back: the moves' axes are at
// rest, so taking a turn back is turning about the same axis, whatever came after.
#include "geom/space/way_in.h"

#include "geom/core/checks.h"
#include "geom/core/text.h"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

namespace geom::space {
namespace {

Vec3 turned(Vec3 v, Vec3 axis, double angle_rad) {
    const double c = std::cos(angle_rad), s = std::sin(angle_rad);
    return v * c + cross(axis, v) * s + axis * (dot(axis, v) * (1.0 - c));
}

Frame moved(const Frame& f, const Move& move, double share) {
    if (const auto* slide = std::get_if<Slide>(&move)) return {f.origin + slide->by_mm * share, f.x, f.y, f.z};
    const Turn& turn = std::get<Turn>(move);
    const double a = turn.angle_rad * share;
    return {turn.about + turned(f.origin - turn.about, turn.axis, a), turned(f.x, turn.axis, a),
            turned(f.y, turn.axis, a), turned(f.z, turn.axis, a)};
}

}  // namespace

double carried_on_mm(const std::vector<Plane>& open, Point3 from, Vec3 back) {
    constexpr double kFarthest_mm = 4000.0;  // a slide that has not come outside by then never does
    double least = kFarthest_mm;
    bool leaves = false;
    for (const Plane& o : open) {
        const double rate = dot(back, o.outward);
        if (rate < 0.02) continue;
        leaves = true;
        least = std::min(least, std::max(0.0, (kCarriedOn_mm - o.height(from)) / rate));
    }
    return leaves ? least : 0.0;
}

std::string text_of(const Move& move) {
    const auto numbers = [](Vec3 v) {
        return fmt::format("({}, {}, {})", plain_number(v.x), plain_number(v.y), plain_number(v.z));
    };
    if (const auto* slide = std::get_if<Slide>(&move)) return fmt::format("slide by {} mm", numbers(slide->by_mm));
    const Turn& turn = std::get<Turn>(move);
    return fmt::format("turn by {} deg about {} through {}", plain_number(turn.angle_rad * 180.0 / std::numbers::pi),
                       numbers(turn.axis), numbers(turn.about));
}

PathBack::PathBack(const Move& move, Point3 end) {
    if (const auto* slide = std::get_if<Slide>(&move)) {
        centre_ = end;
        length_mm_ = norm(slide->by_mm);
        along_ = -unit(slide->by_mm);
        return;
    }
    const Turn& turn = std::get<Turn>(move);
    const Vec3 d = end - turn.about;
    centre_ = turn.about + turn.axis * dot(d, turn.axis);
    across_ = end - centre_;
    radius_mm_ = norm(across_);
    along_ = cross(turn.axis, across_) * (turn.angle_rad > 0.0 ? -1.0 : 1.0);
    length_mm_ = radius_mm_ * std::abs(turn.angle_rad);
}

Point3 PathBack::at(double s_mm) const {
    if (radius_mm_ <= 0.0) return centre_ + along_ * s_mm + across_;
    const double a = s_mm / radius_mm_;
    return centre_ + across_ * std::cos(a) + along_ * std::sin(a);
}

WayIn::WayIn(std::vector<Move> moves) : moves_(std::move(moves)), after_(moves_.size()) {
    for (const Move& m : moves_) {
        if (const auto* turn = std::get_if<Turn>(&m))
            EXPECTS(std::abs(norm(turn->axis) - 1.0) < 1e-6 && turn->angle_rad != 0.0);
        else
            EXPECTS(norm(std::get<Slide>(m).by_mm) > 0.0);
    }
    for (std::size_t i = moves_.size(); i-- > 1;) after_[i - 1] = moved(after_[i], moves_[i], -1.0);
}

Frame WayIn::during(std::size_t i, double share) const {
    return moved(after_[i], moves_[i], share - 1.0);
}

WayIn WayIn::seen_from(const Frame& frame) const {
    std::vector<Move> there;
    for (const Move& m : moves_) {
        if (const auto* slide = std::get_if<Slide>(&m))
            there.emplace_back(Slide{frame.dir_to_local(slide->by_mm)});
        else {
            const Turn& turn = std::get<Turn>(m);
            there.emplace_back(Turn{turn.angle_rad, frame.dir_to_local(turn.axis), frame.to_local(turn.about)});
        }
    }
    return WayIn(std::move(there));
}

}  // namespace geom::space

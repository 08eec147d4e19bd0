// The frame stands between the title above and the legend below. Everything is laid out in millimetres of paper; a
// letter is reckoned as 0.56 of its height wide, which is ample for the usual sans-serif faces.
#include "exports/plot.h"

#include "exports/internal/sheet.h"
#include "geom/core/checks.h"
#include "geom/core/text.h"

#include <algorithm>
#include <cmath>

namespace exports {
namespace {

using Point = Sheet::Point;

constexpr double kLetters_mm = 3.2, kSmall_mm = 2.8, kTitle_mm = 4.4;
constexpr double kLetterWidth = 0.56;  // of its height
constexpr double kTick_mm = 1.2;
constexpr double kRow_mm = 4.2;  // between rows of words
const Rgb kInk{0.13, 0.13, 0.13}, kFaint{0.88, 0.88, 0.88}, kRule{0.40, 0.40, 0.40}, kPaper{1, 1, 1};
const Rgb kColours[] = {
    {0.08, 0.31, 0.55}, {0.78, 0.36, 0.06}, {0.16, 0.48, 0.25}, {0.45, 0.22, 0.53}, {0.62, 0.13, 0.17}};

double width_of(const std::string& words, double size_mm) {
    const auto letters = std::count_if(words.begin(), words.end(),
                                       [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; });
    return kLetterWidth * size_mm * static_cast<double>(letters);
}

Sheet::Pen pen(double width_mm, const Rgb& colour, std::vector<double> dashes_mm = {}) {
    return {.width_mm = width_mm, .colour = colour, .opacity = 1.0, .dashes_mm = std::move(dashes_mm)};
}

Sheet::Letters letters(double size_mm, const Rgb& colour, Sheet::Anchor anchor = Sheet::Anchor::Start) {
    return {.size_mm = size_mm, .colour = colour, .anchor = anchor, .runs_up = false, .is_bold = false};
}

/// An axis with its ends settled and its place on the paper.
struct Scale {
    double lo = 0.0, hi = 1.0;
    bool is_log = false;
    double from_mm = 0.0, to_mm = 0.0;  ///< paper, at lo and at hi
    std::vector<double> at;             ///< ticks

    double share(double v) const { return is_log ? std::log(v / lo) / std::log(hi / lo) : (v - lo) / (hi - lo); }
    double paper(double v) const { return from_mm + share(v) * (to_mm - from_mm); }
    bool holds(double v) const { return v >= lo - 1e-9 * (hi - lo) && v <= hi + 1e-9 * (hi - lo); }
};

double step_for(double span, int wanted) {
    const double raw = span / wanted, power = std::pow(10.0, std::floor(std::log10(raw)));
    for (const double m : {1.0, 2.0, 5.0})
        if (m * power >= raw * 0.999999) return m * power;
    return 10.0 * power;
}

Scale scale_for(const PlotAxis& axis, const std::vector<double>& shown, int wanted) {
    double lo = 1e300, hi = -1e300;
    for (const double v : shown) lo = std::min(lo, v), hi = std::max(hi, v);
    EXPECTS(lo <= hi);
    EXPECTS(!axis.is_log || lo > 0.0);
    if (!axis.is_log) {
        if (lo > 0.0 && lo < 0.6 * hi) lo = 0.0;
        if (hi - lo < 1e-9 * std::max(1.0, std::abs(hi))) lo -= 0.5, hi += 0.5;
        const double step = step_for(hi - lo, wanted);
        // A line that ends at the frame is hard to read: a little air above.
        lo = std::floor(lo / step + 1e-9) * step;
        hi = std::ceil(hi / step + 0.02) * step;
    } else {
        const auto down = [](double v) {
            const double power = std::pow(10.0, std::floor(std::log10(v) + 1e-12));
            return v >= 5.0 * power ? 5.0 * power : v >= 2.0 * power ? 2.0 * power : power;
        };
        const double least = down(lo);
        const double most = down(hi);
        const double lead = most / std::pow(10.0, std::floor(std::log10(most) + 1e-12));
        hi = most >= hi * (1.0 - 1e-12) ? hi : most * (lead > 3.0 ? 2.0 : lead > 1.5 ? 2.5 : 2.0);
        lo = least;
        if (hi <= lo) hi = lo * 10.0;
    }
    Scale scale{axis.lo.value_or(lo), axis.hi.value_or(hi), axis.is_log, 0.0, 0.0, {}};
    EXPECTS(scale.lo < scale.hi);
    scale.at = ticks(scale.lo, scale.hi, wanted, axis.is_log);
    return scale;
}

/// The straight piece from a to b that lies in the frame; none when it misses it (Liang and Barsky).
std::optional<std::pair<Point, Point>> clipped(Point a, Point b, Point lo, Point hi) {
    double from = 0.0, to = 1.0;
    const double dx = b.x - a.x, dy = b.y - a.y;
    const double p[4] = {-dx, dx, -dy, dy}, q[4] = {a.x - lo.x, hi.x - a.x, a.y - lo.y, hi.y - a.y};
    for (int i = 0; i < 4; ++i) {
        if (p[i] == 0.0) {
            if (q[i] < 0.0) return std::nullopt;
            continue;
        }
        const double r = q[i] / p[i];
        if (p[i] < 0.0)
            from = std::max(from, r);
        else
            to = std::min(to, r);
    }
    if (from > to) return std::nullopt;
    return std::pair{Point{a.x + from * dx, a.y + from * dy}, Point{a.x + to * dx, a.y + to * dy}};
}

/// Lays the plot out and draws it, top to bottom.
class Drawn {
public:
    explicit Drawn(const Plot& plot) : plot_(plot), sheet_(plot.width_mm, plot.height_mm) {
        settle();
        sheet_.fill({{0, 0}, {plot.width_mm, 0}, {plot.width_mm, plot.height_mm}, {0, plot.height_mm}}, kPaper);
        draw_title();
        draw_axes();
        draw_rules();
        for (std::size_t i = 0; i < plot_.lines.size(); ++i) draw_line(plot_.lines[i], colour(i));
        draw_marks();
        draw_legend();
    }
    Sheet take() { return std::move(sheet_); }

private:
    static Rgb colour(std::size_t i) { return kColours[i % std::size(kColours)]; }
    const Scale& y_of(bool on_right) const { return on_right ? *right_ : y_; }
    /// Of an axis: that of its only line, or ink.
    Rgb axis_colour(bool on_right) const {
        std::optional<std::size_t> only;
        for (std::size_t i = 0; i < plot_.lines.size(); ++i) {
            if (plot_.lines[i].on_right != on_right) continue;
            if (only) return kInk;
            only = i;
        }
        return only && plot_.right ? colour(*only) : kInk;
    }

    void settle() {
        std::vector<double> xs, ys, rights;
        bool any = false;
        for (const PlotLine& line : plot_.lines) {
            std::size_t finite = 0;
            for (const PlotPoint& p : line.points) {
                if (!std::isfinite(p.x) || !std::isfinite(p.y)) continue;
                xs.push_back(p.x);
                (line.on_right ? rights : ys).push_back(p.y);
                ++finite;
            }
            any = any || finite >= 2;
        }
        EXPECTS(any);
        for (const PlotRule& rule : plot_.rules)
            (rule.of == PlotRule::Along::X ? xs : rule.of == PlotRule::Along::Y ? ys : rights).push_back(rule.value);
        for (const PlotMark& mark : plot_.marks) {
            xs.push_back(mark.at.x);
            (mark.on_right ? rights : ys).push_back(mark.at.y);
        }
        EXPECTS(rights.empty() || plot_.right.has_value());
        x_ = scale_for(plot_.x, xs, 9);
        if (ys.empty()) ys = {0.0, 1.0};
        y_ = scale_for(plot_.y, ys, 7);
        if (plot_.right) right_ = scale_for(*plot_.right, rights.empty() ? std::vector<double>{0.0, 1.0} : rights, 7);
        set_upright_words();
        const double top = 6.0 + kTitle_mm + (plot_.note.empty() ? 0.0 : 4.6) + 2.5 + (kRow_mm + 0.4) * word_rows_;
        lo_ = {19.0, top};
        hi_ = {plot_.width_mm - (plot_.right ? 19.0 : 8.0), plot_.height_mm - 21.0};
        x_.from_mm = lo_.x, x_.to_mm = hi_.x;
        y_.from_mm = hi_.y, y_.to_mm = lo_.y;
        if (right_) right_->from_mm = hi_.y, right_->to_mm = lo_.y;
        place_upright_words();
    }

    void set_upright_words() {
        for (const PlotRule& rule : plot_.rules)
            if (rule.of == PlotRule::Along::X && !rule.words.empty()) word_rows_ = std::max(word_rows_, 1);
        // Placed for real once the frame is known; here only how many rows they want.
        x_.from_mm = 19.0, x_.to_mm = plot_.width_mm - (plot_.right ? 19.0 : 8.0);
        place_upright_words();
        for (const UprightWords& w : upright_) word_rows_ = std::max(word_rows_, w.row + 1);
    }

    struct UprightWords {
        const PlotRule* rule;
        double middle_mm, half_mm;
        int row;
    };
    void place_upright_words() {
        upright_.clear();
        for (const PlotRule& rule : plot_.rules) {
            if (rule.of != PlotRule::Along::X || rule.words.empty()) continue;
            const double half = 0.5 * width_of(rule.words, kSmall_mm) + 1.0;
            const double middle = std::clamp(x_.paper(rule.value), half + 1.0, plot_.width_mm - half - 1.0);
            upright_.push_back({&rule, middle, half, 0});
        }
        std::stable_sort(upright_.begin(), upright_.end(),
                         [](const auto& a, const auto& b) { return a.middle_mm < b.middle_mm; });
        std::vector<double> ends;  // of each row, so far
        for (UprightWords& w : upright_) {
            std::size_t row = 0;
            while (row < ends.size() && ends[row] > w.middle_mm - w.half_mm) ++row;
            if (row == ends.size()) ends.push_back(0.0);
            ends[row] = w.middle_mm + w.half_mm;
            w.row = static_cast<int>(row);
        }
    }

    void draw_title() {
        Sheet::Letters bold = letters(kTitle_mm, kInk);
        bold.is_bold = true;
        sheet_.write({lo_.x, 4.0 + kTitle_mm}, plot_.title, bold);
        if (plot_.note.empty()) return;
        const double room = plot_.width_mm - 4.0 - lo_.x, width = width_of(plot_.note, kLetters_mm);
        sheet_.write({lo_.x, 4.0 + kTitle_mm + 5.0}, plot_.note,
                     letters(kLetters_mm * std::min(1.0, room / width), kRule));
    }

    void draw_axes() {
        for (const double v : x_.at) sheet_.draw_line({x_.paper(v), lo_.y}, {x_.paper(v), hi_.y}, pen(0.15, kFaint));
        for (const double v : y_.at) sheet_.draw_line({lo_.x, y_.paper(v)}, {hi_.x, y_.paper(v)}, pen(0.15, kFaint));
        const Sheet::Pen thin = pen(0.25, kInk);
        sheet_.draw({{lo_, {hi_.x, lo_.y}, hi_, {lo_.x, hi_.y}, lo_}}, thin);
        for (const double v : x_.at) {
            const double x = x_.paper(v);
            sheet_.draw_line({x, hi_.y}, {x, hi_.y + kTick_mm}, thin);
            sheet_.write({x, hi_.y + kTick_mm + 1.0 + kSmall_mm}, tick_text(v),
                         letters(kSmall_mm, kInk, Sheet::Anchor::Middle));
        }
        sheet_.write({0.5 * (lo_.x + hi_.x), hi_.y + kTick_mm + kSmall_mm + 6.0}, plot_.x.label,
                     letters(kLetters_mm, kInk, Sheet::Anchor::Middle));
        draw_upright_axis(y_, plot_.y.label, false);
        if (right_) draw_upright_axis(*right_, plot_.right->label, true);
    }

    void draw_upright_axis(const Scale& scale, const std::string& label, bool on_right) {
        const Rgb ink = axis_colour(on_right);
        const double x = on_right ? hi_.x : lo_.x, out = on_right ? kTick_mm : -kTick_mm;
        for (const double v : scale.at) {
            const double y = scale.paper(v);
            sheet_.draw_line({x, y}, {x + out, y}, pen(0.25, ink));
            sheet_.write({x + 1.7 * out, y + 0.35 * kSmall_mm}, tick_text(v),
                         letters(kSmall_mm, ink, on_right ? Sheet::Anchor::Start : Sheet::Anchor::End));
        }
        Sheet::Letters up = letters(kLetters_mm, ink, Sheet::Anchor::Middle);
        up.runs_up = true;
        sheet_.write({on_right ? plot_.width_mm - 4.0 : 6.0, 0.5 * (lo_.y + hi_.y)}, label, up);
    }

    static std::string tick_text(double v) {
        const double rounded = std::abs(v) < 1e-12 ? 0.0 : v;
        return geom::plain_number(std::round(rounded * 1e9) / 1e9);
    }

    /// Words on a patch of paper, so that lines under them do not disturb.
    void write_on_paper(Point at, const std::string& words, const Rgb& ink, Sheet::Anchor anchor) {
        const double w = width_of(words, kSmall_mm);
        const double left = anchor == Sheet::Anchor::Start ? at.x
                            : anchor == Sheet::Anchor::End ? at.x - w
                                                           : at.x - 0.5 * w;
        const double top = at.y - 0.85 * kSmall_mm, bottom = at.y + 0.3 * kSmall_mm;
        sheet_.fill({{left - 0.5, top}, {left + w + 0.5, top}, {left + w + 0.5, bottom}, {left - 0.5, bottom}}, kPaper);
        sheet_.write(at, words, letters(kSmall_mm, ink, anchor));
    }

    void draw_rules() {
        for (const PlotRule& rule : plot_.rules) {
            const bool upright = rule.of == PlotRule::Along::X, on_right = rule.of == PlotRule::Along::RightY;
            const Scale& scale = upright ? x_ : y_of(on_right);
            if (!scale.holds(rule.value)) continue;
            const double at = scale.paper(rule.value);
            const Rgb ink = on_right ? axis_colour(true) : kRule;
            if (upright)
                sheet_.draw_line({at, lo_.y}, {at, hi_.y}, pen(0.3, ink, {1.6, 1.2}));
            else
                sheet_.draw_line({lo_.x, at}, {hi_.x, at}, pen(0.3, ink, {1.6, 1.2}));
        }
        for (const UprightWords& w : upright_) {
            if (!x_.holds(w.rule->value)) continue;
            const double y = lo_.y - 2.4 - kRow_mm * w.row, x = x_.paper(w.rule->value);
            sheet_.draw_line({x, lo_.y}, {x, y + 1.0}, pen(0.2, kRule));
            sheet_.write({w.middle_mm, y}, w.rule->words, letters(kSmall_mm, kRule, Sheet::Anchor::Middle));
        }
    }

    void draw_rule_words() {
        for (const PlotRule& rule : plot_.rules) {
            if (rule.of == PlotRule::Along::X || rule.words.empty()) continue;
            const bool on_right = rule.of == PlotRule::Along::RightY;
            const Scale& scale = y_of(on_right);
            if (!scale.holds(rule.value)) continue;
            const double y = scale.paper(rule.value) - 1.2;
            write_on_paper({on_right ? hi_.x - 1.5 : lo_.x + 1.5, y}, rule.words, on_right ? axis_colour(true) : kRule,
                           on_right ? Sheet::Anchor::End : Sheet::Anchor::Start);
        }
    }

    void draw_line(const PlotLine& line, const Rgb& ink) {
        const Scale& scale = y_of(line.on_right);
        std::vector<std::vector<Point>> pieces;
        bool goes_on = false;
        for (std::size_t i = 0; i + 1 < line.points.size(); ++i) {
            const PlotPoint &a = line.points[i], &b = line.points[i + 1];
            const bool finite = std::isfinite(a.x) && std::isfinite(a.y) && std::isfinite(b.x) && std::isfinite(b.y);
            const auto piece =
                finite ? clipped({x_.paper(a.x), scale.paper(a.y)}, {x_.paper(b.x), scale.paper(b.y)}, lo_, hi_)
                       : std::nullopt;
            if (!piece) {
                goes_on = false;
                continue;
            }
            const bool joins = goes_on && std::hypot(pieces.back().back().x - piece->first.x,
                                                     pieces.back().back().y - piece->first.y) < 1e-9;
            if (!joins) pieces.push_back({piece->first});
            pieces.back().push_back(piece->second);
            goes_on = true;
        }
        sheet_.draw(pieces, pen(0.55, ink, line.is_dashed ? std::vector<double>{2.2, 1.6} : std::vector<double>{}));
    }

    void draw_marks() {
        draw_rule_words();
        for (const PlotMark& mark : plot_.marks) {
            const Scale& scale = y_of(mark.on_right);
            if (!x_.holds(mark.at.x) || !scale.holds(mark.at.y)) continue;
            const Point at{x_.paper(mark.at.x), scale.paper(mark.at.y)};
            std::vector<Point> dot, inner;
            for (int k = 0; k < 24; ++k) {
                const double a = 2.0 * 3.14159265358979 * k / 24;
                dot.push_back({at.x + 1.1 * std::cos(a), at.y + 1.1 * std::sin(a)});
                inner.push_back({at.x + 0.65 * std::cos(a), at.y + 0.65 * std::sin(a)});
            }
            sheet_.fill(dot, kInk);
            sheet_.fill(inner, kPaper);
            if (mark.words.empty()) continue;
            // Below and to the right, or above and to the left where the words would leave the frame: a line that rises
            // leaves both free.
            const bool left = at.x + 3.0 + width_of(mark.words, kSmall_mm) > hi_.x - 1.0;
            const bool above = (left && at.y - 4.4 > lo_.y) || at.y + 6.0 > hi_.y;
            write_on_paper({at.x + (left ? -2.2 : 2.2), above ? at.y - 2.0 : at.y + 4.2}, mark.words, kInk,
                           left ? Sheet::Anchor::End : Sheet::Anchor::Start);
        }
    }

    void draw_legend() {
        double x = lo_.x;
        const double y = plot_.height_mm - 4.0;
        for (std::size_t i = 0; i < plot_.lines.size(); ++i) {
            const PlotLine& line = plot_.lines[i];
            if (line.name.empty()) continue;
            sheet_.draw_line(
                {x, y - 1.0}, {x + 8.0, y - 1.0},
                pen(0.55, colour(i), line.is_dashed ? std::vector<double>{2.2, 1.6} : std::vector<double>{}));
            sheet_.write({x + 9.5, y}, line.name, letters(kSmall_mm, kInk));
            x += 9.5 + width_of(line.name, kSmall_mm) + 5.0;
        }
    }

    const Plot& plot_;
    Sheet sheet_;
    Scale x_, y_;
    std::optional<Scale> right_;
    Point lo_, hi_;  ///< frame on the paper: upper left, lower right
    std::vector<UprightWords> upright_;
    int word_rows_ = 0;
};

}  // namespace

std::vector<double> ticks(double lo, double hi, int wanted, bool is_log) {
    EXPECTS(std::isfinite(lo) && std::isfinite(hi) && lo < hi && wanted > 0);
    std::vector<double> at;
    if (is_log) {
        EXPECTS(lo > 0.0);
        const double decades = std::log10(hi / lo);
        for (double power = std::floor(std::log10(lo)); power <= std::ceil(std::log10(hi)); ++power)
            for (const double m : {1.0, 2.0, 5.0}) {
                if (m != 1.0 && decades > wanted) continue;
                const double v = m * std::pow(10.0, power);
                if (v >= lo * (1.0 - 1e-9) && v <= hi * (1.0 + 1e-9)) at.push_back(v);
            }
        return at;
    }
    const double step = step_for(hi - lo, wanted);
    for (double n = std::ceil(lo / step - 1e-9); n * step <= hi + 1e-9 * (hi - lo); ++n) at.push_back(n * step);
    return at;
}

std::string plot_svg(const Plot& plot) {
    return Drawn(plot).take().svg(plot.title);
}

geom::Result<std::string> plot_png(const Plot& plot, int width_px) {
    EXPECTS(width_px > 0);
    const Sheet sheet = Drawn(plot).take();
    Raster raster;
    raster.width = width_px;
    raster.height = static_cast<int>(std::lround(width_px * plot.height_mm / plot.width_mm));
    raster.pixels.assign(static_cast<std::size_t>(raster.width) * static_cast<std::size_t>(raster.height), 0xffffffu);
    sheet.paint_on(raster);
    std::string bytes = png_bytes(raster);
    if (bytes.empty()) return geom::Fault{geom::FaultCode::Internal, "the plot's PNG cannot be made", "", {}, "files"};
    return bytes;
}

}  // namespace exports

// A port's air as a mass: its length, the air that moves with it at both ends, and what that makes with a box.
//
//   f = c/(2 pi) sqrt(n A/(V Leff)), Leff = L + what each end adds.
//
// Ends    a free end adds 0.6133 r (Levine and Schwinger, Phys. Rev. 73, 383, 1948), one flush with a wide face
//         0.8217 r (Nomura et al. 1960; Norris and Sheng 1989, from memory). Common practice: r is that of a circle of
//         the same area.
// Slots   add less than that circle, by the ratio of the two as rigid pistons in a wide face. The rectangle's is the
//         integral of 1/distance over pairs of its points, which has a closed form.
// Walls   a tube or slot that lies along a wall is half of a twin mouth of twice the area, mirrored in the wall; in a
//         corner of two walls a quarter of four.
// Rounded the flare counts with its own mass, as if air moved alike across each section (Rayleigh: never too much),
//         and the end's correction is that of the wide mouth.
#pragma once

#include "geom/core/result.h"
#include "geom/sound/air.h"

namespace geom::sound {

constexpr double kFreeEnd = 0.6133, kFlushEnd = 0.8217;  // of r

class PortSection {
public:
    static PortSection round(Length diameter);
    /// A rectangle; which side is called what is of account only along walls: `width` lies on the first wall. Rounded
    /// corners count by the area that they take; the end's shape stays the rectangle's, which is up to 1.3 % too
    /// little.
    static PortSection slot(Length width, Length height, Length corner_radius = {});

    Area area() const;
    bool is_round() const { return is_round_; }
    Length width() const { return width_; }
    Length height() const { return height_; }

private:
    bool is_round_ = true;
    Length width_, height_, corner_;
};

struct PortMouth {
    bool is_flush = false;  ///< ends in a wide face; else it stands free in the air
    Length rounding;        ///< radius of the flare at its rim
    int walls = 0;          ///< walls that it lies along: 0, 1 or 2
};

struct Port {
    PortSection section = PortSection::round(Length::mm(50));
    PortMouth inner{.is_flush = false, .rounding = {}, .walls = 0};
    PortMouth outer{.is_flush = true, .rounding = {}, .walls = 0};
    int count = 1;  ///< alike, each of this section

    Area area() const { return section.area() * count; }
};

/// A port and its length along its middle.
struct SizedPort {
    Port port;
    Length length;
};

struct EndRules {
    double free_end = kFreeEnd, flush_end = kFlushEnd;
    bool slot_by_shape = true;  ///< false: a slot's end as a circle's of its area
};

/// What an end adds to the length, in which a flare's own length is not contained: a rounded end of radius R lies
/// within the tube's length L, and what is told is what L + this makes right.
/// EXPECTS: section positive; rounding not negative; 0 to 2 walls.
Length end_correction(const PortSection& section, const PortMouth& mouth, const EndRules& rules = {});

/// The first factor of a rectangle's end against that of a circle of the same area; 1 is never reached: a square has
/// 0.988.
double slot_end_factor(Length width, Length height);

/// L + both ends.
Length effective_length(const Port& port, Length length, const EndRules& rules = {});

/// EXPECTS: length not negative, box positive.
double tuning_hz(const Port& port, Length length, Volume box, const Air& air = {}, const EndRules& rules = {});

/// The length along the port's middle line, bends followed, flares contained.
/// Faults: Impossible  the ends alone are longer than the tuning asks
Result<Length> port_length(const Port& port, double fb_hz, Volume box, const Air& air = {}, const EndRules& rules = {});

/// First resonance of the air column, a half wave long: whistles and colours what lies near it.
double pipe_resonance_hz(const Port& port, Length length, const Air& air = {}, const EndRules& rules = {});

/// Peak speeds, common practice: 17 m/s (5 % of c) is heard, 34 m/s (10 %) chokes.
struct PortSpeedLimits {
    double warn_m_s = 17.0, fail_m_s = 34.0;
};
enum class PortAir { Calm, Heard, Choked };
/// Calm up to the first limit, choked above the second.
PortAir judged(double m_s, const PortSpeedLimits& limits = {});

}  // namespace geom::sound

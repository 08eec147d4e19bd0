// Lengths, areas, volumes and angles as types, so that the factor between millimetres and litres lives in one
// place. Use them at interfaces; inside a function use plain double with a suffix (_mm, _mm2, _mm3, _litres,
// _rad, _deg, _vx voxels, _rel fraction).
//
// No implicit conversion either way. Length * Length gives Area, Area * Length gives Volume.
#pragma once

#include <compare>
#include <numbers>

namespace geom {

namespace detail {
template <class Self>
class Quantity {
public:
    constexpr Quantity() = default;
    friend constexpr Self operator+(Self a, Self b) { return Self::raw(a.raw_ + b.raw_); }
    friend constexpr Self operator-(Self a, Self b) { return Self::raw(a.raw_ - b.raw_); }
    friend constexpr Self operator-(Self a) { return Self::raw(-a.raw_); }
    friend constexpr Self operator*(Self a, double s) { return Self::raw(a.raw_ * s); }
    friend constexpr Self operator*(double s, Self a) { return Self::raw(a.raw_ * s); }
    friend constexpr Self operator/(Self a, double s) { return Self::raw(a.raw_ / s); }
    friend constexpr double operator/(Self a, Self b) { return a.raw_ / b.raw_; }
    constexpr Self& operator+=(Self b) { return raw_ += b.raw_, static_cast<Self&>(*this); }
    constexpr Self& operator-=(Self b) { return raw_ -= b.raw_, static_cast<Self&>(*this); }
    friend constexpr auto operator<=>(Self a, Self b) { return a.raw_ <=> b.raw_; }
    friend constexpr bool operator==(Self a, Self b) { return a.raw_ == b.raw_; }

protected:
    static constexpr Self raw(double v) {
        Self s;
        s.raw_ = v;
        return s;
    }
    double raw_ = 0.0;
};
}  // namespace detail

class Length : public detail::Quantity<Length> {
    friend class detail::Quantity<Length>;

public:
    static constexpr Length mm(double v) { return raw(v); }
    static constexpr Length cm(double v) { return raw(v * 10.0); }
    static constexpr Length m(double v) { return raw(v * 1000.0); }
    static constexpr Length inch(double v) { return raw(v * 25.4); }
    constexpr double mm() const { return raw_; }
    constexpr double inch() const { return raw_ / 25.4; }
};

class Area : public detail::Quantity<Area> {
    friend class detail::Quantity<Area>;

public:
    static constexpr Area mm2(double v) { return raw(v); }
    static constexpr Area cm2(double v) { return raw(v * 100.0); }
    constexpr double mm2() const { return raw_; }
    constexpr double cm2() const { return raw_ / 100.0; }
};

class Volume : public detail::Quantity<Volume> {
    friend class detail::Quantity<Volume>;

public:
    static constexpr Volume mm3(double v) { return raw(v); }
    static constexpr Volume litres(double v) { return raw(v * 1e6); }
    static constexpr Volume ft3(double v) { return raw(v * 28316846.592); }
    constexpr double mm3() const { return raw_; }
    constexpr double litres() const { return raw_ / 1e6; }
};

class Angle : public detail::Quantity<Angle> {
    friend class detail::Quantity<Angle>;

public:
    static constexpr Angle rad(double v) { return raw(v); }
    static constexpr Angle deg(double v) { return raw(v * std::numbers::pi / 180.0); }
    constexpr double rad() const { return raw_; }
    constexpr double deg() const { return raw_ * 180.0 / std::numbers::pi; }
};

constexpr Area operator*(Length a, Length b) {
    return Area::mm2(a.mm() * b.mm());
}
constexpr Volume operator*(Area a, Length b) {
    return Volume::mm3(a.mm2() * b.mm());
}
constexpr Volume operator*(Length a, Area b) {
    return b * a;
}

inline namespace literals {
constexpr Length operator""_mm(long double v) {
    return Length::mm(static_cast<double>(v));
}
constexpr Length operator""_mm(unsigned long long v) {
    return Length::mm(static_cast<double>(v));
}
constexpr Volume operator""_litres(long double v) {
    return Volume::litres(static_cast<double>(v));
}
constexpr Volume operator""_litres(unsigned long long v) {
    return Volume::litres(static_cast<double>(v));
}
constexpr Angle operator""_deg(long double v) {
    return Angle::deg(static_cast<double>(v));
}
constexpr Angle operator""_deg(unsigned long long v) {
    return Angle::deg(static_cast<double>(v));
}
}  // namespace literals

}  // namespace geom

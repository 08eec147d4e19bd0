// A value or a Fault of the job. The subset of std::expected that this project uses, for C++20, and marked so that
// a dropped result is a warning.
#pragma once

#include "geom/core/checks.h"
#include "geom/core/fault.h"

#include <type_traits>
#include <utility>
#include <variant>

namespace geom {

template <class T>
class [[nodiscard]] Result {
public:
    using value_type = T;
    Result(T value) : state_(std::in_place_index<0>, std::move(value)) {}
    Result(Fault fault) : state_(std::in_place_index<1>, std::move(fault)) {}

    bool has_value() const { return state_.index() == 0; }
    explicit operator bool() const { return has_value(); }

    /// EXPECTS: has_value().
    const T& value() const& { return EXPECTS(has_value()), std::get<0>(state_); }
    T& value() & { return EXPECTS(has_value()), std::get<0>(state_); }
    T&& value() && { return EXPECTS(has_value()), std::get<0>(std::move(state_)); }
    const T& operator*() const& { return value(); }
    T& operator*() & { return value(); }
    T&& operator*() && { return std::move(*this).value(); }
    const T* operator->() const { return &value(); }
    T* operator->() { return &value(); }

    /// EXPECTS: !has_value().
    const Fault& error() const& { return EXPECTS(!has_value()), std::get<1>(state_); }
    Fault&& error() && { return EXPECTS(!has_value()), std::get<1>(std::move(state_)); }

    template <class F>
    auto and_then(F&& f) && -> std::invoke_result_t<F, T&&> {
        if (!has_value()) return std::get<1>(std::move(state_));
        return std::forward<F>(f)(std::get<0>(std::move(state_)));
    }
    template <class F>
    auto transform(F&& f) && -> Result<std::invoke_result_t<F, T&&>> {
        if (!has_value()) return std::get<1>(std::move(state_));
        return std::forward<F>(f)(std::get<0>(std::move(state_)));
    }

private:
    std::variant<T, Fault> state_;
};

/// For work that gives nothing back.
struct Done {};
using Status = Result<Done>;

}  // namespace geom

/// `GAPWRIGHT_TRY(name, expression)`: name the value, or return the fault from the enclosing function.
#define GAPWRIGHT_TRY(name, ...)                                 \
    auto name##_result = (__VA_ARGS__);                          \
    if (!name##_result) return std::move(name##_result).error(); \
    auto& name = *name##_result

/// The same for a Status whose value is of no use.
#define GAPWRIGHT_CHECK(...)                                         \
    do {                                                             \
        auto status_result = (__VA_ARGS__);                          \
        if (!status_result) return std::move(status_result).error(); \
    } while (false)

// Checks of the caller and of ourselves. A failed one throws LogicError with its place; they are bugs, not faults of
// a job. The _EXPENSIVE forms act only in builds with GAPWRIGHT_EXPENSIVE_CHECKS.
#pragma once

#include <source_location>
#include <stdexcept>

namespace geom {

class LogicError : public std::logic_error {
public:
    using std::logic_error::logic_error;
};

[[noreturn]] void fail_check(const char* kind, const char* text,
                             std::source_location where = std::source_location::current());

}  // namespace geom

#define EXPECTS(condition) ((condition) ? void() : ::geom::fail_check("EXPECTS", #condition))
#define ENSURES(condition) ((condition) ? void() : ::geom::fail_check("ENSURES", #condition))
#define INVARIANT(condition) ((condition) ? void() : ::geom::fail_check("INVARIANT", #condition))
#ifdef GAPWRIGHT_EXPENSIVE_CHECKS
#define EXPECTS_EXPENSIVE(condition) EXPECTS(condition)
#define ENSURES_EXPENSIVE(condition) ENSURES(condition)
#else
#define EXPECTS_EXPENSIVE(condition) void()
#define ENSURES_EXPENSIVE(condition) void()
#endif

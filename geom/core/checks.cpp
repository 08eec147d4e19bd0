#include "geom/core/checks.h"

#include <fmt/format.h>

namespace geom {

void fail_check(const char* kind, const char* text, std::source_location where) {
    throw LogicError(fmt::format("{} failed: {} at {}:{}", kind, text, where.file_name(), where.line()));
}

}  // namespace geom

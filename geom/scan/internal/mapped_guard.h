// Mapped files that become shorter, or whose disk fails, while they are read: the system answers a read of what is gone
// with SIGBUS, which ends a program. While a guard lives, such a read gives zeros instead, from there to the end of the
// mapping, and the guard knows. Bus errors elsewhere go on to whoever had the signal before.
#pragma once

#include <cstddef>

namespace geom::scan::internal {

class MappedGuard {
public:
    /// Of a mapping that stays until the guard is gone.
    MappedGuard(const void* data, std::size_t size);
    ~MappedGuard();
    MappedGuard(const MappedGuard&) = delete;
    MappedGuard& operator=(const MappedGuard&) = delete;

    /// False when as many guards live already as there is room for: the mapping is then not guarded.
    bool is_on() const { return place_ >= 0; }
    /// Whether something of it was gone when it was read.
    bool was_hit() const;

private:
    int place_ = -1;
};

}  // namespace geom::scan::internal

// The handler may only do what is safe in a signal: it looks the address up in a fixed table of atomics and puts empty
// pages over the mapping (mmap is a bare system call). The thread that read goes on by itself. The handler is there
// only as long as a guard is.
#include "geom/scan/internal/mapped_guard.h"

#include <sys/mman.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <csignal>
#include <cstdint>
#include <mutex>

namespace geom::scan::internal {
namespace {

struct Place {
    std::atomic<std::uintptr_t> begin{0}, end{0};
    std::atomic<bool> was_hit{false};
    bool is_taken = false;  ///< under the mutex
};

std::array<Place, 16> places;
std::mutex mutex;
int living = 0;
struct sigaction before;
std::uintptr_t page = 4096;

static_assert(std::atomic<std::uintptr_t>::is_always_lock_free && std::atomic<bool>::is_always_lock_free);

void on_bus_error(int signal, siginfo_t* info, void*) {
    const auto at = reinterpret_cast<std::uintptr_t>(info->si_addr);
    for (Place& place : places) {
        const std::uintptr_t begin = place.begin.load(), end = place.end.load();
        if (begin == 0 || at < begin || at >= end) continue;
        const std::uintptr_t from = at / page * page;
        void* put = ::mmap(reinterpret_cast<void*>(from), end - from, PROT_READ,
                           MAP_PRIVATE | MAP_ANONYMOUS | MAP_FIXED | MAP_NORESERVE, -1, 0);
        if (put == MAP_FAILED) break;
        place.was_hit.store(true);
        return;
    }
    ::sigaction(signal, &before, nullptr);  // the read is tried again, under the one before
}

}  // namespace

MappedGuard::MappedGuard(const void* data, std::size_t size) {
    const std::lock_guard lock(mutex);
    for (std::size_t i = 0; i < places.size() && place_ < 0; ++i)
        if (!places[i].is_taken) place_ = static_cast<int>(i);
    if (place_ < 0) return;
    if (living == 0) {
        page = static_cast<std::uintptr_t>(::sysconf(_SC_PAGESIZE));
        struct sigaction action {};
        action.sa_sigaction = &on_bus_error;
        action.sa_flags = SA_SIGINFO;
        ::sigemptyset(&action.sa_mask);
        if (::sigaction(SIGBUS, &action, &before) != 0) {
            place_ = -1;
            return;
        }
    }
    ++living;
    Place& place = places[static_cast<std::size_t>(place_)];
    place.is_taken = true;
    place.was_hit.store(false);
    const auto begin = reinterpret_cast<std::uintptr_t>(data);
    place.end.store(begin + (size + page - 1) / page * page);
    place.begin.store(begin);
}

MappedGuard::~MappedGuard() {
    if (place_ < 0) return;
    const std::lock_guard lock(mutex);
    Place& place = places[static_cast<std::size_t>(place_)];
    place.begin.store(0);
    place.end.store(0);
    place.is_taken = false;
    if (--living == 0) ::sigaction(SIGBUS, &before, nullptr);
}

bool MappedGuard::was_hit() const {
    return place_ >= 0 && places[static_cast<std::size_t>(place_)].was_hit.load();
}

}  // namespace geom::scan::internal

// Plain C streams, because they say whether the last buffer reached the disk: a full disk shows only when closing.
#include "exports/internal/write_bytes.h"

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <string>

namespace exports {

geom::Status write_bytes(const std::filesystem::path& file, std::string_view bytes) {
    const auto fault = [&](int error) {
        return geom::Fault{geom::FaultCode::CannotWrite,
                           file.filename().string() + " cannot be written: " + std::strerror(error),
                           "see that the output folder may be written to and has room",
                           {},
                           "files"};
    };
    std::FILE* out = std::fopen(file.c_str(), "wb");
    if (out == nullptr) return fault(errno);
    errno = 0;
    const bool written = std::fwrite(bytes.data(), 1, bytes.size(), out) == bytes.size();
    const int write_error = errno;
    const bool closed = std::fclose(out) == 0;
    if (!written) return fault(write_error != 0 ? write_error : EIO);
    if (!closed) return fault(errno != 0 ? errno : EIO);
    return geom::Done{};
}

}  // namespace exports

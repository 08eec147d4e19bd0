// The bytes of an input file. Files up to a quarter of a gigabyte are read, so that a disk that fails is a fault with
// words; larger ones are mapped, and what has been parsed is handed back to the system, so that they need no memory.
// A mapped file that becomes shorter reads as zeros there, and check_unchanged() tells.
#pragma once

#include "geom/core/result.h"
#include "geom/scan/internal/mapped_guard.h"

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string_view>

namespace geom::scan::internal {

class FileContent {
public:
    /// Above this many bytes a file is mapped.
    static constexpr std::size_t kMapAbove = std::size_t{256} << 20;

    /// Faults: Unreadable  missing, a folder, not allowed, reading failed, shorter than when it was opened
    static Result<FileContent> open(const std::filesystem::path& path);
    FileContent(FileContent&& other) noexcept;
    FileContent& operator=(FileContent&&) = delete;
    ~FileContent();

    std::string_view bytes() const { return {data_, size_}; }
    /// What lies before `offset` is not needed for now; it is read again if it is asked for after all.
    void release_before(std::size_t offset) const;
    /// To be asked when all has been read. Faults: Unreadable  length or time of change are others than when it was
    /// opened, or a part of it could not be read: what was read is not to be trusted
    Status check_unchanged() const;

private:
    /// What tells a file from its next version.
    struct Mark {
        std::int64_t size = 0, seconds = 0, nanoseconds = 0;
        friend bool operator==(const Mark&, const Mark&) = default;
    };
    static std::optional<Mark> mark_of(int fd);

    FileContent() = default;
    std::filesystem::path path_;
    std::unique_ptr<char[]> held_;
    const char* data_ = nullptr;
    std::size_t size_ = 0;
    bool is_mapped_ = false;
    int fd_ = -1;  ///< open as long as a regular file is read; -1 for a pipe
    std::optional<Mark> mark_;
    std::unique_ptr<MappedGuard> guard_;
};

}  // namespace geom::scan::internal

// The bytes of an input file. Files up to a quarter of a gigabyte are read, so that a disk that fails is a fault with
// words; larger ones are mapped, and what has been parsed is handed back to the system, so that they need no memory.
#pragma once

#include "geom/core/result.h"

#include <filesystem>
#include <memory>
#include <string_view>

namespace geom::scan::internal {

class FileContent {
public:
    /// Faults: Unreadable  missing, a folder, not allowed, reading failed
    static Result<FileContent> open(const std::filesystem::path& path);
    FileContent(FileContent&& other) noexcept;
    FileContent& operator=(FileContent&&) = delete;
    ~FileContent();

    std::string_view bytes() const { return {data_, size_}; }
    /// What lies before `offset` is not needed for now; it is read again if it is asked for after all.
    void release_before(std::size_t offset) const;

private:
    FileContent() = default;
    std::unique_ptr<char[]> held_;
    const char* data_ = nullptr;
    std::size_t size_ = 0;
    bool is_mapped_ = false;
};

}  // namespace geom::scan::internal

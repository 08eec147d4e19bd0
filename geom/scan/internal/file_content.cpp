#include "geom/scan/internal/file_content.h"

#include "geom/core/fault.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <string>
#include <utility>
#include <vector>

namespace geom::scan::internal {
namespace {

constexpr std::size_t kBlock = std::size_t{8} << 20;

/// As many bytes as asked for or as there are; negative on an error.
ssize_t read_all(int fd, char* to, std::size_t wanted) {
    std::size_t got = 0;
    while (got < wanted) {
        const ssize_t n = ::read(fd, to + got, std::min(wanted - got, kBlock));
        if (n < 0 && errno == EINTR) continue;
        if (n < 0) return -1;
        if (n == 0) break;
        got += static_cast<std::size_t>(n);
    }
    return static_cast<ssize_t>(got);
}

}  // namespace

FileContent::FileContent(FileContent&& other) noexcept
    : path_(std::move(other.path_)),
      held_(std::move(other.held_)),
      data_(std::exchange(other.data_, nullptr)),
      size_(std::exchange(other.size_, 0)),
      is_mapped_(std::exchange(other.is_mapped_, false)),
      fd_(std::exchange(other.fd_, -1)),
      mark_(other.mark_),
      guard_(std::move(other.guard_)) {}

FileContent::~FileContent() {
    guard_.reset();
    if (is_mapped_) ::munmap(const_cast<char*>(data_), size_);
    if (fd_ >= 0) ::close(fd_);
}

std::optional<FileContent::Mark> FileContent::mark_of(int fd) {
    struct stat status {};
    if (::fstat(fd, &status) != 0) return std::nullopt;
    return Mark{status.st_size, status.st_mtim.tv_sec, status.st_mtim.tv_nsec};
}

Result<FileContent> FileContent::open(const std::filesystem::path& path) {
    const auto fault = [&](const std::string& rest, const std::string& hint) {
        return Fault{FaultCode::Unreadable, path.string() + ": " + rest, hint, {}, {}};
    };
    struct stat status {};
    if (::stat(path.c_str(), &status) != 0) {
        if (errno == ENOENT || errno == ENOTDIR)
            return fault("no such file", "check the name; it is looked for beside the job file");
        return fault(fmt::format("cannot be opened ({})", std::strerror(errno)), "check that you may read it");
    }
    if (S_ISDIR(status.st_mode)) return fault("a folder, wanted a file", "name the scan file in it");
    FileContent content;
    content.path_ = path;
    content.fd_ = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    const int fd = content.fd_;
    if (fd < 0) return fault(fmt::format("cannot be opened ({})", std::strerror(errno)), "check that you may read it");
    const auto failed = [&](std::size_t after) {
        return fault(fmt::format("reading failed after {} bytes", after), "copy the file to a sound disk");
    };
    if (!S_ISREG(status.st_mode)) {  // a pipe: its length is known when it ends
        std::vector<char> all;
        while (true) {
            const std::size_t before = all.size();
            all.resize(before + kBlock);
            const ssize_t got = read_all(fd, all.data() + before, kBlock);
            if (got < 0) return failed(before);
            all.resize(before + static_cast<std::size_t>(got));
            if (static_cast<std::size_t>(got) < kBlock) break;
        }
        content.held_ = std::make_unique_for_overwrite<char[]>(all.size());
        std::copy(all.begin(), all.end(), content.held_.get());
        content.data_ = content.held_.get();
        content.size_ = all.size();
        return content;
    }
    content.mark_ = mark_of(fd);
    if (!content.mark_) return failed(0);
    const auto size = static_cast<std::size_t>(content.mark_->size);
    if (size > kMapAbove) {
        void* map = ::mmap(nullptr, size, PROT_READ, MAP_PRIVATE, fd, 0);
        if (map == MAP_FAILED) return failed(0);
        ::madvise(map, size, MADV_SEQUENTIAL);
        content.data_ = static_cast<const char*>(map);
        content.size_ = size;
        content.is_mapped_ = true;
        content.guard_ = std::make_unique<MappedGuard>(map, size);
        if (!content.guard_->is_on())
            return fault("too many large files are being read at the same time", "read them one after the other");
        return content;
    }
    content.held_ = std::make_unique_for_overwrite<char[]>(size);
    const ssize_t got = read_all(fd, content.held_.get(), size);
    if (got < 0) return failed(0);
    content.data_ = content.held_.get();
    content.size_ = static_cast<std::size_t>(got);
    GAPWRIGHT_CHECK(content.check_unchanged());
    return content;
}

Status FileContent::check_unchanged() const {
    if (!mark_) return Done{};
    const auto fault = [&](const std::string& what, const std::string& hint) {
        return Fault{FaultCode::Unreadable, path_.string() + ": " + what, hint, {}, {}};
    };
    const std::optional<Mark> now = mark_of(fd_);
    const std::string again = "wait until it is written or copied whole, then run again";
    if (now && now->size != mark_->size)
        return fault(fmt::format("became {} while it was read: from {} to {} bytes",
                                 now->size < mark_->size ? "shorter" : "longer", mark_->size, now->size),
                     again);
    if (guard_ && guard_->was_hit())
        return fault(fmt::format("reading failed somewhere in its {} bytes", size_), "copy the file to a sound disk");
    if (now != mark_) return fault("was written to while it was read", again);
    return Done{};
}

void FileContent::release_before(std::size_t offset) const {
    if (!is_mapped_) return;
    const auto page = static_cast<std::size_t>(::sysconf(_SC_PAGESIZE));
    const std::size_t whole = std::min(offset, size_) / page * page;
    if (whole > 0) ::madvise(const_cast<char*>(data_), whole, MADV_DONTNEED);
}

}  // namespace geom::scan::internal

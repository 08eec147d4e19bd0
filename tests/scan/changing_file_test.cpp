// Files that change while they are read.
#include "geom/scan/internal/file_content.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

#include <fcntl.h>
#include <unistd.h>

#include <csignal>
#include <fstream>

using namespace geom;
using Catch::Matchers::Contains;
using geom::scan::internal::FileContent;

namespace {

/// A file of `size` bytes that takes no room on the disk: zeros, but for its last byte.
std::filesystem::path sparse(const support::TempFolder& folder, std::size_t size) {
    const auto path = folder.path() / "large.xyz";
    std::ofstream stream(path, std::ios::binary);
    stream.seekp(static_cast<std::streamoff>(size - 1));
    stream.put('9');
    return path;
}

constexpr std::size_t kLarge = FileContent::kMapAbove + (std::size_t{16} << 20);

}  // namespace

TEST_CASE("a large file that becomes shorter while it is read is a fault, not a crash", "[scan][read][fault]") {
    const support::TempFolder folder;
    const auto path = sparse(folder, kLarge);
    auto content = FileContent::open(path);
    REQUIRE(content.has_value());
    const std::string_view bytes = content->bytes();
    REQUIRE(bytes.size() == kLarge);
    CHECK(bytes.back() == '9');
    CHECK(content->check_unchanged().has_value());
    content->release_before(bytes.size());
    REQUIRE(truncate(path.c_str(), 8192) == 0);
    // What is gone reads as zeros, from any place on; what is left reads as it was.
    CHECK(bytes[kLarge / 2] == '\0');
    CHECK(bytes.back() == '\0');
    CHECK(bytes[0] == '\0');
    const Status status = content->check_unchanged();
    REQUIRE_FALSE(status.has_value());
    CHECK(status.error().code == FaultCode::Unreadable);
    CHECK_THAT(status.error().what, Contains("became shorter while it was read") && Contains("to 8192 bytes"));
    CHECK_FALSE(status.error().hint.empty());
}

TEST_CASE("a bus error that is none of a scan's still goes to whoever had it before", "[scan][read][fault]") {
    struct sigaction mine {
    }, now{};
    mine.sa_handler = SIG_IGN;
    struct sigaction before {};
    REQUIRE(sigaction(SIGBUS, &mine, &before) == 0);
    {
        const support::TempFolder folder;
        const auto content = FileContent::open(sparse(folder, kLarge));
        REQUIRE(content.has_value());
        REQUIRE(sigaction(SIGBUS, nullptr, &now) == 0);
        CHECK(now.sa_handler != SIG_IGN);
    }
    REQUIRE(sigaction(SIGBUS, &before, &now) == 0);
    CHECK(now.sa_handler == SIG_IGN);
}

TEST_CASE("a file that is still being written is a fault", "[scan][read][fault]") {
    const support::TempFolder folder;
    const auto path = sparse(folder, kLarge);
    const auto content = FileContent::open(path);
    REQUIRE(content.has_value());
    REQUIRE(truncate(path.c_str(), static_cast<off_t>(kLarge + 100)) == 0);
    const Status longer = content->check_unchanged();
    REQUIRE_FALSE(longer.has_value());
    CHECK_THAT(longer.error().what, Contains("became longer while it was read"));
}

#include "exports/internal/sha256.h"
#include "exports/delivery.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

using exports::Sha256;

namespace {
std::string digest(std::string_view text) {
    Sha256 hash;
    hash.add(text);
    return hash.hex();
}
}  // namespace

TEST_CASE("the digests of the published examples come out", "[exports][sha256][oracle]") {
    // NIST, "Cryptographic Standards and Guidelines: Examples with Intermediate Values, SHA-256" and the examples of
    // FIPS 180-2, appendix B [memory]; the empty message from NIST's short-message vectors [memory].
    CHECK(digest("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    CHECK(digest("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    CHECK(digest("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
          "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    CHECK(digest(std::string(1'000'000, 'a')) == "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

TEST_CASE("a digest does not depend on how the bytes are cut", "[exports][sha256][property]") {
    std::string text;
    for (int i = 0; i < 1000; ++i) text += static_cast<char>(i * 37 % 256);
    for (const std::size_t cut : {1u, 55u, 56u, 63u, 64u, 65u, 999u}) {
        Sha256 hash;
        hash.add(std::string_view(text).substr(0, cut));
        hash.add(std::string_view(text).substr(cut));
        CHECK(hash.hex() == digest(text));
    }
}

TEST_CASE("a file has the digest of its bytes, a missing one none", "[exports][sha256]") {
    const support::TempFolder folder;
    const auto file = folder.write("a.bin", "abc");
    CHECK(exports::sha256_of_file(file) == digest("abc"));
    CHECK(exports::sha256_of_file(folder.path() / "b.bin").empty());
}

#include "tests/scan/scan_files.h"
#include "tests/support/temp_folder.h"

#include <fmt/format.h>

using namespace geom;
using namespace geom::scan;
using namespace scan_files;
using Catch::Matchers::Contains;
using support::TempFolder;

namespace {

const std::vector<Point3> kPatch = {{0, 0, 0}, {60, 0, 0}, {0, 60, 0}, {60, 60, 12.5}, {-25, 30, 7}};

/// Fields of no use stand before, between and after; one has a count of three.
std::string header(const std::string& data, std::size_t points) {
    return fmt::format(
        "# .PCD v0.7 - Point Cloud Data file format\nVERSION 0.7\nFIELDS rgb x tag y normal_x normal_y normal_z z\n"
        "SIZE 4 4 2 8 4 4 4 4\nTYPE U F I F F F F F\nCOUNT 1 1 3 1 1 1 1 1\nWIDTH {0}\nHEIGHT 1\n"
        "VIEWPOINT 9 9 9 1 0 0 0\nPOINTS {0}\nDATA {1}\n",
        points, data);
}

std::string packed_rows() {
    std::string bytes;
    for (const Point3& p : kPatch) {
        put(bytes, std::uint32_t{0x00FF8040});
        put(bytes, static_cast<float>(p.x));
        for (int i = 0; i < 3; ++i) put(bytes, static_cast<std::int16_t>(-i));
        put(bytes, p.y);
        for (float n : {0.0f, 3.0f, 4.0f}) put(bytes, n);
        put(bytes, static_cast<float>(p.z));
    }
    return bytes;
}

/// The rows field after field, and packed as LZF with one copy from afar, one from near and the rest as it is.
std::string lzf_of(const std::string& rows) {
    const std::size_t widths[] = {4, 4, 6, 8, 4, 4, 4, 4}, row = 38;
    std::string columns;
    std::size_t at = 0;
    for (const std::size_t w : widths) {
        for (std::size_t i = 0; i * row < rows.size(); ++i) columns += rows.substr(i * row + at, w);
        at += w;
    }
    // The first column is one colour five times: 4 bytes as they are, then 16 more copied from 4 back.
    std::string packed = std::string(1, '\3') + columns.substr(0, 4) + std::string("\xE0\x07\x03", 3);
    for (std::size_t i = 20; i < columns.size(); i += 32) {
        const std::string run = columns.substr(i, 32);
        packed += static_cast<char>(run.size() - 1) + run;
    }
    std::string bytes;
    put(bytes, static_cast<std::uint32_t>(packed.size()));
    put(bytes, static_cast<std::uint32_t>(columns.size()));
    return bytes + packed;
}

}  // namespace

TEST_CASE("a PCD gives the same points as text, packed and compressed, with fields of no use walked past",
          "[scan][read][pcd]") {
    const TempFolder folder;
    std::string text;
    for (const Point3& p : kPatch) text += fmt::format("4286578688 {} 0 -1 -2 {} 0 3 4 {}\n", p.x, p.y, p.z);
    const auto [data, body] =
        GENERATE_COPY(std::pair{std::string("ascii"), text}, std::pair{std::string("binary"), packed_rows()},
                      std::pair{std::string("binary_compressed"), lzf_of(packed_rows())});
    CAPTURE(data);
    const RawScan scan = require(read(folder.write("p.pcd", header(data, kPatch.size()) + body)));
    check_points(scan.points, kPatch);
    REQUIRE(scan.normals.size() == kPatch.size());
    CHECK(distance(scan.normals[2], {0, 0.6, 0.8}) < 1e-6);
    REQUIRE(scan.files.size() == 1);
    CHECK(scan.files[0].has_colours);
    CHECK_THAT(scan.files[0].format, Contains("PCD"));
    CHECK_FALSE(scan.files[0].own_unit.has_value());
}

TEST_CASE("a PCD without a POINTS line has as many as its grid, and empty places of the grid are dropped",
          "[scan][read][pcd]") {
    const TempFolder folder;
    const RawScan scan = require(read(folder.write("g.pcd",
                                                   "VERSION .7\nFIELDS x y z\nSIZE 4 4 4\nTYPE F F F\nWIDTH 2\nHEIGHT "
                                                   "2\nDATA ascii\n0 0 0\nnan nan nan\n90 0 0\n0 90 1\n")));
    CHECK(scan.points.size() == 3);
    CHECK(scan.not_finite == 1);
    CHECK(scan.files[0].points == 4);
}

TEST_CASE("a broken PCD is refused with what was wanted", "[scan][read][pcd][fault]") {
    const TempFolder folder;
    auto fault_of = [&](const std::string& bytes) { return require_fault(read(folder.write("b.pcd", bytes))).what; };
    CHECK_THAT(fault_of("VERSION .7\nFIELDS x y z\n"), Contains("no \"DATA\" line"));
    CHECK_THAT(fault_of("VERSION .7\nPOINTS 3\nDATA ascii\n0 0 0\n"), Contains("no \"FIELDS\" line"));
    CHECK_THAT(fault_of("FIELDS x y\nPOINTS 1\nDATA ascii\n0 0\n"), Contains("the PCD header declares no x, y and z"));
    CHECK_THAT(fault_of("FIELDS x y z\nSIZE 4 4 3\nTYPE F F F\nPOINTS 1\nDATA ascii\n0 0 0\n"),
               Contains("field \"z\" as F of 3 bytes"));
    CHECK_THAT(fault_of("FIELDS x y z\nTYPE F F C\nDATA ascii\n"),
               Contains("line 2 of the PCD header: TYPE of field \"z\" is \"C\""));
    CHECK_THAT(fault_of("FIELDS x y z\nPOINTS many\nDATA ascii\n"), Contains("POINTS \"many\""));
    CHECK_THAT(fault_of("FIELDS x y z\nPOINTS 2\nDATA morse\n"), Contains("DATA \"morse\", wanted ascii, binary"));
    CHECK_THAT(fault_of("FIELDS x y z\nPOINTS 3\nDATA ascii\n0 0 0\n10 10\n20 20 20\n"),
               Contains("line 5: fewer values than the header declares"));
    CHECK_THAT(fault_of("FIELDS x y z\nPOINTS 400000000\nDATA binary\n"),
               Contains("400000000 vertex declared in the PCD header"));
    std::string lie = header("binary_compressed", kPatch.size());
    std::string body = lzf_of(packed_rows());
    CHECK_THAT(fault_of(lie + body.substr(0, body.size() - 1)), Contains("bytes of compressed points declared"));
    body[12 + 2] = '\x7F';  // a copy from further back than there is
    CHECK_THAT(fault_of(lie + body), Contains("cannot be unpacked"));
}

TEST_CASE("a PCD cut at any byte is a fault or gives whole points, never more", "[scan][read][pcd][fault][property]") {
    const TempFolder folder;
    for (const std::string& whole : {header("binary", kPatch.size()) + packed_rows(),
                                     header("binary_compressed", kPatch.size()) + lzf_of(packed_rows())})
        for (std::size_t n = 0; n < whole.size(); ++n) {
            const auto result = read(folder.write("cut.pcd", whole.substr(0, n)));
            if (result) FAIL("cut at byte " << n << " of " << whole.size() << " was read");
            REQUIRE_FALSE(result.error().what.empty());
        }
}

TEST_CASE("a lidar's PCD gives the same points as its text", "[scan][read][pcd][corpus]") {
    const std::filesystem::path folder = GAPWRIGHT_SCANS;
    if (folder.empty() || !std::filesystem::exists(folder / "parked_vehicles_lidar.pcd")) {
        WARN("skipped: set GAPWRIGHT_SCANS to a folder with parked_vehicles_lidar.pcd in it");
        return;
    }
    const RawScan a = require(read(folder / "parked_vehicles_lidar.pcd", FileUnit::Metre));
    const RawScan b = require(read(folder / "parked_vehicles_lidar.xyz", FileUnit::Metre));
    CHECK(a.points.size() == 9311);
    CHECK(a.points == b.points);
}

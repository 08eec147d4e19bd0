// The files are written here byte by byte; nlohmann's JSON is not asked, so that the reader's library and the oracle
// share nothing.
#include "tests/scan/scan_files.h"
#include "tests/support/temp_folder.h"

#include <fmt/format.h>

using namespace geom;
using namespace geom::scan;
using namespace scan_files;
using Catch::Matchers::Contains;
using support::TempFolder;

namespace {

std::string padded(std::string bytes, char with) {
    while (bytes.size() % 4 != 0) bytes += with;
    return bytes;
}

std::string glb(const std::string& json, const std::string& data, std::uint32_t version = 2) {
    const std::string j = padded(json, ' '), b = padded(data, '\0');
    std::string bytes = "glTF";
    put(bytes, version);
    put(bytes, static_cast<std::uint32_t>(12 + 8 + j.size() + (b.empty() ? 0 : 8 + b.size())));
    put(bytes, static_cast<std::uint32_t>(j.size()));
    bytes += "JSON" + j;
    if (b.empty()) return bytes;
    put(bytes, static_cast<std::uint32_t>(b.size()));
    return bytes + std::string("BIN\0", 4) + b;
}

std::string floats(const std::vector<double>& values) {
    std::string bytes;
    for (double v : values) put(bytes, static_cast<float>(v));
    return bytes;
}

template <class T>
std::string wholes(const std::vector<int>& values) {
    std::string bytes;
    for (int v : values) put(bytes, static_cast<T>(v));
    return bytes;
}

/// A unit square in metres, 0.5 m wide, in the plane y = 0.
const std::string kSquare = floats({0, 0, 0, 0.5, 0, 0, 0.5, 0, 0.5, 0, 0, 0.5});
const std::vector<Point3> kSquare_mm = {{0, 0, 0}, {500, 0, 0}, {500, 0, 500}, {0, 0, 500}};

/// One mesh of one primitive: four places (48 bytes), then indices.
std::string one_mesh(const std::string& primitive, const std::string& accessors, std::size_t bytes,
                     const std::string& node = R"({"mesh":0})", const std::string& views = "",
                     const std::string& more = "") {
    return fmt::format(
        R"({{"asset":{{"version":"2.0"}},"scene":0,"scenes":[{{"nodes":[0]}}],"nodes":[{}],)"
        R"("meshes":[{{"primitives":[{}]}}],"accessors":[{}],"bufferViews":[{}],"buffers":[{{"byteLength":{}}}]{}}})",
        node, primitive, accessors,
        views.empty() ? fmt::format(R"({{"buffer":0,"byteLength":48}},{{"buffer":0,"byteOffset":48,"byteLength":{}}})",
                                    bytes > 48 ? bytes - 48 : 1)
                      : views,
        bytes, more);
}

const std::string kPlaces = R"({"bufferView":0,"componentType":5126,"count":4,"type":"VEC3"})";

using T = std::array<std::uint32_t, 3>;

}  // namespace

TEST_CASE("a GLB's triangles are read in metres, with indices of every width, as lists, strips and fans",
          "[scan][read][gltf]") {
    const TempFolder folder;
    struct Form {
        int mode;
        std::vector<int> indices;
    };
    const Form form = GENERATE(Form{4, {0, 2, 1, 0, 3, 2}}, Form{5, {0, 3, 1, 2}}, Form{6, {0, 3, 2, 1}});
    const int component = GENERATE(5121, 5123, 5125);
    CAPTURE(form.mode, component);
    const std::string indices = component == 5121   ? wholes<std::uint8_t>(form.indices)
                                : component == 5123 ? wholes<std::uint16_t>(form.indices)
                                                    : wholes<std::uint32_t>(form.indices);
    const std::string data = kSquare + indices;
    const std::string json =
        one_mesh(fmt::format(R"({{"attributes":{{"POSITION":0}},"indices":1,"mode":{}}})", form.mode),
                 kPlaces + fmt::format(R"(,{{"bufferView":1,"componentType":{},"count":{},"type":"SCALAR"}})",
                                       component, form.indices.size()),
                 data.size());
    const RawScan scan =
        require(read(folder.write("s.glb", glb(json, data)), FileUnit::Inch));  // the format's unit wins
    check_points(scan.points, kSquare_mm, 1e-3);
    REQUIRE(scan.triangles.size() == 2);
    // The outline turns the same way in all three: area vectors point to +y.
    for (const T& t : scan.triangles) {
        const Vec3 n = cross(scan.points[t[1]] - scan.points[t[0]], scan.points[t[2]] - scan.points[t[0]]);
        CHECK(n.y == Approx(250000.0));
    }
    CHECK(scan.files[0].own_unit == FileUnit::Metre);
    CHECK(scan.files[0].format == "glTF, binary");
}

TEST_CASE("triangles without indices are taken three by three and equal corners joined", "[scan][read][gltf]") {
    const TempFolder folder;
    const std::string data = floats({0, 0, 0, 1, 0, 0, 0, 0, 1, 1, 0, 0, 1, 0, 1, 0, 0, 1});
    const std::string json =
        one_mesh(R"({"attributes":{"POSITION":0}})", R"({"bufferView":0,"componentType":5126,"count":6,"type":"VEC3"})",
                 data.size(), R"({"mesh":0})", R"({"buffer":0,"byteLength":72})");
    const RawScan scan = require(read(folder.write("s.glb", glb(json, data))));
    CHECK(scan.points.size() == 4);
    CHECK(scan.triangles == std::vector<T>{{0, 1, 2}, {1, 3, 2}});
}

TEST_CASE("the nodes' moves, turns, scales and matrices are applied one upon the other; a mirror turns triangles round",
          "[scan][read][gltf]") {
    const TempFolder folder;
    const std::string data = kSquare + wholes<std::uint16_t>({0, 1, 2});
    const std::string accessors = kPlaces + R"(,{"bufferView":1,"componentType":5123,"count":3,"type":"SCALAR"})";
    auto read_with = [&](const std::string& nodes) {
        return require(read(folder.write(
            "n.glb",
            glb(one_mesh(R"({"attributes":{"POSITION":0},"indices":1})", accessors, data.size(), nodes), data))));
    };
    // A quarter turn about y takes x to -z; then the parent doubles and moves.
    const RawScan turned = read_with(
        R"({"children":[1],"translation":[1,2,3],"scale":[2,2,2]},{"mesh":0,"rotation":[0,0.70710678118654752,0,0.70710678118654752]})");
    check_points(turned.points, {{1000, 2000, 3000}, {1000, 2000, 2000}, {2000, 2000, 2000}, {2000, 2000, 3000}}, 1e-3);
    CHECK(turned.triangles == std::vector<T>{{0, 1, 2}});
    const RawScan mirrored = read_with(R"({"mesh":0,"matrix":[-1,0,0,0, 0,1,0,0, 0,0,1,0, 5,6,7,1]})");
    check_points(mirrored.points, {{5000, 6000, 7000}, {4500, 6000, 7000}, {4500, 6000, 7500}, {5000, 6000, 7500}},
                 1e-3);
    CHECK(mirrored.triangles == std::vector<T>{{0, 2, 1}});
}

TEST_CASE("interleaved, normalised and sparse places are read", "[scan][read][gltf]") {
    const TempFolder folder;
    // Interleaved: x y z and a colour of four bytes, 16 bytes a vertex.
    std::string woven;
    for (std::size_t i = 0; i < 4; ++i) woven += kSquare.substr(12 * i, 12) + "RGBA";
    const std::string points_mode = R"({"attributes":{"POSITION":0,"COLOR_0":1},"mode":0})";
    const RawScan a = require(read(folder.write(
        "w.glb",
        glb(one_mesh(
                points_mode,
                kPlaces +
                    R"(,{"bufferView":0,"byteOffset":12,"componentType":5121,"normalized":true,"count":4,"type":"VEC4"})",
                64, R"({"mesh":0})", R"({"buffer":0,"byteLength":64,"byteStride":16})"),
            woven))));
    check_points(a.points, kSquare_mm, 1e-3);
    CHECK(a.triangles.empty());
    CHECK(a.files[0].has_colours);

    // Quantised: signed 16 bit, 32767 is 1, padded to 8 bytes; a node brings them to size.
    std::string quantised;
    for (const Point3& p : kSquare_mm) {
        for (double v : {p.x, p.y, p.z}) put(quantised, static_cast<std::int16_t>(v / 500.0 * 32767));
        put(quantised, std::int16_t{0});
    }
    const RawScan b = require(read(folder.write(
        "q.glb",
        glb(one_mesh(R"({"attributes":{"POSITION":0},"mode":0})",
                     R"({"bufferView":0,"componentType":5122,"normalized":true,"count":4,"type":"VEC3"})", 32,
                     R"({"mesh":0,"scale":[0.5,0.5,0.5]})", R"({"buffer":0,"byteLength":32,"byteStride":8})",
                     R"(,"extensionsUsed":["KHR_mesh_quantization"],"extensionsRequired":["KHR_mesh_quantization"])"),
            quantised))));
    check_points(b.points, kSquare_mm, 1e-3);

    // Sparse: no base, so zeros, of which the last three are given.
    const std::string sparse = wholes<std::uint16_t>({1, 2, 3, 0}) + kSquare.substr(12);
    const RawScan c = require(read(folder.write(
        "z.glb",
        glb(one_mesh(
                R"({"attributes":{"POSITION":0},"mode":0})",
                R"({"componentType":5126,"count":4,"type":"VEC3","sparse":{"count":3,"indices":{"bufferView":0,"componentType":5123},"values":{"bufferView":1}}})",
                44, R"({"mesh":0})", R"({"buffer":0,"byteLength":8},{"buffer":0,"byteOffset":8,"byteLength":36})"),
            sparse))));
    check_points(c.points, kSquare_mm, 1e-3);
}

TEST_CASE("a glTF as text takes its buffers from beside it and from within", "[scan][read][gltf]") {
    const TempFolder folder;
    const std::string json =
        R"({"asset":{"version":"2.0"},"meshes":[{"primitives":[{"attributes":{"POSITION":0},"mode":0},)"
        R"({"attributes":{"POSITION":1},"mode":0}]}],"accessors":[)" +
        kPlaces +
        R"(,{"bufferView":1,"componentType":5126,"count":1,"type":"VEC3"}],)"
        R"("bufferViews":[{"buffer":0,"byteLength":48},{"buffer":1,"byteLength":12}],)"
        R"("buffers":[{"byteLength":48,"uri":"square.bin"},)"
        // 0, 0.25, 0 in base 64
        R"({"byteLength":12,"uri":"data:application/octet-stream;base64,AAAAAAAAgD4AAAAA"}],)"
        R"("images":[{"uri":"never-there.png"}]})";
    const auto file = folder.write("s.gltf", json);
    const Fault missing = require_fault(read(file));
    CHECK(missing.code == FaultCode::Unreadable);
    CHECK_THAT(missing.what, Contains("s.gltf: no sound glTF") && Contains("square.bin"));
    CHECK_THAT(missing.hint, Contains(".bin files that it names beside it"));
    folder.write("square.bin", kSquare);
    std::vector<Point3> wanted = kSquare_mm;
    wanted.push_back({0, 250, 0});
    check_points(require(read(file)).points, wanted, 1e-3);
}

TEST_CASE("a glTF that cannot be read is refused with what is wrong", "[scan][read][gltf][fault]") {
    const TempFolder folder;
    const std::string data = kSquare + wholes<std::uint16_t>({0, 1, 2});
    const std::string indices = R"({"bufferView":1,"componentType":5123,"count":3,"type":"SCALAR"})";
    const std::string triangle = R"({"attributes":{"POSITION":0},"indices":1})";
    auto fault_of = [&](const std::string& bytes) { return require_fault(read(folder.write("b.glb", bytes))); };
    auto json_fault = [&](const std::string& json) { return fault_of(glb(json, data)).what; };

    CHECK_THAT(fault_of(glb("{}", "", 1)).what, Contains("glTF version 1, wanted 2"));
    CHECK_THAT(fault_of("glTF").what, Contains("4 bytes, wanted at least the 20"));
    CHECK_THAT(fault_of("RIFFxxxxyyyyzzzzwwww").what, Contains("begins with \"RIFF\", wanted \"glTF\""));
    CHECK_THAT(fault_of(glb("{\"asset\":", data)).what, Contains("no sound glTF"));
    for (const char* extension : {"KHR_draco_mesh_compression", "EXT_meshopt_compression"}) {
        const Fault fault = fault_of(glb(one_mesh(triangle, kPlaces + "," + indices, data.size(), R"({"mesh":0})", "",
                                                  fmt::format(R"(,"extensionsRequired":["{}"])", extension)),
                                         data));
        CHECK_THAT(fault.what, Contains(extension) && Contains("compressed"));
        CHECK_THAT(fault.hint, Contains("without compression"));
    }
    CHECK_THAT(
        json_fault(one_mesh(
            R"({"attributes":{"POSITION":0},"indices":1,"extensions":{"KHR_draco_mesh_compression":{"bufferView":0}}})",
            R"({"componentType":5126,"count":4,"type":"VEC3"},{"componentType":5123,"count":3,"type":"SCALAR"})",
            data.size())),
        Contains("compressed (KHR_draco_mesh_compression)"));
    CHECK_THAT(json_fault(one_mesh(triangle, kPlaces + "," + indices, data.size(), R"({"mesh":0})", "",
                                   R"(,"extensionsRequired":["VENDOR_bent_space"])")),
               Contains("requires the extension VENDOR_bent_space"));
    CHECK_THAT(
        json_fault(one_mesh(triangle, R"({"bufferView":0,"componentType":5126,"count":5,"type":"VEC3"},)" + indices,
                            data.size())),
        Contains("accessor 0 (places) asks for 5 values of 12 bytes, but its buffer view holds 48 bytes"));
    CHECK_THAT(
        json_fault(one_mesh(triangle, R"({"bufferView":7,"componentType":5126,"count":4,"type":"VEC3"},)" + indices,
                            data.size())),
        Contains("buffer view 7, of 2"));
    CHECK_THAT(
        json_fault(one_mesh(triangle, R"({"bufferView":0,"componentType":5126,"count":4,"type":"VEC2"},)" + indices,
                            data.size())),
        Contains("wanted 3 numbers"));
    CHECK_THAT(
        json_fault(one_mesh(R"({"attributes":{"POSITION":0},"indices":9})", kPlaces + "," + indices, data.size())),
        Contains("no sound glTF: primitive indices accessor out of bounds"));
    CHECK_THAT(
        json_fault(one_mesh(triangle, R"({"bufferView":0,"componentType":5126,"count":2,"type":"VEC3"},)" + indices,
                            data.size())),
        Contains("vertex index 2 in accessor 1, wanted 0 to 1"));
    CHECK_THAT(json_fault(one_mesh(triangle, kPlaces + "," + indices, data.size(),
                                   R"({"mesh":0,"children":[1]},{"children":[0]})")),
               Contains("stands in a loop"));
    CHECK_THAT(json_fault(one_mesh(triangle, kPlaces + "," + indices, data.size(), R"({"mesh":4})")),
               Contains("mesh 4, of 1"));
    CHECK_THAT(json_fault(one_mesh(triangle, kPlaces + "," + indices, data.size(), R"({"name":"camera"})")),
               Contains("shows no points and no triangles"));
}

TEST_CASE("a GLB in millimetres against the format's rule is refused with the units that fit",
          "[scan][read][gltf][fault]") {
    const TempFolder folder;
    std::vector<double> places = {0, 0, 0, 500, 0, 0, 500, 0, 500, 0, 0, 500};
    const std::string data = floats(places);
    const Fault fault =
        require_fault(read(folder.write("mm.glb", glb(one_mesh(R"({"attributes":{"POSITION":0},"mode":0})", kPlaces, 48,
                                                               R"({"mesh":0})", R"({"buffer":0,"byteLength":48})"),
                                                      data))));
    CHECK(fault.code == FaultCode::WrongUnit);
    CHECK_THAT(fault.what, Contains("500 x 0 x 500 m"));
    CHECK_THAT(fault.hint, Contains("glTF is in metres") && Contains("mm (500 x 0 x 500 mm)"));
}

TEST_CASE("a GLB cut at any byte is a fault, never more", "[scan][read][gltf][fault][property]") {
    const TempFolder folder;
    const std::string data = kSquare + wholes<std::uint16_t>({0, 1, 2});
    const std::string whole =
        glb(one_mesh(R"({"attributes":{"POSITION":0},"indices":1})",
                     kPlaces + R"(,{"bufferView":1,"componentType":5123,"count":3,"type":"SCALAR"})", data.size()),
            data);
    REQUIRE(read(folder.write("whole.glb", whole)).has_value());
    for (std::size_t n = 0; n < whole.size(); ++n) {
        const auto result = read(folder.write("cut.glb", whole.substr(0, n)));
        if (result) FAIL("cut at byte " << n << " of " << whole.size() << " was read");
        REQUIRE_FALSE(result.error().what.empty());
    }
}

TEST_CASE("a GLB with any one byte of its JSON changed is read or refused, never more",
          "[scan][read][gltf][fault][property]") {
    const TempFolder folder;
    const std::string data = kSquare + wholes<std::uint16_t>({0, 1, 2});
    const std::string whole =
        glb(one_mesh(R"({"attributes":{"POSITION":0},"indices":1})",
                     kPlaces + R"(,{"bufferView":1,"componentType":5123,"count":3,"type":"SCALAR"})", data.size()),
            data);
    int refused = 0, taken = 0;
    for (std::size_t n = 20; n < whole.size() - data.size(); n += 3)
        for (const char c : {'9', '-', '"', '['}) {
            std::string changed = whole;
            changed[n] = c;
            const auto result = read(folder.write("changed.glb", changed));
            ++(result ? taken : refused);
            if (!result) REQUIRE_FALSE(result.error().what.empty());
        }
    CHECK(refused > taken);
}

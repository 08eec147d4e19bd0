// Thirty-odd files broken on purpose, each in one way: the right words, and never a wrong number without its bounds.
#include "geom/measure/shape_file.h"
#include "geom/measure/shape_volume.h"
#include "tests/measure/shapes.h"
#include "tests/support/mesh_files.h"
#include "tests/support/temp_folder.h"

#include <functional>
#include <optional>

using namespace geom;
using namespace geom::measure;

namespace {

constexpr double kBox_mm3 = 6e6;

void add_box(TriMesh& mesh, Point3 lo, Point3 hi, bool inwards = false) {
    const auto base = static_cast<std::uint32_t>(mesh.vertices.size());
    for (int i = 0; i < 8; ++i)
        mesh.vertices.push_back({i & 1 ? hi.x : lo.x, i & 2 ? hi.y : lo.y, i & 4 ? hi.z : lo.z});
    constexpr std::uint32_t kFaces[6][4] = {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4},
                                            {1, 3, 7, 5}, {3, 2, 6, 7}, {2, 0, 4, 6}};
    for (const auto& f : kFaces)
        for (const auto& t : {std::array<std::uint32_t, 3>{f[0], f[1], f[2]}, {f[0], f[2], f[3]}})
            mesh.triangles.push_back(inwards ? std::array{base + t[0], base + t[2], base + t[1]}
                                             : std::array{base + t[0], base + t[1], base + t[2]});
}

TriMesh box() {
    TriMesh mesh;
    add_box(mesh, {0, 0, 0}, {300, 200, 100});
    return mesh;
}

/// Every triangle cut into n^2, sharing vertices to the bit.
TriMesh fine(const TriMesh& mesh, int n) {
    TriMesh out;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
        const Point3 a = mesh.corner(t, 0), b = mesh.corner(t, 1), c = mesh.corner(t, 2);
        const auto at = [&](int i, int j) {
            const Point3 p = a + (b - a) * (double(i) / n) + (c - a) * (double(j) / n);
            out.vertices.push_back({std::round(p.x * 1024) / 1024, std::round(p.y * 1024) / 1024,
                                    std::round(p.z * 1024) / 1024});
            return static_cast<std::uint32_t>(out.vertices.size() - 1);
        };
        for (int i = 0; i < n; ++i)
            for (int j = 0; i + j < n; ++j) {
                out.triangles.push_back({at(i, j), at(i + 1, j), at(i, j + 1)});
                if (i + j + 1 < n) out.triangles.push_back({at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)});
            }
    }
    return join_equal(out);
}

std::string text_of(const std::string& format, const TriMesh& mesh) {
    if (format == "obj") return support::obj_text(mesh);
    if (format == "off") return support::off_text(mesh);
    if (format == "ply") return support::ply_binary(mesh);
    if (format == "glb") return support::glb(mesh, 0.001);
    if (format == "3mf") return support::three_mf(mesh);
    return support::stl_binary(mesh);
}

enum class Answer { Exact, Bounded, None, Fault };

struct Broken {
    const char* name;
    std::string ending, bytes;
    Answer answer;
    std::optional<Flaw> flaw;
    double mm3 = kBox_mm3;       ///< the truth: met exactly, or inside the bounds
    const char* words = "";      ///< of the fault
};

std::vector<Broken> table() {
    std::vector<Broken> all;
    const auto add = [&](const char* name, const char* ending, const TriMesh& mesh, Answer answer, Flaw flaw,
                         double mm3 = kBox_mm3) {
        all.push_back({name, ending, text_of(ending, mesh), answer, flaw, mm3});
    };
    const auto fault = [&](const char* name, const char* ending, std::string bytes, const char* words) {
        all.push_back({name, ending, std::move(bytes), Answer::Fault, {}, 0.0, words});
    };
    const auto with = [&](const std::function<void(TriMesh&)>& change, TriMesh mesh = box()) {
        change(mesh);
        return mesh;
    };
    // Borders.
    add("a triangle missing", "stl", with([](TriMesh& m) { m.triangles.pop_back(); }), Answer::Bounded, Flaw::Open);
    add("a face missing", "obj", with([](TriMesh& m) { m.triangles.resize(10); }), Answer::Bounded, Flaw::Open);
    add("a small hole in a fine mesh", "ply", with([](TriMesh& m) { m.triangles.erase(m.triangles.begin() + 77); },
                                                   fine(box(), 12)),
        Answer::Bounded, Flaw::Open);
    add("many small holes", "stl", with(
                                       [](TriMesh& m) {
                                           std::size_t i = 0;
                                           std::erase_if(m.triangles, [&](const auto&) { return ++i % 41 == 0; });
                                       },
                                       fine(box(), 12)),
        Answer::Bounded, Flaw::Open);
    add("two holes that touch at a vertex", "off",
        with([](TriMesh& m) { m.triangles.erase(m.triangles.begin() + 20, m.triangles.begin() + 22); }, fine(box(), 8)),
        Answer::Bounded, Flaw::Open);
    add("a sheet", "stl", with([](TriMesh& m) { m.triangles.resize(2); }), Answer::None, Flaw::Flat);
    add("a bent strip", "obj", with([](TriMesh& m) { m.triangles.resize(6); }), Answer::None, Flaw::Flat);
    add("one stray triangle beside a sound box", "stl", with([](TriMesh& m) {
            m.vertices.insert(m.vertices.end(), {{400, 0, 0}, {410, 0, 0}, {400, 10, 0}});
            m.triangles.push_back({8, 9, 10});
        }),
        Answer::Bounded, Flaw::Flat);
    // Seams.
    add("seams a thousandth of a millimetre apart", "obj", with([](TriMesh& m) {
            TriMesh apart;
            for (std::size_t t = 0; t < m.triangles.size(); ++t) {
                for (int c = 0; c < 3; ++c) {
                    apart.vertices.push_back(m.corner(t, c) + Vec3{1, -1, 1} * (1e-4 * static_cast<double>(t % 5)));
                }
                const auto n = static_cast<std::uint32_t>(apart.vertices.size());
                apart.triangles.push_back({n - 3, n - 2, n - 1});
            }
            m = apart;
        }),
        Answer::Exact, Flaw::Seam);
    add("a vertex in the middle of a neighbour's edge", "off", with([](TriMesh& m) {
            // Splits one triangle of an edge and leaves the other whole.
            const auto t = m.triangles[0];
            m.vertices.push_back((m.vertices[t[0]] + m.vertices[t[1]]) * 0.5);
            m.triangles[0] = {t[0], 8, t[2]};
            m.triangles.push_back({8, t[1], t[2]});
        }),
        Answer::Exact, Flaw::Seam);
    // Turning.
    add("one triangle turned over", "stl", with([](TriMesh& m) { std::swap(m.triangles[4][0], m.triangles[4][1]); }),
        Answer::Exact, Flaw::Turned);
    add("every third triangle turned over", "ply", with([](TriMesh& m) {
            for (std::size_t t = 0; t < m.triangles.size(); t += 3) std::swap(m.triangles[t][0], m.triangles[t][1]);
        }),
        Answer::Exact, Flaw::Turned);
    add("all turned over", "stl", reversed(box()), Answer::Exact, Flaw::InsideOut);
    add("all turned over, as 3MF", "3mf", reversed(box()), Answer::Exact, Flaw::InsideOut);
    add("turned over and open", "obj", with([](TriMesh& m) { m = reversed(m), m.triangles.pop_back(); }),
        Answer::Bounded, Flaw::InsideOut);
    add("a band with a half twist", "off", with([](TriMesh& m) {
            m = {};
            constexpr int kN = 30;
            for (int i = 0; i < kN; ++i)
                for (const double side : {-10.0, 10.0}) {
                    const double a = 2 * shapes::kPi * i / kN, r = 50 + side * std::cos(a / 2);
                    m.vertices.push_back({r * std::cos(a), r * std::sin(a), side * std::sin(a / 2)});
                }
            for (std::uint32_t i = 0; i < kN; ++i) {
                const std::uint32_t a = 2 * i, b = 2 * i + 1, c = i + 1 < kN ? 2 * i + 2 : 1, d = i + 1 < kN ? 2 * i + 3 : 0;
                m.triangles.push_back({a, b, c});
                m.triangles.push_back({b, d, c});
            }
        }),
        Answer::None, Flaw::OneSided);
    // Twice.
    add("every triangle twice", "stl", with([](TriMesh& m) {
            const auto once = m.triangles;
            m.triangles.insert(m.triangles.end(), once.begin(), once.end());
        }),
        Answer::Exact, Flaw::Doubled);
    add("every triangle from both sides", "obj", with([](TriMesh& m) {
            const auto once = m.triangles;
            for (auto t : once) m.triangles.push_back({t[0], t[2], t[1]});
        }),
        Answer::Exact, Flaw::Doubled);
    add("one triangle twice", "ply", with([](TriMesh& m) { m.triangles.push_back(m.triangles[3]); }), Answer::Exact,
        Flaw::Doubled);
    add("a wall inside, drawn from both sides", "off", with([](TriMesh& m) {
            m.triangles.push_back({0, 1, 7});
            m.triangles.push_back({0, 7, 1});
        }),
        Answer::Exact, Flaw::Doubled);
    add("a box twice in one place, vertices apart", "stl", with([](TriMesh& m) { add_box(m, {0, 0, 0}, {300, 200, 100}); }),
        Answer::Exact, Flaw::Doubled);
    // Degenerate.
    add("triangles with a repeated corner", "obj", with([](TriMesh& m) {
            m.triangles.push_back({0, 0, 1});
            m.triangles.push_back({2, 2, 2});
        }),
        Answer::Exact, Flaw::Collapsed);
    add("a needle without area along an edge", "ply", with([](TriMesh& m) {
            // The edge of two triangles opened by a vertex on it, the gap closed by a flat triangle.
            const auto t = m.triangles[0];
            m.vertices.push_back((m.vertices[t[0]] + m.vertices[t[1]]) * 0.5);
            m.triangles[0] = {t[0], 8, t[2]};
            m.triangles.push_back({8, t[1], t[2]});
            m.triangles.push_back({t[0], t[1], 8});
        }),
        Answer::Exact, Flaw::Sliver);
    add("all vertices on one plane, folded", "off", with([](TriMesh& m) {
            m = {};
            m.vertices = {{0, 0, 0}, {100, 0, 0}, {0, 100, 0}, {80, 90, 0}};
            m.triangles = {{0, 1, 2}, {1, 3, 2}, {0, 3, 1}, {0, 2, 3}};
        }),
        Answer::None, Flaw::Flat);
    // Not numbers.
    {
        std::string obj = support::obj_text(box());
        obj.replace(obj.find("v 300"), 5, "v nan");
        all.push_back({"a vertex that is not a number", "obj", obj, Answer::Bounded, Flaw::NotFinite, kBox_mm3});
    }
    {
        std::string stl = support::stl_binary(fine(box(), 6));
        const float huge = std::numeric_limits<float>::infinity();
        std::memcpy(stl.data() + 84 + 50 * 9 + 12, &huge, 4);
        all.push_back({"a corner that is infinite", "stl", stl, Answer::Bounded, Flaw::NotFinite, kBox_mm3});
    }
    // Several shells.
    add("two boxes that cross", "stl", with([](TriMesh& m) { add_box(m, {150, 100, 50}, {450, 300, 150}); }),
        Answer::Bounded, Flaw::Crossing, 2 * kBox_mm3 - 150.0 * 100 * 50);
    add("two boxes that touch with parts of a face", "obj",
        with([](TriMesh& m) { add_box(m, {300, 50, 20}, {500, 150, 90}); }), Answer::Exact, Flaw::Touching,
        kBox_mm3 + 200.0 * 100 * 70);
    add("two boxes that overlap in line, no edge through a face", "stl",
        with([](TriMesh& m) { add_box(m, {200, 0, 0}, {500, 200, 100}); }), Answer::Bounded, Flaw::Crossing,
        500.0 * 200 * 100);
    add("a hollow whose faces look outwards", "3mf", with([](TriMesh& m) { add_box(m, {50, 50, 20}, {250, 150, 80}); }),
        Answer::Bounded, Flaw::NestedAlike, kBox_mm3 - 200.0 * 100 * 60);
    add("a second box that is inside out", "glb",
        with([](TriMesh& m) { add_box(m, {400, 0, 0}, {500, 100, 100}, true); }), Answer::Bounded, Flaw::LooseVoid,
        kBox_mm3 + 1e6);
    add("two boxes that share an edge", "off", with([](TriMesh& m) {
            add_box(m, {300, 200, 0}, {500, 300, 100});
            m = join_equal(m);
        }),
        Answer::Exact, Flaw::Crowded, kBox_mm3 + 2e6);
    add("one vertex pulled through the far side", "ply", with(
                                                            [](TriMesh& m) {
                                                                for (Point3& p : m.vertices)
                                                                    if (p == Point3{150, 100, 100}) p.z = -60;
                                                            },
                                                            fine(box(), 4)),
        Answer::Bounded, Flaw::Crossing, 0.0);
    // Not shapes, or not whole.
    fault("points only", "ply",
          "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\nend_header\n0 0 "
          "0\n100 0 0\n0 100 0\n0 0 100\n",
          "no triangle");
    fault("cut off", "stl", support::stl_binary(box()).substr(0, 400), "a.stl");
    fault("empty", "stl", "", "empty");
    fault("a package that is damaged", "3mf", support::three_mf(box()).substr(0, 900), "3MF");
    fault("a package with nothing to build", "3mf", support::three_mf(box(), 1.0, "millimeter", "", false), "3MF");
    fault("a STEP file cut off", "step", "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=A(#2);\n", "END-ISO-10303-21");
    fault("a STEP file with a reference to nothing", "step",
          "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=A(#2,'#9 ;');\n/* #8 */\n#2=B(#7);\nENDSEC;\nEND-ISO-10303-21;\n",
          "line 7: refers to #7");
    fault("a STEP file with one name twice", "step",
          "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=A();\n#1=B();\nENDSEC;\nEND-ISO-10303-21;\n", "line 6: #1");
    fault("a STEP file of words without meaning", "step",
          "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=A(#2);\n#2=B();\nENDSEC;\nEND-ISO-10303-21;\n", "a.step");
    return all;
}

}  // namespace

TEST_CASE("broken files get the right diagnosis and never a bare wrong number", "[broken_shapes]") {
    const support::TempFolder folder;
    const std::vector<Broken> all = table();
    CHECK(all.size() >= 30);
    for (const Broken& b : all) {
        INFO(b.name);
        const auto path = folder.write("a." + b.ending, b.bytes);
        const Context quiet;
        auto file = read_shape(path, scan::FileUnit::Millimetre, quiet);
        if (b.answer == Answer::Fault) {
            REQUIRE_FALSE(file);
            CHECK_THAT(file.error().what, Catch::Contains(b.words));
            CHECK_FALSE(file.error().hint.empty());
            continue;
        }
        if (!file) FAIL_CHECK(file.error().what);
        if (!file) continue;
        REQUIRE(file->mesh);
        const ShapeVolume v = shapes::require(volume_of_mesh(std::move(*file->mesh), quiet));
        std::string found;
        bool named = false;
        for (const FlawFound& f : v.flaws) {
            found += std::string(name_of(f.flaw)) + ": " + f.what + "\n";
            named = named || f.flaw == b.flaw;
        }
        INFO(found << v.low.litres() << " " << v.volume.litres() << " " << v.high.litres());
        CHECK(named);
        CHECK(v.known == (b.answer != Answer::None));
        if (!v.known) continue;
        CHECK(v.exact == (b.answer == Answer::Exact));
        CHECK(v.low <= v.volume);
        CHECK(v.volume <= v.high);
        if (b.mm3 <= 0.0) continue;
        CHECK(v.low.mm3() <= b.mm3);
        CHECK(b.mm3 <= v.high.mm3());
        // An exact answer is one to what the flaw may move.
        if (v.exact) CHECK((v.high - v.low).mm3() <= 1e-4 * b.mm3);
    }
}

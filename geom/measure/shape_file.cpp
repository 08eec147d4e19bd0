#include "geom/measure/shape_file.h"

#include "geom/measure/brep_measure.h"
#include "geom/measure/step_text.h"
#include "geom/scan/read.h"

#include <fmt/format.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <fstream>

namespace geom::measure {

namespace {

bool is_step(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    std::array<char, 12> head{};
    in.read(head.data(), head.size());
    if (std::string_view(head.data(), static_cast<std::size_t>(in.gcount())).starts_with("ISO-10303-21")) return true;
    std::string ending = file.extension().string();
    for (char& c : ending) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return ending == ".step" || ending == ".stp" || ending == ".p21";
}

/// Reads it in a child first: a reader that crashes takes the child alone with it.
Status try_in_child(const std::filesystem::path& file) {
    const pid_t child = fork();
    if (child < 0) return Done{};
    if (child == 0) {
        alarm(600);
        (void)read_step(file.string());
        _exit(0);
    }
    int status = 0;
    while (waitpid(child, &status, 0) < 0 && errno == EINTR) {
    }
    if (WIFEXITED(status)) return Done{};
    return Fault{FaultCode::Unreadable,
                 file.string() + ": the STEP reader breaks down over it, although its text is whole",
                 "export it again from the program that made it, or as STL",
                 {},
                 {}};
}

Result<ShapeFile> read_step_shape(const std::filesystem::path& file) {
    GAPWRIGHT_CHECK(check_step_text(file));
    GAPWRIGHT_CHECK(try_in_child(file));
    GAPWRIGHT_TRY(products, read_step(file.string()));
    ShapeFile out;
    out.path = file;
    out.format = "STEP";
    for (StepProduct& product : products) out.breps.push_back({std::move(product.name), std::move(product.shape)});
    return out;
}

}  // namespace

Result<ShapeFile> read_shape(const std::filesystem::path& file, std::optional<scan::FileUnit> unit,
                             const Context& context) {
    if (is_step(file)) {
        const Stage stage(context, "volume/read");
        return read_step_shape(file);
    }
    scan::ReadOptions options;
    options.unit = unit.value_or(scan::FileUnit::Millimetre);
    options.any_extent = true;
    options.memory_limit_bytes = 6e9;
    GAPWRIGHT_TRY(read, scan::read_scans({file}, options, context));
    const scan::FileRead& found = read.files.front();
    if (read.triangles.empty())
        return Fault{FaultCode::BadScan,
                     fmt::format("{}: {} points and no triangle, wanted a surface", file.string(), read.points.size()),
                     "a cloud has no volume: make a mesh of it first; `gapwright scan` tells what it holds",
                     {},
                     {}};
    ShapeFile out;
    out.path = file;
    out.format = found.format;
    double factor = 1.0;  // over what it was read in
    if (found.own_unit) {
        out.unit = *found.own_unit;
    } else if (unit) {
        out.unit = *unit;
        out.unit_by = ShapeUnitBy::Statement;
    } else if (found.said_unit) {
        out.unit = *found.said_unit;
        out.unit_by = ShapeUnitBy::Remark;
        factor = scan::one(out.unit).mm();
    } else {
        Aabb box;
        for (const auto& t : read.triangles)
            for (const std::uint32_t v : t) box.grow(read.points[v]);
        const Vec3 size = box.size();
        const std::string plausible = scan::plausible_text(scan::likely_units(size));
        return Fault{
            FaultCode::WrongUnit,
            fmt::format("{}: measures {:.4g} x {:.4g} x {:.4g}, and the file does not say of what", file.string(),
                        size.x, size.y, size.z),
            plausible.empty() ? "say it: --unit mm, cm, m or in" : "say it with --unit, likeliest first: " + plausible,
            {},
            {}};
    }
    MeshInput mesh;
    mesh.mesh.vertices = std::move(read.points);
    mesh.mesh.triangles = std::move(read.triangles);
    if (factor != 1.0)
        for (Point3& p : mesh.mesh.vertices) p = p * factor;
    // The reader of STL has joined equal corners already.
    if (!out.format.starts_with("STL")) mesh.mesh = join_equal(mesh.mesh);
    mesh.not_finite = read.not_finite;
    mesh.single_precision = out.format == "3MF" || out.format.starts_with("glTF") || out.format.starts_with("GLB") ||
                            out.format == "STL, binary";
    mesh.file_unit_mm = scan::one(out.unit).mm();
    out.mesh = std::move(mesh);
    return out;
}

}  // namespace geom::measure

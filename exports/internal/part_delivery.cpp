#include "exports/internal/part_delivery.h"

#include "exports/internal/write_bytes.h"
#include "exports/step.h"
#include "exports/stl.h"

#include <optional>
#include <set>

namespace exports {
namespace {

using geom::Context;
using geom::Fault;
using geom::FaultCode;
using geom::check::Kind;
using geom::check::Verdict;

/// Of the first failed line of that kind that knows its place.
std::optional<geom::Point3> failed_place(const Verdict& verdict, Kind kind) {
    for (const auto& line : verdict.lines)
        if (!line.ok && line.kind == kind && line.place) return line.place;
    return std::nullopt;
}

std::vector<std::string> names_of(const std::vector<geom::parts::Product>& products) {
    std::vector<std::string> names;
    for (const auto& product : products) names.push_back(product.name);
    return names;
}

geom::Result<std::vector<geom::TriMesh>> meshes_of(const PartToDeliver& part, const Context& context) {
    const geom::Stage stage(context, "files/mesh");
    std::vector<geom::TriMesh> meshes;
    for (const auto& product : part.products) {
        if (context.is_cancelled()) return Context::interrupted();
        GAPWRIGHT_TRY(mesh, part.tessellate(product.solid, part.chord_error, context));
        meshes.push_back(std::move(mesh));
    }
    return meshes;
}

/// Under names that no verdict has touched yet; they are changed once it is known.
geom::Result<geom::check::Written> written_solids(const PartToDeliver& part, const std::string& job,
                                                  const std::vector<geom::TriMesh>& meshes,
                                                  const std::filesystem::path& folder, const Context& context) {
    const geom::Stage stage(context, "files/write");
    geom::check::Written written;
    written.step = folder / "part.step";
    GAPWRIGHT_CHECK(write_step(part.products, job, written.step));
    for (std::size_t i = 0; i < part.products.size(); ++i) {
        if (context.is_cancelled()) return Context::interrupted();
        written.products.push_back({part.products[i].name, folder / (std::to_string(i) + ".stl")});
        GAPWRIGHT_CHECK(write_stl(meshes[i], part.products[i].name, written.products.back().stl));
    }
    if (context.is_cancelled()) return Context::interrupted();
    return written;
}

geom::Result<Verdict> judged(const PartToDeliver& part, const geom::check::Written& written, const Context& context) {
    const geom::Stage stage(context, "files/judge");
    GAPWRIGHT_TRY(verdict, part.judge(written));
    if (verdict.is_sound()) return std::move(verdict);
    return Fault{FaultCode::NotSound, "the written part is no sound solid: " + failed_lines(verdict, Kind::SoundSolid),
                 "nothing was handed over; try " + part.if_not_sound, failed_place(verdict, Kind::SoundSolid), "files"};
}

geom::Status take_name(const std::filesystem::path& file, const std::string& name) {
    std::error_code error;
    std::filesystem::rename(file, file.parent_path() / name, error);
    if (!error) return geom::Done{};
    return Fault{FaultCode::CannotWrite,
                 name + " cannot be written: " + error.message(),
                 "see that the output folder may be written to and has room",
                 {},
                 "files"};
}

}  // namespace

std::vector<std::string> suffixes_of(const std::vector<std::string>& names) {
    std::vector<std::string> suffixes;
    std::set<std::string> taken;
    for (const std::string& name : names) {
        const std::string plain = suffix_of(name);
        std::string suffix = plain;
        for (int n = 2; !taken.insert(suffix).second; ++n) suffix = plain + "-" + std::to_string(n);
        suffixes.push_back(suffix);
    }
    return suffixes;
}

geom::Result<Delivered> deliver_part(const PartToDeliver& part, const std::string& job,
                                     const std::filesystem::path& folder, const Context& context) {
    EXPECTS(!part.products.empty());
    const geom::Stage stage(context, "files");
    GAPWRIGHT_TRY(target, TargetFolder::open(folder));
    GAPWRIGHT_TRY(meshes, meshes_of(part, context));
    GAPWRIGHT_TRY(written, written_solids(part, job, meshes, target.temporary(), context));
    Delivered delivered;
    GAPWRIGHT_TRY(verdict, judged(part, written, context));
    delivered.verdict = std::move(verdict);
    delivered.proved = delivered.verdict.fits();
    if (context.is_cancelled()) return Context::interrupted();

    const Names names(job, delivered.proved);
    const auto suffixes = suffixes_of(names_of(part.products));
    delivered.files.push_back(names.with_ending("step"));
    GAPWRIGHT_CHECK(take_name(written.step, delivered.files.back()));
    for (std::size_t i = 0; i < suffixes.size(); ++i) {
        delivered.files.push_back(suffixes.size() == 1 ? names.with_ending("stl")
                                                       : names.with_suffix(suffixes[i], "stl"));
        GAPWRIGHT_CHECK(take_name(written.products[i].stl, delivered.files.back()));
    }
    GAPWRIGHT_TRY(drawings, part.draw(names, target.temporary()));
    delivered.files.insert(delivered.files.end(), drawings.begin(), drawings.end());
    {
        const geom::Stage drawing(context, "files/pictures");
        GAPWRIGHT_TRY(pictures, part.pictures(part.pictured(delivered.verdict, meshes), context));
        if (part.plots)
            for (Picture& plot : part.plots(delivered.verdict)) pictures.push_back(std::move(plot));
        for (const Picture& picture : pictures) {
            delivered.files.push_back(names.with_suffix(picture.suffix, picture.ending));
            GAPWRIGHT_CHECK(write_bytes(target.temporary() / delivered.files.back(), picture.bytes));
        }
    }
    delivered.files.push_back(names.report());
    delivered.report_json = part.report(delivered);
    GAPWRIGHT_CHECK(write_bytes(target.temporary() / names.report(), delivered.report_json));

    if (context.is_cancelled()) return Context::interrupted();
    GAPWRIGHT_CHECK(target.place(delivered.files));
    if (delivered.proved) remove_unproved(folder, names.unproved_start());
    return delivered;
}

}  // namespace exports

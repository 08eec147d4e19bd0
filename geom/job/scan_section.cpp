#include "geom/core/text.h"
#include "geom/job/internal/sections.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

namespace geom::job {

Unit length_unit_of(const Table& table, const std::string& key, const std::string& fallback) {
    std::vector<std::pair<std::string, std::string>> known;
    for (const char* name : {"mm", "cm", "m", "in"}) known.emplace_back(name, name);
    const auto name =
        table.choice<std::string>(key, known, {}, fallback.empty() ? std::nullopt : std::optional(fallback));
    return *find_unit(name, QuantityKind::Length);
}

scan::FileUnit file_unit_of(const Unit& unit) {
    if (unit.name == "cm") return scan::FileUnit::Centimetre;
    if (unit.name == "m") return scan::FileUnit::Metre;
    if (unit.name == "in") return scan::FileUnit::Inch;
    return scan::FileUnit::Millimetre;
}

Plane plane_of(const Table& table) {
    const Point3 point = table.point("point");
    return {point, table.direction("outward")};
}

namespace {

/// How scan numbers become vehicle numbers, as far as a table of the job says.
struct Placed {
    scan::Motion motion;
    std::optional<scan::PairFit> pairs;
};

/// Bare lengths are in `unit` as long as it lives.
class LengthsIn {
public:
    LengthsIn(FileReading& file, const Unit& unit) : file_(file), before_(file.length_unit()) {
        file_.set_length_unit(unit);
    }
    ~LengthsIn() { file_.set_length_unit(before_); }
    LengthsIn(const LengthsIn&) = delete;
    LengthsIn& operator=(const LengthsIn&) = delete;

private:
    FileReading& file_;
    Unit before_;
};

struct Way {
    const char* name;  ///< the key that chooses it
    std::vector<const char*> keys;
};

const std::vector<Way>& ways() {
    static const std::vector<Way> all = {{"origin", {"origin", "x", "y", "z"}},
                                         {"points", {"points", "at", "along", "normal"}},
                                         {"pairs", {"pairs", "scale", "tolerance"}}};
    return all;
}

/// Keys of another way of placing than the one chosen are refused by name.
const Way& way_of(const Table& place) {
    const Way* chosen = &ways().front();
    for (const Way& way : ways())
        if (place.has(way.name)) chosen = &way;
    for (const Way& way : ways())
        for (const char* key : way.keys) {
            place.known(key);
            if (&way != chosen && place.has(key))
                place.refuse(key, fmt::format("does not go with {}", chosen->name),
                             "place by origin, x and z, or by points, at, along and normal, or by pairs");
        }
    return *chosen;
}

template <class T>
void take(const Table& table, const std::string& key, Result<T> found, T& into) {
    if (found)
        into = *std::move(found);
    else
        table.refuse(key, found.error().what, found.error().hint, found.error().code);
}

void read_axes(const Table& owner, const Table& place, const Unit& file_unit, Placed& placed) {
    Point3 origin;
    {
        const LengthsIn lengths(place.file(), file_unit);
        origin = place.point("origin", Point3{});
    }
    const auto x = place.maybe_direction("x", place.has("y") && place.has("z") ? "y cross z" : "1, 0, 0");
    const auto y = place.maybe_direction("y", "z cross x");
    const auto z = place.maybe_direction("z", place.has("y") ? "x cross y" : "0, 0, 1");
    take(owner, "place", scan::place_by_axes(origin, x, y, z), placed.motion);
}

void read_points(const Table& place, const Unit& file_unit, Placed& placed) {
    scan::PickedPoints picked;
    std::vector<Point3> points;
    {
        const LengthsIn lengths(place.file(), file_unit);
        points = place.points("points", 3, "three points, such as [[0, 0, 0], [250, 0, 0], [0, 180, 0]]");
    }
    picked.at = place.point("at", Point3{});
    picked.along = place.direction("along", Vec3{1, 0, 0});
    picked.normal = place.direction("normal", Vec3{0, 0, 1});
    if (points.size() != 3) return;
    for (std::size_t i = 0; i < 3; ++i) picked.scan[i] = points[i];
    take(place, "points", scan::place_by_points(picked), placed.motion);
}

/// A pair that is off by more than this makes a wrong part rather than a rough one.
constexpr double kPairTolerance_mm = 10.0;

void judge_pairs(const Table& place, const scan::PairFit& fit, double tolerance_mm) {
    const std::string wanted = fmt::format("wanted {:g} mm", tolerance_mm);
    if (fit.bad && std::max(fit.bad_off_mm, fit.most_mm) > tolerance_mm) {
        const std::string& name = fit.residuals_mm[*fit.bad].first;
        place.refuse(
            "pairs",
            fmt::format("disagree: '{}' is {:.3g} mm from where the other {} put it, which agree to {:.2g} mm; {}",
                        name, fit.bad_off_mm, fit.residuals_mm.size() - 1,
                        std::round(fit.others_rms_mm * 100.0) / 100.0, wanted),
            fmt::format("pick '{}' again or leave it out; tolerance = .. allows more", name));
        return;
    }
    if (fit.most_mm <= tolerance_mm) return;
    std::string all;
    for (const auto& [name, off] : fit.residuals_mm)
        all += fmt::format("{}'{}' {:.3g}", all.empty() ? "" : ", ", name, off);
    place.refuse("pairs", fmt::format("disagree by up to {:.3g} mm ({} mm); {}", fit.most_mm, all, wanted),
                 fit.can_tell
                     ? "more than one of them is wrong, or the scan is out of scale; tolerance = .. allows more"
                     : "which one is wrong cannot be told from three: add a fourth");
}

void read_pairs(const Table& place, const Unit& file_unit, Placed& placed) {
    std::vector<scan::PointPair> pairs;
    for (const Table& table : place.tables("pairs")) {
        scan::PointPair pair;
        pair.name = table.text("name", fmt::format("pair {}", pairs.size() + 1));
        {
            const LengthsIn lengths(table.file(), file_unit);
            pair.scan = table.point("scan");
        }
        pair.vehicle = table.point("vehicle");
        pairs.push_back(std::move(pair));
    }
    const bool scale = place.flag("scale", false);
    const double tolerance_mm = place.length("tolerance", Allowed::Positive, Length::mm(kPairTolerance_mm)).mm();
    scan::PairFit fit;
    auto found = scan::fit_pairs(pairs, scale);
    const bool is_found = found.has_value();
    take(place, "pairs", std::move(found), fit);
    if (!is_found) return;
    judge_pairs(place, fit, tolerance_mm);
    placed.motion = fit.motion;
    placed.pairs = std::move(fit);
}

/// `place` of the scan or of one of its files.
Placed read_place(const Table& owner, const Table& place, const Unit& file_unit) {
    Placed placed;
    const std::string way = way_of(place).name;
    if (way == "points")
        read_points(place, file_unit, placed);
    else if (way == "pairs")
        read_pairs(place, file_unit, placed);
    else
        read_axes(owner, place, file_unit, placed);
    return placed;
}

/// The mirror a table asks for; `inherited` when it says nothing.
std::optional<scan::Motion> read_mirror(const Table& owner, const std::optional<scan::Motion>& inherited) {
    if (!owner.has("mirror")) {
        owner.known("mirror");
        return inherited;
    }
    if (owner.is_table("mirror")) {
        const Table mirror = owner.table("mirror");
        const Point3 point = mirror.point("point", Point3{});
        return scan::mirror_about({point, mirror.direction("normal")});
    }
    const auto axis = owner.choice<int>("mirror", {{"none", -1}, {"x", 0}, {"y", 1}, {"z", 2}}, {}, -1);
    if (axis < 0) return std::nullopt;
    Vec3 normal;
    normal[static_cast<std::size_t>(axis)] = 1.0;
    return scan::mirror_about({{}, normal});
}

/// glTF is in metres whatever the job says.
Unit unit_inside(const std::filesystem::path& file, const Unit& stated) {
    std::string ending = file.extension().string();
    for (char& c : ending)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return ending == ".glb" || ending == ".gltf" ? *find_unit("m", QuantityKind::Length) : stated;
}

}  // namespace

void read_scan_section(const Table& scan, Job& job) {
    const auto items = scan.texts_or_tables("files");
    const bool each_has_unit = !items.empty() && std::all_of(items.begin(), items.end(), [](const auto& item) {
        return item.table && item.table->has("length_unit");
    });
    const Unit unit = length_unit_of(scan, "length_unit", each_has_unit ? "mm" : "");
    job.scan.unit = file_unit_of(unit);
    if (!job.ring)
        job.enclosure.room.air = scan.point("air");
    else if (scan.known("air"); scan.has("air"))
        scan.refuse("air", "stands in a job of part = \"ring\"", "leave it out: the seat says where the face is");
    job.surface.close_holes = scan.length("close_holes", Allowed::NotNegative, Length::mm(0));
    job.surface.thin = scan.length("thin", Allowed::NotNegative, Length::mm(0));
    // Of a cloud's points, every how many-th is kept; 0: as few as it takes to stay under the memory limit.
    job.scan.keep_every = static_cast<std::size_t>(scan.count("keep_every", 0, 1));

    const Table place = scan.table("place");
    Placed common;
    if (place.is_there()) {
        const bool all_metres = !items.empty() && std::all_of(items.begin(), items.end(), [&](const auto& item) {
            return unit_inside(item.table ? item.table->text("file") : item.text, unit).name == "m";
        });
        common = read_place(scan, place, all_metres ? *find_unit("m", QuantityKind::Length) : unit);
    } else {
        scan.note("place", "none: the scan's frame is the vehicle frame", true);
    }
    const std::optional<scan::Motion> common_mirror = read_mirror(scan, std::nullopt);

    for (const auto& item : items) {
        scan::ScanFile file;
        Placed placed = common;
        std::optional<scan::Motion> mirror = common_mirror;
        const std::string name = item.table ? item.table->text("file") : item.text;
        file.path = scan.file().folder() / name;
        Unit own = unit_inside(file.path, unit);
        if (item.table) {
            if (item.table->has("length_unit"))
                own = unit_inside(file.path, length_unit_of(*item.table, "length_unit", ""));
            item.table->known("length_unit");
            const Table own_place = item.table->table("place");
            if (own_place.is_there()) placed = read_place(*item.table, own_place, own);
            mirror = read_mirror(*item.table, common_mirror);
        }
        file.unit = file_unit_of(own);
        file.motion = mirror ? scan::then(placed.motion, *mirror) : placed.motion;
        file.pairs = std::move(placed.pairs);
        job.input_files.push_back(file.path);
        job.scans.push_back(std::move(file));
    }
    job.join_by_fit = scan.choice<bool>("join", {{"as placed", false}, {"fit", true}}, {}, false);
    if (job.join_by_fit && job.scans.size() < 2)
        scan.refuse("join", "= \"fit\" has one file; wanted two passes at least",
                    "leave it out, or name the other pass");
}

}  // namespace geom::job

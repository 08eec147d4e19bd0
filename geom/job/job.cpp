// A job is read in three passes: every section key by key (faults are gathered, the first of the file comes out), the
// checks between sections, and last the meshes that the job names as keep-outs.
#include "geom/job/job.h"

#include "geom/core/text.h"
#include "geom/job/cabin_file.h"
#include "geom/job/internal/sections.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <numbers>

namespace geom::job {

namespace {

/// The name goes into file names, so it may not lead out of the folder or hide there.
void read_name(const Table& section, Job& job) {
    const std::string stem = job.file.stem().string();
    job.name = section.text("name", stem);
    std::string bad;
    for (const char c : job.name)
        if (std::iscntrl(static_cast<unsigned char>(c)) != 0 ||
            std::string_view("/\\:*?\"<>|").find(c) != std::string_view::npos)
            bad = c;
    if (!bad.empty())
        section.refuse("name", fmt::format("is \"{}\"; '{}' cannot stand in a file name", job.name, bad),
                       "the files of the part take this name: letters, digits, - and _ are safe");
    else if (job.name.front() == '.' || job.name.size() > 100)
        section.refuse("name", fmt::format("is \"{}\"; wanted at most 100 letters and no dot in front", job.name));
    job.enclosure.name = job.name;
}

void read_job_section(const Table& section, Job& job) {
    enum class Part { Enclosure, Ring, Box };
    section.file().set_length_unit(length_unit_of(section, "length_unit", "mm"));
    read_name(section, job);
    const Part part = section.choice<Part>(
        "part", {{"enclosure", Part::Enclosure}, {"ring", Part::Ring}, {"box", Part::Box}}, {"panel"}, Part::Enclosure);
    job.part = part == Part::Ring ? "ring" : part == Part::Box ? "box" : "enclosure";
    if (part == Part::Box) job.box.emplace();
    job.enclosure.up = section.direction("up", Vec3{0, 0, 1});
    job.enclosure.forward = section.maybe_direction("forward", "none: the worst horizontal direction");
    if (job.enclosure.forward &&
        std::abs(dot(*job.enclosure.forward, job.enclosure.up)) > std::cos(5.0 * std::numbers::pi / 180.0))
        section.refuse("forward", "runs along up; wanted a direction that is level, or nearly so");
}

double degrees_between(Vec3 a, Vec3 b) {
    return Angle::rad(std::acos(std::clamp(dot(unit(a), unit(b)), -1.0, 1.0))).deg();
}

/// That what is adjusted can be: the limit it names is there and stays beyond the air, the wall not too thin to be
/// made.
Status check_adjust(const Table& enclosure, const Job& job) {
    const auto& request = job.enclosure;
    const auto& adjust = request.adjust;
    const auto fault_at = [&](const std::string& key, std::string what, std::string hint) {
        return Fault{
            FaultCode::BadJob,
            fmt::format("{}:{}: {} {}", enclosure.file().label(), enclosure.line(key), enclosure.title_of(key), what),
            std::move(hint), std::nullopt, "job"};
    };
    if (adjust.what == parts::Adjust::What::Wall) {
        const double least = parts::least_wall(request.make.method).mm();
        if (adjust.lo_mm < least)
            return fault_at("adjust_range",
                            fmt::format("begins with a wall of {} mm; wanted at least {} mm by this method",
                                        plain_number(adjust.lo_mm), plain_number(least)),
                            "adjust_range holds the least and the most wall");
    }
    if (adjust.what != parts::Adjust::What::Limit) return Done{};
    std::vector<std::string> names;
    for (const auto& limit : request.room.limits) {
        names.push_back(limit.name);
        if (limit.name != adjust.limit) continue;
        const Plane innermost{limit.plane.point + unit(limit.plane.outward) * adjust.lo_mm, unit(limit.plane.outward)};
        const double out = innermost.height(request.room.air);
        if (out < 0.0) return Done{};
        return fault_at("adjust_range",
                        fmt::format("lets limit \"{}\" pass the air: at {} mm [scan] air lies {} mm beyond it",
                                    limit.name, plain_number(adjust.lo_mm), plain_number(out)),
                        "let it begin further out, or move air");
    }
    const std::string near = nearest_word(adjust.limit, names);
    return fault_at(
        "adjust",
        fmt::format("names the limit \"{}\", which [space] limits does not hold{}", adjust.limit,
                    near.empty() ? "" : fmt::format("; did you mean \"{}\"?", near)),
        names.empty() ? std::string("there are no limits; give one there") : "known limits: " + listed(names));
}

/// What no single key can show: that air, baffle, limits and the way in go together.
Status check_together(const Table& space, const Table& enclosure, const Job& job) {
    const auto& room = job.enclosure.room;
    const auto fault_at = [&](const Table& table, const std::string& key, std::string what, std::string hint,
                              Point3 at) {
        return Fault{FaultCode::BadJob,
                     fmt::format("{}:{}: {} {}", table.file().label(), table.line(key), table.title_of(key), what),
                     std::move(hint), at, "job"};
    };
    if (const double t_air = room.baffle.height(room.air); t_air >= room.travel_hi_mm) {
        const std::string found =
            fmt::format("[scan] air lies {} mm in front of the plane at its outermost travel, wanted behind it",
                        plain_number(t_air - room.travel_hi_mm));
        // With the plane turned round about its point the air would be at -t.
        if (-t_air < room.travel_hi_mm)
            return fault_at(enclosure, "baffle", "faces away from the air: " + found,
                            "outward points from the air to the listener; turn it round, or move point or travel",
                            room.air);
        return fault_at(enclosure, "baffle", "never comes before the air: " + found,
                        "larger t is further out, along outward; move point or travel", room.air);
    }
    if (!job.enclosure.driver) {
        const Table baffle = enclosure.table("baffle");
        for (const char* key : {"ring", "dish", "grille_room"})
            if (baffle.has(key))
                return fault_at(baffle, key, "stands without a driver; wanted a [driver] to stand round",
                                "add a [driver], or leave it out", room.baffle.point);
    }
    for (std::size_t i = 0; i < room.limits.size(); ++i) {
        const double out = room.limits[i].plane.height(room.air);
        if (out >= 0.0) {
            const Table limit = space.tables("limits")[i];
            return fault_at(
                limit, "outward",
                fmt::format("leaves the air out: [scan] air lies {} mm beyond the plane", plain_number(out)),
                "outward points away from the part; turn it round or move the point", room.air);
        }
    }
    if (room.insert) {
        double least = 180.0;
        if (room.open.empty()) least = degrees_between(*room.insert, -room.baffle.outward);
        for (const auto& open : room.open) least = std::min(least, degrees_between(*room.insert, -open.plane.outward));
        if (least > 89.0)
            return fault_at(
                space, "insert",
                fmt::format("never goes in: it is {:.0f} deg from straight in through {}, wanted less than 90 deg",
                            least, room.open.empty() ? "the baffle plane" : "any open plane"),
                "insert is the way of going in, from the outside to the seat; turn it round, or declare the "
                "opening it goes through in [space] open",
                room.air);
    }
    if (!room.moves.empty()) {
        // Where the air of the gap, as part of the box, is before the first move.
        const space::WayIn way(room.moves);
        std::vector<Plane> open;
        for (const auto& o : room.open) open.push_back(o.plane);
        if (open.empty())
            open.push_back({room.baffle.point + room.baffle.outward * room.travel_hi_mm, room.baffle.outward});
        Point3 start = way.during(0, 0.0).to_parent(room.air);
        if (way.begins_with_slide()) {
            const Vec3 back = -unit(std::get<space::Slide>(room.moves.front()).by_mm);
            start += back * space::carried_on_mm(open, start, back);
        }
        double outside = -1e9;
        for (const Plane& o : open) outside = std::max(outside, o.height(start));
        if (outside <= 0.0)
            return fault_at(
                space, "insert",
                fmt::format("does not begin outside: before the first move what ends at [scan] air is {:.0f} mm "
                            "behind {}, wanted in front of it",
                            -outside, room.open.empty() ? "the outermost baffle plane" : "the open planes"),
                "moves are in the order of going in, the last one ends seated; begin with a slide that comes "
                "in from outside, or declare the opening it goes through in [space] open",
                start);
    }
    return Done{};
}

/// The scan reader holds a file to be of a vehicle's size; a keep-out may be as small as a lever. One that is too small
/// is read once more in a larger unit and scaled back, down to 5 mm: below that the unit is surely wrong.
Result<scan::RawScan> read_small_mesh(const MeshToRead& mesh, const Context& context) {
    using scan::FileUnit;
    auto raw = scan::read_scans({mesh.file}, {.unit = mesh.unit, .vehicle_place = {}, .placed = false}, context);
    if (raw || raw.error().code != FaultCode::WrongUnit || mesh.unit == FileUnit::Metre) return raw;
    const FileUnit larger = mesh.unit == FileUnit::Millimetre ? FileUnit::Centimetre : FileUnit::Metre;
    auto again = scan::read_scans({mesh.file}, {.unit = larger, .vehicle_place = {}, .placed = false}, context);
    if (!again) return raw;
    const double back = scan::one(mesh.unit) / scan::one(larger);
    Aabb box;
    for (Point3& p : again->points) box.grow(p = p * back);
    const Vec3 size = box.size();
    if (std::max({size.x, size.y, size.z}) < 5.0) return raw;
    return again;
}

Status read_meshes(const std::vector<MeshToRead>& meshes, Job& job, const Context& context) {
    for (const MeshToRead& mesh : meshes) {
        auto raw = read_small_mesh(mesh, context);
        const std::string place = fmt::format("{}:{}: {}: ", job.file.filename().string(), mesh.line, mesh.title);
        if (!raw) {
            Fault fault = std::move(raw).error();
            if (fault.code == FaultCode::Interrupted) return fault;
            if (fault.code == FaultCode::WrongUnit)
                fault.hint = "say the file's own unit beside its name: file = .., length_unit = \"m\"";
            fault.what = place + fault.what;
            fault.stage = "job";
            return fault;
        }
        if (raw->triangles.empty())
            return Fault{FaultCode::BadJob,
                         place + mesh.file.filename().string() + " holds points alone, wanted triangles",
                         mesh.may_be_open ? "a keep-out that moves needs a mesh: STL, OBJ, OFF or PLY with faces"
                                          : "a keep-out needs a closed mesh: STL, OBJ, OFF or PLY with faces",
                         {},
                         "job"};
        TriMesh shape{std::move(raw->points), std::move(raw->triangles)};
        if (signed_volume_mm3(shape) < 0.0) shape = reversed(std::move(shape));
        job.enclosure.room.keep_outs[mesh.keep_out].shape = std::move(shape);
    }
    return Done{};
}

/// A cabin gain that the job names, for the plot of its driver.
Status read_cabin(const Table& section, Job& job) {
    if (!section.has("cabin")) return Done{};
    const std::filesystem::path name = section.text("cabin");
    const std::filesystem::path path = name.is_absolute() ? name : section.file().folder() / name;
    auto cabin = read_cabin_file(path);
    if (!cabin) {
        Fault fault = std::move(cabin).error();
        fault.what = fmt::format("{}:{}: {}: {}", section.file().label(), section.line("cabin"),
                                 section.title_of("cabin"), fault.what);
        return fault;
    }
    job.enclosure.cabin = std::move(*cabin);
    job.input_files.push_back(path);
    return Done{};
}

/// Sections that another part has.
void refuse_sections(const Table& top, const Job& job, const std::vector<const char*>& sections,
                     const std::string& otherwise) {
    for (const char* section : sections) {
        top.known(section);
        if (!top.has(section)) continue;
        if (top.is_list(section))
            for (const Table& each : top.tables(section)) each.judge_no_keys();
        else
            top.table(section).judge_no_keys();
        top.refuse(section, fmt::format("stands in a job of part = \"{}\"", job.part), "take it out, or " + otherwise);
    }
}

/// A job of part = "box" from its sections.
Status read_box(FileReading& reading, const Table& top, Job& job) {
    refuse_sections(top, job, {"ring"}, "give [job] part so");
    refuse_sections(top, job, {"scan", "space"}, "make it by part = \"enclosure\", which fits a box to a scan");
    refuse_sections(top, job, {"fixing", "load"}, "make it by part = \"enclosure\", which knows the vehicle");
    read_make_section(top.table("make"), job);
    read_box_section(top, job);
    const Status driver = read_driver_section(top, job);
    const Status cabin = read_cabin(top.table("job"), job);
    GAPWRIGHT_CHECK(reading.finish());
    if (!driver) return driver.error();
    if (!cabin) return cabin.error();
    job.box->enclosure = job.enclosure;
    job.resolved.insert(reading.resolved.begin(), reading.resolved.end());
    return Done{};
}

/// A job of part = "ring" from its sections.
Status read_ring(FileReading& reading, const Table& top, Job& job, const Context& context) {
    std::vector<MeshToRead> meshes;
    read_ring_section(top, job);
    if (const Table scan = job.ring->foot ? top.required_table("scan") : top.table("scan"); scan.is_there())
        read_scan_section(scan, job);
    read_ring_space(top.table("space"), job, meshes);
    const Status driver = read_driver_section(top, job);
    read_make_section(top.table("make"), job);
    if (job.enclosure.make.bed)
        top.table("make").refuse("bed", "of a ring is not built yet", "leave it out", FaultCode::NotBuilt);
    if (job.enclosure.make.method == parts::Method::Layup)
        top.table("make").refuse("method", "\"layup\" of a ring is not built yet", "give \"print\" or \"cnc\"",
                                 FaultCode::NotBuilt);
    GAPWRIGHT_CHECK(reading.finish());
    if (!driver) return driver.error();
    const parts::EnclosureRequest& read = job.enclosure;
    parts::RingRequest& ring = job.ring->request;
    ring.name = job.name;
    ring.driver = read.driver->driver;
    ring.shift = read.driver->centre - ring.seat.plane.point;
    ring.up = read.up;
    ring.make = read.make;
    ring.own_threads = read.own_threads;
    GAPWRIGHT_CHECK(read_meshes(meshes, job, context));
    job.resolved.insert(reading.resolved.begin(), reading.resolved.end());
    return Done{};
}

}  // namespace

Result<Job> read_job(const std::filesystem::path& file, const Context& context) {
    const Stage stage(context, "job");
    GAPWRIGHT_TRY(opened, FileReading::open(file, "job file"));
    FileReading& reading = *opened;
    const Table top = reading.root();

    Job job;
    job.file = file;
    job.input_files.push_back(file);
    std::vector<MeshToRead> meshes;

    const Table job_section = top.table("job");
    read_job_section(job_section, job);
    top.not_built("panel", "built so far: part = \"enclosure\", \"ring\" and \"box\"");
    read_threads(top.tables("thread"), job);
    job_section.known("cabin");
    if (job.part == "ring") {
        if (job_section.has("cabin"))
            job_section.refuse("cabin", "is for the plot of an enclosure's driver, and this part is a ring",
                               "leave it out");
        GAPWRIGHT_CHECK(read_ring(reading, top, job, context));
        return job;
    }
    if (job.part == "box") {
        GAPWRIGHT_CHECK(read_box(reading, top, job));
        return job;
    }
    refuse_sections(top, job, {"ring", "box"}, "give [job] part so");
    read_scan_section(top.required_table("scan"), job);
    const Table space = top.table("space"), enclosure = top.required_table("enclosure");
    read_enclosure_section(enclosure, job);
    read_space_section(space, job, meshes);
    const Status driver = read_driver_section(top, job);
    read_fixings(top.tables("fixing"), job);
    read_load_section(top.table("load"), job);
    read_make_section(top.table("make"), job);
    const Status cabin = read_cabin(job_section, job);

    GAPWRIGHT_CHECK(reading.finish());
    if (!driver) return driver.error();
    if (!cabin) return cabin.error();
    GAPWRIGHT_CHECK(check_adjust(enclosure, job));
    GAPWRIGHT_CHECK(check_together(space, enclosure, job));
    GAPWRIGHT_CHECK(read_meshes(meshes, job, context));
    job.resolved.insert(reading.resolved.begin(), reading.resolved.end());
    return job;
}

}  // namespace geom::job

#include "geom/core/text.h"
#include "geom/job/internal/sections.h"

#include <fmt/format.h>

#include <cmath>

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

/// Axes given as two directions that may be a hair off the square; z is kept, x turned to it.
void read_place(const Table& place, const Unit& file_unit, scan::ReadOptions& options) {
    const Unit job_unit = place.file().length_unit();
    place.file().set_length_unit(file_unit);  // the origin is in file units
    const Point3 origin_mm = place.point("origin", Point3{});
    place.file().set_length_unit(job_unit);
    const Vec3 x = place.direction("x", Vec3{1, 0, 0}), z = place.direction("z", Vec3{0, 0, 1});
    const double off_deg = Angle::rad(std::asin(std::min(1.0, std::abs(dot(x, z))))).deg();
    if (off_deg > 1.0) {
        place.refuse("x", fmt::format("is {:.1f} deg off a right angle to z; wanted a right angle, to 1 deg", off_deg),
                     "x and z become the vehicle's axes; y = z cross x");
        return;
    }
    Frame& frame = options.vehicle_place;
    frame.origin = origin_mm / file_unit.in_base;
    frame.z = z;
    frame.x = unit(x - z * dot(x, z));
    frame.y = cross(frame.z, frame.x);
    options.placed = true;
}

}  // namespace

void read_scan_section(const Table& scan, Job& job) {
    for (const std::string& name : scan.texts("files")) {
        const std::filesystem::path path = scan.file().folder() / name;
        job.scan_files.push_back(path);
        job.input_files.push_back(path);
    }
    const Unit unit = length_unit_of(scan, "length_unit", "");
    job.scan.unit = file_unit_of(unit);
    job.enclosure.room.air = scan.point("air");
    job.surface.close_holes = scan.length("close_holes", Allowed::NotNegative, Length::mm(0));
    const Table place = scan.table("place");
    if (place.is_there())
        read_place(place, unit, job.scan);
    else
        scan.note("place", "none: the scan's frame is the vehicle frame", true);
}

}  // namespace geom::job

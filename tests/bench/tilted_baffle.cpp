// The baffle tilted against the way in, 0 to 45 degrees about two axes and both at once, flat, with a ring and with a
// dish, in a plain channel: how many come out with every check passed, and what the others are told.
//
//   bench_tilted_baffle [STEP_DEG]
//
// Channel   x from -130 to 130, z from 0 to 280, closed at y = 360, open at y = -240; samples every 3 mm without noise.
//           The way in is y; the baffle's plane goes through (0, 100, 140).
#include "exports/delivery.h"
#include "geom/parts/enclosure.h"

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <numbers>

#include <unistd.h>

namespace {

using geom::Point3;
using geom::Vec3;

geom::scan::RawScan channel() {
    geom::scan::RawScan scan;
    constexpr int kStep = 3;
    const auto add = [&](double x, double y, double z) { scan.points.push_back({x, y, z}); };
    for (int y = -240; y <= 360; y += kStep) {
        for (int x = -129; x < 130; x += kStep) add(x, y, 0), add(x, y, 280);
        for (int z = 0; z <= 280; z += kStep) add(-130, y, z), add(130, y, z);
    }
    for (int x = -129; x < 130; x += kStep)
        for (int z = kStep; z < 280; z += kStep) add(x, 360, z);
    return scan;
}

geom::parts::EnclosureRequest request(double about_x_deg, double about_z_deg, geom::parts::BaffleShape shape) {
    using geom::Length;
    const double a = about_x_deg * std::numbers::pi / 180.0, b = about_z_deg * std::numbers::pi / 180.0;
    geom::parts::EnclosureRequest r;
    r.name = "tilted";
    r.net_volume = geom::Volume::litres(9.0);
    r.baffle.plane = {{0, 100, 140}, geom::unit({std::sin(b), -std::cos(b) * std::cos(a), std::cos(b) * std::sin(a)})};
    r.baffle.travel_lo_mm = -150;
    r.baffle.travel_hi_mm = 90;
    r.baffle.shape = shape;
    r.baffle.ring.height = Length::mm(8);
    r.baffle.dish = {.depth = Length::mm(6), .width = {}, .flank = geom::Angle::deg(30)};
    r.baffle.grille_room = geom::parts::GrilleRoom{Length::mm(12), {}};
    r.room.air = {0, 200, 140};
    r.room.baffle = r.baffle.plane;
    r.room.travel_lo_mm = r.baffle.travel_lo_mm;
    r.room.travel_hi_mm = r.baffle.travel_hi_mm;
    r.room.insert = Vec3{0, 1, 0};
    r.room.edge_radius = Length::mm(12);
    r.inner_radius = Length::mm(6);
    r.wall = r.room.wall = Length::mm(6);
    geom::parts::DriverMount mount;
    mount.centre = {0, 100, 140};
    mount.driver.name = "130 mm woofer";
    mount.driver.cutout_diameter = Length::mm(110);
    mount.driver.flange_diameter = Length::mm(132);
    mount.driver.bolt_circle = Length::mm(121);
    mount.driver.bolt_count = 4;
    mount.driver.bolt_thread = std::string("M4");
    mount.driver.mounting_depth = Length::mm(62);
    mount.driver.magnet_diameter = Length::mm(80);
    mount.driver.magnet_depth = Length::mm(25);
    mount.driver.displacement = geom::Volume::litres(0.35);
    r.driver = mount;
    return r;
}

}  // namespace

int main(int argc, char** argv) {
    const double step = argc > 1 ? std::atof(argv[1]) : 15.0;
    const geom::Context context;
    const auto surface = geom::scan::estimate_surface(channel(), {}, context);
    if (!surface) return std::printf("%s\n", surface.error().what.c_str()), 1;
    const auto folder = std::filesystem::temp_directory_path() / ("gapwright_tilted_" + std::to_string(getpid()));
    int asked = 0, made = 0;
    const auto attempt = [&](double about_x, double about_z, geom::parts::BaffleShape shape) {
        const char* names[] = {"flat", "ring", "dish"};
        const auto wanted = request(about_x, about_z, shape);
        std::printf("%-4s  %4.0f deg about x, %4.0f about z: ", names[static_cast<int>(shape)], about_x, about_z);
        std::fflush(stdout);
        ++asked;
        const auto part = geom::parts::make_enclosure(*surface, wanted, context);
        if (!part) {
            std::printf("refused at %s: %s\n", part.error().stage.c_str(), part.error().what.c_str());
            return;
        }
        std::filesystem::create_directories(folder);
        const auto delivered =
            exports::deliver(*part, wanted, *surface, {wanted.name, "enclosure", "bench", {}, {}}, folder, context);
        std::filesystem::remove_all(folder);
        if (!delivered) {
            std::printf("refused at %s: %s\n", delivered.error().stage.c_str(), delivered.error().what.c_str());
            return;
        }
        const auto& verdict = delivered->verdict;
        if (verdict.is_sound() && verdict.fits()) {
            ++made;
            std::printf("made, %.4f L, t %.1f mm, %zu checks; clearance %.2f, wall %.2f, grille room %.2f mm\n",
                        part->enclosure.net_by_brep.litres(), part->enclosure.baffle_t_mm, verdict.lines.size(),
                        verdict.clearance.min_mm, verdict.wall.min_mm, verdict.driver_fit.front.least_mm);
            return;
        }
        for (const auto& line : verdict.lines)
            if (!line.ok)
                std::printf("%s %.3f of %.3f (%s); ", line.name.c_str(), line.value, line.limit, line.note.c_str());
        std::printf("\n");
    };
    using geom::parts::BaffleShape;
    for (double tilt = 0.0; tilt <= 45.0; tilt += step) attempt(tilt, 0, BaffleShape::Flat);
    for (double tilt = -step; tilt >= -45.0; tilt -= step) attempt(tilt, 0, BaffleShape::Flat);
    for (double tilt = step; tilt <= 45.0; tilt += step) attempt(0, tilt, BaffleShape::Flat);
    attempt(25, 20, BaffleShape::Flat);
    attempt(30, 0, BaffleShape::Ring), attempt(0, 30, BaffleShape::Ring);
    attempt(30, 0, BaffleShape::Dish), attempt(0, 30, BaffleShape::Dish);
    std::printf("made %d of %d with every check passed\n", made, asked);
    return made == asked ? 0 : 1;
}

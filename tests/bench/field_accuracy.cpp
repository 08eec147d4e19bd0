// The field's accuracy against closed forms and brute force, by voxel.
#include "tests/space/accuracy.h"

#include <fmt/format.h>

#include <cstdlib>

using namespace geom;

namespace {
void print(const char* name, double h, const test::Spread& s) {
    fmt::print("{:<44} h {:.1f}  n {:>7}  bias {:+.4f}  p95 {:.4f}  p99 {:.4f}  least {:+.3f}  most {:+.3f}\n", name, h,
               s.count, s.bias, s.p95, s.p99, s.least, s.most);
}

void print_room(const char* name, const test::Scene& scene, const scan::Surface& surface, const space::RoomOptions& o,
                double oracle_h) {
    const auto f = test::room_figures(scene, surface, o, oracle_h);
    if (!f) return fmt::print("{}: {}; {}\n", name, f.error().what, f.error().hint);
    fmt::print("{}: noise {:.3f} spacing {:.2f}, {} samples; bound {:.2f}; {:.4f} L", name, surface.noise_mm,
               surface.spacing_mm, surface.points.size(), f->bound_mm, f->litres);
    if (oracle_h > 0.0)
        fmt::print(", {:.3f} % of a voxel opening at {:.1f}", 100.0 * f->litres / f->oracle_litres, oracle_h);
    fmt::print("\n");
    print("  true clearance less asked", o.voxel.mm(), f->clearance);
    print("  border less asked where only clearance acts", o.voxel.mm(), f->filling);
}

space::RoomOptions gap_options(double h) {
    space::RoomOptions o;
    o.air = {0, 120, 160};
    o.baffle = {{0, 40, 0}, {0, -1, 0}};
    o.travel_lo_mm = -200, o.travel_hi_mm = 32;
    o.voxel = Length::mm(h);
    o.limits = {{"shelf", {{0, 0, 300}, {0, 0, 1}}, Length::mm(0), true}};
    return o;
}

space::RoomOptions cavity_options(double h) {
    space::RoomOptions o;
    o.air = {0, 120, 200};
    o.baffle = {{0, 40, 0}, {0, -1, 0}};
    o.travel_lo_mm = -200, o.travel_hi_mm = 32;
    o.voxel = Length::mm(h);
    return o;
}

scan::Surface levelled(const test::Scene& scene, double spacing, double sigma) {
    auto s = scan::estimate_surface(test::noisy_scan(scene, spacing, sigma), {}, {});
    if (!s) fmt::print("{}\n", s.error().what), std::exit(1);
    return std::move(s).value();
}
}  // namespace

int main(int argc, char**) {
    fmt::print("whole rooms: clearance 4, outside rounding 8\n");
    for (const double h : {2.0}) {
        print_room("seat gap, exact samples", test::seat_gap(), test::exact_surface(test::seat_gap(), 1.4),
                   gap_options(h), 1.0);
        print_room("box cavity, exact samples", test::box_cavity(), test::exact_surface(test::box_cavity(), 1.4),
                   cavity_options(h), 1.0);
        for (const double sigma : {0.3, 0.7}) {
            print_room("seat gap, scanned", test::seat_gap(), levelled(test::seat_gap(), 1.3, sigma), gap_options(h),
                       0.0);
            print_room("box cavity, scanned", test::box_cavity(), levelled(test::box_cavity(), 1.3, sigma),
                       cavity_options(h), 0.0);
        }
    }
    if (argc > 1) return 0;
    fmt::print("distance from a ball of radius 60 (mm)\n");
    for (const double h : {1.5, 2.0, 3.0})
        for (const double t : {5.0, -10.0, 0.0})
            print(fmt::format("  at {:+.0f}", t).c_str(), h, test::ball_redistance(h, t));
    fmt::print("a sharp box 180 x 140 x 160, turned, opened (field within h of the surface; volume)\n");
    for (const double h : {2.0, 3.0})
        for (const double r : {8.0, 15.0})
            for (const auto& [z, x] : {std::pair{0.0, 0.0}, {0.3, 0.0}, {0.4, 0.25}, {0.7, 0.5}}) {
                const auto o = test::opened_box(h, r, z, x);
                print(fmt::format("  r {:.0f} turned {:.2f} {:.2f}: volume {:+.4f} %", r, z, x, 100 * o.volume_rel)
                          .c_str(),
                      h, o.near);
            }
    fmt::print("superellipsoid grown by t against Steiner's formula: volume error in %\n");
    for (const double h : {2.0, 3.0})
        for (const double t : {8.0, 0.0, -8.0, -18.0})
            fmt::print("  h {:.1f} t {:+.0f}: {:+.4f}\n", h, t, 100 * test::superellipsoid_offset(h, t));
    fmt::print("insertion past a ball and a box against brute force, within h of the border\n");
    for (const double h : {1.5, 2.0, 3.0})
        for (const Vec3 d : {Vec3{0, -1, 0}, Vec3{0.35, -0.85, 0.25}, Vec3{-0.1, -1, 0.15}, Vec3{0.2, -0.3, 0.9}})
            print(fmt::format("  out {:+.2f} {:+.2f} {:+.2f}", d.x, d.y, d.z).c_str(), h, test::insertion_error(h, d));
}

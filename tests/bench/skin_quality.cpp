// Faces, accuracy and cost of the skin on named and random gaps.
//
//     bench_skin_quality                 the named gaps
//     bench_skin_quality NAME...         some of them
//     bench_skin_quality --random A B    random gaps of seeds A to B - 1, with counts of what broke first
//     --write DIR                        also leaves a solid of each as DIR/<name>.brep
#include "geom/skin/internal/occt.h"
#include "geom/skin/skin.h"
#include "tests/support/gap_fields.h"

#include <BRepTools.hxx>

#include <cstdio>
#include <cstring>
#include <ctime>
#include <map>
#include <string>
#include <vector>

namespace {

double cpu_seconds() {
    return static_cast<double>(std::clock()) / CLOCKS_PER_SEC;
}

struct Outcome {
    int made = 0, refused = 0, within = 0;
    std::map<std::string, int> first_broken, attempts, faults;
};

void head() {
    std::printf("%-12s %-5s %7s %6s | %5s %5s | %5s %5s %5s | %5s | %5s | %s\n", "gap", "skin", "pl+spl", "CP", "p99",
                "max", "med", "p99", "max", "min J", "CPU", "volume L, attempt, worst break");
}

bool report(const std::string& name, const char* which, const geom::Result<geom::skin::Skin>& skin, double seconds,
            Outcome& outcome) {
    if (!skin) {
        const auto& f = skin.error();
        std::printf("%-12s %-5s refused: %s (%.0f %.0f %.0f)  CPU %.2f\n", name.c_str(), which, f.what.c_str(),
                    f.where ? f.where->x : 0.0, f.where ? f.where->y : 0.0, f.where ? f.where->z : 0.0, seconds);
        ++outcome.refused;
        ++outcome.faults[f.what.substr(0, 48)];
        return false;
    }
    const auto& q = skin->quality;
    std::printf("%-12s %-5s %3d+%-3d %6zu | %.3f %.3f | %5.2f %5.2f %5.2f | %5.2f | %5.2f | %.4f %s (%.0f %.0f %.0f)\n",
                name.c_str(), which, q.plane_faces, q.bspline_faces, q.control_points, q.deviation_p99_mm,
                q.deviation_max_mm, q.break_median_deg, q.break_p99_deg, q.break_max_deg, q.least_jacobian, seconds,
                skin->volume.litres(), q.attempt.c_str(), q.break_at.x, q.break_at.y, q.break_at.z);
    ++outcome.made;
    ++outcome.attempts[q.attempt];
    const char* broken = q.deviation_max_mm > 0.30   ? "deviation max"
                         : q.deviation_p99_mm > 0.12 ? "deviation p99"
                         : q.break_max_deg > 5.0     ? "break max"
                         : q.break_p99_deg > 2.0     ? "break p99"
                         : q.break_median_deg > 0.2  ? "break median"
                         : q.control_points > 25000  ? "control points"
                                                     : nullptr;
    if (broken != nullptr)
        ++outcome.first_broken[broken];
    else
        ++outcome.within;
    return true;
}

void run(const gap_fields::Gap& gap, const std::string& write, Outcome& outcome) {
    const auto fields = gap_fields::make_fields(gap);
    geom::skin::SkinOptions outer, inner;
    outer.baffle_y_mm = fields.outer_baffle_y_mm;
    outer.rim_radius = geom::Length::mm(3);
    outer.flats = fields.outer_flats;
    inner.name = "inner";
    inner.baffle_y_mm = fields.inner_baffle_y_mm;
    inner.flats = fields.inner_flats;
    double t0 = cpu_seconds();
    const auto a = geom::skin::make_skin(fields.outer, outer, {});
    const double ta = cpu_seconds() - t0;
    t0 = cpu_seconds();
    const auto b = geom::skin::make_skin(fields.inner, inner, {});
    const double tb = cpu_seconds() - t0;
    const bool made_a = report(gap.name, "outer", a, ta, outcome), made_b = report(gap.name, "inner", b, tb, outcome);
    std::fflush(stdout);
    if (write.empty() || !made_a) return;
    const auto solid = geom::skin::solid_from_shells(a->shell, made_b ? b->shell : geom::Brep());
    std::string file = gap.name;
    for (char& c : file) c = c == ' ' ? '_' : c;
    if (solid) BRepTools::Write(geom::to_occt(*solid), (write + "/" + file + ".brep").c_str());
}

}  // namespace

int main(int argc, char** argv) {
    std::string write;
    std::vector<std::string> names;
    int first = -1, last = -1;
    for (int i = 1; i < argc; ++i) {
        if (std::strcmp(argv[i], "--write") == 0 && i + 1 < argc)
            write = argv[++i];
        else if (std::strcmp(argv[i], "--random") == 0 && i + 2 < argc)
            first = std::atoi(argv[i + 1]), last = std::atoi(argv[i + 2]), i += 2;
        else
            names.emplace_back(argv[i]);
    }
    Outcome outcome;
    head();
    if (first >= 0) {
        for (int s = first; s < last; ++s) run(gap_fields::random_gap(static_cast<std::uint64_t>(s)), write, outcome);
    } else {
        for (const auto& name : names.empty() ? gap_fields::named_gaps() : names)
            run(gap_fields::named_gap(name), write, outcome);
    }
    std::printf("skins made %d, of them within every limit %d, refused %d\n", outcome.made, outcome.within,
                outcome.refused);
    for (const auto& [what, n] : outcome.first_broken)
        std::printf("  over the limit first: %-16s %d\n", what.c_str(), n);
    for (const auto& [what, n] : outcome.attempts) std::printf("  by plan: %-32s %d\n", what.c_str(), n);
    for (const auto& [what, n] : outcome.faults) std::printf("  refused: %-50s %d\n", what.c_str(), n);
    return 0;
}

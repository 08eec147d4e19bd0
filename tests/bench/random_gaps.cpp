// 100 random gaps through the whole way, none discarded: how many are made with every check passed, how many refused
// by a fault that names stage and place, and what broke first.
//
//   bench_random_gaps [COUNT] [SEED] [FIRST]
#include "exports/delivery.h"
#include "geom/parts/capacity.h"
#include "tests/support/random_gap.h"

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <map>

#include <unistd.h>

int main(int argc, char** argv) {
    const int count = argc > 1 ? std::atoi(argv[1]) : 100;
    const auto seed = static_cast<std::uint64_t>(argc > 2 ? std::atoi(argv[2]) : 1);
    const int first = argc > 3 ? std::atoi(argv[3]) : 0;
    const geom::Context context;
    int made = 0, refused = 0, failed = 0, wrong = 0;
    std::map<std::string, int> with, broke;
    const auto folder = std::filesystem::temp_directory_path() / ("gapwright_random_gaps_" + std::to_string(getpid()));
    for (int i = first; i < first + count; ++i) {
        support::RandomGap gap = support::random_gap(seed, i);
        std::string features;
        for (const auto& f : gap.features) ++with[f], features += f + ", ";
        std::printf("%3d  sigma %.2f  %-60s ", i, gap.scene.sigma, features.c_str());
        std::fflush(stdout);
        const auto refuse = [&](const geom::Fault& fault) {
            ++refused;
            ++broke[fault.stage + ": " + fault.what.substr(0, 60)];
            std::printf("refused at %s: %s [%s]%s\n", fault.stage.c_str(), fault.what.c_str(), fault.hint.c_str(),
                        fault.where ? "" : " NO PLACE");
        };
        const auto surface =
            geom::scan::estimate_surface(gap.scan, {.thin = {}, .close_holes = geom::Length::mm(42)}, context);
        if (!surface) {
            refuse(surface.error());
            continue;
        }
        geom::parts::EnclosureRequest coarse = gap.request;
        coarse.room.voxel = geom::Length::mm(3);
        const auto most = geom::parts::most_net_volume(*surface, coarse, context);
        if (!most) {
            refuse(most.error());
            continue;
        }
        gap.request.net_volume = *most * gap.fill;
        const auto part = geom::parts::make_enclosure(*surface, gap.request, context);
        if (!part) {
            refuse(part.error());
            continue;
        }
        std::filesystem::create_directories(folder);
        const auto delivered = exports::deliver(*part, gap.request, *surface,
                                                {gap.request.name, "enclosure", "bench", {}, {}}, folder, context);
        if (!delivered) {
            refuse(delivered.error());
            continue;
        }
        const auto& verdict = delivered->verdict;
        if (verdict.is_sound() && verdict.fits()) {
            ++made;
            std::printf("made %.2f L of %.2f\n", part->enclosure.net_by_brep.litres(), gap.request.net_volume.litres());
        } else {
            ++failed;
            for (const auto& line : verdict.lines)
                if (!line.ok) {
                    ++broke["check: " + line.name];
                    std::printf("check failed: %s %.3f of %.3f %s (%s); ", line.name.c_str(), line.value, line.limit,
                                line.unit.c_str(), line.note.c_str());
                }
            std::printf("\n");
        }
        std::filesystem::remove_all(folder);
    }
    std::printf("\nmade %d, refused %d, a check failed %d, wrong with exit 0 %d of %d\n", made, refused, failed, wrong,
                count);
    for (const auto& [name, n] : with) std::printf("  with %-20s %d\n", name.c_str(), n);
    for (const auto& [name, n] : broke) std::printf("  broke first: %-80s %d\n", name.c_str(), n);
    return made >= count * 95 / 100 ? 0 : 1;
}

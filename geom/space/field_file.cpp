#include "geom/space/field_file.h"

#include <array>
#include <cstring>
#include <fstream>

namespace geom::space {

namespace {

constexpr char kMagic[9] = "GWFIELD1";
using Header = std::array<double, 19>;

}  // namespace

Status save_field(const Field& field, const std::filesystem::path& file) {
    const GridSpec& g = field.grid;
    const Frame& f = g.vehicle_from_box;
    const Header header{f.origin.x, f.origin.y, f.origin.z, f.x.x, f.x.y, f.x.z, f.y.x,
                        f.y.y,      f.y.z,      f.z.x,      f.z.y, f.z.z, g.lo.x, g.lo.y,
                        g.lo.z,     g.h_mm,     static_cast<double>(g.nx), static_cast<double>(g.ny), static_cast<double>(g.nz)};
    std::ofstream out(file, std::ios::binary);
    out.write(kMagic, 8);
    out.write(reinterpret_cast<const char*>(header.data()), sizeof header);
    out.write(reinterpret_cast<const char*>(field.mm.data()), static_cast<std::streamsize>(field.mm.size() * sizeof(float)));
    if (!out) return Fault{FaultCode::CannotWrite, "cannot write " + file.string(), "give a folder that can be written", {}, {}};
    return Done{};
}

Result<Field> load_field(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    char magic[8] = {};
    Header h{};
    in.read(magic, 8);
    in.read(reinterpret_cast<char*>(h.data()), sizeof h);
    const auto fault = [&] { return Fault{FaultCode::Unreadable, file.string() + " is no field file", "write it with --dump", {}, {}}; };
    if (!in || std::memcmp(magic, kMagic, 8) != 0) return fault();
    for (int i = 16; i < 19; ++i)
        if (!(h[static_cast<std::size_t>(i)] >= 1.0 && h[static_cast<std::size_t>(i)] <= 4096.0)) return fault();
    Field field;
    field.grid = {{{h[0], h[1], h[2]}, {h[3], h[4], h[5]}, {h[6], h[7], h[8]}, {h[9], h[10], h[11]}},
                  {h[12], h[13], h[14]}, h[15], static_cast<int>(h[16]), static_cast<int>(h[17]), static_cast<int>(h[18])};
    field.mm.resize(field.grid.count());
    in.read(reinterpret_cast<char*>(field.mm.data()), static_cast<std::streamsize>(field.mm.size() * sizeof(float)));
    if (!in) return fault();
    return field;
}

}  // namespace geom::space

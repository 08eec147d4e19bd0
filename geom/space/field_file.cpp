#include "geom/space/field_file.h"

#include <array>
#include <cmath>
#include <cstring>
#include <fstream>
#include <iterator>

namespace geom::space {

namespace {

constexpr std::string_view kMagic = "GWFIELD1";
using Header = std::array<double, 19>;

}  // namespace

void append_field(std::string& bytes, const Field& field) {
    const GridSpec& g = field.grid;
    const Frame& f = g.vehicle_from_box;
    const Header header{f.origin.x,
                        f.origin.y,
                        f.origin.z,
                        f.x.x,
                        f.x.y,
                        f.x.z,
                        f.y.x,
                        f.y.y,
                        f.y.z,
                        f.z.x,
                        f.z.y,
                        f.z.z,
                        g.lo.x,
                        g.lo.y,
                        g.lo.z,
                        g.h_mm,
                        static_cast<double>(g.nx),
                        static_cast<double>(g.ny),
                        static_cast<double>(g.nz)};
    bytes.append(kMagic);
    bytes.append(reinterpret_cast<const char*>(header.data()), sizeof header);
    bytes.append(reinterpret_cast<const char*>(field.mm.data()), field.mm.size() * sizeof(float));
}

std::optional<Field> take_field(std::string_view& bytes) {
    Header h{};
    if (bytes.size() < kMagic.size() + sizeof h || bytes.substr(0, kMagic.size()) != kMagic) return std::nullopt;
    std::memcpy(h.data(), bytes.data() + kMagic.size(), sizeof h);
    for (const double v : h)
        if (!std::isfinite(v)) return std::nullopt;
    for (std::size_t i = 16; i < 19; ++i)
        if (!(h[i] >= 1.0 && h[i] <= 4096.0 && h[i] == std::floor(h[i]))) return std::nullopt;
    if (!(h[15] > 0.0)) return std::nullopt;
    Field field;
    field.grid = {{{h[0], h[1], h[2]}, {h[3], h[4], h[5]}, {h[6], h[7], h[8]}, {h[9], h[10], h[11]}},
                  {h[12], h[13], h[14]},
                  h[15],
                  static_cast<int>(h[16]),
                  static_cast<int>(h[17]),
                  static_cast<int>(h[18])};
    const std::size_t head = kMagic.size() + sizeof h, size = field.grid.count() * sizeof(float);
    if (bytes.size() - head < size) return std::nullopt;
    field.mm.resize(field.grid.count());
    std::memcpy(field.mm.data(), bytes.data() + head, size);
    bytes.remove_prefix(head + size);
    return field;
}

Status save_field(const Field& field, const std::filesystem::path& file) {
    std::string bytes;
    append_field(bytes, field);
    std::ofstream out(file, std::ios::binary);
    out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    out.close();
    if (!out)
        return Fault{
            FaultCode::CannotWrite, "cannot write " + file.string(), "give a folder that can be written", {}, {}};
    return Done{};
}

Result<Field> load_field(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    const std::string all{std::istreambuf_iterator<char>(in), {}};
    std::string_view bytes = all;
    if (auto field = take_field(bytes)) return std::move(*field);
    return Fault{FaultCode::Unreadable, file.string() + " is no field file", "write it with --dump", {}, {}};
}

}  // namespace geom::space

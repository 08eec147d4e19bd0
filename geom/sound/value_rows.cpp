#include "geom/sound/value_rows.h"

namespace geom::sound {

namespace {

template <class T, class F>
void put(std::vector<ValueRow>& out, const char* key, const char* unit, const std::optional<Told<T>>& told, F&& form) {
    if (told) out.push_back({key, form(told->value), unit, told->is_given, told->from});
}

}  // namespace

std::vector<ValueRow> value_rows(const SmallSignal& d) {
    const auto scaled = [](double factor) { return [factor](double v) { return v * factor; }; };
    const auto litres = [](Volume v) { return v.litres(); };
    std::vector<ValueRow> out;
    put(out, "fs", "Hz", d.fs_hz, scaled(1));
    put(out, "qts", "", d.qts, scaled(1));
    put(out, "qes", "", d.qes, scaled(1));
    put(out, "qms", "", d.qms, scaled(1));
    put(out, "vas", "L", d.vas, litres);
    put(out, "sd", "cm2", d.sd, [](Area a) { return a.cm2(); });
    put(out, "xmax", "mm", d.xmax, [](Length l) { return l.mm(); });
    put(out, "re", "ohm", d.re_ohm, scaled(1));
    put(out, "le", "mH", d.le_h, scaled(1e3));
    put(out, "bl", "T m", d.bl_tm, scaled(1));
    put(out, "mms", "kg", d.mms_kg, scaled(1));
    put(out, "cms", "mm/N", d.cms_m_per_n, scaled(1e3));
    put(out, "rms", "kg/s", d.rms_kg_per_s, scaled(1));
    put(out, "power", "W", d.power_w, scaled(1));
    put(out, "sd times xmax", "L", d.vd, litres);
    put(out, "level at 1 W", "dB", d.spl_1w_db, scaled(1));
    put(out, "level at 2.83 V", "dB", d.spl_sheet_db, scaled(1));
    return out;
}

}  // namespace geom::sound

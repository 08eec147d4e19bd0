#include "geom/job/resolved_driver.h"

#include "geom/job/quantity.h"

namespace geom::job {

namespace {

using Resolved = std::map<std::string, std::string>;

/// "48 Hz (default)" without its remark; nothing where the key is missing.
std::optional<std::string> value_of(const Resolved& resolved, const std::string& key) {
    auto it = resolved.find("driver." + key);
    if (it == resolved.end()) it = resolved.find("driver[1]." + key);
    if (it == resolved.end()) return std::nullopt;
    const std::string text = it->second.substr(0, it->second.find(" ("));
    if (text.starts_with("not given")) return std::nullopt;
    return text;
}

/// A number with just this unit behind it ("" for none), times `factor`.
std::optional<double> number(const Resolved& resolved, const std::string& key, const std::string& unit,
                             double factor = 1.0) {
    auto text = value_of(resolved, key);
    if (!text || !text->ends_with(unit)) return std::nullopt;
    text->resize(text->size() - unit.size());
    const auto value = parse_number(*text);
    return value && *value > 0.0 ? std::optional(*value * factor) : std::nullopt;
}

std::optional<double> quantity(const Resolved& resolved, const std::string& key, QuantityKind kind) {
    const auto text = value_of(resolved, key);
    if (!text) return std::nullopt;
    const auto value = parse_quantity(*text, kind);
    return value && *value > 0.0 ? std::optional(*value) : std::nullopt;
}

}  // namespace

std::optional<sound::Driver> driver_of_resolved(const Resolved& resolved) {
    const auto name = value_of(resolved, "name");
    if (!name) return std::nullopt;
    sound::Driver d;
    d.name = *name;
    if (const auto v = quantity(resolved, "displacement", QuantityKind::Volume)) d.displacement = Volume::mm3(*v);
    d.fs_hz = number(resolved, "fs", " Hz");
    d.qts = number(resolved, "qts", "");
    d.qes = number(resolved, "qes", "");
    d.qms = number(resolved, "qms", "");
    if (const auto v = quantity(resolved, "vas", QuantityKind::Volume)) d.vas = Volume::mm3(*v);
    if (const auto v = quantity(resolved, "sd", QuantityKind::Area)) d.sd = Area::mm2(*v);
    if (const auto v = quantity(resolved, "xmax", QuantityKind::Length)) d.xmax = Length::mm(*v);
    d.re_ohm = number(resolved, "re", " ohm");
    d.le_h = number(resolved, "le", " mH", 1e-3);
    d.power_w = number(resolved, "power", " W");
    d.mms_kg = number(resolved, "mms", " kg");
    d.cms_m_per_n = number(resolved, "cms", " mm/N", 1e-3);
    d.rms_kg_per_s = number(resolved, "rms", " kg/s");
    d.bl_tm = number(resolved, "bl", " T m");
    return d;
}

}  // namespace geom::job

#include "geom/measure/as_built.h"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <limits>

namespace geom::measure {

namespace {

constexpr double kInfinite = std::numeric_limits<double>::infinity();

/// Standard uncertainty of half a span.
double standard_of(double off) {
    return off / std::sqrt(3.0);
}

Fault senseless(const Filling& f, const std::string& what, std::string hint) {
    return {FaultCode::BadJob, fmt::format("filling \"{}\": {}", f.told, what), std::move(hint), {}, {}};
}

Result<double> litres_of(const Filling& f) {
    if (f.matter == Filling::Matter::WaterByVolume) {
        if (f.volume.volume.mm3() <= 0.0)
            return senseless(f, "is no volume above 0", "say what went in, such as \"12.4 L\"");
        return f.volume.volume.litres();
    }
    if (f.full.kg <= 0.0 || f.empty.kg < 0.0)
        return senseless(f, "has a mass that is not above 0", "say what the scale showed, such as \"mass 8.41 kg\"");
    const double kg = f.full.kg - f.empty.kg;
    if (kg <= 0.0)
        return senseless(f, fmt::format("{:.6g} kg full and {:.6g} kg empty", f.full.kg, f.empty.kg),
                         "mass is what the scale showed with the filling, empty what it showed without");
    if (f.kg_per_litre <= 0.0)
        return senseless(f, "has a bulk density that is not above 0",
                         "weigh a vessel of known volume filled the same way: \"bulk 1.344 kg in 2 L\"");
    return kg / f.kg_per_litre;
}

double scale_litres(const Filling& f) {
    if (f.matter == Filling::Matter::WaterByVolume) return standard_of(f.volume.off.litres());
    return std::hypot(standard_of(f.full.off_kg), standard_of(f.empty.off_kg)) / f.kg_per_litre;
}

const char* measure_of(const Filling& f) {
    return f.matter == Filling::Matter::WaterByVolume ? "measure" : "scale";
}
const char* density_of(const Filling& f) {
    return f.matter == Filling::Matter::Grain ? "bulk density" : "density of the water, air left in corners";
}

bool alike(const Filling& a, const Filling& b) {
    return a.matter == b.matter && a.kg_per_litre == b.kg_per_litre;
}

/// Fillings of one way.
struct Way {
    double mean = 0.0, scatter = 0.0, standard = 0.0, freedom = kInfinite;
    std::vector<Share> shares;
};

Way way_of(const Filling& first, const std::vector<double>& litres, double worst_scale) {
    Way way;
    const auto n = static_cast<double>(litres.size());
    for (const double v : litres) way.mean += v / n;
    double squares = 0.0;
    for (const double v : litres) squares += (v - way.mean) * (v - way.mean);
    way.shares.push_back({measure_of(first), Volume::litres(worst_scale)});
    const double density = first.matter == Filling::Matter::Grain         ? first.density_rel
                           : first.matter == Filling::Matter::WaterByMass ? std::max(first.density_rel, kWater_rel)
                                                                          : kWater_rel;
    way.shares.push_back({density_of(first), Volume::litres(way.mean * standard_of(density))});
    double sum = 0.0;
    for (const Share& s : way.shares) sum += s.standard.litres() * s.standard.litres();
    if (litres.size() > 1) {
        way.scatter = std::sqrt(squares / (n - 1.0));
        const double of_mean = way.scatter / std::sqrt(n);
        way.shares.push_back({fmt::format("scatter of {} fillings", litres.size()), Volume::litres(of_mean)});
        sum += of_mean * of_mean;
        if (of_mean > 0.0) way.freedom = (n - 1.0) * sum * sum / std::pow(of_mean, 4);
    }
    way.standard = std::max(std::sqrt(sum), 1e-12 * way.mean);  // a weight has to be finite
    return way;
}

}  // namespace

double Uncertain::factor() const {
    // Beyond a million the t is the normal distribution's to seven digits.
    const boost::math::students_t t(std::min(std::max(freedom, 1.0), 1e6));
    return boost::math::quantile(boost::math::complement(t, 0.025));
}

Result<Filled> filled(const std::vector<Filling>& fillings) {
    EXPECTS(!fillings.empty());
    Filled out;
    std::vector<double> all;
    for (const Filling& f : fillings) {
        GAPWRIGHT_TRY(litres, litres_of(f));
        all.push_back(litres);
        out.each.push_back(Volume::litres(litres));
    }
    std::vector<Way> ways;
    std::vector<char> taken(fillings.size(), 0);
    for (std::size_t i = 0; i < fillings.size(); ++i) {
        if (taken[i] != 0) continue;
        std::vector<double> litres;
        double worst_scale = 0.0;
        for (std::size_t k = i; k < fillings.size(); ++k) {
            if (taken[k] != 0 || !alike(fillings[i], fillings[k])) continue;
            taken[k] = 1;
            litres.push_back(all[k]);
            worst_scale = std::max(worst_scale, scale_litres(fillings[k]));
        }
        ways.push_back(way_of(fillings[i], litres, worst_scale));
    }
    double weights = 0.0, mean = 0.0, freedom_sum = 0.0, off = 0.0;
    for (const Way& w : ways) weights += 1.0 / (w.standard * w.standard), mean += w.mean / (w.standard * w.standard);
    mean /= weights;
    double standard = 1.0 / std::sqrt(weights);
    for (const Way& w : ways) {
        const double share = 1.0 / (w.standard * w.standard) / weights;
        freedom_sum += std::pow(share * w.standard, 4) / w.freedom;
        off += (w.mean - mean) * (w.mean - mean) / (w.standard * w.standard);
        out.scatter = std::max(out.scatter, Volume::litres(w.scatter));
        for (const Share& s : w.shares) out.shares.push_back({s.of, s.standard * share});
    }
    const double freedom = freedom_sum > 0.0 ? std::pow(standard, 4) / freedom_sum : kInfinite;
    // Birge's ratio: ways that disagree by more than they can know less than they say.
    const double ratio = ways.size() > 1 ? std::sqrt(off / static_cast<double>(ways.size() - 1)) : 0.0;
    out.ways_disagree = ratio > 2.0;
    standard *= std::max(1.0, ratio);
    out.mean = {Volume::litres(mean), Volume::litres(standard), freedom};
    std::stable_sort(out.shares.begin(), out.shares.end(),
                     [](const Share& a, const Share& b) { return a.standard > b.standard; });
    return out;
}

BuiltAgainst against(const Uncertain& filled, Volume expected, Volume expected_off, Volume tolerance) {
    EXPECTS(expected.mm3() > 0.0 && tolerance.mm3() >= 0.0);
    BuiltAgainst out;
    const double of_filled = filled.standard.litres(), of_expected = standard_of(expected_off.litres());
    const double standard = std::hypot(of_filled, of_expected);
    out.difference.value = filled.value - expected;
    out.difference.standard = Volume::litres(standard);
    out.difference.freedom = of_filled > 0.0 ? filled.freedom * std::pow(standard / of_filled, 4) : kInfinite;
    const Volume within = out.difference.within();
    const Volume off = Volume::mm3(std::abs(out.difference.value.mm3()));
    out.differs = off > within;
    out.matters = out.differs && off > tolerance;
    out.can_tell = within <= tolerance;
    return out;
}

}  // namespace geom::measure

// Screws that hold one piece to another under the job's deceleration: the driver to its baffle, a separate baffle with
// its driver to the box, the box to its plate. Loads go to them as to the vehicle's bolts (fixings/restraint.h); each
// bears them on its proof load and by the pull-out of insert or thread, with the same safety. Which of the two holds it
// is told from what was asked: an insert where inserts are made in that material.
#include "geom/check/internal/case.h"

#include "geom/fixings/pull_out.h"
#include "geom/fixings/restraint.h"
#include "geom/parts/mount_plate.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>

namespace geom::check {

namespace {

using parts::BoltMade;
using parts::Step;

/// What a set of screws carries, and what they are screwed into.
struct Joint {
    std::string name;  ///< "driver screws"
    Step step;
    double mass_kg = 0.0;
    Point3 centre;
    parts::Material holder;
    bool may_have_inserts = false;
    double before_mm = 0.0;     ///< from the heads' seat to where what they are screwed into begins
    double most_mm = 1e300;     ///< of thread that can engage
    std::string not_counted{};  ///< "", or what of the mass is not known
};

fixings::Holder holder_of(const parts::Material& material, parts::Method method) {
    if (material.is_metal) return fixings::Holder::Metal;
    if (material.is_board) return fixings::Holder::Board;
    return method == parts::Method::Layup ? fixings::Holder::Laminate : fixings::Holder::Printed;
}

/// Mass and centre of the pieces that `counts` says, and of the driver.
struct Load {
    double kg = 0.0;
    Vec3 moment;
    void add(double mass, Point3 at) { kg += mass, moment += at * mass; }
    Point3 centre() const { return kg > 0.0 ? moment / kg : Point3{}; }
};

void add_products(const Case& c, Load& load, const std::function<bool(const parts::Product&)>& counts) {
    for (const ReadBack& r : c.products)
        if (!r.product->is_tool && counts(*r.product))
            load.add(r.solid.volume.mm3() * 1e-9 * r.product->material.density_kg_m3, r.solid.centre);
}

bool add_driver(const Case& c, Load& load) {
    const auto driver = driver_mass(c);
    if (driver) load.add(driver->kg, driver->at);
    return driver.has_value();
}

const BoltMade* first_of(const Case& c, Step step) {
    for (const BoltMade& screw : c.enclosure().screws)
        if (screw.step == step) return &screw;
    return nullptr;
}

std::vector<Joint> joints_of(const Case& c) {
    std::vector<Joint> joints;
    const parts::EnclosureRequest& request = c.request;
    const parts::Material baffle =
        request.baffle.separate ? request.baffle.material.value_or(request.material) : request.material;
    for (const Step step : {Step::DriverOnBaffle, Step::DriverBehindBaffle}) {
        if (first_of(c, step) == nullptr) continue;
        Load load;
        const std::vector<parts::DriverMount> mounts = request.drivers();
        bool is_known = true;
        for (std::size_t i = 0; i < mounts.size(); ++i) {
            if (mounts[i].from_behind != (step == Step::DriverBehindBaffle)) continue;
            is_known = is_known && mounts[i].driver.mass_kg.has_value();
            load.add(mounts[i].driver.mass_kg.value_or(0.0),
                     parts::mass_centre(mounts[i], c.enclosure().driver_seats[i]));
        }
        if (is_known)
            joints.push_back({step == Step::DriverOnBaffle ? "driver screws" : "screws of drivers from behind", step,
                              load.kg, load.centre(), baffle, request.baffle.inserts, 0.0});
    }
    if (first_of(c, Step::BaffleOnBox) != nullptr) {
        Load load;
        add_products(c, load, [](const parts::Product& p) { return p.name == "baffle"; });
        const bool has_driver = add_driver(c, load);
        joints.push_back({"baffle screws", Step::BaffleOnBox, load.kg, load.centre(), request.material,
                          request.baffle.inserts, request.baffle.thickness.mm(), 1e300,
                          has_driver || !request.driver ? "" : "; the driver's mass is not known and not counted"});
    }
    if (first_of(c, Step::BoxOnPlate) != nullptr && !request.plates.empty()) {
        Load load;
        const auto is_plate = [&](const parts::Product& p) {
            return std::any_of(request.plates.begin(), request.plates.end(),
                               [&](const parts::MountPlate& plate) { return plate.name == p.name; });
        };
        add_products(c, load, [&](const parts::Product& p) { return !is_plate(p); });
        const bool has_driver = add_driver(c, load);
        const parts::MountPlate& plate = request.plates.front();
        joints.push_back({"screws into the plate", Step::BoxOnPlate, load.kg, load.centre(), parts::material_of(plate),
                          true, 0.0, plate.thickness.mm(),
                          has_driver || !request.driver ? "" : "; the driver's mass is not known and not counted"});
    }
    return joints;
}

void check_joint(const Case& c, const Joint& joint, Verdict& verdict) {
    std::vector<fixings::Held> held;
    std::vector<double> pull_out;
    const fixings::Holder holder = holder_of(joint.holder, c.request.make.method);
    std::string how;
    for (const BoltMade& screw : c.enclosure().screws) {
        if (screw.step != joint.step) continue;
        const auto thread = fixings::find_thread(screw.thread, c.request.own_threads);
        if (!thread) continue;  // a wood screw of a rim: what it goes into is not the job's
        held.push_back({.name = screw.name,
                        .seat = screw.head_seat,
                        .axis = screw.axis,
                        .proof_N = fixings::proof_N(*thread, fixings::Grade::G8_8),
                        .seat_radius_mm = std::max(screw.hole.seat_mm, thread->d_mm) / 2.0});
        const bool has_insert = joint.may_have_inserts && !joint.holder.is_metal && thread->insert_pilot_mm > 0.0;
        const double engaged =
            has_insert ? thread->insert_length_mm
                       : std::clamp(std::min(screw.reach_mm - screw.clamps_mm - joint.before_mm, joint.most_mm), 0.0,
                                    fixings::wanted_engagement_d(holder) * thread->d_mm);
        pull_out.push_back(
            fixings::pull_out_N(*thread, has_insert ? fixings::Hold::Insert : fixings::Hold::Thread, holder, engaged));
        how = fmt::format("{} {:.1f} mm long in {} holds {:.0f} N", has_insert ? "an insert" : "a thread", engaged,
                          joint.holder.name, pull_out.back());
    }
    if (held.empty() || joint.mass_kg <= 0.0) return;
    double worst = -1.0;
    std::string where;
    bool is_held = true;
    for (const fixings::LoadCase& load :
         fixings::load_cases(c.request.deceleration_g, c.request.up, c.request.forward)) {
        const fixings::Restraint r = fixings::restrain(joint.mass_kg, joint.centre, held, load);
        is_held = is_held && r.is_held;
        for (std::size_t i = 0; i < held.size(); ++i) {
            const fixings::BoltForce& f = r.bolts[i];
            const double use = std::max(f.use_rel, pull_out[i] > 0.0   ? fixings::kSafety * f.tension_N / pull_out[i]
                                                   : f.tension_N > 0.0 ? 1e3
                                                                       : 0.0);
            if (use <= worst) continue;
            worst = use;
            where = fmt::format("{}, {} at {:.0f} g: {:.0f} N tension, {:.0f} N shear", held[i].name, load.name, load.g,
                                f.tension_N, f.shear_N);
        }
    }
    CheckLine line = at_most(
        joint.name + ", pull-out and proof load", Kind::Fit, 100.0 * worst, 100.0, "%",
        fmt::format("{} for {:.2f} kg on {}; {} (common practice), proof load of 8.8 (ISO 898-1), safety {}{}", where,
                    joint.mass_kg, held.size() == 1 ? "one screw" : fmt::format("{} screws", held.size()), how,
                    fixings::kSafety, joint.not_counted));
    if (!is_held) {
        line.ok = false;
        line.note += "; one screw does not hold against a twist about itself";
    }
    verdict.lines.push_back(std::move(line));
}

}  // namespace

void check_screw_loads(const Case& c, Verdict& verdict) {
    for (const Joint& joint : joints_of(c)) check_joint(c, joint, verdict);
}

}  // namespace geom::check

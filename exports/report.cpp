// Numbers are rounded to what they are worth (a millionth of a millimetre or litre is noise of the last bits), so that
// the text does not depend on the order in which a sum was taken.
#include "exports/report.h"

#include "exports/internal/report_json.h"

#include "geom/core/text.h"
#include "geom/sound/value_rows.h"

#include <cmath>

namespace exports {
namespace {

using Json = nlohmann::ordered_json;
using geom::rounded;
using geom::Vec3;

Json mm(double v) {
    return rounded(v, 4);
}
Json litres(double v) {
    return rounded(v, 6);
}
Json relative(double v) {
    return rounded(v, 7);
}
Json point(Vec3 p) {
    return point_json(p, 3);
}
Json direction(Vec3 p) {
    return direction_json(p);
}

Json net_volume(const ReportInput& in) {
    const double asked = in.request.net_volume.litres();
    const double made = in.made.enclosure.net_by_brep.litres();
    Json j;
    j["litres"] = litres(made);
    j["asked_litres"] = in.request.asks_volume ? litres(asked) : Json(nullptr);
    j["error_rel"] = in.request.asks_volume ? relative(asked > 0.0 ? made / asked - 1.0 : 0.0) : Json(nullptr);
    j["uncertainty_rel"] = relative(in.made.enclosure.uncertainty_rel);
    j["tolerance_rel"] = relative(in.request.tolerance_rel);
    const bool on_scan = in.request.follows_scan();
    const char* first = on_scan ? "field" : "closed_form";
    j["by"] = {{first, litres(in.made.enclosure.net_by_field.litres())},
               {"brep", litres(made)},
               {"mesh", litres(in.verdict.net_by_mesh.litres())}};
    j["how"] = {{first, on_scan ? "integral of the signed field on its grid"
                                : "closed form of the inside, with what the ledger adds and takes away"},
                {"brep", "integral over the faces of the air body; the figure given as litres"},
                {"mesh", "the written STL read back, openings capped, the component that holds the air"}};
    return j;
}

Json ledger(const ReportInput& in) {
    Json j = Json::array();
    for (const auto& line : in.made.enclosure.ledger)
        j.push_back({{"name", line.name}, {"litres", litres(line.litres)}});
    return j;
}

Json solid(const ReportInput& in) {
    Json j = solid_json(in.verdict);
    Json products = Json::array();
    for (const auto& p : in.made.enclosure.products)
        products.push_back({{"name", p.name},
                            {"material", p.material.name},
                            {"density_kg_m3", rounded(p.material.density_kg_m3, 1)},
                            {"is_tool", p.is_tool}});
    j["products"] = products;
    return j;
}

Json skin(const geom::skin::SkinQuality& q) {
    return {{"faces", q.faces},
            {"plane_faces", q.plane_faces},
            {"bspline_faces", q.bspline_faces},
            {"control_points", q.control_points},
            {"deviation_p99_mm", mm(q.deviation_p99_mm)},
            {"deviation_max_mm", mm(q.deviation_max_mm)},
            {"tangent_break_median_deg", rounded(q.break_median_deg, 3)},
            {"tangent_break_p99_deg", rounded(q.break_p99_deg, 3)},
            {"tangent_break_max_deg", rounded(q.break_max_deg, 3)},
            {"tangent_break_max_at", point(q.break_at)},
            {"made_by", q.attempt}};
}

/// How a file came to its place: x, y and z are the rows of the turn, p -> scale * turn * p + shift.
Json placing(const geom::scan::FilePlacing& file) {
    const auto& m = file.motion;
    Json j;
    j["file"] = file.path.generic_string();
    j["x"] = direction(m.x);
    j["y"] = direction(m.y);
    j["z"] = direction(m.z);
    j["scale"] = rounded(m.scale, 7);
    j["shift_mm"] = point(m.shift);
    j["mirrored"] = m.mirrors();
    if (file.pairs) {
        Json pairs = Json::array();
        for (const auto& [name, off] : file.pairs->residuals_mm)
            pairs.push_back({{"name", name}, {"residual_mm", mm(off)}});
        j["pairs"] = pairs;
        j["pairs_rms_mm"] = mm(file.pairs->rms_mm);
        j["bad_pair_can_be_told"] = file.pairs->can_tell;
        if (file.pairs->bad)
            j["bad_pair"] = {{"name", file.pairs->residuals_mm[*file.pairs->bad].first},
                             {"off_mm", mm(file.pairs->bad_off_mm)},
                             {"others_rms_mm", mm(file.pairs->others_rms_mm)}};
    }
    if (file.fit)
        j["fit"] = {{"rounds", file.fit->rounds},
                    {"overlap", rounded(file.fit->overlap, 3)},
                    {"before_mm", mm(file.fit->before_mm)},
                    {"after_mm", mm(file.fit->after_mm)},
                    {"moved_mm", mm(file.fit->moved_mm)},
                    {"turned_deg", rounded(file.fit->turned_deg, 4)},
                    {"parts_differ_mm", mm(file.fit->parts_differ_mm)}};
    if (file.sampled > 0) j["mesh_read_as_points"] = {{"points", file.sampled}, {"spacing_mm", mm(file.sampled_mm)}};
    return j;
}

Json scan(const ReportInput& in) {
    const auto& s = in.surface;
    Json j;
    j["raw_points"] = s.raw_points;
    j["kept_points"] = s.points.size();
    j["from_mesh"] = s.from_mesh;
    j["spacing_mm"] = mm(s.spacing_mm);
    j["noise_mm"] = mm(s.noise_mm);
    j["bound_mm"] = mm(s.bound_mm);
    Json dropped = Json::array();
    for (const auto& d : s.dropped)
        dropped.push_back(
            {{"reason", d.reason}, {"points", d.points}, {"place", point(d.place)}, {"size_mm", mm(d.size.mm())}});
    j["dropped"] = dropped;
    j["placing"] = Json::array();
    for (const auto& file : in.job.placing) j["placing"].push_back(placing(file));
    return j;
}

Json fixings(const ReportInput& in) {
    Json j = Json::array();
    for (const auto& f : in.made.enclosure.fixings) {
        const bool is_sleeve = f.kind == geom::parts::FixingKind::Sleeve;
        Json one = {{"name", f.name},
                    {"kind", is_sleeve                                  ? "sleeve"
                             : f.kind == geom::parts::FixingKind::Plate ? "plate"
                             : f.kind == geom::parts::FixingKind::Rim   ? "rim"
                                                                        : "foot"},
                    {"thread", f.thread},
                    {"point", point(f.point)},
                    {"axis", direction(f.axis)},
                    {"hole_mm", mm(f.hole_mm)},
                    {"measured_hole_mm", mm(f.measured_hole_mm)},
                    {"measured_off_axis_mm", mm(f.measured_off_axis_mm)},
                    {"edge_distance_mm", mm(f.edge_distance_mm)},
                    {"edge_wanted_mm", mm(f.edge_wanted_mm)},
                    {"head_seat", point(f.bolt.head_seat)},
                    {"grip_mm", mm(f.grip_mm)}};
        if (is_sleeve) {
            one["tube_litres"] = rounded(f.tube_mm3 / 1e6, 6);
        } else if (f.kind == geom::parts::FixingKind::Foot) {
            one["web_section_mm2"] = rounded(f.web_section_mm2, 2);
            one["web_wanted_mm2"] = rounded(f.web_wanted_mm2, 2);
        }
        j.push_back(one);
    }
    return j;
}

Json braces(const ReportInput& in) {
    Json j = Json::array();
    for (const auto& b : in.made.enclosure.braces)
        j.push_back({{"name", b.name},
                     {"from", point(b.from)},
                     {"to", point(b.to)},
                     {"thickness_mm", mm(b.thickness_mm)},
                     {"litres", rounded(b.volume_mm3 / 1e6, 6)}});
    return j;
}

Json stiffness(const ReportInput& in) {
    const auto& s = in.verdict.stiffness;
    Json j;
    j["units"] = "mm, GPa, Hz";
    j["plays_to_hz"] = s.plays_to_Hz > 0.0 ? Json(rounded(s.plays_to_Hz, 2)) : Json(nullptr);
    j["wanted_hz"] = s.wanted_Hz > 0.0 ? Json(rounded(s.wanted_Hz, 2)) : Json(nullptr);
    j["e_gpa"] = s.e_GPa > 0.0 ? Json(rounded(s.e_GPa, 3)) : Json(nullptr);
    const auto wall = [](const geom::check::WallResonance& w) -> Json {
        return {{"centre", point(w.centre)},
                {"outward", direction(w.outward)},
                {"along", direction(w.along)},
                {"longer_mm", rounded(w.longer_mm, 2)},
                {"shorter_mm", rounded(w.shorter_mm, 2)},
                {"thickness_mm", rounded(w.thickness_mm, 3)},
                {"flat_area_mm2", rounded(w.area_mm2, 0)},
                {"supported_hz", rounded(w.supported_Hz, 2)},
                {"clamped_hz", rounded(w.clamped_Hz, 2)}};
    };
    j["weakest_wall"] = s.lowest ? wall(*s.lowest) : Json(nullptr);
    j["with_one_more_brace"] = nullptr;
    if (s.with_brace)
        j["with_one_more_brace"] = {{"from", point(s.with_brace->from)},
                                    {"to", point(s.with_brace->to)},
                                    {"thickness_mm", mm(s.with_brace->thickness_mm)},
                                    {"litres", litres(s.with_brace->litres)},
                                    {"weakest_wall", wall(s.with_brace->lowest)}};
    j["how"] =
        "largest nearly flat area of the inner wall, the baffle left out, as a rectangular plate, simply supported and "
        "clamped (Leissa): a real wall lies between; least modulus of the material's range; curved walls are stiffer";
    return j;
}

Json restraint(const ReportInput& in) {
    const auto& r = in.verdict.restraint;
    if (r.bolts.empty()) return nullptr;
    Json j;
    j["deceleration_g"] = rounded(r.deceleration_g, 3);
    j["mass_kg"] = rounded(r.mass_kg, 4);
    j["driver_mass_is_known"] = r.driver_mass_is_known;
    j["note"] = "a sum on proof loads, not a crash test; the vehicle's own sheet is not in it";
    j["bolts"] = Json::array();
    for (const auto& b : r.bolts)
        j["bolts"].push_back({{"name", b.name},
                              {"thread", b.thread},
                              {"worst", b.direction},
                              {"g", rounded(b.g, 3)},
                              {"tension_N", rounded(b.tension_N, 1)},
                              {"shear_N", rounded(b.shear_N, 1)},
                              {"use", rounded(b.use_rel, 4)},
                              {"preload_N", rounded(b.preload_N, 0)},
                              {"torque_N_m", rounded(b.torque_N_m, 2)},
                              {"seat_MPa", rounded(b.seat_MPa, 2)},
                              {"most_tension_N", rounded(b.most_tension_N, 1)},
                              {"washer_MPa", rounded(b.washer_MPa, 2)},
                              {"bearing_MPa", rounded(b.bearing_MPa, 3)},
                              {"has_metal_sleeve", b.has_metal_sleeve}});
    return j;
}

Json driver_fit(const ReportInput& in) {
    if (!in.verdict.driver_fit.has_driver) return nullptr;
    const auto& fit = in.verdict.driver_fit;
    Json j;
    if (in.request.driver) j["driver"] = in.request.driver->driver.name;
    const auto tell = [&](const geom::check::BodyFit& body, Json& into) {
        into["driver"] = body.name;
        into["which"] = body.who;
        if (body.rear_gap_mm) {
            into["rear_gap_mm"] = mm(*body.rear_gap_mm);
            into["rear_gap_wanted_mm"] = mm(fit.rear_gap_wanted_mm);
        }
        into["wall_gap_mm"] = mm(body.wall_gap_mm);
        into["at"] = point(body.at);
    };
    // The tightest, then all where there are several.
    if (fit.tightest) tell(fit.bodies[*fit.tightest], j);
    if (fit.bodies.size() > 1) {
        j["each"] = Json::array();
        for (const auto& body : fit.bodies) {
            Json one;
            tell(body, one);
            j["each"].push_back(std::move(one));
        }
    }
    const auto& front = fit.front;
    Json f;
    if (front.asked_mm > 0.0) {
        f["grille_room_mm"] = mm(front.asked_mm);
        f["least_mm"] = mm(front.least_mm);
    }
    f["diameter_mm"] = mm(front.diameter_mm);
    f["free_mm"] = mm(front.free_mm);
    f["free_up_to"] = front.met.empty() ? Json(nullptr) : Json(front.met);
    f["at"] = front.met.empty() ? Json(nullptr) : point(front.met_at);
    f[front.is_magnet ? "magnet_needs_mm" : "cone_needs_mm"] = mm(front.cone_needs_mm);
    if (!front.is_magnet) f["cone_is_estimated"] = front.cone_is_estimated;
    f["before_baffle_mm"] = mm(front.before_baffle_mm);
    j["front"] = f;
    return j;
}

Json spread(const geom::sound::BoxFigure& f) {
    return {{"value", rounded(f.value, 4)}, {"least", rounded(f.least, 4)}, {"most", rounded(f.most, 4)}};
}

Json driver_values(const geom::sound::SmallSignal& driver) {
    Json j = Json::array();
    for (const auto& row : geom::sound::value_rows(driver))
        j.push_back({{"name", row.name},
                     {"value", rounded(row.value, 6)},
                     {"unit", row.unit},
                     {"given", row.is_given},
                     {"from", row.from}});
    return j;
}

Json lining(const std::optional<geom::parts::Lining>& asked) {
    using Kind = geom::parts::Lining::Kind;
    if (!asked) return nullptr;
    return {{"kind", asked->kind == Kind::Fibre  ? "fibre"
                     : asked->kind == Kind::Foam ? "foam"
                                                 : "sheet"},
            {"thickness_mm", mm(asked->thickness.mm())},
            {"gain", rounded(asked->gain, 4)}};
}

Json port(const ReportInput& in, const geom::sound::BoxSound& heard) {
    const auto& made = in.made.enclosure.port;
    if (!made || !heard.port) return nullptr;
    Json j;
    const auto& inside = made->inside;
    const auto& path = made->path;
    j["section"] = inside.is_round() ? "round" : "slot";
    j["diameter_mm"] = inside.is_round() ? Json(mm(made->diameter_mm)) : Json(nullptr);
    j["slot"] = nullptr;
    if (!inside.is_round())
        j["slot"] = {{"width_mm", mm(2.0 * inside.half_width_mm)},
                     {"height_mm", mm(2.0 * inside.half_height_mm)},
                     {"corner_radius_mm", mm(inside.corner_mm)},
                     {"turn_deg", rounded(geom::Angle::rad(inside.turn_rad).deg(), 3)}};
    j["area_cm2"] = rounded(inside.area_mm2() / 100.0, 4);
    j["wall_mm"] = mm(made->wall_mm);
    j["length_mm"] = mm(made->length_mm);
    j["bend"] = nullptr;
    if (!path.is_straight())
        j["bend"] = {{"after_mm", mm(path.before_mm)},
                     {"radius_mm", mm(path.radius_mm)},
                     {"angle_deg", rounded(geom::Angle::rad(path.angle_rad).deg(), 3)},
                     {"towards", direction(path.towards)}};
    j["inner_end"] = point(path.end().at);
    j["inner_way"] = direction(path.end().along);
    j["mouth"] = point(made->mouth);
    j["inward"] = direction(made->inward);
    j["asked_hz"] = made->asked_hz > 0.0 ? Json(rounded(made->asked_hz, 4)) : Json(nullptr);
    j["tuning_hz"] = rounded(made->tuning_hz, 4);
    const auto& p = heard.port->port;
    j["outer_end_mm"] = mm(geom::sound::end_correction(p.section, p.outer).mm());
    j["inner_end_mm"] = mm(geom::sound::end_correction(p.section, p.inner).mm());
    j["pipe_resonance_hz"] = rounded(geom::sound::pipe_resonance_hz(p, heard.port->length), 1);
    j["air"] = nullptr;
    if (heard.port_air)
        j["air"] = {{"most_m_s", rounded(heard.port_air->m_s, 3)},
                    {"at_hz", rounded(heard.port_air->at_hz, 2)},
                    {"watts", rounded(heard.watts, 4)}};
    return j;
}

/// For the measured net volume, each with its spread over that volume's bound.
Json sound(const ReportInput& in) {
    if (!in.verdict.sound) return nullptr;
    const auto& heard = *in.verdict.sound;
    Json j;
    j["driver"] = heard.driver.name;
    const auto& wiring = in.request.wiring;
    j["drivers"] = {{"count", wiring.count()}, {"in_series", wiring.in_series}, {"in_parallel", wiring.in_parallel}};
    j["net_litres"] = litres(heard.box.net.litres());
    j["volume_bound_rel"] = relative(heard.volume_rel);
    j["lining"] = lining(in.request.lining);
    j["driver_values"] = driver_values(heard.driver);
    for (const auto& each : heard.unlike)
        j["unlike_drivers"].push_back({{"driver", each.name}, {"values", driver_values(each)}});
    j["disagreements"] = heard.driver.notes;
    for (const auto& f : heard.figures) j[f.name] = spread(f);
    if (!heard.xmax_limited_by.empty()) j["xmax_limited_by"] = heard.xmax_limited_by;
    j["peak_at_hz"] = heard.peak_at_hz ? Json(rounded(*heard.peak_at_hz, 2)) : Json(nullptr);
    j["port"] = port(in, heard);
    j["left_out"] = heard.left_out;
    j["cabin_measured"] = in.request.cabin ? Json(in.request.cabin->name) : Json(nullptr);
    j["note"] = {geom::sound::kFreeField, geom::sound::kSmallSignals};
    if (!heard.unlike.empty()) j["note"].push_back(geom::sound::kOneSignal);
    return j;
}

/// The cut list, and the volumes in closed form.
Json box(const ReportInput& in) {
    const auto& e = in.made.enclosure;
    Json j;
    j["outside_litres"] = litres(e.outside.litres());
    j["inside_litres"] = litres(e.inside.litres());
    j["walls"] = Json::array();
    for (const auto& side : in.request.sides)
        j["walls"].push_back({{"side", side.name}, {"thickness_mm", mm(side.thickness_mm)}});
    j["boards"] = Json::array();
    for (const auto& b : e.boards) {
        Json one = {{"name", b.name},
                    {"side", b.side},
                    {"thickness_mm", mm(b.thickness_mm)},
                    {"length_mm", mm(b.length_mm)},
                    {"width_mm", mm(b.width_mm)},
                    {"outer_cm2", rounded(b.outer_mm2 / 100.0, 4)},
                    {"inner_cm2", rounded(b.inner_mm2 / 100.0, 4)},
                    {"litres", litres(b.volume_mm3 * 1e-6)}};
        if (b.is_bent) {
            one["bend_radius_mm"] = mm(b.bend_radius_mm);
            one["outer_arc_mm"] = mm(b.outer_arc_mm);
            one["inner_arc_mm"] = mm(b.inner_arc_mm);
            one["cone_deg"] = rounded(b.cone_deg, 4);
        }
        one["edges"] = Json::array();
        for (const auto& edge : b.edges)
            one["edges"].push_back({{"meets", edge.meets},
                                    {"outer_mm", mm(edge.outer_mm)},
                                    {"inner_mm", mm(edge.inner_mm)},
                                    {"bevel_deg", rounded(edge.bevel_deg, 4)},
                                    {"corner_deg", rounded(edge.corner_deg, 4)}});
        j["boards"].push_back(one);
    }
    j["how"] =
        "lengths and widths are of the smallest rectangle a board is cut from; a bevel is told from square, "
        "positive where the outer face is the larger; areas and litres before holes";
    return j;
}

Json clearance(const ReportInput& in) {
    const auto& c = in.verdict.clearance;
    Json j = {{"asked_mm", mm(c.asked_mm)},
              {"min_mm", mm(c.min_mm)},
              {"bound_mm", mm(c.bound_mm)},
              {"edge_bound_mm", mm(c.edge_bound_mm)},
              {"at", point(c.at)},
              {"along_insertion_min_mm", mm(c.along_insertion_min_mm)},
              {"along_insertion_at", point(c.along_insertion_at)},
              {"raw_points_nearer", c.raw_points_nearer}};
    if (c.moves.empty()) return j;
    j["along_insertion_move"] = c.along_insertion_move;
    j["moves"] = Json::array();
    for (const auto& m : c.moves)
        j["moves"].push_back({{"move", m.move},
                              {"least_mm", mm(m.least_mm)},
                              {"at", point(m.at)},
                              {"share_done", mm(m.share)},
                              {"how_far", m.how_far}});
    return j;
}

}  // namespace

Json solid_json(const geom::check::Verdict& v) {
    Json j;
    j["valid"] = v.valid;
    j["closed"] = v.closed;
    j["faces"] = v.faces;
    j["bspline_faces"] = v.bspline_faces;
    j["plane_faces"] = v.plane_faces;
    j["mass_kg"] = rounded(v.mass_kg, 4);
    j["centre_of_mass_mm"] = point(v.centre_of_mass);
    j["bounding_box_mm"] = {{"min", point(v.box.lo)}, {"max", point(v.box.hi)}, {"size", point(v.box.size())}};
    return j;
}

Json report_head(const JobRecord& job, bool proved) {
    Json j;
    j["job"] = job.name;
    j["part"] = job.part;
    j["made_by"] = "gapwright " + job.version;
    j["proved"] = proved;
    j["units"] = "lengths mm, volumes litres, masses kg, angles deg; vehicle frame";
    j["inputs"] = Json::array();
    for (const auto& input : job.inputs) j["inputs"].push_back({{"name", input.name}, {"sha256", input.sha256}});
    j["resolved"] = Json::object();
    for (const auto& [key, value] : job.resolved) j["resolved"][key] = value;
    return j;
}

Json checks_json(const std::vector<geom::check::CheckLine>& lines) {
    Json j = Json::array();
    for (const auto& line : lines)
        j.push_back({{"name", line.name},
                     {"ok", line.ok},
                     {"judged", line.is_judged},
                     {"value", rounded(line.value, 6)},
                     {"limit", rounded(line.limit, 6)},
                     {"unit", line.unit},
                     {"kind", line.kind == geom::check::Kind::SoundSolid ? "sound solid" : "fit"},
                     {"note", line.note}});
    return j;
}

Json cautions_json(const std::vector<geom::check::Caution>& cautions) {
    Json j = Json::array();
    for (const auto& c : cautions) j.push_back({{"name", c.name}, {"text", c.text}});
    return j;
}

std::string report_text(const ReportInput& in) {
    const auto& v = in.verdict;
    Json j = report_head(in.job, in.proved);
    j["net_volume"] = net_volume(in);
    j["ledger"] = ledger(in);
    j["solid"] = solid(in);
    j["wall"] = {{"asked_mm", mm(v.wall.asked_mm)},
                 {"min_mm", mm(v.wall.min_mm)},
                 {"median_mm", mm(v.wall.median_mm)},
                 {"at", point(v.wall.at)}};
    if (in.request.follows_scan()) {
        j["clearance"] = clearance(in);
        j["unscanned"] = Json::array();
        for (const auto& piece : v.unscanned)
            j["unscanned"].push_back(
                {{"faces", piece.faces}, {"place", point(piece.place)}, {"area_mm2", mm(piece.area_mm2)}});
    } else {
        j["box"] = box(in);
    }
    j["fixings"] = fixings(in);
    if (!in.made.enclosure.braces.empty()) j["braces"] = braces(in);
    j["stiffness"] = stiffness(in);
    j["restraint"] = restraint(in);
    j["driver_fit"] = driver_fit(in);
    j["sound"] = sound(in);
    j["checks"] = checks_json(v.lines);
    j["cautions"] = cautions_json(in.cautions);
    if (in.request.follows_scan()) j["scan"] = scan(in);
    const auto& baffle = in.made.enclosure.baffle_plane;
    j["baffle"] = {{"t_mm", mm(in.made.enclosure.baffle_t_mm)},
                   {"point", point(baffle.point)},
                   {"outward", direction(baffle.outward)}};
    const auto& solved = in.made.enclosure.solved;
    j["solved"] = {{"what", solved.what},
                   {"value_mm", mm(solved.value_mm)},
                   {"filled_litres", litres(solved.filled_litres)},
                   {"text", solved.text}};
    if (in.request.follows_scan())
        j["skin"] = {{"outer", skin(in.made.enclosure.outer_quality)},
                     {"inner", skin(in.made.enclosure.inner_quality)}};
    j["notes"] = Json::array();
    for (const auto& note : in.made.enclosure.notes) j["notes"].push_back(note);
    for (const auto& note : in.made.room.report.notes) j["notes"].push_back(note);
    j["files"] = in.files;
    return j.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

}  // namespace exports

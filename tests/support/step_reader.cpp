// From the products down (ISO 10303-41 and -43 for products, units and placements; -42, clause 5, for topology).
#include "tests/support/step_reader.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <set>

namespace outside {
namespace {

/// Frame `inner`, given in the numbers of `outer`, in the numbers of outer's own parent.
Axes composed(const Axes& outer, const Axes& inner) {
    return {outer.to_parent(inner.origin), outer.turned(inner.x), outer.turned(inner.y), outer.turned(inner.z)};
}
Axes inverse(const Axes& a) {
    const V3 o = a.origin;
    return {{-dot(o, a.x), -dot(o, a.y), -dot(o, a.z)},
            {a.x.x, a.y.x, a.z.x},
            {a.x.y, a.y.y, a.z.y},
            {a.x.z, a.y.z, a.z.z}};
}

std::string hash(int id) {
    return fmt::format("#{}", id);
}

class Reader {
public:
    Reader(std::string_view text, const ReadOptions& options) : file_(text), options_(options) {}

    std::vector<Product> products() {
        for (const int id : file_.all("SHAPE_DEFINITION_REPRESENTATION")) {
            const Record& r = file_.record(id, "SHAPE_DEFINITION_REPRESENTATION");
            const int definition = file_.record(r.at(0).as_id(), "PRODUCT_DEFINITION_SHAPE").at(2).as_id();
            if (!file_.entity(definition).is("PRODUCT_DEFINITION")) continue;
            shapes_[definition] = r.at(1).as_id();
            check_units(r.at(1).as_id());
        }
        if (shapes_.empty()) throw StepFault("STEP: no product with a shape");
        std::set<int> placed;
        for (const int id : file_.all("CONTEXT_DEPENDENT_SHAPE_REPRESENTATION")) {
            const Record& r = file_.record(id, "CONTEXT_DEPENDENT_SHAPE_REPRESENTATION");
            const Record& usage = file_.record(file_.record(r.at(1).as_id(), "PRODUCT_DEFINITION_SHAPE").at(2).as_id(),
                                               "NEXT_ASSEMBLY_USAGE_OCCURRENCE");
            const int parent = usage.at(3).as_id(), child = usage.at(4).as_id();
            children_[parent].push_back({child, placement(r.at(0).as_id(), child)});
            placed.insert(child);
        }
        std::vector<Product> out;
        for (const auto& [definition, shape] : shapes_)
            if (!placed.contains(definition)) place(definition, Axes{}, false, 0, out);
        return out;
    }

private:
    struct Child {
        int definition;
        Axes placement;
    };

    const std::vector<Value>& items_of(int representation) const {
        const Record& r = file_.entity(representation).records.front();
        if (r.name != "SHAPE_REPRESENTATION" && r.name != "ADVANCED_BREP_SHAPE_REPRESENTATION")
            throw StepFault("STEP: " + hash(representation) + ": no reading of a representation of kind " + r.name);
        return r.at(1).as_list();
    }
    void check_units(int representation) const {
        items_of(representation);
        const int context = file_.entity(representation).records.front().at(2).as_id();
        bool has_length = false, has_angle = false;
        for (const Value& unit : file_.record(context, "GLOBAL_UNIT_ASSIGNED_CONTEXT").at(0).as_list()) {
            const Entity& e = file_.entity(unit.as_id());
            const Record* si = e.find("SI_UNIT");
            if (e.is("LENGTH_UNIT")) {
                has_length = true;
                if (si == nullptr || si->at(0).is_omitted() || si->at(0).text != "MILLI" || si->at(1).text != "METRE")
                    throw StepFault("STEP: the unit of length of " + hash(context) + " is not the millimetre");
            } else if (e.is("PLANE_ANGLE_UNIT")) {
                has_angle = true;
                if (si == nullptr || !si->at(0).is_omitted() || si->at(1).text != "RADIAN")
                    throw StepFault("STEP: the unit of angle of " + hash(context) + " is not the radian");
            }
        }
        if (!has_length || !has_angle)
            throw StepFault("STEP: " + hash(context) + " names no unit of length or of angle");
    }
    Axes placement(int relation, int child) const {
        const Record& sides = file_.record(relation, "REPRESENTATION_RELATIONSHIP");
        const int transformation =
            file_.record(relation, "REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION").at(0).as_id();
        const Record& t = file_.record(transformation, "ITEM_DEFINED_TRANSFORMATION");
        Axes first = read_axes(file_, t.at(2).as_id()), second = read_axes(file_, t.at(3).as_id());
        const int shape = shapes_.at(child);
        if (sides.at(2).as_id() != shape) {
            if (sides.at(3).as_id() != shape)
                throw StepFault("STEP: " + hash(relation) + " does not place the product it should");
            std::swap(first, second);
        }
        return composed(second, inverse(first));
    }
    void place(int definition, const Axes& frame, bool is_component, int depth, std::vector<Product>& out) {
        if (depth > 20) throw StepFault("STEP: an assembly that holds itself");
        const int formation = file_.record(definition, "PRODUCT_DEFINITION").at(2).as_id();
        const Record& product = file_.record(file_.entity(formation).records.front().at(2).as_id(), "PRODUCT");
        Product p;
        p.name = product.at(1).as_string();
        p.is_component = is_component;
        p.placement = frame;
        for (const Value& item : items_of(shapes_.at(definition))) {
            const Entity& e = file_.entity(item.as_id());
            if (e.is("AXIS2_PLACEMENT_3D")) continue;
            p.solids.push_back(solid(item.as_id()));
            p.solids.back().centre = frame.to_parent(p.solids.back().centre);
        }
        if (!p.solids.empty()) out.push_back(std::move(p));
        const auto it = children_.find(definition);
        if (it == children_.end()) return;
        for (const Child& c : it->second) place(c.definition, composed(frame, c.placement), true, depth + 1, out);
    }

    Solid solid(int id) {
        Solid s;
        const Entity& e = file_.entity(id);
        if (const Record* plain = e.find("MANIFOLD_SOLID_BREP")) {
            s.shells.push_back(shell(plain->at(1).as_id(), true, s));
        } else if (const Record* hollow = e.find("BREP_WITH_VOIDS")) {
            s.shells.push_back(shell(hollow->at(1).as_id(), true, s));
            for (const Value& v : hollow->at(2).as_list()) {
                const Record& oriented = file_.record(v.as_id(), "ORIENTED_CLOSED_SHELL");
                s.shells.push_back(shell(oriented.at(2).as_id(), oriented.at(3).as_bool(), s));
            }
        } else {
            throw StepFault("STEP: " + hash(id) + ": no reading of a solid of kind " + e.records.front().name);
        }
        measure(s);
        return s;
    }

    V3 vertex(int id) const { return read_point(file_, file_.record(id, "VERTEX_POINT").at(1).as_id()); }

    void read_edge(int id, Edges& edges) const {
        if (edges.contains(id)) return;
        const Record& r = file_.record(id, "EDGE_CURVE");
        Edge e;
        e.start = r.at(1).as_id();
        e.end = r.at(2).as_id();
        e.a = vertex(e.start);
        e.b = vertex(e.end);
        e.curve = read_curve(file_, r.at(3).as_id());
        const bool along = r.at(4).as_bool();
        e.t0 = e.curve->parameter(e.a);
        e.t1 = e.curve->parameter(e.b);
        const double period = e.curve->period;
        if (period > 0) {
            // From start to end the way the curve goes (or the other way), once round when both are one point.
            const double least = e.start == e.end ? 0.5 * period : 1e-9 * period;
            while (along && e.t1 - e.t0 < least) e.t1 += period;
            while (!along && e.t0 - e.t1 < least) e.t0 += period;
            if (e.curve->lo < e.curve->hi && std::max(e.t0, e.t1) - period >= e.curve->lo &&
                std::min(e.t0, e.t1) - period >= e.curve->lo)
                e.t0 -= period, e.t1 -= period;
        } else if ((e.t1 > e.t0) != along) {
            throw StepFault("STEP: " + hash(id) + " runs against its curve");
        }
        e.end_gap = std::max(length(e.curve->at(e.t0).p - e.a), length(e.curve->at(e.t1).p - e.b));
        edges.emplace(id, std::move(e));
    }

    Loop loop(int bound, Edges& edges, std::vector<std::string>& faults) const {
        const Entity& e = file_.entity(bound);
        const Record& r =
            e.is("FACE_OUTER_BOUND") ? file_.record(bound, "FACE_OUTER_BOUND") : file_.record(bound, "FACE_BOUND");
        const int id = r.at(1).as_id();
        Loop out;
        if (const Record* point = file_.entity(id).find("VERTEX_LOOP")) {
            out.vertex = point->at(1).as_id();
            return out;
        }
        for (const Value& use : file_.record(id, "EDGE_LOOP").at(1).as_list()) {
            const Record& oriented = file_.record(use.as_id(), "ORIENTED_EDGE");
            out.uses.push_back({oriented.at(3).as_id(), oriented.at(4).as_bool()});
            read_edge(out.uses.back().edge, edges);
        }
        if (!r.at(2).as_bool()) {
            std::reverse(out.uses.begin(), out.uses.end());
            for (EdgeUse& use : out.uses) use.is_forward = !use.is_forward;
        }
        for (std::size_t i = 0; i < out.uses.size(); ++i) {
            const EdgeUse &a = out.uses[i], &b = out.uses[(i + 1) % out.uses.size()];
            const int end = a.is_forward ? edges.at(a.edge).end : edges.at(a.edge).start;
            const int next = b.is_forward ? edges.at(b.edge).start : edges.at(b.edge).end;
            if (end != next)
                faults.push_back("loop " + hash(id) + " is open between edges " + hash(a.edge) + " and " +
                                 hash(b.edge));
        }
        return out;
    }

    Shell shell(int id, bool is_forward, Solid& s) {
        Shell out;
        out.is_forward = is_forward;
        std::map<int, std::array<int, 2>> used;
        std::set<int> vertices;
        for (const Value& f : file_.record(id, "CLOSED_SHELL").at(1).as_list()) {
            const Record& r = file_.record(f.as_id(), "ADVANCED_FACE");
            Face face;
            face.id = f.as_id();
            face.surface = read_surface(file_, r.at(2).as_id());
            face.same_sense = r.at(3).as_bool();
            for (const Value& bound : r.at(1).as_list()) face.loops.push_back(loop(bound.as_id(), s.edges, s.faults));
            for (const Loop& l : face.loops) {
                if (l.vertex != 0) vertices.insert(l.vertex);
                for (const EdgeUse& use : l.uses) {
                    ++used[use.edge][use.is_forward ? 0 : 1];
                    vertices.insert(s.edges.at(use.edge).start);
                    vertices.insert(s.edges.at(use.edge).end);
                }
                ++out.loops;
            }
            out.faces.push_back(std::move(face));
        }
        for (const auto& [edge, ways] : used)
            if (ways[0] != 1 || ways[1] != 1)
                s.faults.push_back("edge " + hash(edge) + " is used " + std::to_string(ways[0]) + " times along and " +
                                   std::to_string(ways[1]) + " times against itself");
        out.vertices = static_cast<int>(vertices.size());
        out.edges = static_cast<int>(used.size());
        // Euler and Poincare: V - E + F - (L - F) = 2 (1 - genus) for one shell.
        // A face without edges that closes both ways brings a handle of its own.
        int sum = out.vertices - out.edges + 2 * static_cast<int>(out.faces.size()) - out.loops;
        for (const Face& f : out.faces) {
            const bool has_edges =
                std::any_of(f.loops.begin(), f.loops.end(), [](const Loop& l) { return !l.uses.empty(); });
            if (!has_edges && f.surface->u_period > 0 && f.surface->v_period > 0) sum -= 2;
        }
        out.genus = (2 - sum) / 2;
        if (sum % 2 != 0 || sum > 2)
            s.faults.push_back("shell " + hash(id) + ": Euler's sum is " + std::to_string(sum));
        return out;
    }

    void measure(Solid& s) const {
        s.lo = {1e300, 1e300, 1e300};
        s.hi = {-1e300, -1e300, -1e300};
        for (const auto& [id, e] : s.edges) {
            for (const V3 p : {e.a, e.b}) {
                s.lo = {std::min(s.lo.x, p.x), std::min(s.lo.y, p.y), std::min(s.lo.z, p.z)};
                s.hi = {std::max(s.hi.x, p.x), std::max(s.hi.y, p.y), std::max(s.hi.z, p.z)};
            }
            s.end_gap = std::max(s.end_gap, e.end_gap);
            if (e.end_gap > options_.tolerance_mm)
                s.faults.push_back("edge " + hash(id) + " misses its vertex by " + std::to_string(e.end_gap) + " mm");
        }
        double size = 1.0;
        if (!s.edges.empty()) {
            s.origin = (s.lo + s.hi) * 0.5;
            size = std::max(size, length(s.hi - s.lo));
        }
        V3 moment, normal;
        for (Shell& shell : s.shells) {
            const double sign = shell.is_forward ? 1.0 : -1.0;
            for (Face& f : shell.faces) {
                try {
                    integrate(f, s.edges, s.origin, size);
                } catch (const StepFault& fault) {
                    f.fault = fault.what();
                }
                shell.volume += sign * f.sums.volume;
                s.area += f.sums.area;
                moment += f.sums.moment * sign;
                normal += f.sums.normal * sign;
                s.off_surface = std::max(s.off_surface, f.off_surface);
                s.unresolved += f.unresolved;
                if (!f.fault.empty()) s.faults.push_back("face " + hash(f.id) + " " + f.fault);
                if (f.off_surface > options_.tolerance_mm)
                    s.faults.push_back("face " + hash(f.id) + ": an edge leaves its " + f.surface->kind + " by " +
                                       std::to_string(f.off_surface) + " mm");
            }
            s.volume += shell.volume;
            const bool is_outer = &shell == &s.shells.front();
            if (is_outer != (shell.volume > 0))
                s.faults.push_back(std::string(is_outer ? "the outer shell" : "a void") + " has a volume of " +
                                   std::to_string(shell.volume) + " mm3");
        }
        s.centre = s.origin + moment * (1 / s.volume);
        s.open_area = length(normal);
    }

    StepFile file_;
    ReadOptions options_;
    std::map<int, int> shapes_;  // product definition to representation
    std::map<int, std::vector<Child>> children_;
};

}  // namespace

int Solid::faces() const {
    int n = 0;
    for (const Shell& s : shells) n += static_cast<int>(s.faces.size());
    return n;
}
int Solid::genus() const {
    int n = 0;
    for (const Shell& s : shells) n += s.genus;
    return n;
}

std::vector<Product> read_step(std::string_view text, const ReadOptions& options) {
    return Reader(text, options).products();
}

}  // namespace outside

// 3MF: a ZIP package of XML. The library unpacks and checks it; what is to be built is taken, each part at its place.
#include "geom/scan/internal/cursor.h"
#include "geom/scan/internal/formats.h"

#include <fmt/format.h>

#include <functional>
#include <memory>

#include <Model/COM/NMR_DLLInterfaces.h>

namespace geom::scan::internal {

namespace {

using namespace NMR;

struct Release {
    void operator()(PLib3MFBase* p) const { lib3mf_release(p); }
};
using Handle = std::unique_ptr<PLib3MFBase, Release>;

/// A row vector is multiplied from the left: the rows of `m` are where the axes go, the fourth is the shift.
struct Place {
    double m[4][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {0, 0, 0}};
    Point3 of(Point3 p) const {
        Point3 out;
        for (std::size_t k = 0; k < 3; ++k) out[k] = p.x * m[0][k] + p.y * m[1][k] + p.z * m[2][k] + m[3][k];
        return out;
    }
    /// First `inner`, then this.
    Place after(const Place& inner) const {
        Place out;
        for (int r = 0; r < 4; ++r)
            for (int k = 0; k < 3; ++k) {
                out.m[r][k] = inner.m[r][0] * m[0][k] + inner.m[r][1] * m[1][k] + inner.m[r][2] * m[2][k];
                if (r == 3) out.m[r][k] += m[3][k];
            }
        return out;
    }
    bool is_mirror() const {
        return m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0]) +
                   m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]) <
               0.0;
    }
};

Place place_of(const MODELTRANSFORM& t) {
    Place out;
    for (int r = 0; r < 4; ++r)
        for (int k = 0; k < 3; ++k) out.m[r][k] = static_cast<double>(t.m_fFields[k][r]);
    return out;
}

class Package {
public:
    explicit Package(const FileBytes& file) : file_(file) {}
    Result<Parsed> read();

private:
    Fault fault(const char* doing, PLib3MFBase* of) const {
        DWORD code = 0;
        LPCSTR text = nullptr;
        if (of != nullptr) lib3mf_getlasterror(of, &code, &text);
        return unreadable(file_,
                          fmt::format("3MF: {}: {}", doing, text != nullptr && *text != 0 ? text : "no reason given"),
                          "the package is damaged or not a 3MF: export it again, or as STL");
    }
    Status add_object(PLib3MFBase* object, const Place& place, int depth);
    Status add_mesh(PLib3MFBase* mesh, const Place& place);

    const FileBytes& file_;
    Parsed parsed_;
};

Status Package::add_mesh(PLib3MFBase* mesh, const Place& place) {
    DWORD vertices = 0, triangles = 0;
    if (lib3mf_meshobject_getvertexcount(mesh, &vertices) != 0 ||
        lib3mf_meshobject_gettrianglecount(mesh, &triangles) != 0)
        return fault("counting an object's triangles", mesh);
    GAPWRIGHT_CHECK(file_.budget.check_mesh(file_.name, parsed_.points.size() + vertices,
                                            parsed_.triangles.size() + triangles, false));
    std::vector<MODELMESHVERTEX> corners(vertices);
    std::vector<MODELMESHTRIANGLE> faces(triangles);
    DWORD got = 0;
    if (vertices > 0 && lib3mf_meshobject_getvertices(mesh, corners.data(), vertices, &got) != 0)
        return fault("an object's vertices", mesh);
    if (triangles > 0 && lib3mf_meshobject_gettriangleindices(mesh, faces.data(), triangles, &got) != 0)
        return fault("an object's triangles", mesh);
    const auto base = static_cast<std::uint32_t>(parsed_.points.size());
    for (const MODELMESHVERTEX& v : corners)
        parsed_.points.push_back(place.of({v.m_fPosition[0], v.m_fPosition[1], v.m_fPosition[2]}));
    const bool mirrored = place.is_mirror();
    for (const MODELMESHTRIANGLE& t : faces) {
        std::array<std::uint32_t, 3> named{base + t.m_nIndices[0], base + t.m_nIndices[1], base + t.m_nIndices[2]};
        for (std::size_t k = 0; k < 3; ++k)
            if (t.m_nIndices[k] >= vertices)
                return unreadable(file_,
                                  fmt::format("3MF: a triangle names vertex {} of {}", t.m_nIndices[k], vertices),
                                  "export it again");
        if (mirrored) std::swap(named[1], named[2]);
        parsed_.triangles.push_back(named);
    }
    return Done{};
}

Status Package::add_object(PLib3MFBase* object, const Place& place, int depth) {
    if (depth > 64)
        return unreadable(file_, "3MF: objects are nested more than 64 deep", "flatten the assembly before the export");
    DWORD kind = 0;
    if (lib3mf_object_gettype(object, &kind) != 0) return fault("an object's type", object);
    if (kind == MODELOBJECTTYPE_SUPPORT || kind == MODELOBJECTTYPE_OTHER) return Done{};
    BOOL is_mesh = false;
    if (lib3mf_object_ismeshobject(object, &is_mesh) != 0) return fault("an object's kind", object);
    if (is_mesh) return add_mesh(object, place);
    DWORD count = 0;
    if (lib3mf_componentsobject_getcomponentcount(object, &count) != 0) return fault("an object's components", object);
    for (DWORD i = 0; i < count; ++i) {
        PLib3MFBase* raw = nullptr;
        if (lib3mf_componentsobject_getcomponent(object, i, &raw) != 0) return fault("a component", object);
        const Handle component(raw);
        if (lib3mf_component_getobjectresource(component.get(), &raw) != 0)
            return fault("a component's object", component.get());
        const Handle inner(raw);
        BOOL placed = false;
        MODELTRANSFORM t{};
        lib3mf_component_hastransform(component.get(), &placed);
        Place here = place;
        if (placed && lib3mf_component_gettransform(component.get(), &t) == 0) here = place.after(place_of(t));
        GAPWRIGHT_CHECK(add_object(inner.get(), here, depth + 1));
    }
    return Done{};
}

Result<Parsed> Package::read() {
    PLib3MFBase* raw = nullptr;
    if (lib3mf_createmodel(&raw) != 0) return fault("the library does not start", nullptr);
    const Handle model(raw);
    if (lib3mf_model_queryreader(model.get(), "3mf", &raw) != 0) return fault("no reader", model.get());
    const Handle reader(raw);
    std::string bytes(file_.bytes);  // the library wants to be able to write to it
    if (lib3mf_reader_readfrombuffer(reader.get(), reinterpret_cast<BYTE*>(bytes.data()), bytes.size()) != 0)
        return fault("reading the package", reader.get());
    DWORD unit = MODELUNIT_MILLIMETER;
    lib3mf_model_getunit(model.get(), &unit);
    double factor = 1.0;
    parsed_.own_unit = FileUnit::Millimetre;
    switch (unit) {
        case MODELUNIT_MICROMETER:
            factor = 0.001;
            break;
        case MODELUNIT_CENTIMETER:
            parsed_.own_unit = FileUnit::Centimetre;
            break;
        case MODELUNIT_INCH:
            parsed_.own_unit = FileUnit::Inch;
            break;
        case MODELUNIT_FOOT:
            parsed_.own_unit = FileUnit::Inch;
            factor = 12.0;
            break;
        case MODELUNIT_METER:
            parsed_.own_unit = FileUnit::Metre;
            break;
        default:
            break;
    }
    if (lib3mf_model_getbuilditems(model.get(), &raw) != 0) return fault("what is to be built", model.get());
    const Handle items(raw);
    BOOL more = false;
    std::size_t count = 0;
    while (lib3mf_builditemiterator_movenext(items.get(), &more) == 0 && more) {
        if (lib3mf_builditemiterator_getcurrent(items.get(), &raw) != 0) return fault("an item", items.get());
        const Handle item(raw);
        if (lib3mf_builditem_getobjectresource(item.get(), &raw) != 0) return fault("an item's object", item.get());
        const Handle object(raw);
        BOOL placed = false;
        MODELTRANSFORM t{};
        lib3mf_builditem_hasobjecttransform(item.get(), &placed);
        Place place;
        if (placed && lib3mf_builditem_getobjecttransform(item.get(), &t) == 0) place = place_of(t);
        GAPWRIGHT_CHECK(add_object(object.get(), place, 0));
        ++count;
    }
    if (count == 0)
        return unreadable(file_, "3MF: no item to be built", "put the objects on the build plate before the export");
    if (factor != 1.0)
        for (Point3& p : parsed_.points) p = p * factor;
    parsed_.format = "3MF";
    return std::move(parsed_);
}

}  // namespace

Result<Parsed> parse_3mf(const FileBytes& file) {
    if (!file.bytes.starts_with("PK"))
        return unreadable(file, "begins with " + in_quotes(file.bytes.substr(0, 4)) + ", wanted a ZIP package",
                          "the file is no 3MF, or was damaged in copying");
    try {
        return Package(file).read();
    } catch (const std::bad_alloc&) {
        throw;
    } catch (const std::exception& wrong) {
        return unreadable(file, std::string("3MF: ") + wrong.what(), "export it again, or as STL");
    }
}

}  // namespace geom::scan::internal

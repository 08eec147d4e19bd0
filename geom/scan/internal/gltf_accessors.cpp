#include "geom/scan/internal/gltf_accessors.h"

#include <algorithm>
#include <cstdint>
#include <cstring>

namespace geom::scan::internal::gltf {

namespace {

template <class T>
double load(const unsigned char* at, double divisor) {
    T value;
    std::memcpy(&value, at, sizeof(T));  // little endian, as this program's machines are
    return std::max(static_cast<double>(value) / divisor, divisor == 1.0 ? -1e300 : -1.0);
}

}  // namespace

Component component_of(int type) {
    switch (type) {
        case TINYGLTF_COMPONENT_TYPE_BYTE:
            return {1, 127.0, &load<std::int8_t>};
        case TINYGLTF_COMPONENT_TYPE_UNSIGNED_BYTE:
            return {1, 255.0, &load<std::uint8_t>};
        case TINYGLTF_COMPONENT_TYPE_SHORT:
            return {2, 32767.0, &load<std::int16_t>};
        case TINYGLTF_COMPONENT_TYPE_UNSIGNED_SHORT:
            return {2, 65535.0, &load<std::uint16_t>};
        case TINYGLTF_COMPONENT_TYPE_UNSIGNED_INT:
            return {4, 4294967295.0, &load<std::uint32_t>};
        case TINYGLTF_COMPONENT_TYPE_FLOAT:
            return {4, 1.0, &load<float>};
        default:
            return {};
    }
}

std::optional<Refusal> Accessors::check(int index, std::size_t width, const char* what) const {
    if (index < 0 || static_cast<std::size_t>(index) >= model_.accessors.size())
        return Refusal{fmt::format("{} are accessor {}, of {}", what, index, model_.accessors.size()), kExportAgain};
    const Accessor& a = model_.accessors[static_cast<std::size_t>(index)];
    const Component component = component_of(a.componentType);
    const int of_type = tinygltf::GetNumComponentsInType(static_cast<std::uint32_t>(a.type));
    if (component.load == nullptr || of_type != static_cast<int>(width))
        return Refusal{fmt::format("accessor {} holds {} as type {} of component {}, wanted {} numbers", index, what,
                                   a.type, a.componentType, width),
                       kExportAgain};
    const std::string where = fmt::format("accessor {} ({})", index, what);
    if (a.bufferView >= 0) {
        if (auto r = reach(where, a.bufferView, a.byteOffset, stride_of(a, width), component.size * width, a.count))
            return r;
    } else if (!a.sparse.isSparse && a.count > 0) {
        return Refusal{where + " has no data", kExportAgain};
    }
    if (a.sparse.isSparse) {
        const Component of_index = component_of(a.sparse.indices.componentType);
        if (of_index.load == nullptr || a.sparse.count < 0 || static_cast<std::size_t>(a.sparse.count) > a.count ||
            a.sparse.indices.byteOffset < 0 || a.sparse.values.byteOffset < 0)
            return Refusal{where + " has sparse values that make no sense", kExportAgain};
        const auto count = static_cast<std::size_t>(a.sparse.count);
        if (auto r = reach(where, a.sparse.indices.bufferView, static_cast<std::size_t>(a.sparse.indices.byteOffset),
                           of_index.size, of_index.size, count))
            return r;
        if (auto r = reach(where, a.sparse.values.bufferView, static_cast<std::size_t>(a.sparse.values.byteOffset),
                           component.size * width, component.size * width, count))
            return r;
    }
    return std::nullopt;
}

std::optional<Refusal> Accessors::reach(const std::string& where, int view, std::size_t offset, std::size_t stride,
                                        std::size_t size, std::size_t count) const {
    if (view < 0 || static_cast<std::size_t>(view) >= model_.bufferViews.size())
        return Refusal{fmt::format("{} lies in buffer view {}, of {}", where, view, model_.bufferViews.size()),
                       kExportAgain};
    const tinygltf::BufferView& v = model_.bufferViews[static_cast<std::size_t>(view)];
    if (v.buffer < 0 || static_cast<std::size_t>(v.buffer) >= model_.buffers.size())
        return Refusal{fmt::format("{} lies in buffer {}, of {}", where, v.buffer, model_.buffers.size()),
                       kExportAgain};
    const std::size_t held = model_.buffers[static_cast<std::size_t>(v.buffer)].data.size();
    if (v.byteOffset > held || v.byteLength > held - v.byteOffset)
        return Refusal{fmt::format("{} lies at bytes {} to {} of a buffer of {} bytes", where, v.byteOffset,
                                   static_cast<double>(v.byteOffset) + static_cast<double>(v.byteLength), held),
                       "copy or export the file again; its counts and its data do not agree"};
    if (count == 0) return std::nullopt;
    if (offset > v.byteLength || size > v.byteLength - offset || (count - 1) > (v.byteLength - offset - size) / stride)
        return Refusal{fmt::format("{} asks for {} values of {} bytes, but its buffer view holds {} bytes", where,
                                   count, size, v.byteLength),
                       "copy or export the file again; its counts and its data do not agree"};
    return std::nullopt;
}

}  // namespace geom::scan::internal::gltf

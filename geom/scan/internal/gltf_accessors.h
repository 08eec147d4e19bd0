// Numbers of a glTF: what an accessor holds, and whether all of it lies in its buffers, which the library that reads
// the container does not check. Any number type, interleaved or sparse.
#pragma once

#include <fmt/format.h>
#include <tiny_gltf.h>

#include <array>
#include <cstddef>
#include <map>
#include <optional>
#include <string>

namespace geom::scan::internal::gltf {

using tinygltf::Accessor;
using tinygltf::Model;

/// What goes wrong below parse_gltf(), where the file's name is put before it.
struct Refusal {
    std::string what, hint;
};

inline constexpr const char* kExportAgain = "export the scan again, best as GLB without compression, or as PLY";

using Loader = double (*)(const unsigned char*, double);

struct Component {
    std::size_t size = 0;
    double largest = 1.0;  ///< what a normalised one is divided by
    Loader load = nullptr;
};
/// Without a loader when there is no such type.
Component component_of(int type);

class Accessors {
public:
    explicit Accessors(const Model& model) : model_(model) {}

    /// Whether accessor `index` holds `width` numbers each and all of it lies in its buffers.
    std::optional<Refusal> check(int index, std::size_t width, const char* what) const;

    /// Its values; checked before.
    template <std::size_t Width, class Take>
    std::optional<Refusal> each(int index, Take take) const {
        const Accessor& a = model_.accessors[static_cast<std::size_t>(index)];
        const Component component = component_of(a.componentType);
        const double divisor = a.normalized ? component.largest : 1.0;
        const auto value = [&](const unsigned char* at) {
            std::array<double, Width> v;
            for (std::size_t k = 0; k < Width; ++k) v[k] = component.load(at + k * component.size, divisor);
            return v;
        };
        std::map<std::size_t, const unsigned char*> instead;
        if (a.sparse.isSparse) {
            const Component of_index = component_of(a.sparse.indices.componentType);
            const unsigned char* at =
                data(a.sparse.indices.bufferView, static_cast<std::size_t>(a.sparse.indices.byteOffset));
            const unsigned char* values =
                data(a.sparse.values.bufferView, static_cast<std::size_t>(a.sparse.values.byteOffset));
            for (std::size_t i = 0; i < static_cast<std::size_t>(a.sparse.count); ++i) {
                const double which = of_index.load(at + i * of_index.size, 1.0);
                if (!(which >= 0.0) || which >= static_cast<double>(a.count))
                    return Refusal{fmt::format("accessor {} replaces value {} of {}", index, which, a.count),
                                   kExportAgain};
                instead[static_cast<std::size_t>(which)] = values + i * component.size * Width;
            }
        }
        const unsigned char* from = a.bufferView >= 0 ? data(a.bufferView, a.byteOffset) : nullptr;
        const std::size_t stride = a.bufferView >= 0 ? stride_of(a, Width) : 0;
        auto next = instead.begin();
        for (std::size_t i = 0; i < a.count; ++i) {
            if (next != instead.end() && next->first == i)
                take(value((next++)->second));
            else
                take(from != nullptr ? value(from + i * stride) : std::array<double, Width>{});
        }
        return std::nullopt;
    }

    std::size_t count(int index) const { return model_.accessors[static_cast<std::size_t>(index)].count; }

private:
    std::size_t stride_of(const Accessor& a, std::size_t width) const {
        const std::size_t given = static_cast<std::size_t>(a.bufferView) < model_.bufferViews.size()
                                      ? model_.bufferViews[static_cast<std::size_t>(a.bufferView)].byteStride
                                      : 0;
        return given != 0 ? given : component_of(a.componentType).size * width;
    }
    const unsigned char* data(int view, std::size_t offset) const {
        const tinygltf::BufferView& v = model_.bufferViews[static_cast<std::size_t>(view)];
        return model_.buffers[static_cast<std::size_t>(v.buffer)].data.data() + v.byteOffset + offset;
    }
    std::optional<Refusal> reach(const std::string& where, int view, std::size_t offset, std::size_t stride,
                                 std::size_t size, std::size_t count) const;

    const Model& model_;
};

}  // namespace geom::scan::internal::gltf

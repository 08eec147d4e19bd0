// An opaque handle to a shape of the B-rep kernel, so that public headers stay free of it. What is inside is reached
// through internal/occt.h by the rooms that model.
#pragma once

#include <memory>

namespace geom {

class Brep {
public:
    struct Impl;
    Brep() = default;
    explicit Brep(std::shared_ptr<const Impl> impl) : impl_(std::move(impl)) {}
    bool is_null() const { return impl_ == nullptr; }
    const Impl& impl() const { return *impl_; }

private:
    std::shared_ptr<const Impl> impl_;  // immutable, so copies share it
};

}  // namespace geom

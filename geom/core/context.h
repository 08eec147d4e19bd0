// What a long piece of work gets from outside: where to tell its progress, whether to stop, where to leave dumps.
// The library never prints and reads no globals; this is its only window.
#pragma once

#include "geom/core/fault.h"
#include "geom/core/result.h"

#include <atomic>
#include <filesystem>
#include <string>
#include <string_view>

namespace geom {

/// Told of stages as they begin and end; implemented by cli/ (terminal, timings file) and by benches.
class StageListener {
public:
    virtual ~StageListener() = default;
    virtual void stage_begins(std::string_view stage) = 0;
    virtual void stage_ends(std::string_view stage) = 0;
};

struct Context {
    StageListener* listener = nullptr;
    const std::atomic<bool>* cancel = nullptr;
    /// When not empty, rooms leave fields and meshes here for debugging (never read back).
    std::filesystem::path dump_dir;

    bool is_cancelled() const { return cancel != nullptr && cancel->load(std::memory_order_relaxed); }
    static Fault interrupted() { return {FaultCode::Interrupted, "interrupted", "run it again", {}, {}}; }
};

/// Names a stage for as long as it lives. Stages nest: "space/insertion".
class Stage {
public:
    Stage(const Context& context, std::string_view name) : listener_(context.listener), name_(name) {
        if (listener_ != nullptr) listener_->stage_begins(name_);
    }
    ~Stage() {
        if (listener_ != nullptr) listener_->stage_ends(name_);
    }
    Stage(const Stage&) = delete;
    Stage& operator=(const Stage&) = delete;

private:
    StageListener* listener_;
    std::string name_;
};

}  // namespace geom

// Each file that is about to be replaced first gets a second name (a hard link, or a copy where the file system has no
// links) in the temporary folder, then the new one is renamed over it: at no moment is a name without a whole file.
// If a rename fails, the second names are renamed back in reverse order.
#include "exports/internal/placing.h"

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <system_error>

namespace exports {
namespace {

namespace fs = std::filesystem;

geom::Fault cannot(const std::string& what, const std::string& why) {
    return {
        geom::FaultCode::CannotWrite, what + ": " + why, "give an output folder that may be written to", {}, "files"};
}

}  // namespace

geom::Result<TargetFolder> TargetFolder::open(const fs::path& folder) {
    TargetFolder target;
    std::error_code error;
    target.folder_ = fs::absolute(folder.empty() ? fs::path(".") : folder, error).lexically_normal();
    if (error) return cannot("output folder " + folder.string(), error.message());
    if (target.folder_.filename().empty()) target.folder_ = target.folder_.parent_path();  // "out/" names "out"

    std::vector<fs::path> missing;
    for (fs::path p = target.folder_; !p.empty() && !fs::exists(p, error); p = p.parent_path()) {
        if (error) return cannot("output folder " + folder.string(), error.message());
        missing.push_back(p);
        if (p == p.parent_path()) break;
    }
    if (missing.empty() && !fs::is_directory(target.folder_, error))
        return cannot("output folder " + folder.string(), "it is a file, not a folder");
    for (auto it = missing.rbegin(); it != missing.rend(); ++it) {
        if (!fs::create_directory(*it, error) && error)
            return cannot("output folder " + folder.string() + " cannot be made", error.message());
        target.created_.push_back(*it);
    }
    std::string pattern = (target.folder_ / ".gapwright-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr)
        return cannot("output folder " + folder.string() + " cannot be written to", std::strerror(errno));
    target.temporary_ = pattern;
    fs::create_directory(target.temporary_ / "before", error);
    if (error) return cannot("output folder " + folder.string() + " cannot be written to", error.message());
    return target;
}

TargetFolder::TargetFolder(TargetFolder&& other) noexcept
    : folder_(std::move(other.folder_)),
      temporary_(std::move(other.temporary_)),
      created_(std::move(other.created_)),
      keep_(other.keep_) {
    other.temporary_.clear();
    other.created_.clear();
}

TargetFolder::~TargetFolder() {
    std::error_code ignored;
    if (!temporary_.empty()) fs::remove_all(temporary_, ignored);
    if (keep_) return;
    for (auto it = created_.rbegin(); it != created_.rend(); ++it) fs::remove(*it, ignored);  // only when empty
}

geom::Status TargetFolder::place(const std::vector<std::string>& names) {
    std::error_code error;
    for (const std::string& name : names) {
        if (!fs::is_regular_file(temporary_ / name, error)) return cannot(name, "it was not made");
        if (fs::is_directory(fs::symlink_status(folder_ / name, error)))
            return cannot(name + " in the output folder", "a folder of that name is in the way");
    }
    struct Placed {
        fs::path target, before;
        bool had_before = false;
    };
    std::vector<Placed> placed;
    const auto undo = [&] {
        std::error_code ignored;
        for (auto it = placed.rbegin(); it != placed.rend(); ++it)
            if (it->had_before)
                fs::rename(it->before, it->target, ignored);
            else
                fs::remove(it->target, ignored);
    };
    for (const std::string& name : names) {
        Placed p{folder_ / name, temporary_ / "before" / name, false};
        if (fs::exists(fs::symlink_status(p.target, error))) {
            fs::create_hard_link(p.target, p.before, error);
            if (error) fs::copy(p.target, p.before, fs::copy_options::copy_symlinks, error);
            if (error) {
                undo();
                return cannot(name + " in the output folder cannot be replaced", error.message());
            }
            p.had_before = true;
        }
        fs::rename(temporary_ / name, p.target, error);
        if (error) {
            undo();
            return cannot(name + " cannot be placed in the output folder", error.message());
        }
        placed.push_back(std::move(p));
    }
    keep_ = true;
    return geom::Done{};
}

std::string file_stem(const std::string& name) {
    std::string stem;
    for (const char c : name) {
        const bool is_control = static_cast<unsigned char>(c) < 0x20 || c == 0x7f;
        stem += is_control || std::strchr("/\\:*?\"<>|", c) != nullptr ? '-' : c;
    }
    const auto first = stem.find_first_not_of(". ");
    stem = first == std::string::npos ? std::string{} : stem.substr(first);
    while (!stem.empty() && (stem.back() == ' ' || stem.back() == '.')) stem.pop_back();
    return stem.empty() ? "part" : stem;
}

}  // namespace exports

#include "exports/write_files.h"

#include "exports/internal/placing.h"
#include "exports/internal/write_bytes.h"

namespace exports {

geom::Status write_together(const std::filesystem::path& folder, const std::vector<NamedBytes>& files) {
    GAPWRIGHT_TRY(target, TargetFolder::open(folder));
    std::vector<std::string> names;
    for (const NamedBytes& file : files) {
        GAPWRIGHT_CHECK(write_bytes(target.temporary() / file.name, file.bytes));
        names.push_back(file.name);
    }
    return target.place(names);
}

geom::Status write_whole(const std::filesystem::path& file, std::string bytes) {
    return write_together(file.parent_path(), {{file.filename().string(), std::move(bytes)}});
}

std::string stem_of(const std::filesystem::path& file) {
    return file_stem(file.stem().string());
}

}  // namespace exports

// Word for word: what is said about a job that makes no sense. The cases stand as text in corpus/jobs/faults.txt.
#include "geom/job/job.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

#include <set>
#include <sstream>

namespace {

using namespace geom;

struct Case {
    int line = 0;
    std::string name, change, into, add, code, what, hint;
    std::string base = "box_gap.toml";
};

std::string with_breaks(const std::string& text) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] == '\\' && i + 1 < text.size() && text[i + 1] == 'n')
            out += '\n', ++i;
        else
            out += text[i];
    }
    return out;
}

/// Reads the corpus; anything that is not understood fails loudly.
std::vector<Case> read_corpus(const std::filesystem::path& file) {
    std::istringstream text(support::read_bytes(file));
    std::vector<Case> cases;
    std::string line;
    for (int number = 1; std::getline(text, line); ++number) {
        if (line.empty() || line[0] == '#') continue;
        const auto colon = line.find(':');
        if (colon == std::string::npos)
            throw std::runtime_error("corpus line " + std::to_string(number) + " is not understood");
        const std::string key = line.substr(0, colon);
        const std::string value = with_breaks(colon + 2 <= line.size() ? line.substr(colon + 2) : "");
        if (key == "case") cases.push_back({number, value, {}, {}, {}, {}, {}, {}});
        if (cases.empty()) throw std::runtime_error("corpus begins without a case");
        Case& now = cases.back();
        if (key == "change")
            now.change = value;
        else if (key == "into")
            now.into = value;
        else if (key == "add")
            now.add = value;
        else if (key == "code")
            now.code = value;
        else if (key == "what")
            now.what = value;
        else if (key == "hint")
            now.hint = value;
        else if (key == "base")
            now.base = value;
        else if (key != "case")
            throw std::runtime_error("corpus line " + std::to_string(number) + ": unknown " + key);
    }
    return cases;
}

std::string edited(std::string job, const Case& now) {
    if (!now.change.empty()) {
        const auto at = job.find(now.change);
        if (at == std::string::npos || job.find(now.change, at + 1) != std::string::npos)
            throw std::runtime_error("what is to be changed does not stand there once: " + now.change);
        job.replace(at, now.change.size(), now.into);
    }
    return job + now.add + (now.add.empty() ? "" : "\n");
}

}  // namespace

TEST_CASE("every fault of the corpus is told word for word", "[job][faults]") {
    const std::filesystem::path corpus = std::filesystem::path(GAPWRIGHT_SOURCE) / "tests/corpus/jobs";
    const auto cases = read_corpus(corpus / "faults.txt");
    REQUIRE(cases.size() > 90);
    std::set<std::string> names;
    const support::TempFolder folder;
    for (const Case& now : cases) {
        INFO("faults.txt:" << now.line << ": " << now.name);
        CHECK(names.insert(now.name).second);
        const auto job =
            job::read_job(folder.write("job.toml", edited(support::read_bytes(corpus / now.base), now)), Context{});
        if (job) {
            FAIL_CHECK("the job was taken");
            continue;
        }
        CHECK(job.error().what == now.what);
        CHECK((job.error().code == FaultCode::NotBuilt ? "NotBuilt"
               : job.error().code == FaultCode::BadJob ? "BadJob"
                                                       : "?") == now.code);
        if (!now.hint.empty()) CHECK(job.error().hint == now.hint);
        CHECK(job.error().stage == "job");
        CHECK(job.error().what.back() != '.');
    }
}

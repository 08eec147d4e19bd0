// Files of a measured cabin gain: what is read, and what is refused with its line.
#include "geom/job/cabin_file.h"
#include "geom/job/job.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

using namespace geom;

namespace {

Result<sound::CabinGain> read(const std::string& text) {
    const support::TempFolder folder;
    return job::read_cabin_file(folder.write("van.csv", text));
}

void refused(const std::string& text, const std::string& what) {
    const auto cabin = read(text);
    REQUIRE_FALSE(cabin);
    CHECK(cabin.error().code == FaultCode::BadJob);
    CHECK(cabin.error().what == what);
    CHECK_FALSE(cabin.error().hint.empty());
}

}  // namespace

TEST_CASE("a cabin's gain is read with commas, semicolons or blanks, comments and a heading", "[job][cabin]") {
    for (const char* text : {"20,12\n40,6.5\n80,-1\n", "Hz;dB\r\n20;12\r\n40;6.5\r\n80;-1\r\n",
                             "# measured at the driver's head\n\nfrequency gain\n20 12\n40\t6.5\n  80   -1",
                             "20, 12\n40 , 6.5\n80 ,-1\n"}) {
        CAPTURE(text);
        const auto cabin = read(text);
        REQUIRE(cabin);
        CHECK(cabin->name == "van.csv");
        CHECK(cabin->f_hz == std::vector<double>{20, 40, 80});
        CHECK(cabin->db == std::vector<double>{12, 6.5, -1});
    }
}

TEST_CASE("a senseless cabin file is refused with its line", "[job][cabin][faults]") {
    refused("20,12\n", "van.csv: 1 measured frequencies, wanted at least 2");
    refused("Hz,dB\n", "van.csv: 0 measured frequencies, wanted at least 2");
    refused("20,12\n20,11\n", "van.csv:2: 20 Hz follows 20 Hz; wanted frequencies that rise");
    refused("40,12\n20,11\n", "van.csv:2: 20 Hz follows 40 Hz; wanted frequencies that rise");
    refused("20,12\nfoo,11\n", "van.csv:2: \"foo,11\" is no pair of numbers, wanted Hz and dB");
    refused("20,12\n31,5,11\n", "van.csv:2: \"31,5,11\" is no pair of numbers, wanted Hz and dB");
    refused("20,12\n40,\n", "van.csv:2: \"40,\" is no pair of numbers, wanted Hz and dB");
    refused("0,12\n40,3\n", "van.csv:1: 0 Hz; wanted 1 to 20000 Hz");
    refused("20,112\n40,103\n", "van.csv:1: a gain of 112 dB; wanted at most 60 either way");
    refused("20,nan\n40,3\n", "van.csv:1: \"20,nan\" is no pair of numbers, wanted Hz and dB");
    const auto missing = job::read_cabin_file("/nowhere/van.csv");
    REQUIRE_FALSE(missing);
    CHECK(missing.error().code == FaultCode::Unreadable);
}

TEST_CASE("a job names the cabin's file beside itself", "[job][cabin]") {
    const support::TempFolder folder;
    std::string text = support::read_bytes(std::filesystem::path(GAPWRIGHT_SOURCE) / "tests/corpus/jobs/box_gap.toml");
    const std::string name = "[job]\n";
    text.insert(text.find(name) + name.size(), "cabin = \"van.csv\"\n");
    const auto file = folder.write("job.toml", text);
    const auto missing = job::read_job(file, Context{});
    REQUIRE_FALSE(missing);
    CHECK(missing.error().code == FaultCode::Unreadable);
    CHECK(missing.error().what == "job.toml:3: [job] cabin: van.csv: no such file, wanted a measured cabin gain");
    folder.write("van.csv", "20,12\n40,3\n");
    const auto read = job::read_job(file, Context{});
    REQUIRE(read);
    REQUIRE(read->enclosure.cabin);
    CHECK(read->enclosure.cabin->db.front() == 12.0);
    CHECK(read->input_files.back().filename() == "van.csv");
}

#include "tests/cli/run_program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

using Catch::Contains;
using support::run_program;

TEST_CASE("help goes to standard output and names every option and exit code", "[cli][usage]") {
    for (const std::vector<std::string>& words :
         {std::vector<std::string>{"--help"}, {"-h"}, {"enclosure", "--help"}, {"enclosure", "-h"}, {"scan", "-h"}}) {
        const auto ran = run_program(words);
        CHECK(ran.exit == 0);
        CHECK(ran.err.empty());
        for (const char* word :
             {"gapwright enclosure JOB", "gapwright scan FILE", "--unit", "--clean", "--out", "--timings", "--quiet",
              "--json", "--threads", "--dump", "--version", "Exit codes", "130"})
            CHECK_THAT(ran.out, Contains(word));
    }
}

TEST_CASE("version is one line", "[cli][usage]") {
    const auto ran = run_program({"--version"});
    CHECK(ran.exit == 0);
    CHECK_THAT(ran.out, Catch::Matches("gapwright [0-9]+\\.[0-9]+\\.[0-9]+\n"));
}

TEST_CASE("a command line that makes no sense is told and ends with 2", "[cli][usage][faults]") {
    struct Row {
        std::vector<std::string> words;
        const char* told;
    };
    for (const Row& row : {Row{{}, "no command given"},
                           {{"enclose", "job.toml"}, "not expected: "},
                           {{"enclosure"}, "no job file named"},
                           {{"enclosure", ""}, "no job file named"},
                           {{"enclosure", "job.toml", "more.toml"}, "not expected: more.toml"},
                           {{"enclosure", "job.toml", "--colour", "red"}, "not expected: "},
                           {{"enclosure", "job.toml", "--out"}, "--out"},
                           {{"enclosure", "job.toml", "--threads", "many"}, "--threads"},
                           {{"enclosure", "job.toml", "--threads", "-2"}, "--threads"}}) {
        const auto ran = run_program(row.words);
        INFO(ran.err);
        CHECK(ran.exit == 2);
        CHECK(ran.out.empty());
        CHECK_THAT(ran.err, Catch::StartsWith("gapwright: ") && Contains(row.told) && Contains("gapwright --help"));
    }
}

TEST_CASE("a usage error is JSON when JSON was asked for", "[cli][usage][json]") {
    const auto ran = run_program({"enclosure", "--json", "--nothing"});
    CHECK(ran.exit == 2);
    CHECK(ran.err.empty());
    const auto fault = nlohmann::json::parse(ran.out).at("fault");
    CHECK(fault.at("code") == "Usage");
    CHECK(fault.at("exit") == 2);
    CHECK_THAT(fault.at("what").get<std::string>(), Contains("--nothing"));
}

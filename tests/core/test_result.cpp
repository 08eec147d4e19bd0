#include "geom/core/context.h"
#include "geom/core/result.h"
#include "tests/support/temp_folder.h"

#include <catch2/catch.hpp>

#include <cstdlib>
#include <memory>

namespace {

using namespace geom;

Fault leak() {
    return {FaultCode::Leak, "leak of 12.0 mm", "close it", Point3{1, 2, 3}, "space"};
}
Result<int> half(int n) {
    if (n % 2 != 0) return Fault{FaultCode::BadJob, "odd", "", {}, {}};
    return n / 2;
}
Result<double> third_of_half(int n) {
    GAPWRIGHT_TRY(h, half(n));
    return h / 3.0;
}
Status check_even(int n) {
    GAPWRIGHT_CHECK(half(n));
    return Done{};
}

/// Whether the compiler takes `body` inside a function, with a dropped value as an error.
bool compiles(const std::string& body) {
    const support::TempFolder folder;
    const auto source = folder.write("drop.cpp",
                                     "#include \"geom/core/result.h\"\n#include <memory>\ngeom::Result<int> work();\n"
                                     "geom::Status check();\nvoid f() { " +
                                         body + " }\n");
    const std::string command = "c++ -std=c++20 -fsyntax-only -Wall -Werror -I'" + std::string(GAPWRIGHT_SOURCE) +
                                "' '" + source.string() + "' 2>/dev/null";
    return std::system(command.c_str()) == 0;
}

}  // namespace

TEST_CASE("a result holds a value or a fault, and says which", "[core][result]") {
    const Result<int> good = 4, bad = leak();
    CHECK(good.has_value());
    CHECK(*good == 4);
    CHECK_FALSE(static_cast<bool>(bad));
    CHECK(bad.error().code == FaultCode::Leak);
    CHECK(bad.error().where == Point3{1, 2, 3});
}

TEST_CASE("a fault passes unchanged through every later step", "[core][result]") {
    const auto out = Result<int>(leak()).and_then(half).transform([](int n) { return n + 1; }).and_then(third_of_half);
    REQUIRE_FALSE(out);
    CHECK(out.error().what == leak().what);
    CHECK(out.error().hint == leak().hint);
    CHECK(out.error().stage == "space");
    CHECK(out.error().where == leak().where);
    CHECK(*Result<int>(12).and_then(half).transform([](int n) { return n + 1; }) == 7);
}

TEST_CASE("the try macros hand the fault on and name the value", "[core][result]") {
    CHECK(*third_of_half(12) == 2.0);
    CHECK(third_of_half(3).error().what == "odd");
    CHECK(check_even(4).has_value());
    CHECK(check_even(5).error().code == FaultCode::BadJob);
}

TEST_CASE("a result can hold what only moves", "[core][result]") {
    Result<std::unique_ptr<int>> boxed = std::make_unique<int>(9);
    const std::unique_ptr<int> out = *std::move(boxed);
    CHECK(*out == 9);
}

TEST_CASE("asking for the side that is not there is a fault of the caller", "[core][result][checks]") {
    const Result<int> good = 4, bad = leak();
    CHECK_THROWS_AS(bad.value(), LogicError);
    CHECK_THROWS_AS(good.error(), LogicError);
    CHECK_THROWS_WITH(*bad, Catch::Contains("EXPECTS failed") && Catch::Contains("result.h"));
}

TEST_CASE("the compiler warns of a dropped result", "[core][result]") {
    // The guard first: the same lines with the result used do compile, so a refusal below is about the drop alone.
    CHECK(compiles("if (!work()) return; if (!check()) return;"));
    CHECK_FALSE(compiles("work();"));
    CHECK_FALSE(compiles("check();"));
}

TEST_CASE("a stage tells its begin and its end, in order", "[core][context]") {
    struct Listener : StageListener {
        std::string heard;
        void stage_begins(std::string_view stage) override { heard.append("<").append(stage); }
        void stage_ends(std::string_view stage) override { heard.append(">").append(stage); }
    } listener;
    {
        const Context context{.listener = &listener, .cancel = nullptr, .dump_dir = {}};
        const Stage outer(context, "space");
        const Stage inner(context, "space/insertion");
    }
    CHECK(listener.heard == "<space<space/insertion>space/insertion>space");
    const Stage silent(Context{}, "nobody listens");
}

TEST_CASE("cancel is seen through the context", "[core][context]") {
    std::atomic<bool> cancel{false};
    const Context context{.listener = nullptr, .cancel = &cancel, .dump_dir = {}};
    CHECK_FALSE(context.is_cancelled());
    cancel = true;
    CHECK(context.is_cancelled());
    CHECK_FALSE(Context{}.is_cancelled());
    CHECK(Context::interrupted().code == FaultCode::Interrupted);
}

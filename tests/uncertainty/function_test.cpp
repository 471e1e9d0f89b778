#include <plumbline/uncertainty/function.hpp>

#include <doctest/doctest.h>
#include <plumbline/error.hpp>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

namespace function_test {

using plumbline::uncertainty::function;

double twice(double x) { return 2.0 * x; }

TEST_CASE("a function calls a copy of what it was given") {
    std::vector<double> values{1.0, 2.0};
    const function<double(std::size_t)> held = [values](std::size_t i) { return values[i]; };
    values.clear();
    CHECK(held(1) == 2.0);
    CHECK(function<double(double)>(twice)(1.5) == 3.0);
}

TEST_CASE("a copy of a function outlives it, and one that was moved from is empty") {
    function<std::string()> copy;
    {
        const std::string text = "longer than what a string keeps within itself";
        function<std::string()> original = [text] { return text; };
        copy = original;
        const function<std::string()> moved = std::move(original);
        CHECK_FALSE(static_cast<bool>(original));  // NOLINT(bugprone-use-after-move): it is said what it is then
        CHECK(moved() == text);
    }
    CHECK(copy() == "longer than what a string keeps within itself");
    const function<std::string()>& alias = copy;
    copy = alias;
    CHECK(copy() == "longer than what a string keeps within itself");
    copy = nullptr;
    CHECK_FALSE(static_cast<bool>(copy));
}

TEST_CASE("to call an empty function is refused in words") {
    const function<void()> empty;
    CHECK_THROWS_WITH_AS(empty(), "a call: found an empty function, expected one to call; give it a function first",
                         plumbline::bad_input);
}

TEST_CASE("a function takes neither what cannot be called so nor what a call would change") {
    const auto counting = [n = 0]() mutable { return ++n; };
    static_assert(!std::is_constructible_v<function<int()>, decltype(counting)>);
    static_assert(!std::is_constructible_v<function<int(int)>, int (*)()>);
    static_assert(!std::is_constructible_v<function<double(double)>, double>);
    static_assert(!std::is_constructible_v<function<int()>, std::string (*)()>);
    CHECK(std::is_constructible_v<function<int()>, int (*)()>);
}

TEST_CASE("an argument is handed on as it came: a reference as one, a moved value moved") {
    const function<void(std::string&)> append = [](std::string& s) { s += "!"; };
    std::string text = "a";
    append(text);
    CHECK(text == "a!");
    const function<std::vector<int>(std::vector<int>)> pass = [](std::vector<int> v) { return v; };
    std::vector<int> given{1, 2, 3};
    const int* data = given.data();
    CHECK(pass(std::move(given)).data() == data);
}

}  // namespace function_test

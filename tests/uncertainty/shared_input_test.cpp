#include <plumbline/uncertainty/input.hpp>

#include <doctest/doctest.h>
#include <latch>
#include <string>
#include <thread>
#include <type_traits>
#include <utility>
#include <vector>

namespace shared_input_test {

using plumbline::uncertainty::input;
using plumbline::uncertainty::input_set;
using plumbline::uncertainty::normal;
using plumbline::uncertainty::shared_input;

input named(const std::string& id) {
    return {id, "an input with a label that no small string holds", "invented", "V", 1.25, normal{0.5}};
}

TEST_CASE("a copy of a shared input points to the same one, and an equal input is another one") {
    const shared_input one(named("a"));
    const shared_input same = one;
    const shared_input equal(named("a"));
    CHECK(same == one);
    CHECK(same.get() == one.get());
    CHECK(equal != one);
    CHECK(*equal == *one);
    CHECK(same->label == "an input with a label that no small string holds");
    static_assert(!std::is_convertible_v<input, shared_input>);
    static_assert(std::is_same_v<decltype(*one), const input&>);
}

TEST_CASE("a shared input that points nowhere says so, and so does one that was moved from") {
    const shared_input nowhere;
    CHECK_FALSE(static_cast<bool>(nowhere));
    CHECK(nowhere.get() == nullptr);
    CHECK(shared_input(nowhere) == nowhere);
    shared_input from(named("a"));
    const input* there = from.get();
    shared_input to(std::move(from));
    CHECK(from == nowhere);  // NOLINT(bugprone-use-after-move): it is said what it is then
    CHECK(to.get() == there);
    from = std::move(to);
    CHECK(from.get() == there);
    CHECK(to == nowhere);  // NOLINT(bugprone-use-after-move)
}

TEST_CASE("a shared input assigned to itself stays what it is") {
    shared_input one(named("a"));
    const shared_input& alias = one;
    const input* there = one.get();
    one = alias;
    CHECK(one.get() == there);
    CHECK(one->id == "a");
    shared_input& same = one;
    one = std::move(same);
    REQUIRE(one.get() == there);
    CHECK(one->id == "a");
}

TEST_CASE("an input lives as long as the last pointer to it") {
    shared_input last;
    {
        input_set set;
        set.add(named("a"));
        last = set.at("a");
    }
    CHECK(*last == named("a"));
}

TEST_CASE("threads that copy and drop one input leave it whole, and the last of them destroys it") {
    shared_input first(named("a"));
    std::latch together(4);
    std::vector<std::thread> threads;
    std::vector<int> whole(4, 0);
    for (int& mine : whole) {
        threads.emplace_back([&mine, &together, own = first] {
            together.arrive_and_wait();
            for (int i = 0; i < 20000; ++i) {
                const shared_input copy = own;
                std::vector<shared_input> more(3, copy);
                mine += more.back()->id == "a" ? 1 : 0;
            }
        });
    }
    first = shared_input();  // from here on the threads alone hold it
    for (std::thread& t : threads) t.join();
    CHECK(whole == std::vector<int>(4, 20000));
}

TEST_CASE("a set keeps its inputs in the order of their ids, whatever the order they came in") {
    input_set set;
    for (const char* id : {"m", "z", "a", "m", "k"}) set.add(named(id));
    std::string order;
    for (const shared_input& in : set.all()) order += in->id;
    CHECK(order == "akmz");
    CHECK(set.find("k") == set.at("k").get());
    CHECK(set.find("l") == nullptr);
    CHECK(set.find("zz") == nullptr);
    CHECK(set.find("") == nullptr);
}

}  // namespace shared_input_test

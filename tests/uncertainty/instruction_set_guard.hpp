#pragma once
// Forces an instruction set for a while, as a user does: by the environment.

#include <cstdlib>
#include <string>

namespace plumbline::inline v0::uncertainty {

class instruction_set_guard {
public:
    explicit instruction_set_guard(const std::string& set) {
        if (const char* before = std::getenv(name)) {
            before_ = before;
            was_set_ = true;
        }
        setenv(name, set.c_str(), 1);
    }
    ~instruction_set_guard() {
        if (was_set_) {
            setenv(name, before_.c_str(), 1);
        } else {
            unsetenv(name);
        }
    }
    instruction_set_guard(const instruction_set_guard&) = delete;
    instruction_set_guard& operator=(const instruction_set_guard&) = delete;

private:
    static constexpr const char* name = "PLUMBLINE_INSTRUCTION_SET";
    std::string before_;
    bool was_set_ = false;
};

}  // namespace plumbline::inline v0::uncertainty

#pragma once
// A file of a test's own, removed when the test ends.

#include <atomic>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>

class scratch_file {
public:
    explicit scratch_file(std::string_view contents) {
        static std::atomic<int> count = 0;
        const auto started = std::chrono::steady_clock::now().time_since_epoch().count();
        path_ = std::filesystem::temp_directory_path() /
                ("plumbline-" + std::to_string(started) + "-" + std::to_string(count++) + ".csv");
        std::ofstream(path_, std::ios::binary) << contents;
    }
    ~scratch_file() { std::filesystem::remove(path_); }
    scratch_file(const scratch_file&) = delete;
    scratch_file& operator=(const scratch_file&) = delete;

    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

private:
    std::filesystem::path path_;
};

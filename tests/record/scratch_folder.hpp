#pragma once
// A folder of a test's own, removed with all it holds when the test ends.

#include <algorithm>
#include <atomic>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>
#include <vector>

class scratch_folder {
public:
    scratch_folder() {
        static std::atomic<int> count = 0;
        const auto started = std::chrono::steady_clock::now().time_since_epoch().count();
        path_ = std::filesystem::temp_directory_path() /
                ("plumbline-folder-" + std::to_string(started) + "-" + std::to_string(count++));
        std::filesystem::create_directory(path_);
    }
    ~scratch_folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    scratch_folder(const scratch_folder&) = delete;
    scratch_folder& operator=(const scratch_folder&) = delete;

    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

    std::filesystem::path add(const std::string& name, std::string_view contents) const {
        const std::filesystem::path file = path_ / name;
        std::filesystem::create_directories(file.parent_path());
        std::ofstream(file, std::ios::binary) << contents;
        return file;
    }

    /// Everything in it, as "name", "folder/", "folder/name", sorted and joined by spaces.
    [[nodiscard]] std::string listing() const {
        std::vector<std::string> names;
        for (const auto& entry : std::filesystem::recursive_directory_iterator(path_)) {
            names.push_back(entry.path().lexically_relative(path_).string() + (entry.is_directory() ? "/" : ""));
        }
        std::sort(names.begin(), names.end());
        std::string all;
        for (const std::string& name : names) all += (all.empty() ? "" : " ") + name;
        return all;
    }

private:
    std::filesystem::path path_;
};

inline std::string contents_of(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

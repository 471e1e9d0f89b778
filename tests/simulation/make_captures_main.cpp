// Writes the captures of the shipped sessions and the truth behind them: make_captures examples/sessions

#include <cstdio>
#include <exception>
#include <filesystem>
#include <fstream>
#include <simulation/pocket_scope.hpp>
#include <simulation/shed_logger.hpp>
#include <simulation/shipped_probe.hpp>
#include <stdexcept>

namespace {

void write(const std::filesystem::path& file, const std::string& text) {
    std::filesystem::create_directories(file.parent_path());
    std::ofstream out(file, std::ios::binary);
    out << text;
    out.close();
    if (!out) throw std::runtime_error(file.string() + ": not written");
}

}  // namespace

int main(int argc, char** argv) {
    if (argc != 2) {
        std::fputs("usage: make_captures_main FOLDER    (examples/sessions)\n", stderr);
        return 2;
    }
    try {
        for (const auto& files : {plumbline::simulation::pocket_scope_files(), plumbline::simulation::shipped_probe_files(),
                                  plumbline::simulation::shed_logger_files()}) {
            for (const auto& [name, text] : files) write(std::filesystem::path(argv[1]) / name, text);
        }
    } catch (const std::exception& problem) {
        std::fprintf(stderr, "%s\n", problem.what());
        return 1;
    }
    return 0;
}

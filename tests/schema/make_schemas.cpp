// Writes record.schema.json, session.schema.json and job.schema.json into the folder given.

#include <cstdlib>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <plumbline/audit/job_file.hpp>
#include <plumbline/record/schema.hpp>
#include <plumbline/session/schema.hpp>
#include <stdexcept>
#include <string>

namespace {

void write(const std::filesystem::path& file, const std::string& text) {
    std::ofstream out(file, std::ios::binary);
    out << text << std::flush;
    if (!out) throw std::runtime_error(file.string() + ": cannot be written");
}

}  // namespace

int main(int argc, char** argv) try {
    if (argc != 2) {
        std::cerr << "usage: make_schemas FOLDER\n";
        return 2;
    }
    const std::filesystem::path folder = argv[1];
    write(folder / "record.schema.json", plumbline::record::record_schema());
    write(folder / "session.schema.json", plumbline::session::session_schema());
    write(folder / "job.schema.json", plumbline::audit::job_schema());
    return EXIT_SUCCESS;
} catch (const std::exception& failed) {
    std::cerr << failed.what() << "\n";
    return EXIT_FAILURE;
}

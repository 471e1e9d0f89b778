#pragma once
// Opening an input file of this room, with the refusals that all of them share.

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <string>

namespace plumbline::inline v0::capture {

/// Opens a regular file for reading bytes. @throws bad_input missing, a directory or other special file, unreadable
std::ifstream open_regular_file(const std::filesystem::path& file);

/// Size of a file that is kept whole, seen before anything is read. @throws bad_input more than 256 MiB
std::uintmax_t size_to_keep(const std::filesystem::path& file);

/// Reads up to size bytes into data; fewer only at the end of the file. @throws bad_input the device or file system fails
std::size_t read_piece(std::ifstream& in, char* data, std::size_t size, const std::filesystem::path& file);

}  // namespace plumbline::inline v0::capture

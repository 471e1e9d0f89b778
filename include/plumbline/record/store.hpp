#pragma once
// Writing a set of files all-or-nothing, never over another file.

#include <filesystem>
#include <string>
#include <vector>

namespace plumbline::record {

struct file {
    std::string name;  ///< within the folder: no '/', not beginning with '.'
    std::string bytes;
};

enum class stored {
    written,
    already_there,  ///< each file of the set was there with the same bytes: nothing was touched
};

/// Writes new files into a folder, which is made if it is missing.
///
/// Every file is written and synced under a temporary name, then placed under its own in the order given by an operation that cannot replace
/// a file. Files of the set that are there with the same bytes stay as they are. On failure whatever this call placed or made is removed;
/// where taking back the last file fails or cannot be synced the others stay, each whole. A power cut may leave hidden temporary files.
/// After a power cut some of the set may stand, each whole, the last one only after all others: give last the file that vouches for the set.
/// Writing the set again then completes it.
///
/// @throws not_written  a name that is no plain file name or is given twice; a file of that name with other contents; a folder that cannot be
///                      made or written to; no room
[[nodiscard]] stored write_new(const std::filesystem::path& folder, const std::vector<file>& files);

}  // namespace plumbline::record

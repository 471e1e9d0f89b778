#pragma once
// Writing a set of files all-or-nothing, never over another file.

#include <plumbline/export.hpp>
#include <string>
#include <vector>

namespace plumbline::inline v0::record {

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
/// @param folder  its path, in the encoding of the system; "" is the current folder
/// @throws not_written  a name that is no plain file name or is given twice; a file of that name with other contents; a folder that cannot be
///                      made or written to; no room
[[nodiscard]] PLUMBLINE_EXPORT stored write_new(const std::string& folder, const std::vector<file>& files);

struct record;

/// Appends checks made after storing to a record's file: the one change that a record allows, outside of its digest.
///
/// The file must hold the same record, with the beginning of the same checks. The new contents are written and synced under a temporary name,
/// which then takes the place of the file's in one step: the file holds the old or the new contents, each whole, whatever fails and whenever
/// the power is cut. After a failure to sync the folder it may hold the new ones; appending again then settles it. For one writer at a time.
///
/// @param file  its path, in the encoding of the system
/// @return  already_there where the file has these contents
/// @throws bad_input    as to_json and read_record
/// @throws not_written  the file holds another record, or checks that r does not begin with; it cannot be written; no room
[[nodiscard]] PLUMBLINE_EXPORT stored append_checks(const std::string& file, const record& r);

}  // namespace plumbline::inline v0::record

#pragma once
// The system calls of the store, behind a seam: a test can let any of them fail or be the last one before a power cut.

#include <plumbline/record/store.hpp>

#include <cerrno>
#include <cstddef>
#include <filesystem>
#include <string>

namespace plumbline::inline v0::record {

/// As the POSIX calls of these names: -1 and errno on failure.
class store_calls {
public:
    store_calls() = default;
    store_calls(const store_calls&) = delete;
    store_calls& operator=(const store_calls&) = delete;
    virtual ~store_calls() = default;

    virtual int make_folder(const char* path) = 0;    ///< mkdir
    virtual int remove_folder(const char* path) = 0;  ///< rmdir
    virtual int open_folder(const char* path) = 0;    ///< for sync
    virtual int open_existing(const char* path) = 0;  ///< for reading, regular files only, no symbolic link
    virtual int create(const char* path) = 0;         ///< for writing, fails where the name is taken
    virtual std::ptrdiff_t read(int fd, char* to, std::size_t n) = 0;
    virtual std::ptrdiff_t write(int fd, const char* from, std::size_t n) = 0;
    virtual int sync(int fd) = 0;  ///< fsync
    virtual int close(int fd) = 0;
    /// Both names then stand, or only the new one; never replaces. EINVAL, ENOSYS, EOPNOTSUPP or EPERM where the file system cannot do so.
    virtual int place(const char* temporary, const char* name) = 0;
    virtual int remove(const char* path) = 0;  ///< unlink
    /// rename: the file takes the other's place in one step. A system that does not say so cannot: ENOSYS.
    virtual int replace(const char* /*temporary*/, const char* /*name*/) {
        errno = ENOSYS;
        return -1;
    }
};

[[nodiscard]] stored write_new(const std::filesystem::path& folder, const std::vector<file>& files, store_calls& system);

/// Lets new contents take the place of a file that holds certain contents, as append_checks says.
[[nodiscard]] stored replace(const std::filesystem::path& folder, const file& now, const std::string& before,
                             store_calls& system);
[[nodiscard]] stored replace(const std::filesystem::path& folder, const file& now, const std::string& before);

}  // namespace plumbline::inline v0::record

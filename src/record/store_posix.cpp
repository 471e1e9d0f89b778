#include "store_calls.hpp"

#include "figure.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <optional>
#include <plumbline/error.hpp>
#include <system_error>

namespace plumbline::inline v0::record {

namespace {

class posix_calls final : public store_calls {
public:
    int make_folder(const char* path) override { return ::mkdir(path, 0777); }
    int remove_folder(const char* path) override { return ::rmdir(path); }
    int open_folder(const char* path) override { return ::open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC); }
    int create(const char* path) override { return ::open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666); }
    std::ptrdiff_t read(int fd, char* to, std::size_t n) override { return ::read(fd, to, n); }
    std::ptrdiff_t write(int fd, const char* from, std::size_t n) override { return ::write(fd, from, n); }
    int sync(int fd) override { return ::fsync(fd); }
    int close(int fd) override { return ::close(fd); }
    int remove(const char* path) override { return ::unlink(path); }
    int replace(const char* temporary, const char* name) override { return ::rename(temporary, name); }

    int open_existing(const char* path) override {
        const int fd =
            ::open(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);  // O_NONBLOCK: do not wait for a pipe's writer
        struct stat is {};
        if (fd < 0 || (::fstat(fd, &is) == 0 && S_ISREG(is.st_mode))) return fd;
        ::close(fd);
        errno = EEXIST;
        return -1;
    }

    int place(const char* temporary, const char* name) override {
        if (::link(temporary, name) == 0) return 0;
#ifdef RENAME_NOREPLACE
        if (errno == EPERM || errno == EOPNOTSUPP || errno == ENOSYS)
            return ::renameat2(AT_FDCWD, temporary, AT_FDCWD, name, RENAME_NOREPLACE);  // FAT
#endif
        return -1;
    }
};

/// Without a trailing '/', which would hide the folder above.
std::filesystem::path normal(const std::filesystem::path& folder) {
    const std::filesystem::path plain = folder.empty() ? "." : folder.lexically_normal();
    return plain.has_filename() || !plain.has_relative_path() ? plain : plain.parent_path();
}

std::string why() { return std::generic_category().message(errno); }

class set_writer {
public:
    set_writer(const std::filesystem::path& folder, const std::vector<file>& files, store_calls& system)
        : folder_(normal(folder)), files_(files), system_(system) {}

    set_writer(const set_writer&) = delete;
    set_writer& operator=(const set_writer&) = delete;

    /// Takes back whatever stands when the set is not complete.
    ~set_writer() {
        for (const std::string& path : temporary_) {
            if (!path.empty()) system_.remove(path.c_str());
        }
        if (!complete_) take_back();
    }

    stored write() {
        check_names();
        std::vector<const file*> missing;
        for (const file& f : files_) {
            if (!is_there(f)) missing.push_back(&f);
        }
        if (missing.empty()) {
            sync_above(folder_);
            sync_folder(folder_);  // whoever placed them may have been stopped before that
            complete_ = true;
            return stored::already_there;
        }
        make_folder(folder_);
        sync_above(folder_);
        for (const file* f : missing) write_temporary(*f);
        for (std::size_t i = 0; i < missing.size(); ++i) {
            if (i + 1 == missing.size())
                sync_folder(folder_);  // the last one vouches for the others: they are on the disk before it
            place(*missing[i], temporary_[i]);
        }
        sync_folder(folder_);
        complete_ = true;
        return stored::written;
    }

    /// The one file of the set in the place of one with these contents.
    stored replace(std::string_view before) {
        check_names();
        const file& now = files_.front();
        const std::string path = path_of(now.name);
        const bool done = look(path, now.bytes) == standing::same;
        if (!done) {
            if (look(path, before) != standing::same) {
                throw not_written(path, "found other contents than those that were read, or no file", "the file as it was read",
                                  "see who else writes it, and try again");
            }
            write_temporary(now);
            if (system_.replace(temporary_.front().c_str(), path.c_str()) != 0) refuse_write(path, now.bytes.size());
            temporary_.clear();
        }
        sync_folder(folder_);
        complete_ = true;
        return done ? stored::already_there : stored::written;
    }

private:
    enum class standing { nothing, same, other };

    /// Last file first, and for certain, since it vouches for the others: where that cannot be had they stay.
    void take_back() {
        for (auto path = placed_.rbegin(); path != placed_.rend(); ++path) {
            if (system_.remove(path->c_str()) != 0 && errno != ENOENT) return;
            if (*path == path_of(files_.back().name) && !is_synced(folder_)) return;
        }
        for (auto path = made_.rbegin(); path != made_.rend(); ++path) system_.remove_folder(path->c_str());
    }

    std::string path_of(const std::string& name) const { return (folder_ / name).string(); }

    void check_names() const {
        for (auto f = files_.begin(); f != files_.end(); ++f) {
            if (f->name.empty() || f->name.front() == '.' ||
                f->name.find_first_of(std::string_view("/\0", 2)) != std::string::npos) {
                throw not_written(folder_.string(), "found the file name " + shown(f->name),
                                  "a name without '/' that does not begin with '.'", "choose another name");
            }
            if (std::any_of(files_.begin(), f, [&](const file& earlier) { return earlier.name == f->name; })) {
                throw not_written(folder_.string(), "found the file name " + shown(f->name) + " twice", "each name once",
                                  "rename one of them");
            }
        }
    }

    bool is_there(const file& f) {
        const std::string path = path_of(f.name);
        const standing found = look(path, f.bytes);
        if (found == standing::other) refuse_other(path);
        return found == standing::same;
    }

    /// What stands there, compared with these bytes; if it is the same it has reached the disk.
    standing look(const std::string& path, std::string_view bytes) {
        const int fd = system_.open_existing(path.c_str());
        if (fd < 0) {
            if (errno == ENOENT) return standing::nothing;
            if (errno == ENAMETOOLONG) refuse_write(path, bytes.size());
            if (errno == EEXIST || errno == ELOOP) {
                throw not_written(path, "found something there that is no regular file", "a free name",
                                  "remove it or choose another folder");
            }
            throw not_written(path, "found that it cannot be looked at: " + why(), "a folder that can be read",
                              "choose another folder or check its permissions");
        }
        const std::optional<bool> same = holds(fd, bytes);
        const bool kept = !same || !*same || reaches_disk(fd);  // copied here a moment ago, perhaps
        const int failure = errno;
        system_.close(fd);
        errno = failure;
        if (!kept) refuse_write(path, bytes.size());
        if (!same)
            throw not_written(path, "found a file that cannot be read", "a free name", "check its permissions and its disk");
        return *same ? standing::same : standing::other;
    }

    [[noreturn]] static void refuse_other(const std::string& path) {
        throw not_written(path, "found a file with other contents", "a free name or the same contents",
                          "records are never overwritten: give the new one a number of its own");
    }

    std::optional<bool> holds(int fd, std::string_view bytes) {
        std::array<char, 1U << 16U> piece{};
        for (;;) {
            const std::ptrdiff_t got = system_.read(fd, piece.data(), piece.size());
            if (got < 0 && errno == EINTR) continue;
            if (got < 0) return {};
            if (got == 0) return bytes.empty();
            if (!bytes.starts_with(std::string_view(piece.data(), static_cast<std::size_t>(got)))) return false;
            bytes.remove_prefix(static_cast<std::size_t>(got));
        }
    }

    void make_folder(const std::filesystem::path& folder) {
        if (made_or_there(folder)) return;
        const std::filesystem::path above = folder.parent_path();
        const bool can_go_up = errno == ENOENT && !above.empty() && above != folder;
        if (can_go_up) {
            make_folder(above);
            if (made_or_there(folder)) return;
        }
        throw not_written(folder.string(), "found that the folder cannot be made: " + why(), "a folder to write to",
                          "choose another folder or check the permissions of the one above");
    }

    bool made_or_there(const std::filesystem::path& folder) {
        if (system_.make_folder(folder.c_str()) != 0) return errno == EEXIST;  // if it is no folder, the first file will say so
        made_.push_back(folder.string());
        return true;
    }

    /// The names of the folders themselves: those that were there may have been made a moment ago, by a writer that was stopped.
    void sync_above(const std::filesystem::path& folder) {
        for (std::filesystem::path at = folder; at.has_filename() && at != "." && at != "..";) {
            const std::filesystem::path above = at.has_parent_path() ? at.parent_path() : ".";
            // One that may only be passed through is not where this user makes folders.
            const bool made = std::find(made_.begin(), made_.end(), at.string()) != made_.end();
            if (!is_synced(above) && (errno != EACCES || made)) refuse_write(above.string(), 0);
            at = above;
        }
    }

    [[noreturn]] static void refuse_write(const std::string& path, std::size_t size) {
        if (errno == ENOSPC || errno == EDQUOT || errno == EFBIG) {
            throw not_written(path, "found no room: " + why(), fmt::format("room for {} bytes", size),
                              "free some space or choose another folder");
        }
        if (errno == ENAMETOOLONG) throw not_written(path, "found a name that is too long", "a shorter one", "shorten it");
        throw not_written(path, "found that it cannot be written: " + why(), "a folder that can be written to",
                          "choose another folder or check its permissions and its disk");
    }

    void write_temporary(const file& f) {
        constexpr int attempts = 100;
        int fd = -1;
        std::string path;
        for (int i = 0; i < attempts && fd < 0; ++i) {
            path = path_of(fmt::format(".{}.{}-{}.tmp", f.name, ::getpid(), i));
            fd = system_.create(path.c_str());
            if (fd < 0 && errno != EEXIST) break;
        }
        if (fd < 0) refuse_write(path_of(f.name), f.bytes.size());
        temporary_.push_back(path);
        bool good = write_all(fd, f.bytes) && system_.sync(fd) == 0;
        const int failure = errno;
        const bool closed = system_.close(fd) == 0;
        if (!good) errno = failure;
        if (!good || !closed) refuse_write(path_of(f.name), f.bytes.size());
    }

    bool write_all(int fd, std::string_view bytes) {
        while (!bytes.empty()) {
            const std::ptrdiff_t done = system_.write(fd, bytes.data(), bytes.size());
            if (done < 0 && errno == EINTR) continue;
            if (done == 0) errno = EIO;  // no error and no progress
            if (done <= 0) return false;
            bytes.remove_prefix(static_cast<std::size_t>(done));
        }
        return true;
    }

    void place(const file& f, std::string& temporary) {
        const std::string path = path_of(f.name);
        if (system_.place(temporary.c_str(), path.c_str()) == 0) {
            placed_.push_back(path);
            system_.remove(temporary.c_str());
            temporary.clear();
            return;
        }
        if (errno == EINVAL || errno == ENOSYS || errno == EOPNOTSUPP || errno == EPERM) {
            throw not_written(path, "found a file system that can neither link files nor rename them without replacing",
                              "one that can, since a record must never be overwritten",
                              "choose a folder on another file system, and copy the files from there");
        }
        if (errno != EEXIST) refuse_write(path, f.bytes.size());
        if (!is_there(f)) refuse_other(path);  // came and went meanwhile
    }

    /// False, with errno, where what was written may not be on the disk.
    bool reaches_disk(int fd) {
        return system_.sync(fd) == 0 || errno == EINVAL || errno == EROFS;  // nothing to sync there, by its nature
    }

    bool is_synced(const std::filesystem::path& folder) {
        const int fd = system_.open_folder(folder.c_str());
        if (fd < 0) return false;
        const bool good = reaches_disk(fd);
        const int failure = errno;
        system_.close(fd);
        errno = failure;
        return good;
    }

    void sync_folder(const std::filesystem::path& folder) {
        if (!is_synced(folder)) refuse_write(folder.string(), 0);
    }

    std::filesystem::path folder_;
    const std::vector<file>& files_;
    store_calls& system_;
    std::vector<std::string> made_;       // folders, outermost first
    std::vector<std::string> temporary_;  // one for each missing file, "" once removed: its name may be another writer's by then
    std::vector<std::string> placed_;
    bool complete_ = false;
};

}  // namespace

stored write_new(const std::filesystem::path& folder, const std::vector<file>& files, store_calls& system) {
    return set_writer(folder, files, system).write();
}

stored write_new(const std::string& folder, const std::vector<file>& files) {
    posix_calls system;
    return write_new(folder, files, system);
}

stored replace(const std::filesystem::path& folder, const file& now, const std::string& before, store_calls& system) {
    const std::vector<file> files{now};
    return set_writer(folder, files, system).replace(before);
}

stored replace(const std::filesystem::path& folder, const file& now, const std::string& before) {
    posix_calls system;
    return replace(folder, now, before, system);
}

}  // namespace plumbline::inline v0::record

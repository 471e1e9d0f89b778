#include <doctest/doctest.h>

#include "../../src/record/store_calls.hpp"
#include "../slow_build.hpp"
#include "scratch_folder.hpp"

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <filesystem>
#include <plumbline/error.hpp>
#include <plumbline/record/store.hpp>
#include <string>
#include <thread>
#include <vector>

namespace record_store_test {

namespace {

namespace fs = std::filesystem;
using plumbline::record::file;
using plumbline::record::stored;
using plumbline::record::write_new;

const std::vector<file> three{{"n.txt", "text"}, {"n.html", std::string(200'000, 'h')}, {"n.json", ""}};

std::string refusal(const fs::path& folder, const std::vector<file>& files) {
    try {
        static_cast<void>(write_new(folder, files));
    } catch (const plumbline::not_written& refused) {
        return refused.what();
    }
    return "";
}

/// The system with one call, the n-th, that fails. Thin: what fails is a number, not a kind of call, so none is forgotten.
class failing_calls final : public plumbline::record::store_calls {
public:
    failing_calls(int nth, int error) : nth_(nth), error_(error) {}

    int make_folder(const char* path) override { return fails("make_folder") ? -1 : ::mkdir(path, 0777); }
    int open_folder(const char* path) override { return fails("open_folder") ? -1 : ::open(path, O_RDONLY | O_DIRECTORY); }
    int open_existing(const char* path) override { return fails("open_existing") ? -1 : ::open(path, O_RDONLY); }
    int create(const char* path) override { return fails("create") ? -1 : ::open(path, O_WRONLY | O_CREAT | O_EXCL, 0666); }
    std::ptrdiff_t read(int fd, char* to, std::size_t n) override { return fails("read") ? -1 : ::read(fd, to, n); }
    std::ptrdiff_t write(int fd, const char* from, std::size_t n) override {
        return fails("write") ? -1 : ::write(fd, from, n > 60'000 ? 60'000 : n);  // and short writes
    }
    int sync(int) override { return fails("sync") ? -1 : 0; }  // what is kept, and what not: store_faults_test.cpp
    int close(int fd) override {
        ::close(fd);
        return fails("close") ? -1 : 0;
    }
    int place(const char* temporary, const char* name) override { return fails("place") ? -1 : ::link(temporary, name); }
    // Taking back is made to fail in store_faults_test.cpp.
    int remove(const char* path) override {
        removed.emplace_back(path);
        return ::unlink(path);
    }
    int remove_folder(const char* path) override { return ::rmdir(path); }

    int calls = 0;
    std::vector<std::string> names;  ///< of the calls, in order
    std::vector<std::string> removed;

private:
    bool fails(const char* name) {
        names.emplace_back(name);
        if (++calls != nth_) return false;
        errno = error_;
        return true;
    }
    int nth_;
    int error_;
};

}  // namespace

TEST_CASE("a set is written whole, and writing it again touches nothing") {
    const scratch_folder folder;
    const fs::path out = folder.path() / "a" / "b";
    CHECK(write_new(out, three) == stored::written);
    CHECK(folder.listing() == "a/ a/b/ a/b/n.html a/b/n.json a/b/n.txt");
    for (const file& f : three) CHECK(contents_of(out / f.name) == f.bytes);
    const auto written_at = fs::last_write_time(out / "n.txt");
    const auto folder_changed_at = fs::last_write_time(out);
    CHECK(write_new(out / "", three) == stored::already_there);
    CHECK(fs::last_write_time(out / "n.txt") == written_at);
    CHECK(fs::last_write_time(out) == folder_changed_at);
}

TEST_CASE("different contents under one name are refused, and none of the set is written") {
    const scratch_folder folder;
    for (const std::string other : {"other", "texts", "tex", ""}) {
        fs::remove(folder.path() / "n.txt");
        const std::string there = folder.add("n.txt", other).string();
        // The one that differs comes last: the others must not be there for that.
        CHECK(refusal(folder.path(), {{"n.json", "{}"}, {"n.txt", "text"}}) ==
              there +
                  ": found a file with other contents, expected a free name or the same contents; records are never overwritten: "
                  "give the "
                  "new one a number of its own");
        CHECK(folder.listing() == "n.txt");
        CHECK(contents_of(there) == other);
    }
}

TEST_CASE("a set of which some was there is completed, the rest as it was") {
    const scratch_folder folder;
    folder.add("n.html", three[1].bytes);
    CHECK(write_new(folder.path(), three) == stored::written);
    CHECK(folder.listing() == "n.html n.json n.txt");
    CHECK(contents_of(folder.path() / "n.txt") == "text");
}

TEST_CASE("names that are no plain file names are refused") {
    const scratch_folder folder;
    for (const std::string name : {"", ".", "..", ".hidden", "a/b", "../x", "/x"}) {
        CHECK(refusal(folder.path(), {{"good", "x"}, {name, "x"}}) ==
              folder.path().string() + ": found the file name \"" + name +
                  "\", expected a name without '/' that does not begin with '.'; "
                  "choose another name");
    }
    CHECK(refusal(folder.path(), {{std::string("a\0b", 3), "x"}}) ==
          folder.path().string() +
              ": found the file name \"a\\u0000b\", expected a name without '/' that does not begin with '.'; choose "
              "another name");
    CHECK(refusal(folder.path(), {{"x", "1"}, {"x", "1"}}) ==
          folder.path().string() + ": found the file name \"x\" twice, expected each name once; rename one of them");
    CHECK(refusal(folder.path(), {{"good", "x"}, {std::string(300, 'x'), "x"}}) ==
          (folder.path() / std::string(300, 'x')).string() +
              ": found a name that is too long, expected a shorter one; shorten it");
    CHECK(folder.listing().empty());
}

TEST_CASE("what is no regular file is refused and left alone") {
    const scratch_folder folder;
    folder.add("elsewhere", "text");
    fs::create_directory(folder.path() / "n.a");
    fs::create_symlink("elsewhere", folder.path() / "n.b");
    fs::create_symlink("nowhere", folder.path() / "n.c");
    REQUIRE(::mkfifo((folder.path() / "n.d").c_str(), 0600) == 0);
    for (const std::string name : {"n.a", "n.b", "n.c", "n.d"}) {
        CHECK(refusal(folder.path(), {{"new", "x"}, {name, "text"}}) ==
              (folder.path() / name).string() +
                  ": found something there that is no regular file, expected a free name; remove it or choose "
                  "another folder");
    }
    CHECK(folder.listing() == "elsewhere n.a/ n.b n.c n.d");
}

TEST_CASE("a folder that is none, or cannot be made, is refused by name") {
    const scratch_folder folder;
    const fs::path plain = folder.add("plain", "x");
    CHECK(refusal(plain, three) == (plain / "n.txt").string() +
                                       ": found that it cannot be looked at: Not a directory, expected a folder that can "
                                       "be read; choose another folder or check its permissions");
    CHECK(refusal("/proc/plumbline/x", three) ==
          "/proc/plumbline: found that the folder cannot be made: No such file or directory, expected a folder to write to; "
          "choose another "
          "folder or check the permissions of the one above");
    CHECK(folder.listing() == "plain");
}

TEST_CASE("a read-only folder is refused and stays as it was") {
    const scratch_folder folder;
    fs::permissions(folder.path(), static_cast<fs::perms>(0555));
    const bool root = ::geteuid() == 0;  // to root nothing is read-only: be somebody else for a moment
    if (root) REQUIRE(::seteuid(65534) == 0);
    const std::string said = refusal(folder.path(), three);
    const std::string below = refusal(folder.path() / "new", three);
    if (root) REQUIRE(::seteuid(0) == 0);
    fs::permissions(folder.path(), fs::perms::owner_all);
    CHECK(said == (folder.path() / "n.txt").string() +
                      ": found that it cannot be written: Permission denied, expected a folder that can be "
                      "written to; choose another folder or check its permissions and its disk");
    CHECK(below == (folder.path() / "new").string() +
                       ": found that the folder cannot be made: Permission denied, expected a folder to write "
                       "to; choose another folder or check the permissions of the one above");
    CHECK(folder.listing().empty());
}

TEST_CASE("when room runs out in the middle of the set nothing of it stays, nor a folder made for it") {
    const scratch_folder folder;
    rlimit before{};
    REQUIRE(::getrlimit(RLIMIT_FSIZE, &before) == 0);
    const auto old = std::signal(SIGXFSZ, SIG_IGN);
    rlimit small = before;
    small.rlim_cur = 100'000;
    REQUIRE(::setrlimit(RLIMIT_FSIZE, &small) == 0);
    const std::string said = refusal(folder.path() / "new" / "deep", three);
    ::setrlimit(RLIMIT_FSIZE, &before);
    std::signal(SIGXFSZ, old);
    CHECK(said ==
          (folder.path() / "new" / "deep" / "n.html").string() +
              ": found no room: File too large, expected room for 200000 bytes; free some space or choose another folder");
    CHECK(folder.listing().empty());
}

TEST_CASE("whichever system call fails, all of the set is there or nothing, and what was there stays") {
    int refused = 0;
    for (const int error : {EIO, ENOSPC, EINTR}) {
        for (int nth = 1;; nth += slow::build ? 3 : 1) {
            CAPTURE(error);
            CAPTURE(nth);
            const scratch_folder folder;
            folder.add("out/old.json", "old");
            folder.add("out/deeper/n.txt", "text");  // one of the set is there already
            for (const char* out : {"out", "out/new", "out/deeper"}) {
                const std::string before = folder.listing();
                failing_calls system(nth, error);
                bool written = false;
                std::string said;
                try {
                    written = write_new(folder.path() / out, three, system) == stored::written;
                } catch (const plumbline::not_written& failure) {
                    said = failure.what();
                }
                CAPTURE(out);
                CAPTURE(said);
                if (written) {
                    for (const file& f : three) CHECK(contents_of(folder.path() / out / f.name) == f.bytes);
                    CHECK(folder.listing().find(".tmp") == std::string::npos);
                } else {
                    ++refused;
                    CHECK(said.find(": found ") != std::string::npos);
                    CHECK(folder.listing() == before);
                }
            }
            CHECK(contents_of(folder.path() / "out/old.json") == "old");
            CHECK(contents_of(folder.path() / "out/deeper/n.txt") == "text");
            failing_calls counting(0, 0);
            const scratch_folder other;
            static_cast<void>(write_new(other.path() / "new", three, counting));
            if (nth > counting.calls + 5) break;
        }
    }
    CHECK(refused > (slow::build ? 30 : 100));
}

TEST_CASE("no name is removed twice: by then it may be the temporary file of another writer") {
    for (int nth = 0; nth < 40; ++nth) {
        CAPTURE(nth);
        const scratch_folder folder;
        failing_calls system(nth, EIO);
        try {
            static_cast<void>(write_new(folder.path(), three, system));
        } catch (const plumbline::not_written&) {
        }
        std::vector<std::string> names = system.removed;
        std::sort(names.begin(), names.end());
        CHECK(std::adjacent_find(names.begin(), names.end()) == names.end());
        if (nth == 0) CHECK(names.size() == three.size());
    }
}

TEST_CASE("a full disk is told apart from a forbidden folder") {
    const scratch_folder folder;
    // The first call of that name, or the first after the file was written.
    const auto said = [&](const std::string& call, int error, const std::string& after = "open_existing") -> std::string {
        const scratch_folder other;
        failing_calls counting(0, 0);
        static_cast<void>(write_new(other.path(), {{"n.json", "{}"}}, counting));
        const auto first = std::find(std::find(counting.names.begin(), counting.names.end(), after), counting.names.end(), call);
        REQUIRE(first != counting.names.end());
        failing_calls system(static_cast<int>(first - counting.names.begin()) + 1, error);
        try {
            static_cast<void>(write_new(folder.path(), {{"n.json", "{}"}}, system));
        } catch (const plumbline::not_written& failure) {
            return failure.what();
        }
        return "";
    };
    const std::string at = (folder.path() / "n.json").string();
    CHECK(said("open_existing", EACCES) ==
          at + ": found that it cannot be looked at: Permission denied, expected a folder that can be read; choose another "
               "folder or check its permissions");
    CHECK(said("create", EROFS) ==
          at + ": found that it cannot be written: Read-only file system, expected a folder that can be written to; choose "
               "another folder or check its permissions and its disk");
    CHECK(said("write", ENOSPC) ==
          at + ": found no room: No space left on device, expected room for 2 bytes; free some space or choose another folder");
    for (const std::string call : {"sync", "close"}) {
        CHECK(
            said(call, EIO, "write") ==
            at +
                ": found that it cannot be written: Input/output error, expected a folder that can be written to; choose another "
                "folder or check its permissions and its disk");
    }
    CHECK(said("sync", EIO) ==
          folder.path().parent_path().string() +
              ": found that it cannot be written: Input/output error, expected a folder that can be written to; "
              "choose another folder or check its permissions and its disk");
    CHECK(folder.listing().empty());
}

TEST_CASE("of two writers with different contents at most one gets the name, and no file is mixed") {
    for (int round = 0; round < 50; ++round) {
        const scratch_folder folder;
        const std::vector<file> a{{"n.txt", std::string(5000, 'a')}, {"n.json", "a"}};
        const std::vector<file> b{{"n.txt", std::string(5000, 'b')}, {"n.json", "b"}};
        std::string a_said;
        std::string b_said;
        std::thread other([&] { b_said = refusal(folder.path(), b); });
        a_said = refusal(folder.path(), a);
        other.join();
        CHECK_FALSE((a_said.empty() && b_said.empty()));
        CHECK(folder.listing().find(".tmp") == std::string::npos);
        if (a_said.empty() || b_said.empty()) {
            const std::vector<file>& winner = a_said.empty() ? a : b;
            for (const file& f : winner) CHECK(contents_of(folder.path() / f.name) == f.bytes);
        }
    }
}

}  // namespace record_store_test

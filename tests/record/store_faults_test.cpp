// Every system call of the store fails, or is the last one before the power goes, on a disk that is simulated here: what was not synced may
// then be lost, each change by itself.

#include <doctest/doctest.h>

#include "../../src/record/store_calls.hpp"
#include "../slow_build.hpp"

#include <algorithm>
#include <cerrno>
#include <cstddef>
#include <functional>
#include <map>
#include <plumbline/error.hpp>
#include <plumbline/record/store.hpp>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace store_faults_test {

namespace {

using plumbline::record::file;
using plumbline::record::stored;

/// Goes through all sequences of choices, one after the other: below(k) gives each number below k once for every way to it.
class every_choice {
public:
    std::size_t below(std::size_t k) {
        if (at_ == made_.size()) made_.push_back({0, k});
        return made_[at_++].first;
    }
    bool next() {
        at_ = 0;
        while (!made_.empty() && made_.back().first + 1 == made_.back().second) made_.pop_back();
        if (made_.empty()) return false;
        ++made_.back().first;
        return true;
    }

private:
    std::vector<std::pair<std::size_t, std::size_t>> made_;
    std::size_t at_ = 0;
};

/// How a disk gives a file its name: by a second name for it, by renaming without replacing (FAT), or not at all.
enum class placing { links, renames, neither };

constexpr std::size_t nothing = static_cast<std::size_t>(-1);
constexpr std::size_t root = 0;

struct disk {
    /// Names of a folder and what they stand for then. A rename changes two at once.
    using change = std::vector<std::pair<std::string, std::size_t>>;

    struct node {
        bool folder = false;
        std::string bytes;    ///< as programs see them
        std::string durable;  ///< as of the last sync
        std::map<std::string, std::size_t> entries;
        std::map<std::string, std::size_t> durable_entries;
        std::vector<change> pending;  ///< since the last sync
    };

    std::vector<node> nodes{node{true, "", "", {}, {}, {}}};
    placing how = placing::links;

    [[nodiscard]] std::size_t find(std::string_view path) const {
        std::size_t at = root;
        while (true) {
            path.remove_prefix(std::min(path.find_first_not_of('/'), path.size()));
            if (path.empty()) return at;
            const std::string name(path.substr(0, path.find('/')));
            const auto entry = nodes[at].entries.find(name);
            if (entry == nodes[at].entries.end()) return nothing;
            at = entry->second;
            path.remove_prefix(name.size());
        }
    }

    static void apply(const change& c, std::map<std::string, std::size_t>& to) {
        for (const auto& [name, id] : c) {
            if (id == nothing) {
                to.erase(name);
            } else {
                to[name] = id;
            }
        }
    }

    void alter(std::size_t folder, const change& c) {
        apply(c, nodes[folder].entries);
        nodes[folder].pending.push_back(c);
    }

    std::size_t add(const std::string& path, bool folder, const std::string& bytes = "") {
        nodes.push_back({folder, bytes, "", {}, {}, {}});
        alter(find(path.substr(0, path.rfind('/'))), {{path.substr(path.rfind('/') + 1), nodes.size() - 1}});
        return nodes.size() - 1;
    }

    void sync(std::size_t id) {
        node& n = nodes[id];
        n.durable = n.bytes;
        n.durable_entries = n.entries;
        n.pending.clear();
    }

    void sync_all() {
        for (std::size_t id = 0; id < nodes.size(); ++id) sync(id);
    }

    /// The disk after a power cut. choose(k) decides what reached it: any number below k.
    [[nodiscard]] disk after_power_cut(const std::function<std::size_t(std::size_t)>& choose) const {
        disk after = *this;
        after.settle(root, choose);
        return after;
    }

    /// Every file, as "path=bytes", and every folder, as "path/".
    [[nodiscard]] std::string listing(std::size_t at = root, const std::string& path = "") const {
        std::string all;
        for (const auto& [name, id] : nodes[at].entries) {
            const std::string here = path + "/" + name;
            all += nodes[id].folder ? here + "/\n" + listing(id, here) : here + "=" + nodes[id].bytes + "\n";
        }
        return all;
    }

private:
    void settle(std::size_t id, const std::function<std::size_t(std::size_t)>& choose) {
        if (!nodes[id].folder) {
            if (nodes[id].durable != nodes[id].bytes) {
                const std::string written = nodes[id].bytes;
                const std::string outcomes[] = {nodes[id].durable, written.substr(0, written.size() / 2),
                                                std::string(written.size(), '\0'), written};
                nodes[id].bytes = outcomes[choose(4)];
            }
            sync(id);
            return;
        }
        nodes[id].entries = nodes[id].durable_entries;
        for (const change& c : nodes[id].pending) {
            if (choose(2) == 1) apply(c, nodes[id].entries);
        }
        sync(id);
        const auto reached = nodes[id].entries;
        for (const auto& [name, below] : reached) settle(below, choose);
    }
};

/// The system calls on such a disk. Calls are numbered from 1.
class simulated_calls final : public plumbline::record::store_calls {
public:
    explicit simulated_calls(disk& on) : disk_(on) {}

    std::function<int(int)> fails = [](int) { return 0; };  ///< errno for a call that fails
    int calls = 0;

    int make_folder(const char* path) override {
        if (broken()) return -1;
        if (disk_.find(path) != nothing) return with(EEXIST);
        if (parent(path) == nothing) return with(ENOENT);
        disk_.add(path, true);
        return 0;
    }
    int remove_folder(const char* path) override {
        if (broken()) return -1;
        const std::size_t id = disk_.find(path);
        if (id == nothing) return with(ENOENT);
        if (!disk_.nodes[id].entries.empty()) return with(ENOTEMPTY);
        disk_.alter(parent(path), {{name(path), nothing}});
        return 0;
    }
    int open_folder(const char* path) override {
        if (broken()) return -1;
        return disk_.find(path) == nothing ? with(ENOENT) : open(disk_.find(path));
    }
    int open_existing(const char* path) override {
        if (broken()) return -1;
        const std::size_t id = disk_.find(path);
        if (id == nothing) return with(ENOENT);
        return disk_.nodes[id].folder ? with(EEXIST) : open(id);
    }
    int create(const char* path) override {
        if (broken()) return -1;
        return disk_.find(path) != nothing ? with(EEXIST) : open(disk_.add(path, false));
    }
    std::ptrdiff_t read(int fd, char* to, std::size_t n) override {
        if (broken()) return -1;
        opened& f = files_.at(fd);
        const std::string piece = disk_.nodes[f.id].bytes.substr(f.at, std::min<std::size_t>(n, 7));  // short reads
        std::copy(piece.begin(), piece.end(), to);
        f.at += piece.size();
        return static_cast<std::ptrdiff_t>(piece.size());
    }
    std::ptrdiff_t write(int fd, const char* from, std::size_t n) override {
        if (broken()) return -1;
        const std::size_t some = std::min<std::size_t>(n, 7);  // short writes
        disk_.nodes[files_.at(fd).id].bytes.append(from, some);
        return static_cast<std::ptrdiff_t>(some);
    }
    int sync(int fd) override {
        if (broken()) return -1;
        disk_.sync(files_.at(fd).id);
        return 0;
    }
    int close(int fd) override {
        files_.erase(fd);
        return broken() ? -1 : 0;
    }
    int place(const char* temporary, const char* path) override {
        if (broken()) return -1;
        if (disk_.how == placing::neither) return with(EINVAL);
        if (disk_.find(path) != nothing) return with(EEXIST);
        disk::change c{{name(path), disk_.find(temporary)}};
        if (disk_.how == placing::renames) c.emplace_back(name(temporary), nothing);
        disk_.alter(parent(path), c);
        return 0;
    }
    int remove(const char* path) override {
        if (broken()) return -1;
        if (disk_.find(path) == nothing) return with(ENOENT);
        disk_.alter(parent(path), {{name(path), nothing}});
        return 0;
    }

    int replace(const char* temporary, const char* path) override {
        if (broken()) return -1;
        disk_.alter(parent(path), {{name(path), disk_.find(temporary)}, {name(temporary), nothing}});
        return 0;
    }

    [[nodiscard]] bool all_closed() const { return files_.empty(); }

private:
    struct opened {
        std::size_t id;
        std::size_t at;
    };

    bool broken() {
        errno = fails(++calls);
        return errno != 0;
    }
    static int with(int error) {
        errno = error;
        return -1;
    }
    int open(std::size_t id) {
        files_[next_] = {id, 0};
        return next_++;
    }
    static std::string name(std::string_view path) { return std::string(path.substr(path.rfind('/') + 1)); }
    std::size_t parent(std::string_view path) const { return disk_.find(path.substr(0, path.rfind('/'))); }

    disk& disk_;
    std::map<int, opened> files_;
    int next_ = 3;
};

const std::vector<file> set{{"n.txt", "text of two pieces"}, {"n.html", "<p>page</p>"}, {"n.json", "{}"}};

/// What a write finds when it begins.
struct scene {
    const char* what;
    const char* folder;
    disk before;
};

std::vector<scene> scenes() {
    disk empty;
    empty.add("/disk", true);
    empty.sync_all();

    disk old = empty;
    old.add("/disk/out", true);
    old.add("/disk/out/old.json", false, "old");
    old.add("/disk/out/n.html", false, set[1].bytes);
    old.sync_all();

    disk copied = empty;  // and not yet on the disk, all but the folder
    copied.add("/disk/out", true);
    copied.sync_all();
    copied.add("/disk/out/n.txt", false, set[0].bytes);
    disk copied_all = copied;
    copied_all.add("/disk/out/n.html", false, set[1].bytes);
    copied_all.add("/disk/out/n.json", false, set[2].bytes);

    std::vector<scene> all{{"folders to be made", "/disk/new/deep", empty},
                           {"a folder with an older record and one file of the set", "/disk/out", old},
                           {"one file of the set copied there a moment ago", "/disk/out", copied},
                           {"the whole set copied there a moment ago", "/disk/out", copied_all}};
    for (std::size_t i = 0, n = all.size(); i < n; ++i) {
        all.push_back(all[i]);
        all.back().before.how = placing::renames;
    }
    return all;
}

std::string in(const scene& s, const file& f) { return std::string(s.folder) + "/" + f.name; }

bool whole(const disk& d, const scene& s) {
    return std::all_of(set.begin(), set.end(), [&](const file& f) {
        const std::size_t id = d.find(in(s, f));
        return id != nothing && d.nodes[id].bytes == f.bytes;
    });
}

/// What is wrong with a disk that must hold the old state or the new one; "" where nothing is.
/// A file that was copied there from elsewhere may be broken by a power cut: that is not the store's doing.
std::string half(const disk& d, const scene& s) {
    const std::size_t old = d.find("/disk/out/old.json");
    if (s.before.find("/disk/out/old.json") != nothing && (old == nothing || d.nodes[old].bytes != "old")) return "old.json lost";
    for (const file& f : set) {
        const std::size_t id = d.find(in(s, f));
        if (id != nothing && d.nodes[id].bytes != f.bytes && s.before.find(in(s, f)) == nothing) return f.name + " is not whole";
    }
    const std::size_t last = d.find(in(s, set.back()));
    if (last != nothing && s.before.find(in(s, set.back())) == nothing && !whole(d, s)) return "the last file without another";
    return "";
}

/// The call made, and what came of it.
struct outcome {
    disk after;
    bool written;
    std::string said;
    int calls;
    bool all_closed;
};

outcome write(const disk& before, const scene& s, const std::function<int(int)>& fails) {
    outcome o{before, false, "", 0, false};
    simulated_calls system(o.after);
    system.fails = fails;
    try {
        static_cast<void>(write_new(s.folder, set, system));
        o.written = true;
    } catch (const plumbline::not_written& refused) {
        o.said = refused.what();
    }
    o.calls = system.calls;
    o.all_closed = system.all_closed();
    return o;
}

int no_failure(int) { return 0; }

/// What is wrong after a write was tried once more on a sound disk, and the power then cut; "" where nothing is.
std::string wrong_after_second_write(const disk& d, const scene& s) {
    const outcome again = write(d, s, no_failure);
    if (!again.written) return again.said;
    if (!whole(again.after, s)) return "second write not whole";
    if (!whole(again.after.after_power_cut([](std::size_t) { return 0; }), s)) return "second write lost by a power cut";
    return "";
}

/// Calls f with each disk that a power cut may leave.
template <class F>
void for_each_power_cut(const disk& d, F f) {
    every_choice choice;
    do f(d.after_power_cut([&](std::size_t k) { return choice.below(k); }));
    while (choice.next());
}

bool same_files(const disk& a, const disk& b) { return a.listing() == b.listing(); }

const std::string longer = "{} and one check more";

/// A record's file that takes in a check.
outcome replace(const disk& before, const std::function<int(int)>& fails) {
    outcome o{before, false, "", 0, false};
    simulated_calls system(o.after);
    system.fails = fails;
    try {
        static_cast<void>(plumbline::record::replace("/disk/out", {"n.json", longer}, set[2].bytes, system));
        o.written = true;
    } catch (const plumbline::not_written& refused) {
        o.said = refused.what();
    }
    o.calls = system.calls;
    o.all_closed = system.all_closed();
    return o;
}

disk with_record() {
    disk d;
    d.add("/disk", true);
    d.add("/disk/out", true);
    d.add("/disk/out/n.json", false, set[2].bytes);
    d.sync_all();
    return d;
}

std::string record_on(const disk& d) {
    const std::size_t id = d.find("/disk/out/n.json");
    return id == nothing ? "lost" : d.nodes[id].bytes;
}

}  // namespace

TEST_CASE("the simulated disk forgets what was not synced, and nothing else") {
    disk d;
    simulated_calls system(d);
    REQUIRE(system.make_folder("/a") == 0);
    const int fd = system.create("/a/f");
    REQUIRE(system.write(fd, "0123456789", 10) == 7);
    std::vector<std::string> left;
    const auto cut = [&] {
        left.clear();
        for_each_power_cut(d, [&](const disk& after) { left.push_back(after.listing()); });
        std::sort(left.begin(), left.end());
        left.erase(std::unique(left.begin(), left.end()), left.end());
    };
    using listings = std::vector<std::string>;
    cut();
    CHECK(left == listings{"", "/a/\n", std::string("/a/\n/a/f=\0\0\0\0\0\0\0\n", 17), "/a/\n/a/f=\n", "/a/\n/a/f=012\n",
                           "/a/\n/a/f=0123456\n"});
    REQUIRE(system.sync(fd) == 0);
    cut();
    CHECK(left == listings{"", "/a/\n", "/a/\n/a/f=0123456\n"});
    REQUIRE(system.sync(system.open_folder("/")) == 0);
    REQUIRE(system.sync(system.open_folder("/a")) == 0);
    REQUIRE(system.place("/a/f", "/a/g") == 0);
    REQUIRE(system.remove("/a/f") == 0);
    cut();
    CHECK(left == listings{"/a/\n", "/a/\n/a/f=0123456\n", "/a/\n/a/f=0123456\n/a/g=0123456\n", "/a/\n/a/g=0123456\n"});
}

TEST_CASE("whichever system calls fail, one or two, the set is there as a whole or not at all, and a second write completes it") {
    int refused = 0;
    for (const scene& s : scenes()) {
        CAPTURE(s.what);
        const int calls = write(s.before, s, no_failure).calls;
        for (const int error : {EIO, ENOSPC, EINTR}) {
            for (int first = 1; first <= calls; ++first) {
                // Taking back needs calls too: a second failure may strike there.
                for (int second = first; second <= 2 * calls; second += slow::build ? 7 : 1) {
                    const outcome o = write(s.before, s, [&](int n) { return n == first || n == second ? error : 0; });
                    std::string wrong = half(o.after, s);
                    if (o.written && !whole(o.after, s)) wrong = "written, but not whole";
                    if (o.written && !whole(o.after.after_power_cut([](std::size_t) { return 0; }), s))
                        wrong = "written, but not kept";
                    if (!o.all_closed) wrong = "a file left open";
                    if (first == second && !o.written && !same_files(o.after, s.before)) wrong = "something left behind";
                    if (wrong.empty()) wrong = wrong_after_second_write(o.after, s);
                    refused += !o.written;
                    CAPTURE(error);
                    CAPTURE(first);
                    CAPTURE(second);
                    CAPTURE(o.said);
                    CAPTURE(o.after.listing());
                    if (!wrong.empty()) FAIL_CHECK(wrong);
                    if (second >= o.calls) break;
                }
            }
        }
    }
    CHECK(refused > (slow::build ? 100 : 1000));
}

TEST_CASE(
    "a write that is killed at any call leaves the old state or the new one, and a second write lasts through a power cut") {
    for (const scene& s : scenes()) {
        CAPTURE(s.what);
        const int calls = write(s.before, s, no_failure).calls;
        for (int last = 0; last <= calls; ++last) {
            CAPTURE(last);
            const outcome killed = write(s.before, s, [&](int n) { return n > last ? EIO : 0; });  // the rest does nothing
            if (last == calls) CHECK(killed.written);
            CHECK(half(killed.after, s) == "");
            CHECK(wrong_after_second_write(killed.after, s) == "");
        }
    }
}

TEST_CASE("a power cut at any call, whatever of the unsynced reached the disk, leaves the old state or the whole new one") {
    int cuts = 0;
    int new_state = 0;
    for (const scene& s : scenes()) {
        CAPTURE(s.what);
        const int calls = write(s.before, s, no_failure).calls;
        for (int last = 0; last <= calls; ++last) {
            CAPTURE(last);
            const outcome cut = write(s.before, s, [&](int n) { return n > last ? EIO : 0; });
            for_each_power_cut(cut.after, [&](const disk& after) {
                ++cuts;
                new_state += whole(after, s);
                const std::string wrong = half(after, s);
                CAPTURE(after.listing());
                if (!wrong.empty()) FAIL_CHECK(wrong);
                if (last == calls && !whole(after, s)) FAIL_CHECK("lost after success");
                // A copy that the power cut broke is another's file, and refused as such.
                const bool broken_copy = std::any_of(set.begin(), set.end(), [&](const file& f) {
                    const std::size_t id = after.find(in(s, f));
                    return id != nothing && after.nodes[id].bytes != f.bytes;
                });
                const std::string then = broken_copy ? "" : wrong_after_second_write(after, s);
                if (!then.empty()) FAIL_CHECK(then);
            });
        }
    }
    CHECK(cuts > 1000);
    CHECK(new_state > 0);
    CHECK(new_state < cuts);
}

TEST_CASE("a power cut while a failed write takes back leaves the old state or the whole new one") {
    for (const scene& s : scenes()) {
        CAPTURE(s.what);
        const int calls = write(s.before, s, no_failure).calls;
        for (int failing = 1; failing <= calls; ++failing) {
            const int all = write(s.before, s, [&](int n) { return n == failing ? EIO : 0; }).calls;
            for (int last = failing; last <= all; last += slow::build ? 5 : 1) {
                const outcome cut = write(s.before, s, [&](int n) { return n == failing || n > last ? EIO : 0; });
                CAPTURE(failing);
                CAPTURE(last);
                for_each_power_cut(cut.after, [&](const disk& after) {
                    const std::string wrong = half(after, s);
                    CAPTURE(after.listing());
                    if (!wrong.empty()) FAIL_CHECK(wrong);
                });
            }
        }
    }
}

TEST_CASE("a file system that can place no file without replacing is refused by name, and left as it was") {
    for (scene s : scenes()) {
        CAPTURE(s.what);
        s.before.how = placing::neither;
        const outcome o = write(s.before, s, no_failure);
        if (whole(s.before, s)) {
            CHECK(o.written);
            continue;
        }
        const std::string first_missing = in(s, s.before.find(in(s, set[0])) == nothing ? set[0] : set[1]);
        CHECK(o.said == first_missing +
                            ": found a file system that can neither link files nor rename them without replacing, expected one "
                            "that can, since a record must never be overwritten; choose a folder on another file system, and "
                            "copy the files from there");
        CHECK(same_files(o.after, s.before));
    }
}

TEST_CASE("a file that is replaced holds the old or the new contents, whichever calls fail, and a second try settles it") {
    const int calls = replace(with_record(), no_failure).calls;
    CHECK(calls > 10);
    int kept = 0;
    for (int first = 1; first <= calls; ++first) {
        for (int second = first; second <= calls + 2; ++second) {
            CAPTURE(first);
            CAPTURE(second);
            const outcome o = replace(with_record(), [&](int n) { return n == first || n == second ? EIO : 0; });
            const std::string found = record_on(o.after);
            CHECK((found == set[2].bytes || found == longer));
            CHECK(o.all_closed);
            if (o.written) CHECK(found == longer);
            if (first == second && found != longer) CHECK(same_files(o.after, with_record()));
            kept += found == set[2].bytes;
            const outcome again = replace(o.after, no_failure);
            CHECK(again.written);
            CHECK(record_on(again.after.after_power_cut([](std::size_t) { return 0; })) == longer);
        }
    }
    CHECK(kept > calls);
}

TEST_CASE("a power cut at any call leaves a file that is replaced with the old or the new contents, whole") {
    const int calls = replace(with_record(), no_failure).calls;
    int old_state = 0;
    int new_state = 0;
    for (int last = 0; last <= calls; ++last) {
        CAPTURE(last);
        const outcome cut = replace(with_record(), [&](int n) { return n > last ? EIO : 0; });
        for_each_power_cut(cut.after, [&](const disk& after) {
            const std::string found = record_on(after);
            CHECK((found == set[2].bytes || found == longer));
            if (last == calls) CHECK(found == longer);
            old_state += found == set[2].bytes;
            new_state += found == longer;
        });
    }
    CHECK(old_state > 0);
    CHECK(new_state > 0);
}

TEST_CASE("a file with other contents than those that were read is not replaced") {
    disk other = with_record();
    other.nodes[other.find("/disk/out/n.json")].bytes = "another's";
    const outcome o = replace(other, no_failure);
    CHECK(o.said ==
          "/disk/out/n.json: found other contents than those that were read, or no file, expected the file as it was read; see "
          "who else "
          "writes it, and try again");
    CHECK(record_on(o.after) == "another's");
}

}  // namespace store_faults_test

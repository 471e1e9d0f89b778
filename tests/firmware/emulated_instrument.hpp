#pragma once
// The example firmware in QEMU: its serial line by pipes, its flash in a file that outlives it.

#include <fcntl.h>
#include <poll.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdint>
#include <cstring>
#include <stdexcept>
#include <string>
#include <vector>

/// 16 MiB of memory in a file: flash of 1 KiB at 0, what the bench applies at 0x10000, model and serial number
/// at 0x10030. See bench in pocket_scope.cpp.
class flash_file {
public:
    explicit flash_file(std::string path) : path_(std::move(path)) {
        const int file = ::open(path_.c_str(), O_RDWR | O_CREAT | O_TRUNC, 0600);
        if (file < 0 || ::ftruncate(file, size) != 0) throw std::runtime_error("cannot make " + path_);
        memory_ = ::mmap(nullptr, size, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
        ::close(file);
        if (memory_ == MAP_FAILED) throw std::runtime_error("cannot map " + path_);
        std::memset(memory_, 0xFF, 1024);
        apply(0, 2248);
        apply(1, 2248);
        word(0x10010) = 2310;
        name("Pocket Scope 2", "PS2-0007");
    }
    ~flash_file() {
        ::munmap(memory_, size);
        ::unlink(path_.c_str());
    }
    flash_file(const flash_file&) = delete;
    flash_file& operator=(const flash_file&) = delete;

    /// Code that the simulated converter of a channel gives, +-1 of noise.
    void apply(unsigned channel, std::uint16_t code) { word(0x10000 + 4 * channel) = code; }
    void name(const std::string& model, const std::string& serial) {
        char* const plate = static_cast<char*>(memory_) + 0x10030;
        std::memset(plate, 0, 32);
        std::memcpy(plate, model.data(), model.size());
        std::memcpy(plate + 16, serial.data(), serial.size());
    }
    /// Copies bytes into the flash as a programmer does that goes around the firmware.
    void program(const std::vector<std::uint8_t>& what) { std::memcpy(memory_, what.data(), what.size()); }
    [[nodiscard]] bool is_storing() { return word(0x10020) != 0; }
    void forget_storing() { word(0x10020) = 0; }
    [[nodiscard]] const std::string& path() const { return path_; }

private:
    static constexpr std::size_t size = 16U << 20U;
    volatile std::uint32_t& word(std::size_t at) {
        return *reinterpret_cast<volatile std::uint32_t*>(static_cast<char*>(memory_) + at);
    }

    std::string path_;
    void* memory_ = nullptr;
};

class emulated_instrument {
public:
    emulated_instrument(const std::string& program, const flash_file& flash) {
        int to[2];
        int from[2];
        if (::pipe(to) != 0 || ::pipe(from) != 0) throw std::runtime_error("no pipe");
        child_ = ::fork();
        if (child_ < 0) throw std::runtime_error("no process");
        if (child_ == 0) {
            ::dup2(to[0], 0);
            ::dup2(from[1], 1);
            const int nowhere = ::open("/dev/null", O_WRONLY);
            ::dup2(nowhere, 2);
            for (const int end : {to[0], to[1], from[0], from[1]}) ::close(end);
            const std::string memory = "memory-backend-file,id=flash,size=16M,share=on,mem-path=" + flash.path();
            ::execlp("qemu-system-arm", "qemu-system-arm", "-M", "mps2-an385,memory-backend=flash", "-m", "16M", "-object",
                     memory.c_str(), "-accel", "tcg,tb-size=8", "-nodefaults", "-nic", "none", "-display", "none", "-monitor",
                     "none", "-serial", "stdio", "-kernel", program.c_str(), static_cast<char*>(nullptr));
            ::_exit(127);
        }
        ::close(to[0]);
        ::close(from[1]);
        to_ = to[1];
        from_ = from[0];
        // a pipe that this process leaves open to the next child would keep the line of this one open
        ::fcntl(to_, F_SETFD, FD_CLOEXEC);
        ::fcntl(from_, F_SETFD, FD_CLOEXEC);
    }
    ~emulated_instrument() { cut_power(); }
    emulated_instrument(const emulated_instrument&) = delete;
    emulated_instrument& operator=(const emulated_instrument&) = delete;

    void cut_power() {
        if (child_ <= 0) return;
        ::kill(child_, SIGKILL);
        ::waitpid(child_, nullptr, 0);
        ::close(to_);
        ::close(from_);
        child_ = -1;
    }

    void send(const std::string& bytes) {
        for (std::size_t done = 0; done < bytes.size();) {
            const ssize_t now = ::write(to_, bytes.data() + done, bytes.size() - done);
            if (now <= 0) throw std::runtime_error("the instrument takes nothing");
            done += static_cast<std::size_t>(now);
        }
    }

    /// Bytes until `size` have come, or up to a line feed if size is 0 (without it).
    /// @throws std::runtime_error  nothing came for ten seconds
    std::string receive(std::size_t size = 0) {
        std::string got;
        while (size == 0 || got.size() < size) {
            const char c = next();
            if (size == 0 && c == '\n') break;
            got += c;
        }
        return got;
    }

    /// What has come within this time, and no more.
    std::string received_within(std::chrono::microseconds time) {
        std::string got;
        const auto end = std::chrono::steady_clock::now() + time;
        while (std::chrono::steady_clock::now() < end)
            if (has_input(1)) got += next();
        return got;
    }

    std::string ask(const std::string& question) {
        send(question + "\n");
        return receive();
    }

    std::vector<std::uint8_t> ask_block(const std::string& question) {
        send(question + "\n");
        std::string front = receive(2);
        if (front[0] != '#') throw std::runtime_error("no block: " + front);
        const std::string bytes = receive_exactly(std::stoul(receive_exactly(static_cast<std::size_t>(front[1] - '0'))));
        if (receive() != "") throw std::runtime_error("more than the block");
        return {bytes.begin(), bytes.end()};
    }

private:
    std::string receive_exactly(std::size_t size) { return size == 0 ? std::string() : receive(size); }

    [[nodiscard]] bool has_input(int milliseconds) const {
        pollfd of = {from_, POLLIN, 0};
        return ::poll(&of, 1, milliseconds) > 0;
    }

    char next() {
        if (at_ == buffer_.size()) {
            if (!has_input(10000)) throw std::runtime_error("the instrument does not answer");
            buffer_.resize(4096);
            const ssize_t size = ::read(from_, buffer_.data(), buffer_.size());
            if (size <= 0) throw std::runtime_error("the emulator has ended");
            buffer_.resize(static_cast<std::size_t>(size));
            at_ = 0;
        }
        return buffer_[at_++];
    }

    pid_t child_ = -1;
    int to_ = -1;
    int from_ = -1;
    std::string buffer_;
    std::size_t at_ = 0;
};

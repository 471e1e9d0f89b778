// Two threads that write one number: what ThreadSanitizer must find.
#include <thread>

int main() {
    int number = 0;
    std::thread other([&] { ++number; });
    ++number;
    other.join();
    return number > 2 ? 1 : 0;
}

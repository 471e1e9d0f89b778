// Runs the consumer in C on a Cortex-M, with an image and a reading from the C++ headers.

#include "agreement.hpp"
#include "semihosting.hpp"

extern "C" int consume(const uint8_t* image, size_t size, int32_t microvolts, uint32_t plus_or_minus);

int main() {
    using namespace plumbline::embedded;
    agreement::random_bits bits(77);
    const range one = agreement::random_range(bits);
    uint8_t image[192];
    const size_t size = encode(agreement::any_identity(), &one, image, sizeof image);
    samples of;
    const uint16_t codes[] = {2248, 2249, 2251};
    for (const uint16_t code : codes) of.add(one.line, code);
    const reading r = read(one, agreement::any_identity().holds, {3, unknown_temperature, unknown_day}, of);
    if (r.what != status::ok) return 90;
    const int wrong = consume(image, size, r.microvolts, r.plus_or_minus);
    if (wrong == 0) semihosting::print("= C agrees\n");
    return wrong;
}

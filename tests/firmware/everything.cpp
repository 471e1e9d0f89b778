// Every function of the folder in one object: what it needs from elsewhere, and whether it takes RAM, is read from that object.

#include <plumbline/embedded/plumbline_embedded.h>
#include <plumbline/embedded/block.hpp>
#include <plumbline/embedded/image.hpp>
#include <plumbline/embedded/store.hpp>

using namespace plumbline::embedded;

struct any_flash {
    void read(uint32_t address, uint8_t* to, size_t size);
    bool program(uint32_t address, const uint8_t* from, size_t size);
    bool erase(uint32_t address);
};

template class plumbline::embedded::store<any_flash>;

extern "C" {

int32_t one_code(const correction& by, uint16_t code) { return correct(by, code); }
size_t block_of_codes(const correction& by, const uint16_t* codes, size_t size, int32_t* to) {
    return correct(by, codes, size, to);
}
int32_t mean_of_codes(const correction& by, uint32_t sum, uint16_t n) { return correct_mean(by, sum, n); }
bool valid(const correction& by) { return is_valid(by); }
correction made(int64_t gain, int64_t offset, uint16_t first, uint16_t last) {
    return make_correction(gain, offset, first, last);
}
reading read_it(const range& by, const validity& holds, const conditions& now, const samples& of) {
    return plumbline::embedded::read(by, holds, now, of);
}
void add(samples& to, const correction& by, uint16_t code) { to.add(by, code); }
size_t encode_it(const identity& of, const range* ranges, uint8_t* image, size_t size) { return encode(of, ranges, image, size); }
image_fault check_it(const uint8_t* image, size_t size) { return check(image, size); }
identity identity_of(const uint8_t* image) { return read_identity(image); }
range range_of(const uint8_t* image, uint8_t index) { return read_range(image, index); }
bool is_of_it(const uint8_t* image, const identity& whose) { return is_of(image, whose.model, whose.serial); }
status find_it(const uint8_t* image, uint8_t channel, uint8_t number, uint16_t mode, uint8_t& index) {
    return find(image, channel, number, mode, index);
}
block_header::state take(block_header& header, char c) { return header.take(c); }
size_t put(char* to, uint32_t size) { return put_block_header(to, size); }

}  // extern "C"

// Reads a record and turns a code into volts; is refused a file that is not there. Ends with 0 when both went as they should.
#include <plumbline/plumbline.hpp>

#include <cstdio>
#include <string>

int main(int count, char** arguments) {
    if (count != 2) return 2;
    const auto record = plumbline::record::read_record(arguments[1]);
    const auto& range = record.ranges.front();
    const auto volts = plumbline::calibration::reading(record.inputs, record.references, range, 2911.0 * plumbline::code,
                                                       plumbline::calibration::at_calibration(range));
    const auto budget = plumbline::uncertainty::make_convolved_budget(volts);
    std::printf("plumbline %s: %.4f V, U = %.2g V\n", PLUMBLINE_VERSION, budget.value, budget.U);
    if (!(budget.U > 0.0 && budget.U < 1.0)) return 1;

    try {
        (void)plumbline::record::read_record("no such record.json");
    } catch (const plumbline::bad_input& e) {  // thrown in the library, caught here: also where the library is a shared one
        return std::string(e.what()).find("no such record.json") == std::string::npos ? 1 : 0;
    }
    return 1;
}

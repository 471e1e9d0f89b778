#include "schema_of_records.hpp"

#include <doctest/doctest.h>

namespace record_schema_long_test {

TEST_CASE(
    "with every value as every other type, unit or size the schema accepts what the reader reads, and refuses what one field "
    "shows") {
    schema_of_records::agrees_with_the_reader(1);
}

}  // namespace record_schema_long_test

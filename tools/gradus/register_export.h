// The register as JSON and CSV, and back again.
#pragma once

#include <scale/register.h>

#include <string>
#include <tl/expected.hpp>
#include <vector>

namespace gradus {

// gradus/register/1: every record with all that its hash is made of.
std::string register_json(const std::vector<scale::ListedRecord>& records);

// One row a record, without what it contains.
std::string register_csv(const std::vector<scale::ListedRecord>& records);

// The records of a document that register_json wrote, or why it is none. Hashes are not checked here.
tl::expected<std::vector<scale::Record>, std::string> records_of_json(const std::string& text);

// "current, due 2027-02-28", "superseded by 7", "withdrawn by 9"; empty for kinds that cannot be either.
std::string state_of(const scale::ListedRecord& listed);

// The content as indented JSON, or as it is when it is none.
std::string readable_content(const scale::Record& record);

// Factor and U of a calibration's record in one phrase; empty for other kinds.
std::string summary_of(const scale::Record& record);

}  // namespace gradus

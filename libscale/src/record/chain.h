// The hash chain over records; see register.h for its definition.
#pragma once

#include <scale/register.h>

namespace scale::record {

inline constexpr const char* kFirstPrevious = "0000000000000000000000000000000000000000000000000000000000000000";

std::string chain_hash(const std::string& previous, std::int64_t number, const RecordDraft& draft);

}  // namespace scale::record

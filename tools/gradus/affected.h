// What rests on a set-up since a time or a record: what to look at again when its factor is found to have changed.
#pragma once

#include <scale/register.h>

#include <cstdint>
#include <string>
#include <vector>

namespace gradus {

// From when on; a record must satisfy both.
struct AffectedSince {
  std::string time;         // UTC, "2026-02-28T09:30:00Z" or the day alone; empty: any
  std::int64_t record = 0;  // only records after this one
};

// The measurements and calibrations among `records` (those of one set-up, in order) that were made since then;
// withdrawn and superseded ones too, as what was reported from them is still out there.
std::vector<scale::ListedRecord> affected_records(const std::vector<scale::ListedRecord>& records,
                                                  const AffectedSince& since);

// "measurement 12 and calibration 14"; at most `most` of them by name; "nothing recorded" when there are none.
std::string affected_words(const std::vector<scale::ListedRecord>& affected, std::size_t most = 6);

// "2026-02-28", or a whole time as the register takes it.
bool is_day_or_time(const std::string& text);

}  // namespace gradus

// gradus register affected: which results rest on a set-up since a day.
#include "affected.h"
#include "rooms.h"

namespace cli_test {
namespace {

scale::ListedRecord record(std::int64_t number, const std::string& kind, const std::string& made_at) {
  scale::ListedRecord listed;
  listed.record.number = number;
  listed.record.draft.kind = kind;
  listed.record.draft.made_at = made_at;
  return listed;
}

TEST_CASE("results since a day or a record are listed, checks and notices are not") {
  const std::vector<scale::ListedRecord> records = {
      record(2, "calibration", "2026-01-10T08:00:00Z"), record(3, "measurement", "2026-02-01T08:00:00Z"),
      record(4, "check", "2026-02-02T08:00:00Z"), record(5, "measurement", "2026-02-03T08:00:00Z"),
      record(6, "calibration", "2026-02-04T08:00:00Z")};
  CHECK(gradus::affected_records(records, {}).size() == 4);
  CHECK(gradus::affected_records(records, {"2026-02-01", 0}).size() == 3);
  CHECK(gradus::affected_records(records, {"2026-02-01T08:00:01Z", 0}).size() == 2);
  const auto after = gradus::affected_records(records, {"", 4});
  CHECK(gradus::affected_words(after) == "measurement 5 and calibration 6");
  CHECK(gradus::affected_words(gradus::affected_records(records, {}), 2) == "calibration 2, measurement 3 and 2 more");
  CHECK(gradus::affected_words({}) == "nothing");
}

TEST_CASE("register affected lists a set-up's results, and refuses a day that is none") {
  const TemporaryFolder folder;
  furnish(folder);
  record_room(folder);
  const Finished found = in_register(folder, {"affected", "wool-10x", "--since", "2026-02-28"});
  CHECK(found.exit_code == 0);
  CHECK(contains(found.output, "calibration  wool-10x"));
  CHECK_FALSE(contains(found.output, "wool-14x"));
  CHECK(contains(in_register(folder, {"affected", "wool-10x", "--since", "2026-03-01"}).output, "0 records"));
  CHECK(in_register(folder, {"affected", "wool-10x", "--since", "yesterday"}).exit_code == 2);
  CHECK(in_register(folder, {"affected", "none", "--since", "2026-02-28"}).exit_code == 2);
}

}  // namespace
}  // namespace cli_test

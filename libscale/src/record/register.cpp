#include <SQLiteCpp/SQLiteCpp.h>
#include <fcntl.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <unistd.h>

#include <scale/register.h>
#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <nlohmann/json.hpp>

#include "record/chain.h"

namespace scale {
namespace {

constexpr int kApplication = 0x47524144;  // "GRAD", so that no other SQLite file is taken for a register
constexpr int kSchema = 1;
constexpr std::array<const char*, 6> kKinds = {"calibration", "check",      "measurement",
                                               "lab-file",    "withdrawal", "supersession"};

constexpr const char* kTables = R"sql(
CREATE TABLE record (
  number INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  setup TEXT NOT NULL,
  about INTEGER,
  made_at TEXT NOT NULL,
  made_by TEXT NOT NULL,
  content TEXT NOT NULL,
  hash TEXT NOT NULL
) STRICT;
CREATE INDEX record_by_setup ON record (setup, number);
CREATE INDEX record_by_about ON record (about) WHERE about IS NOT NULL;
CREATE TRIGGER record_never_changes BEFORE UPDATE ON record
BEGIN SELECT RAISE(ABORT, 'records are never changed'); END;
CREATE TRIGGER record_never_goes BEFORE DELETE ON record
BEGIN SELECT RAISE(ABORT, 'records are never removed'); END;
CREATE TRIGGER record_follows_the_last BEFORE INSERT ON record
WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM record)
BEGIN SELECT RAISE(ABORT, 'a record can only follow the last'); END;
)sql";

tl::unexpected<Failure> failed(const std::string& code, const std::string& message) {
  return tl::unexpected<Failure>(Failure{"register", code, message});
}

Failure failure_of(const SQLite::Exception& error, const std::string& path) {
  const auto told = [&](const std::string& code, const std::string& words) {
    return Failure{"register", code, path + ": " + words};
  };
  switch (error.getErrorCode() & 0xff) {  // the primary code, without its extension
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return told("locked", "another program holds the register; nothing was written, try again when it is done");
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_CANTOPEN:
      return told("read-only",
                  "the register or its folder may not be written to; nothing was written, check the "
                  "permissions");
    case SQLITE_FULL:
      return told("disk-full",
                  "the disk is full; nothing was written and what is there is whole, make room and repeat");
    case SQLITE_IOERR:
      return told("disk-error", "the disk refused (" + std::string(error.what()) +
                                    "); nothing was written and what is there is whole");
    case SQLITE_NOTADB:
      return told("not-a-register", "is not a register; name the register.sqlite that gradus made");
    case SQLITE_CORRUPT:
      return told("damaged", "the file is damaged or cut off; keep it, and restore a copy or import an export");
    default:
      return told("disk-error", std::string(error.what()) + "; nothing was written");
  }
}

bool is_kind(const std::string& kind) {
  return std::any_of(kKinds.begin(), kKinds.end(), [&](const char* known) { return kind == known; });
}

std::string what_is_wrong(const RecordDraft& draft) {
  if (!is_kind(draft.kind)) return "there is no kind of record '" + draft.kind + "'";
  if (!is_utc_time(draft.made_at)) return "'" + draft.made_at + "' is no time like 2026-02-28T09:30:00Z";
  if (draft.content.empty()) return "a record without content";
  return "";
}

Record record_of(SQLite::Statement& row) {
  Record record;
  record.number = row.getColumn(0).getInt64();
  record.draft.kind = row.getColumn(1).getString();
  record.draft.setup = row.getColumn(2).getString();
  if (!row.getColumn(3).isNull()) record.draft.about = row.getColumn(3).getInt64();
  record.draft.made_at = row.getColumn(4).getString();
  record.draft.made_by = row.getColumn(5).getString();
  record.draft.content = row.getColumn(6).getString();
  record.hash = row.getColumn(7).getString();
  return record;
}

// What stands in the way of changes: the triggers as they were written, one after the other.
std::string triggers_of(const SQLite::Database& database) {
  SQLite::Statement query(
      database,
      "SELECT coalesce(group_concat(sql, x'0a'), '') FROM (SELECT sql FROM sqlite_master WHERE type "
      "= 'trigger' AND tbl_name = 'record' ORDER BY name)");
  query.executeStep();
  return query.getColumn(0).getString();
}

SQLite::Database fresh_tables() {
  SQLite::Database database(":memory:", SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
  database.exec(kTables);
  return database;
}

constexpr const char* kColumns = "number, kind, setup, about, made_at, made_by, content, hash";

std::string select(const std::string& rest) { return std::string("SELECT ") + kColumns + " FROM record " + rest; }

}  // namespace

struct Register::Implementation {
  std::string path;
  mutable SQLite::Database database;

  Implementation(const std::string& file, int patience_ms)
      // Also for reading: a journal left by a crash must be played back first. A file that may not be written to is
      // opened for reading by SQLite itself.
      : path(file), database(file, SQLite::OPEN_READWRITE, patience_ms) {}

  void prepare() {
    database.exec("PRAGMA journal_mode = DELETE");
    // Flushes the folder too when the journal is gone from it: else a loss of power may bring the journal back, which
    // would take an acknowledged record with it.
    database.exec("PRAGMA synchronous = EXTRA");
    // Answers the same whatever was done to the triggers: INSERT OR REPLACE must fire them.
    database.exec("PRAGMA recursive_triggers = ON");
  }

  std::optional<Record> last() const {
    SQLite::Statement query(database, select("ORDER BY number DESC LIMIT 1"));
    return query.executeStep() ? std::optional(record_of(query)) : std::nullopt;
  }

  void insert(const Record& record) {
    SQLite::Statement statement(database, "INSERT INTO record VALUES (?, ?, ?, ?, ?, ?, ?, ?)");
    statement.bind(1, record.number);
    statement.bind(2, record.draft.kind);
    statement.bind(3, record.draft.setup);
    if (record.draft.about) statement.bind(4, *record.draft.about);
    statement.bind(5, record.draft.made_at);
    statement.bind(6, record.draft.made_by);
    statement.bind(7, record.draft.content);
    statement.bind(8, record.hash);
    statement.exec();
  }

  // Within a transaction: the record after `previous` (none: the first).
  Record follow(const std::optional<Record>& previous, const RecordDraft& draft) {
    Record record;
    record.number = previous ? previous->number + 1 : 1;
    record.draft = draft;
    record.hash = record::chain_hash(previous ? previous->hash : record::kFirstPrevious, record.number, draft);
    insert(record);
    return record;
  }

  // Runs `work` in one transaction that excludes other writers from its start, so that the last record read is the
  // last one when the new is written.
  template <class Work>
  auto writing(const Work& work) -> decltype(work()) {
    try {
      SQLite::Transaction transaction(database, SQLite::TransactionBehavior::IMMEDIATE);
      auto result = work();
      if (result) transaction.commit();
      return result;
    } catch (const SQLite::Exception& error) {
      return tl::unexpected<Failure>(failure_of(error, path));
    }
  }

  template <class Work>
  auto reading(const Work& work) const -> decltype(work()) {
    try {
      return work();
    } catch (const SQLite::Exception& error) {
      return tl::unexpected<Failure>(failure_of(error, path));
    }
  }

  std::optional<std::int64_t> number_about(std::int64_t number, const char* kind) const {
    SQLite::Statement query(database, "SELECT number FROM record WHERE about = ? AND kind = ? ORDER BY number LIMIT 1");
    query.bind(1, number);
    query.bind(2, std::string(kind));
    return query.executeStep() ? std::optional<std::int64_t>(query.getColumn(0).getInt64()) : std::nullopt;
  }

  ListedRecord listed(Record record) const {
    ListedRecord result;
    result.withdrawn_by = number_about(record.number, "withdrawal");
    result.superseded_by = number_about(record.number, "supersession");
    result.record = std::move(record);
    return result;
  }

  std::optional<Record> find(std::int64_t number) const {
    SQLite::Statement query(database, select("WHERE number = ?"));
    query.bind(1, number);
    return query.executeStep() ? std::optional(record_of(query)) : std::nullopt;
  }

  std::optional<Record> current(const std::string& setup) const {
    SQLite::Statement query(database, select("AS r WHERE setup = ? AND kind = 'calibration' AND NOT EXISTS (SELECT 1 "
                                             "FROM record AS o WHERE o.about = r.number AND o.kind IN ('withdrawal', "
                                             "'supersession')) ORDER BY number DESC LIMIT 1"));
    query.bind(1, setup);
    return query.executeStep() ? std::optional(record_of(query)) : std::nullopt;
  }

  std::optional<Record> last_lab_file() const {
    SQLite::Statement query(database, select("WHERE setup = '' AND kind = 'lab-file' ORDER BY number DESC LIMIT 1"));
    return query.executeStep() ? std::optional(record_of(query)) : std::nullopt;
  }
};

Register::Register(std::unique_ptr<Implementation> implementation) : implementation_(std::move(implementation)) {}
Register::~Register() = default;
Register::Register(Register&&) noexcept = default;
Register& Register::operator=(Register&&) noexcept = default;

Registered<Register> Register::create(const std::string& path) {
  // Made beside its place and put there whole, so that nobody ever meets half a register, and an existing file is
  // never touched.
  const std::string draft = path + ".new-" + std::to_string(getpid());
  if (access(path.c_str(), F_OK) == 0)
    return failed("exists", path + ": is there already; records are added to it, it is not made anew");
  try {
    unlink(draft.c_str());
    {
      SQLite::Database database(draft, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
      SQLite::Transaction whole(database);  // the disk is waited for once, not for every table and trigger
      database.exec("PRAGMA application_id = " + std::to_string(kApplication));
      database.exec("PRAGMA user_version = " + std::to_string(kSchema));
      database.exec(kTables);
      whole.commit();
    }
    const bool placed = link(draft.c_str(), path.c_str()) == 0;
    const int cause = errno;
    unlink(draft.c_str());
    if (!placed && cause != EEXIST)
      return failed("read-only",
                    path + ": could not be put there (" + std::strerror(cause) + "); choose another folder");
  } catch (const SQLite::Exception& error) {
    unlink(draft.c_str());
    return tl::unexpected<Failure>(failure_of(error, path));
  }
  return open(path, RegisterUse::write);
}

Registered<Register> Register::open(const std::string& path, RegisterUse use, int patience_ms) {
  struct stat facts {};
  if (stat(path.c_str(), &facts) != 0)
    return failed("missing", path + ": there is no register; calibrate with --record begins one");
  if (!S_ISREG(facts.st_mode)) return failed("not-a-register", path + ": is not a file");
  if (facts.st_size == 0)
    return failed("damaged", path + ": is empty, where a register never is; restore a copy or import an export");
  try {
    auto implementation = std::make_unique<Implementation>(path, patience_ms);
    SQLite::Database& database = implementation->database;
    const int application = database.execAndGet("PRAGMA application_id").getInt();
    const int schema = database.execAndGet("PRAGMA user_version").getInt();
    if (application != kApplication)
      return failed("not-a-register", path +
                                          ": is an SQLite file of another kind; name the register.sqlite that gradus "
                                          "made");
    if (schema > kSchema)
      return failed("newer", path + ": was written by a newer gradus (schema " + std::to_string(schema) +
                                 "); update gradus to at least that version");
    if (use == RegisterUse::write) implementation->prepare();
    implementation->last();  // a file that is cut off shows here
    return Register(std::move(implementation));
  } catch (const SQLite::Exception& error) {
    return tl::unexpected<Failure>(failure_of(error, path));
  }
}

Registered<std::vector<Record>> Register::append(std::span<const RecordDraft> drafts) {
  for (const RecordDraft& draft : drafts)
    if (const std::string wrong = what_is_wrong(draft); !wrong.empty()) return failed("invalid", wrong);
  return implementation_->writing([&]() -> Registered<std::vector<Record>> {
    std::vector<Record> written;
    std::optional<Record> previous = implementation_->last();
    for (const RecordDraft& draft : drafts) {
      written.push_back(implementation_->follow(previous, draft));
      previous = written.back();
    }
    return written;
  });
}

Registered<Record> Register::append_calibration(RecordDraft draft, const std::string& lab_file) {
  draft.kind = "calibration";
  if (const std::string wrong = what_is_wrong(draft); !wrong.empty()) return failed("invalid", wrong);
  return implementation_->writing([&]() -> Registered<Record> {
    std::optional<Record> previous = implementation_->last();
    const std::optional<Record> before = implementation_->current(draft.setup);
    std::optional<Record> kept = implementation_->last_lab_file();
    if (!kept || kept->draft.content != lab_file) {
      kept = implementation_->follow(previous,
                                     RecordDraft{"lab-file", "", std::nullopt, draft.made_at, draft.made_by, lab_file});
      previous = kept;
    }
    draft.about = kept->number;
    const Record calibration = implementation_->follow(previous, draft);
    if (before) {
      const nlohmann::json by = {{"superseded_by", calibration.number}};
      implementation_->follow(calibration, RecordDraft{"supersession", draft.setup, before->number, draft.made_at,
                                                       draft.made_by, by.dump()});
    }
    return calibration;
  });
}

Registered<Record> Register::withdraw(std::int64_t number, const std::string& reason, const std::string& made_at,
                                      const std::string& made_by) {
  const nlohmann::json content = {{"reason", reason}};
  return implementation_->writing([&]() -> Registered<Record> {
    const std::optional<Record> record = implementation_->find(number);
    const std::string named = "record " + std::to_string(number);
    if (!record) return failed("no-such-record", named + " does not exist; gradus register list shows those that do");
    const std::string& kind = record->draft.kind;
    if (kind != "calibration" && kind != "check" && kind != "measurement")
      return failed("invalid", named + " is a " + kind + "; only a calibration, check or measurement can be withdrawn");
    if (const auto by = implementation_->number_about(number, "withdrawal"))
      return failed("already-withdrawn", named + " was withdrawn already, by record " + std::to_string(*by));
    const RecordDraft draft{"withdrawal", record->draft.setup, number, made_at, made_by, content.dump()};
    if (const std::string wrong = what_is_wrong(draft); !wrong.empty()) return failed("invalid", wrong);
    return implementation_->follow(implementation_->last(), draft);
  });
}

Registered<ListedRecord> Register::show(std::int64_t number) const {
  return implementation_->reading([&]() -> Registered<ListedRecord> {
    auto record = implementation_->find(number);
    if (!record)
      return failed("no-such-record",
                    "record " + std::to_string(number) + " does not exist; gradus register list shows those that do");
    return implementation_->listed(std::move(*record));
  });
}

Registered<std::vector<ListedRecord>> Register::list(const std::string& setup) const {
  return implementation_->reading([&]() -> Registered<std::vector<ListedRecord>> {
    SQLite::Statement query(implementation_->database,
                            select(setup.empty() ? "ORDER BY number" : "WHERE setup = ? ORDER BY number"));
    if (!setup.empty()) query.bind(1, setup);
    std::vector<ListedRecord> records;
    while (query.executeStep()) records.push_back(implementation_->listed(record_of(query)));
    return records;
  });
}

Registered<std::optional<Record>> Register::current_calibration(const std::string& setup) const {
  return implementation_->reading(
      [&]() -> Registered<std::optional<Record>> { return implementation_->current(setup); });
}

Registered<Verification> Register::verify(const std::string& head) const {
  return implementation_->reading([&]() -> Registered<Verification> {
    Verification result;
    result.head = record::kFirstPrevious;
    const auto begins_with_head = [&](const std::string& hash) { return hash.compare(0, head.size(), head) == 0; };
    bool head_seen = begins_with_head(result.head);
    std::string day;  // of the record before
    SQLite::Statement query(implementation_->database, select("ORDER BY number"));
    while (query.executeStep()) {
      const Record record = record_of(query);
      const std::int64_t expected = result.records + 1;
      const bool whole =
          record.number == expected && record.hash == record::chain_hash(result.head, expected, record.draft);
      if (!whole) {
        result.first_wrong = expected;
        result.problem = record.number == expected ? "record " + std::to_string(expected) + " is not as it was written"
                                                   : "record " + std::to_string(expected) + " is missing";
        return result;
      }
      result.records = expected;
      result.head = record.hash;
      head_seen = head_seen || begins_with_head(record.hash);
      constexpr std::size_t kDay = 10;  // letters of 2026-02-28
      if (record.draft.made_at.compare(0, kDay, day) < 0) result.dated_before_last.push_back(record.number);
      day = record.draft.made_at.substr(0, kDay);
    }
    if (!head_seen)
      result.problem =
          "no record has the hash " + head + ": records were cut off the end, or the chain was written anew";
    else if (triggers_of(implementation_->database) != triggers_of(fresh_tables()))
      result.problem = "the triggers that keep records from being changed were removed from the file or replaced";
    return result;
  });
}

Registered<std::int64_t> Register::import(std::span<const Record> records) {
  std::string previous = record::kFirstPrevious;
  for (std::size_t i = 0; i < records.size(); ++i) {
    const Record& record = records[i];
    const auto number = static_cast<std::int64_t>(i) + 1;
    if (record.number != number || record.hash != record::chain_hash(previous, number, record.draft))
      return failed("damaged", "record " + std::to_string(number) + " of the export is not as it was written");
    previous = record.hash;
  }
  return implementation_->writing([&]() -> Registered<std::int64_t> {
    const std::optional<Record> last = implementation_->last();
    const auto have = last ? static_cast<std::size_t>(last->number) : 0;
    if (have > records.size() || (last && records[have - 1].hash != last->hash))
      return failed("diverged", "the export does not continue this register; import it into a register of its own");
    for (std::size_t i = have; i < records.size(); ++i) implementation_->insert(records[i]);
    return static_cast<std::int64_t>(records.size() - have);
  });
}

}  // namespace scale

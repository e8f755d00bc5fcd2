// The register: the append-only record of calibrations and checks of a room, one SQLite file.
//
// Chain.       Record n carries hash_n = SHA-256("gradus/record/1", hash_{n-1}, n, kind, set-up, about, time, operator,
//              content), each field led by its length in bytes, hash_0 = 64 zeros. A change to any field of any record
//              changes every later hash. Whoever can write the file can also compute a new chain: only a hash noted
//              elsewhere (`verify` with a head) finds a chain written anew, or a tail cut off.
// Durability.  Rollback journal, synchronous FULL: when `append` has returned, the records survive a crash. Triggers in
// the
//              file refuse to change, remove or insert before the end.
// Several.     Processes that write at the same time wait for each other, up to `patience_ms`.
// Failures.    As values, stage "register", code one of: missing, exists, not-a-register, damaged, newer, read-only,
//              locked, disk-full, disk-error, no-such-record, already-withdrawn, invalid, diverged. Nothing is lost by
//              any.
// Time.        Comes from the caller, in UTC: "2026-02-28T09:30:00Z".
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <tl/expected.hpp>
#include <vector>

#include <scale/failure.h>

namespace scale {

template <class Value>
using Registered = tl::expected<Value, Failure>;

// What is appended. `content` belongs to the caller (JSON, or the text of a lab file); the register only keeps it
// whole.
struct RecordDraft {
  std::string kind;                   // calibration, check, measurement, lab-file, withdrawal, supersession
  std::string setup;                  // empty for a lab file
  std::optional<std::int64_t> about;  // the record that this one withdraws, supersedes or rests on
  std::string made_at;                // UTC, ISO 8601, to the second
  std::string made_by;                // operator
  std::string content;
};

struct Record {
  std::int64_t number = 0;  // from 1, without gaps
  RecordDraft draft;
  std::string hash;  // 64 hexadecimal digits
};

// A calibration or check that was neither withdrawn nor superseded is `current`.
struct ListedRecord {
  Record record;
  std::optional<std::int64_t> withdrawn_by, superseded_by;
};

struct Verification {
  std::int64_t records = 0;
  std::string head;                         // hash of the last record; 64 zeros of an empty register
  std::optional<std::int64_t> first_wrong;  // number of the first record that is not as it was written
  std::string problem;                      // why the register is not sound; empty when it is
  // Records of an earlier day than the record before them. The chain proves their order all the same; it was the clock,
  // or a time that was given, that was not right. Within a day two programs at once may well be in that order.
  std::vector<std::int64_t> dated_before_last;
};

enum class RegisterUse { read, write };

class Register {
 public:
  // Makes an empty register; fails with `exists` when there is a file.
  static Registered<Register> create(const std::string& path);
  static Registered<Register> open(const std::string& path, RegisterUse use, int patience_ms = 10000);
  ~Register();
  Register(Register&&) noexcept;
  Register& operator=(Register&&) noexcept;

  // All or none, in one transaction; the records as they were written.
  Registered<std::vector<Record>> append(std::span<const RecordDraft> drafts);

  // A calibration of its set-up; when there is a current one, a record that it is superseded follows. `lab_file` is
  // kept as a record of its own when it is not the last one kept. The calibration is the one returned; its `about` is
  // the record of the lab file.
  Registered<Record> append_calibration(RecordDraft draft, const std::string& lab_file);

  // Why a record no longer holds. Fails with no-such-record or already-withdrawn.
  Registered<Record> withdraw(std::int64_t number, const std::string& reason, const std::string& made_at,
                              const std::string& made_by);

  Registered<ListedRecord> show(std::int64_t number) const;
  // In order of number; `setup` empty: of all.
  Registered<std::vector<ListedRecord>> list(const std::string& setup = "") const;
  // The last calibration of the set-up that is neither withdrawn nor superseded; none when there is none.
  Registered<std::optional<Record>> current_calibration(const std::string& setup) const;

  // Recomputes the chain from the first record. `head` is a hash noted elsewhere, or its first digits: one of the
  // records must have it.
  Registered<Verification> verify(const std::string& head = "") const;

  // Appends what `records`, a whole chain from 1, has beyond this register; fails with `diverged` when the two differ
  // before that, `damaged` when the chain is not sound. How many were new.
  Registered<std::int64_t> import(std::span<const Record> records);

 private:
  struct Implementation;
  explicit Register(std::unique_ptr<Implementation> implementation);
  std::unique_ptr<Implementation> implementation_;
};

// Is this a time the register takes?
bool is_utc_time(const std::string& text);

// SHA-256 of `bytes` as 64 hexadecimal digits.
std::string sha256(std::string_view bytes);

}  // namespace scale

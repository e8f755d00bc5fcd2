#include <SQLiteCpp/SQLiteCpp.h>
#include <doctest/doctest.h>
#include <scale/register.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>
#include <fstream>

using namespace scale;

namespace {

namespace fs = std::filesystem;

const std::string kTime = "2026-02-28T09:30:00Z";
const std::string kNothing(64, '0');

struct Folder {
  fs::path path;
  Folder() {
    std::string pattern = (fs::temp_directory_path() / "gradus-register-XXXXXX").string();
    if (mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary folder");
    path = pattern;
  }
  ~Folder() { fs::remove_all(path); }
  std::string file(const std::string& name = "register.sqlite") const { return (path / name).string(); }
};

RecordDraft check_of(const std::string& setup, const std::string& content) {
  return {"check", setup, std::nullopt, kTime, "A. Tester", content};
}

RecordDraft calibration_of(const std::string& setup) {
  return {"calibration", setup, std::nullopt, kTime, "A. Tester", "{\"um_per_pixel\": 0.69}"};
}

Register opened(const Folder& folder) {
  auto made = Register::create(folder.file());
  if (!made && made.error().code == "exists") made = Register::open(folder.file(), RegisterUse::write);
  if (!made) throw std::runtime_error(made.error().message);
  return std::move(*made);
}

// What a person with an SQLite program could do to the file, triggers dropped first.
void tamper(const Folder& folder, const std::string& statement, bool drop_triggers = true) {
  SQLite::Database database(folder.file(), SQLite::OPEN_READWRITE);
  if (drop_triggers)
    for (const char* name : {"record_never_changes", "record_never_goes", "record_follows_the_last"})
      database.exec(std::string("DROP TRIGGER ") + name);
  database.exec(statement);
}

// As they were written, to be put back.
std::string triggers_in(const Folder& folder) {
  SQLite::Database database(folder.file(), SQLite::OPEN_READONLY);
  return database.execAndGet("SELECT group_concat(sql, ';') FROM sqlite_master WHERE type = 'trigger'").getString();
}

std::string failure_code(const std::string& path, RegisterUse use = RegisterUse::write) {
  const auto result = Register::open(path, use, 50);
  return result ? "" : result.error().code;
}

void append_some(Register& reg, int count) {
  for (int i = 0; i < count; ++i) REQUIRE(reg.append(std::vector{check_of("wool-10x", std::to_string(i))}).has_value());
}

}  // namespace

TEST_CASE("SHA-256 of \"abc\" is that of FIPS 180-4, and the chain begins with zeros") {
  CHECK(sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  const Folder folder;
  const auto verified = opened(folder).verify();
  REQUIRE(verified.has_value());
  CHECK(verified->head == kNothing);
  CHECK(verified->problem.empty());
}

TEST_CASE("records are numbered from 1, chained and read back as they were written") {
  const Folder folder;
  Register reg = opened(folder);
  const auto written = reg.append(std::vector{check_of("wool-10x", "one"), check_of("wool-40x", "zwei \"ü\"\n")});
  REQUIRE(written.has_value());
  CHECK((*written)[1].number == 2);
  const auto listed = reg.list();
  REQUIRE(listed->size() == 2);
  CHECK((*listed)[1].record.draft.content == "zwei \"ü\"\n");
  CHECK((*listed)[1].record.hash == (*written)[1].hash);
  CHECK(reg.list("wool-40x")->size() == 1);
  const auto verified = reg.verify((*written)[0].hash);
  CHECK(verified->problem.empty());
  CHECK(verified->records == 2);
  CHECK(verified->head == (*written)[1].hash);
}

TEST_CASE("a newer calibration supersedes the current one, and a withdrawn one is current no more") {
  const Folder folder;
  Register reg = opened(folder);
  const auto first = reg.append_calibration(calibration_of("wool-10x"), "lab one");
  const auto second = reg.append_calibration(calibration_of("wool-10x"), "lab one");
  REQUIRE((first && second));
  CHECK(first->number == 2);  // after the lab file
  CHECK(second->draft.about == 1);
  CHECK(reg.show(first->number)->superseded_by == second->number + 1);
  CHECK((*reg.current_calibration("wool-10x"))->number == second->number);
  REQUIRE(reg.withdraw(second->number, "wrong objective", kTime, "A. Tester").has_value());
  CHECK_FALSE(reg.current_calibration("wool-10x")->has_value());
  CHECK(reg.withdraw(second->number, "again", kTime, "").error().code == "already-withdrawn");
  CHECK(reg.withdraw(99, "none", kTime, "").error().code == "no-such-record");
  CHECK(reg.withdraw(1, "a lab file", kTime, "").error().code == "invalid");
  CHECK(reg.append_calibration(calibration_of("wool-10x"), "lab two")->draft.about != 1);
  CHECK(reg.verify()->problem.empty());
}

TEST_CASE("the file itself refuses to change or remove records, and to put one in between") {
  const Folder folder;
  Register reg = opened(folder);
  append_some(reg, 2);
  const std::string values = "'check', 'x', NULL, '', '', 'x', 'x')";
  CHECK_THROWS_AS(tamper(folder, "UPDATE record SET content = 'x' WHERE number = 1", false), SQLite::Exception);
  CHECK_THROWS_AS(tamper(folder, "DELETE FROM record WHERE number = 2", false), SQLite::Exception);
  CHECK_THROWS_AS(tamper(folder, "INSERT INTO record VALUES (9, " + values, false), SQLite::Exception);
  CHECK_THROWS_AS(tamper(folder, "INSERT OR REPLACE INTO record VALUES (1, " + values, false), SQLite::Exception);
  CHECK(reg.verify()->problem.empty());
}

TEST_CASE("verify names the first record that was altered, whichever field it was") {
  for (const char* change :
       {"content = 'better'", "kind = 'measurement'", "setup = 'wool-40x'", "about = 1",
        "made_at = '2020-01-01T00:00:00Z'", "made_by = 'somebody'", "hash = replace(hash, '0', '1')"}) {
    CAPTURE(change);
    const Folder folder;
    Register reg = opened(folder);
    append_some(reg, 5);
    tamper(folder, std::string("UPDATE record SET ") + change + " WHERE number = 3");
    CHECK(reg.verify()->first_wrong == 3);
  }
}

TEST_CASE("verify names a record of an earlier day than the one before it, and calls the chain whole") {
  const Folder folder;
  Register reg = opened(folder);
  for (const char* time : {"2026-02-28T09:30:00Z", "2026-02-28T09:29:00Z", "2026-02-27T23:59:59Z",
                           "2026-03-01T00:00:00Z", "2025-12-31T12:00:00Z", "2026-03-02T08:00:00Z"}) {
    RecordDraft draft = check_of("wool-10x", "{}");
    draft.made_at = time;
    REQUIRE(reg.append(std::vector{draft}).has_value());
  }
  const auto verified = reg.verify();
  CHECK(verified->problem.empty());
  CHECK(verified->dated_before_last == std::vector<std::int64_t>{3, 5});
}

TEST_CASE("verify finds a record that was taken out, and triggers that were removed") {
  const Folder folder;
  Register reg = opened(folder);
  append_some(reg, 5);
  tamper(folder, "DELETE FROM record WHERE number = 3");
  CHECK(reg.verify()->first_wrong == 3);
  const Folder other;
  Register bare = opened(other);
  append_some(bare, 2);
  tamper(other, "SELECT 1");
  CHECK(bare.verify()->problem.find("triggers") != std::string::npos);
  // Three of the same names that do nothing are no better.
  const Folder dressed;
  Register up = opened(dressed);
  append_some(up, 2);
  tamper(dressed,
         "CREATE TRIGGER record_never_changes BEFORE UPDATE ON record BEGIN SELECT 1; END; CREATE TRIGGER "
         "record_never_goes BEFORE DELETE ON record BEGIN SELECT 1; END; CREATE TRIGGER record_follows_the_last BEFORE "
         "INSERT ON record BEGIN SELECT 1; END");
  CHECK(up.verify()->problem.find("triggers") != std::string::npos);
}

TEST_CASE("a cut tail, and a chain written anew, are found by a hash noted elsewhere and by nothing else") {
  const Folder folder;
  Register reg = opened(folder);
  append_some(reg, 5);
  const std::string noted = reg.verify()->head;
  const std::string triggers = triggers_in(folder);
  tamper(folder, "DELETE FROM record WHERE number = 5; " + triggers);
  CHECK(reg.verify()->problem.empty());
  CHECK(reg.verify(noted)->problem.find(noted) != std::string::npos);
  CHECK(reg.verify(noted.substr(0, 16))->problem.find("cut off") != std::string::npos);
  CHECK(reg.verify(reg.verify()->head.substr(0, 16))->problem.empty());
  const Folder anew;
  Register rewritten = opened(anew);
  for (int i = 0; i < 5; ++i) REQUIRE(rewritten.append(std::vector{check_of("wool-10x", "better")}).has_value());
  CHECK(rewritten.verify()->problem.empty());
  CHECK_FALSE(rewritten.verify(noted)->problem.empty());
}

TEST_CASE("an export is taken in where it continues the register, and only there") {
  const Folder folder, other;
  Register reg = opened(folder), copy = opened(other);
  append_some(reg, 3);
  std::vector<Record> exported;
  const auto listed = reg.list();
  for (const ListedRecord& one : *listed) exported.push_back(one.record);
  CHECK(*copy.import(exported) == 3);
  CHECK(*copy.import(exported) == 0);
  CHECK(copy.verify()->head == reg.verify()->head);
  append_some(copy, 1);
  CHECK(copy.import(exported).error().code == "diverged");
  std::vector<Record> altered = exported;
  altered[1].draft.content = "better";
  CHECK(reg.import(altered).error().code == "damaged");
}

TEST_CASE("what is no register is refused, each with its code") {
  const Folder folder;
  CHECK(failure_code(folder.file("none")) == "missing");
  CHECK(failure_code(folder.path.string()) == "not-a-register");
  std::ofstream(folder.file("empty")).close();
  CHECK(failure_code(folder.file("empty")) == "damaged");
  std::ofstream(folder.file("text")) << std::string(5000, 'x');
  CHECK(failure_code(folder.file("text")) == "not-a-register");
  SQLite::Database(folder.file("other"), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE).exec("CREATE TABLE t (a)");
  CHECK(failure_code(folder.file("other")) == "not-a-register");
  CHECK(Register::create(folder.file("text")).error().code == "exists");
}

TEST_CASE("a register that is cut off, or of a newer program, is refused and left as it is") {
  const Folder folder;
  {
    Register reg = opened(folder);
    append_some(reg, 200);
  }
  const auto size = fs::file_size(folder.file());
  fs::copy_file(folder.file(), folder.file("cut"));
  fs::resize_file(folder.file("cut"), size / 2);
  CHECK(failure_code(folder.file("cut")) == "damaged");
  CHECK(fs::file_size(folder.file("cut")) == size / 2);
  SQLite::Database(folder.file(), SQLite::OPEN_READWRITE).exec("PRAGMA user_version = 2");
  CHECK(failure_code(folder.file()) == "newer");
}

TEST_CASE("a register held by another program is told after the time given, with nothing lost") {
  const Folder folder;
  append_some(*std::make_unique<Register>(opened(folder)), 1);
  SQLite::Database holder(folder.file(), SQLite::OPEN_READWRITE);
  holder.exec("BEGIN EXCLUSIVE");
  const auto held = Register::open(folder.file(), RegisterUse::write, 50);
  CHECK((held ? "" : held.error().code) == "locked");
  holder.exec("ROLLBACK");
  CHECK(opened(folder).verify()->records == 1);
}

TEST_CASE("a full disk is told, the register stays whole, and goes on when there is room") {
  const Folder folder;
  Register reg = opened(folder);
  append_some(reg, 1);
  const pid_t child = fork();
  if (child == 0) {
    std::signal(SIGXFSZ, SIG_IGN);
    const rlimit limit{fs::file_size(folder.file()) + 4096, RLIM_INFINITY};
    setrlimit(RLIMIT_FSIZE, &limit);
    auto own = Register::open(folder.file(), RegisterUse::write);
    const auto written = own->append(std::vector{check_of("wool-10x", std::string(100000, 'x'))});
    const bool told = !written && (written.error().code == "disk-full" || written.error().code == "disk-error");
    _exit(told ? 0 : 1);
  }
  int status = 0;
  waitpid(child, &status, 0);
  CHECK(WEXITSTATUS(status) == 0);
  CHECK(reg.verify()->records == 1);
  append_some(reg, 1);
  CHECK(reg.verify()->problem.empty());
}

TEST_CASE("what must not be recorded is refused before anything is written") {
  const Folder folder;
  Register reg = opened(folder);
  for (const char* time : {"2026-02-28", "2026-02-30T09:30:00Z", "2026-02-28T24:00:00Z", "2026-02-28T09:30:00+01:00"}) {
    RecordDraft draft = check_of("wool-10x", "x");
    draft.made_at = time;
    CHECK(reg.append(std::vector{draft}).error().code == "invalid");
  }
  RecordDraft unknown = check_of("wool-10x", "x");
  unknown.kind = "opinion";
  CHECK(reg.append(std::vector{check_of("wool-10x", "good"), unknown}).error().code == "invalid");
  CHECK(reg.verify()->records == 0);
}

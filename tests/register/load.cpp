// A register of many records: how long it takes to append to it, verify it and read one set-up's history.
//
//   load --records 100000
#include <fcntl.h>
#include <scale/register.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <chrono>
#include <ctime>
#include <filesystem>
#include <iomanip>
#include <iostream>

namespace {

namespace fs = std::filesystem;
using namespace scale;
using Clock = std::chrono::steady_clock;

// Milliseconds, for 100 000 records; a share of the records must stay within them all the more. An append waits for the
// disk five times (journal, folder, its head, file, folder): on a disk that flushes slowly the first is the
// disk's. What one flush takes and what each computes are printed beside, so that the limits can be judged on any disk
// and beside other work.
constexpr double kAppendLimit = 5.0, kVerifyLimit = 2000.0, kHistoryLimit = 50.0;
constexpr int kSetups = 200;
constexpr int kAppends = 101;

double since(Clock::time_point start) {
  return std::chrono::duration<double, std::milli>(Clock::now() - start).count();
}

// As long as the record of a calibration with three shots.
RecordDraft draft_of(int i) {
  return {"check",     "set-up " + std::to_string(i % kSetups),   std::nullopt, "2026-02-28T09:30:00Z",
          "A. Tester", std::string(2500, 'x') + std::to_string(i)};
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

// How long this disk takes to flush one page.
double flush_time(const fs::path& folder) {
  const int file = open((folder / "flush").c_str(), O_WRONLY | O_CREAT, 0600);
  const std::string page(4096, 'x');
  std::vector<double> times;
  for (int i = 0; i < kAppends; ++i) {
    const auto start = Clock::now();
    if (write(file, page.data(), page.size()) < 0 || fdatasync(file) != 0) return 0.0;
    times.push_back(since(start));
  }
  close(file);
  return median(times);
}

// Milliseconds of processor time that this process has used.
double processor() { return 1e3 * static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

bool tell(const std::string& what, double measured, double limit, double computing) {
  const bool held = measured <= limit;
  std::cout << std::left << std::setw(34) << what << std::right << std::fixed << std::setprecision(2) << std::setw(10)
            << measured << " ms, limit " << limit << (held ? "" : ": MISSED") << "; computes for " << computing
            << " ms\n";
  return held;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Times a register of many records");
  int records = 100000;
  std::string where = fs::temp_directory_path().string();
  app.add_option("--records", records, "How many");
  app.add_option("--folder", where, "Where the register is made");
  CLI11_PARSE(app, argc, argv);
  std::string pattern = where + "/gradus-load-XXXXXX";
  const fs::path folder = mkdtemp(pattern.data());
  auto reg = Register::create((folder / "register.sqlite").string());
  if (!reg) return 1;
  std::vector<RecordDraft> drafts;
  for (int i = 0; i < records; ++i) drafts.push_back(draft_of(i));
  bool good = reg->append(drafts).has_value();
  std::vector<double> appends;
  const double processor_before = processor();
  for (int i = 0; i < kAppends; ++i) {
    const auto start = Clock::now();
    good = reg->append(std::vector{draft_of(i)}).has_value() && good;
    appends.push_back(since(start));
  }
  const double computing = (processor() - processor_before) / kAppends;
  auto start = Clock::now();
  double computed = processor();
  const auto verified = reg->verify();
  const double verify = since(start), verify_computing = processor() - computed;
  start = Clock::now();
  computed = processor();
  const auto history = reg->list("set-up 17");
  const double list = since(start), list_computing = processor() - computed;
  good = good && verified && verified->problem.empty() && verified->records == records + kAppends;
  good = good && history && history->size() >= static_cast<std::size_t>(records / kSetups);
  if (!good) std::cout << "the answers are wrong\n";
  std::cout << records << " records, " << fs::file_size(folder / "register.sqlite") / 1000000 << " MB\n";
  std::cout << "a page is written and flushed in " << std::fixed << std::setprecision(2) << flush_time(folder)
            << " ms (median of " << kAppends << ")\n";
  good = tell("append one, median of 101", median(appends), kAppendLimit, computing) && good;
  good = tell("verify", verify, kVerifyLimit, verify_computing) && good;
  good = tell("history of one set-up", list, kHistoryLimit, list_computing) && good;
  fs::remove_all(folder);
  return good ? 0 : 1;
}

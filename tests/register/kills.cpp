// Kills programs that write to a register, at random instants, and looks at what is left: every record whose number was
// given out must be there, the chain whole, the file open. Two write at once, and each must get its records in.
//
//   kills --kills 1000 --seed 7
#include <fcntl.h>
#include <scale/register.h>
#include <sys/wait.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <csignal>
#include <cstdint>
#include <filesystem>
#include <iostream>
#include <random>

namespace {

namespace fs = std::filesystem;
using namespace scale;

const std::string kTime = "2026-02-28T09:30:00Z";
constexpr int kWriters = 2;
constexpr int kLongestLifeMicroseconds = 60000;
// Between two records of a writer: who waits for the file looks again after a millisecond or more, and in its short
// life would find it taken each time.
constexpr int kPauseMicroseconds = 2000;

RecordDraft draft_of(int writer) {
  return {"check", "writer-" + std::to_string(writer), std::nullopt, kTime, "", std::string(3000, 'x')};
}

// Writes records one by one and says the number of each as soon as it was given. Never comes back.
[[noreturn]] void write_for_ever(const std::string& path, int writer, int to) {
  auto reg = Register::open(path, RegisterUse::write);
  if (!reg) _exit(3);
  for (;;) {
    const auto written = reg->append(std::vector{draft_of(writer)});
    if (!written) _exit(4);
    const std::int64_t number = written->front().number;
    if (write(to, &number, sizeof number) != sizeof number) _exit(5);
    usleep(kPauseMicroseconds);
  }
}

struct Writer {
  pid_t process;
  int from;
};

Writer start(const std::string& path, int number) {
  int ends[2];
  if (pipe(ends) != 0) throw std::runtime_error("no pipe");
  const pid_t process = fork();
  if (process == 0) {
    close(ends[0]);
    write_for_ever(path, number, ends[1]);
  }
  close(ends[1]);
  return {process, ends[0]};
}

// The numbers that a writer gave out; false when it ended otherwise than by the kill.
bool collect(const Writer& writer, std::vector<std::int64_t>& acknowledged) {
  std::int64_t number = 0;
  while (read(writer.from, &number, sizeof number) == sizeof number) acknowledged.push_back(number);
  close(writer.from);
  int status = 0;
  waitpid(writer.process, &status, 0);
  if (WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL) return true;
  std::cout << "a writer ended by itself with " << WEXITSTATUS(status) << '\n';
  return false;
}

// What is wrong with the register after a kill; empty when nothing is.
std::string damage(const std::string& path, const std::vector<std::int64_t>& acknowledged) {
  const auto reg = Register::open(path, RegisterUse::read);
  if (!reg) return reg.error().message;
  const auto verified = reg->verify();
  if (!verified) return verified.error().message;
  if (!verified->problem.empty()) return verified->problem;
  for (const std::int64_t number : acknowledged)
    if (number > verified->records) return "record " + std::to_string(number) + " was given out and is gone";
  return "";
}

// One round: two writers, killed after a random while. The numbers given out are added.
bool round_of_kills(const std::string& path, std::mt19937_64& random, std::vector<std::int64_t>& acknowledged,
                    std::vector<std::size_t>& share) {
  std::vector<Writer> writers;
  for (int i = 0; i < kWriters; ++i) writers.push_back(start(path, i));
  usleep(static_cast<useconds_t>(random() % kLongestLifeMicroseconds));
  bool good = true;
  for (const Writer& writer : writers) kill(writer.process, SIGKILL);
  for (std::size_t i = 0; i < writers.size(); ++i) {
    const std::size_t before = acknowledged.size();
    good = collect(writers[i], acknowledged) && good;
    share[i] += acknowledged.size() - before;
  }
  return good;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Kills writers of a register and looks at what is left");
  int kills = 100;
  std::uint64_t seed = 1;
  app.add_option("--kills", kills, "Processes to kill");
  app.add_option("--seed", seed, "Of the instants");
  CLI11_PARSE(app, argc, argv);
  std::string pattern = (fs::temp_directory_path() / "gradus-kills-XXXXXX").string();
  const fs::path folder = mkdtemp(pattern.data());
  const std::string path = (folder / "register.sqlite").string();
  std::mt19937_64 random(seed);
  std::vector<std::int64_t> acknowledged;
  std::vector<std::size_t> share(kWriters);
  int killed = 0;
  std::string wrong = Register::create(path) ? "" : "no register could be made";
  for (; killed < kills && wrong.empty(); killed += kWriters) {
    if (!round_of_kills(path, random, acknowledged, share)) wrong = "a writer failed";
    if (wrong.empty()) wrong = damage(path, acknowledged);
    // A register that grows for ever would make each look at it longer; the old one was found whole.
    if (acknowledged.size() > 2000) {
      fs::remove(path);
      acknowledged.clear();
      if (!Register::create(path)) wrong = "no register could be made";
    }
  }
  fs::remove_all(folder);
  std::cout << killed << " killed, records given out to each writer: " << share[0] << ", " << share[1] << '\n';
  if (wrong.empty() && (share[0] == 0 || share[1] == 0)) wrong = "a writer never got a record in";
  if (!wrong.empty()) std::cout << "FAILED: " << wrong << '\n';
  return wrong.empty() ? 0 : 1;
}

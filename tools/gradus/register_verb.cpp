#include "register_verb.h"

#include <images/output_file.h>
#include <scale/register.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "advise.h"
#include "affected.h"
#include "checked_before.h"
#include "columns.h"
#include "lab_options.h"
#include "messages.h"
#include "new_lab.h"
#include "outputs.h"
#include "recording.h"
#include "register_export.h"
#include "text.h"

namespace gradus {
namespace {

constexpr int kDone = 0, kNotSound = 1, kUnusable = 2;

int fail(const scale::Failure& failure) {
  complain(failure.message);
  return kUnusable;
}

int print(const std::string& text) {
  const std::string problem = deliver("-", text);
  if (!problem.empty()) complain(problem);
  return problem.empty() ? kDone : kUnusable;
}

scale::Registered<scale::Register> opened(const RegisterOptions& options, scale::RegisterUse use) {
  return scale::Register::open(options.file, use);
}

std::string about_words(const scale::RecordDraft& draft) {
  if (!draft.about) return "";
  const std::string number = std::to_string(*draft.about);
  if (draft.kind == "withdrawal") return std::string("withdraws ").append(number);
  if (draft.kind == "supersession") return std::string("supersedes ").append(number);
  if (draft.kind == "check") return std::string("against ").append(number);
  return "";
}

std::string table_of(const std::vector<scale::ListedRecord>& records) {
  const std::vector<std::string> head = {"no.", "kind", "set-up", "made at", "by", "factor or verdicts", "state"};
  Columns columns({true, false, false, false, false, false, false});
  std::vector<std::vector<std::string>> rows;
  for (const scale::ListedRecord& listed : records) {
    const scale::RecordDraft& draft = listed.record.draft;
    rows.push_back({std::to_string(listed.record.number), draft.kind, printable(draft.setup), draft.made_at,
                    printable(draft.made_by),
                    draft.kind == "check" ? verdicts_in(listed.record) : summary_of(listed.record),
                    draft.about && state_of(listed).empty() ? about_words(draft) : state_of(listed)});
  }
  columns.widen(head);
  for (const auto& row : rows) columns.widen(row);
  std::string text = columns.line(head) + columns.rule();
  for (const auto& row : rows) text += columns.line(row);
  return text + columns.rule() + std::to_string(rows.size()) + (rows.size() == 1 ? " record.\n" : " records.\n");
}

int list(const RegisterOptions& options) {
  const auto reg = opened(options, scale::RegisterUse::read);
  if (!reg) return fail(reg.error());
  const auto records = reg->list(options.setup);
  return records ? print(table_of(*records)) : fail(records.error());
}

// The records of the set-up that was named; a failure when there are none.
scale::Registered<std::vector<scale::ListedRecord>> records_of_setup(const scale::Registered<scale::Register>& reg,
                                                                     const RegisterOptions& options) {
  if (!reg) return tl::unexpected(reg.error());
  auto records = reg->list(options.setup);
  if (records && records->empty())
    return tl::unexpected(scale::Failure{
        "register", "no-such-record",
        options.file + ": there is no record of a set-up '" + options.setup + "'; gradus register list shows all"});
  return records;
}

// Says which record is not as it was written; nothing is to be concluded from such a register. The whole chain has to
// be gone through for that: a record is only proved by all before it.
bool is_broken(const scale::Register& reg, const std::string& file) {
  const auto verified = reg.verify("");
  if (!verified) complain(verified.error().message);
  if (verified && !verified->problem.empty())
    complain(file + ": " + verified->problem +
             "; no chart is drawn from it. Keep this file, and compare it with a copy or an export");
  return !verified || !verified->problem.empty();
}

int history(const RegisterOptions& options) {
  const auto reg = opened(options, scale::RegisterUse::read);
  const auto records = records_of_setup(reg, options);
  if (!records) return fail(records.error());
  if (is_broken(*reg, options.file)) return kNotSound;
  const auto charts = charts_of(options.history, options.setup, options.file);
  return charts ? write_history(*records, options.setup, table_of(*records), options.history, *charts) : kUnusable;
}

int affected(const RegisterOptions& options) {
  if (!is_day_or_time(options.since)) {
    complain("--since: '" + options.since + "' is no day; write it like 2026-02-28, or 2026-02-28T09:30:00Z");
    return kUnusable;
  }
  const auto records = records_of_setup(opened(options, scale::RegisterUse::read), options);
  return records ? print(table_of(affected_records(*records, {options.since, 0}))) : fail(records.error());
}

int show(const RegisterOptions& options) {
  const auto reg = opened(options, scale::RegisterUse::read);
  if (!reg) return fail(reg.error());
  const auto listed = reg->show(options.number);
  if (!listed) return fail(listed.error());
  const scale::RecordDraft& draft = listed->record.draft;
  std::string text = "record  ";
  text.append(std::to_string(options.number)).append(", ").append(draft.kind).append("\n");
  if (!draft.setup.empty()) text.append("set-up  ").append(printable(draft.setup)).append("\n");
  text.append("made    ").append(draft.made_at).append(" by ").append(printable(draft.made_by)).append("\n");
  if (const std::string summary = summary_of(listed->record); !summary.empty())
    text.append("factor  ").append(summary).append("\n");
  const std::string state = state_of(*listed);
  if (!state.empty()) text.append("state   ").append(state).append("\n");
  text.append("hash    ").append(listed->record.hash).append("\n\n");
  return print(text.append(readable_content(listed->record)).append("\n"));
}

// Whether the clock was wrong or a time given by --at, only a person can tell.
void warn_of_days(const scale::Register& reg, const std::vector<std::int64_t>& numbers, const std::string& file) {
  constexpr std::size_t kMost = 5;
  for (std::size_t i = 0; i < std::min(numbers.size(), kMost); ++i) {
    const auto record = reg.show(numbers[i]), before = reg.show(numbers[i] - 1);
    if (!record || !before) continue;
    complain(file + ": record " + std::to_string(numbers[i]) + " is dated " + record->record.draft.made_at +
             ", before record " + std::to_string(numbers[i] - 1) + " of " + before->record.draft.made_at +
             "; check the clock, or why the time was given");
  }
  if (numbers.size() > kMost) complain(file + ": so are " + std::to_string(numbers.size() - kMost) + " more records");
}

// The first digits of a hash are enough, as many as stand in the foot of a sheet; a slip of the pen must not look like
// a register that was cut.
std::string head_misfit(const std::string& head) {
  constexpr std::size_t kLeast = 16, kMost = 64;
  const bool digits = head.find_first_not_of("0123456789abcdef") == std::string::npos;
  if (head.empty() || (digits && head.size() >= kLeast && head.size() <= kMost)) return "";
  return "--head: '" + head + "' is no hash; write its 64 digits (0 to 9, a to f) or the first 16 of them or more";
}

int verify(const RegisterOptions& options) {
  if (const std::string misfit = head_misfit(options.head); !misfit.empty()) {
    complain(misfit);
    return kUnusable;
  }
  const auto reg = opened(options, scale::RegisterUse::read);
  if (!reg) return fail(reg.error());
  const auto verified = reg->verify(options.head);
  if (!verified) return fail(verified.error());
  if (!verified->problem.empty()) {
    complain(options.file + ": " + verified->problem + "; keep this file, and compare it with a copy or an export");
    return kNotSound;
  }
  warn_of_days(*reg, verified->dated_before_last, options.file);
  std::string text = options.file + ": all ";
  text.append(std::to_string(verified->records)).append(" records are as they were written.\nhead    ");
  text.append(verified->head).append("\n");
  if (options.head.empty())
    text.append("Note this hash elsewhere: verify --head finds a cut tail, or a chain written anew, by it alone.\n");
  return print(text);
}

std::string time_of(const RegisterOptions& options) { return options.made_at.empty() ? utc_now() : options.made_at; }

int withdraw(const RegisterOptions& options) {
  auto reg = opened(options, scale::RegisterUse::write);
  if (!reg) return fail(reg.error());
  const auto record = reg->withdraw(options.number, options.reason, time_of(options), options.made_by);
  if (!record) return fail(record.error());
  std::string text = "Record ";
  return print(text.append(std::to_string(options.number))
                   .append(" is withdrawn, by record ")
                   .append(std::to_string(record->number))
                   .append(".\n"));
}

int export_records(const RegisterOptions& options) {
  const auto reg = opened(options, scale::RegisterUse::read);
  if (!reg) return fail(reg.error());
  const auto records = reg->list();
  if (!records) return fail(records.error());
  if (const std::string problem = output_problem({options.json, options.csv, ""}, {}); !problem.empty()) {
    complain(problem);
    return kUnusable;
  }
  for (const auto& [target, text] :
       {std::pair{options.json, register_json(*records)}, std::pair{options.csv, register_csv(*records)}}) {
    if (target.empty()) continue;
    if (const std::string problem = deliver(target, text); !problem.empty()) {
      complain(problem);
      return kUnusable;
    }
  }
  return kDone;
}

int import_records(const RegisterOptions& options) {
  std::ifstream file(options.from, std::ios::binary);
  const std::string text(std::istreambuf_iterator<char>(file), {});
  if (!file) {
    complain(options.from + ": cannot be read; name the JSON of gradus register export");
    return kUnusable;
  }
  const auto records = records_of_json(text);
  if (!records) {
    complain(options.from + ": " + records.error());
    return kUnusable;
  }
  auto reg = opened(options, scale::RegisterUse::write);
  if (!reg && reg.error().code == "missing") reg = scale::Register::create(options.file);
  if (!reg) return fail(reg.error());
  const auto added = reg->import(*records);
  if (!added) {
    complain(options.from + ": " + added.error().message);
    return kUnusable;
  }
  return print(std::to_string(*added).append(*added == 1 ? " record was" : " records were").append(" new.\n"));
}

CLI::App* add_verb(CLI::App& verb, RegisterOptions& options, const std::string& name, const std::string& help) {
  CLI::App* own = verb.add_subcommand(name, help);
  own->add_option("--register", options.file, "The register (default: register.sqlite in this folder)")
      ->type_name("FILE");
  return own;
}

void add_author(CLI::App& verb, RegisterOptions& options) {
  verb.add_option("--operator", options.made_by, "Who does it")->type_name("NAME")->required()->check(not_blank());
  verb.add_option("--at", options.made_at, "Time in UTC, like 2026-02-28T09:30:00Z (default: now)")->type_name("TIME");
}

void add_number(CLI::App& verb, RegisterOptions& options) {
  verb.add_option("N", options.number, "Number of the record")
      ->type_name("")
      ->required()
      ->check(CLI::Range(std::int64_t{1}, std::numeric_limits<std::int64_t>::max()).description(""));
}

void add_reading_verbs(CLI::App& verb, RegisterOptions& options) {
  add_verb(verb, options, "list", "Every record, one line each")
      ->add_option("--setup", options.setup, "Of this set-up alone")
      ->type_name("NAME");
  add_number(*add_verb(verb, options, "show", "One record with all it holds"), options);
  CLI::App* history = add_verb(verb, options, "history", "The records of one set-up, and the charts of its checks");
  history->add_option("SETUP", options.setup, "Its name")->type_name("")->required();
  add_history_options(*history, options.history);
  CLI::App* since = add_verb(verb, options, "affected", "Measurements and calibrations of a set-up since a day");
  since->add_option("SETUP", options.setup, "Its name")->type_name("")->required();
  since->add_option("--since", options.since, "The day, or time in UTC: 2026-02-28")->type_name("DATE")->required();
  add_verb(verb, options, "verify", "Recompute the chain; name the first record that was altered")
      ->add_option("--head", options.head, "A hash noted elsewhere: also finds a cut tail and a chain written anew")
      ->type_name("HASH");
  CLI::App* exported = add_verb(verb, options, "export", "Write the records to other files");
  exported->add_option("--json", options.json, "With all they hold, for import; - is standard output")
      ->type_name("FILE");
  exported->add_option("--csv", options.csv, "One row a record; - is standard output")->type_name("FILE");
  exported->require_option(1, 4);
}

void add_writing_verbs(CLI::App& verb, RegisterOptions& options) {
  CLI::App* withdrawal = add_verb(verb, options, "withdraw", "Record that a record no longer holds, and why");
  add_number(*withdrawal, options);
  withdrawal->add_option("--reason", options.reason, "Why")->type_name("TEXT")->required()->check(not_blank());
  add_author(*withdrawal, options);
  add_verb(verb, options, "import", "Take in the JSON of an export where it continues the register")
      ->add_option("FILE", options.from, "The export")
      ->type_name("")
      ->required();
}

}  // namespace

CLI::App* setup_register(CLI::App& app, RegisterOptions& options) {
  CLI::App* verb = app.add_subcommand("register", "Look at the record of calibrations, and prove that it is whole");
  verb->require_subcommand(1);
  verb->add_subcommand("new-lab", "Write a first lab file to edit, every key explained")
      ->add_option("FILE", options.lab, "Where (default: lab.toml in this folder)")
      ->type_name("");
  verb->add_subcommand("advise", "Which scale suits which set-up, and what to expect of it")
      ->add_option("--lab", options.lab, "The room's lab file (default: lab.toml in this folder)")
      ->type_name("FILE");
  add_reading_verbs(*verb, options);
  add_writing_verbs(*verb, options);
  verb->footer(
      "Exit: 0 done; 1 the register is not as it was written, or no scale suits a set-up; 2 bad usage, or a file that\n"
      "could not be used.");
  return verb;
}

int run_register(const CLI::App& verb, const RegisterOptions& options) {
  if (!options.made_at.empty() && !scale::is_utc_time(options.made_at)) {
    complain("--at: '" + options.made_at + "' is no time in UTC; write it like 2026-02-28T09:30:00Z");
    return kUnusable;
  }
  if (verb.got_subcommand("new-lab")) return write_new_lab(options.lab);
  if (verb.got_subcommand("advise")) return advise(options.lab);
  if (verb.got_subcommand("list")) return list(options);
  if (verb.got_subcommand("show")) return show(options);
  if (verb.got_subcommand("history")) return history(options);
  if (verb.got_subcommand("affected")) return affected(options);
  if (verb.got_subcommand("verify")) return verify(options);
  if (verb.got_subcommand("withdraw")) return withdraw(options);
  if (verb.got_subcommand("export")) return export_records(options);
  return import_records(options);
}

}  // namespace gradus

#include "report_options.h"

namespace gradus {

void add_report_options(CLI::App& verb, ReportPlan& plan, const std::string& help, bool pictures) {
  verb.add_option("--report", plan.folder, help)->type_name("DIR");
  if (pictures)
    verb.add_flag("--embed", plan.embed, "Pictures in the pages instead of beside them");
  else
    verb.add_flag_callback(
            "--embed",
            [] { throw CLI::ValidationError("--embed", "the pages of this verb have no pictures; leave it out"); })
        ->group("");  // not in --help
  verb.add_flag("--pdf", plan.pdf, "Each page as PDF too, by a Chromium on this machine");
  verb.add_flag("--decimal-comma", plan.decimal_comma, "Write 0,69 in pages");
}

std::string report_misfit(const ReportPlan& plan) {
  if (!plan.folder.empty()) return "";
  if (plan.embed) return "--embed says how pages look; add --report DIR";
  if (plan.pdf || plan.decimal_comma) return "--pdf and --decimal-comma say how pages look; add --report DIR";
  return "";
}

}  // namespace gradus

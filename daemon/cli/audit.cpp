#include <fmt/core.h>
#include <nlohmann/json.hpp>
#include <unistd.h>

#include "alarms/texts.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/progress_line.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/json_text.hpp"
#include "daemon/store/chain_findings.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> audit_options() {
  return {{"--expect", "HEAD", "a head that was noted before: it must be in the chain", "1204:9f86d0..."},
          state_dir_option(),
          json_option("print one line of JSON, times in UTC")};
}

std::string place_of(const ChainBreak& broken) {
  if (broken.kind.empty()) return fmt::format("link {}", broken.number);
  return fmt::format("{} {}", broken.kind == "journal" ? "journal line" : "calibration record", broken.number);
}

std::string audit_text(const ChainFindings& found) {
  const auto line = [](std::string_view name, const std::string& value) {
    return fmt::format("  {:<21}{}\n", name, value);
  };
  std::string out = found.break_count == 0 ? "The audit trail is as it was written.\n"
                                           : fmt::format("THE AUDIT TRAIL IS NOT AS IT WAS WRITTEN: {} found.\n",
                                                         counted(static_cast<std::size_t>(found.break_count), "break"));
  out += line("journal lines", fmt::format("{}", found.journal_lines));
  out += line("calibration records", fmt::format("{}", found.calibration_records));
  if (found.first && found.last)
    out += line("journal from", rfc3339_local(*found.first)) + line("to", rfc3339_local(*found.last));
  out += line("head", found.head ? text_of(*found.head) : std::string{"none: nothing is recorded yet"});
  for (const auto& broken : found.breaks) out += fmt::format("  {} {}\n", place_of(broken), broken.what);
  if (found.break_count > static_cast<std::int64_t>(found.breaks.size()))
    out += fmt::format("  and {} more\n", found.break_count - static_cast<std::int64_t>(found.breaks.size()));
  return out;
}

std::string audit_json(const ChainFindings& found) {
  auto breaks = nlohmann::json::array();
  for (const auto& broken : found.breaks)
    breaks.push_back(
        {{"kind", broken.kind.empty() ? "chain" : broken.kind}, {"number", broken.number}, {"what", broken.what}});
  JsonObject out;
  out.flag("unbroken", found.break_count == 0)
      .integer("journal_lines", found.journal_lines)
      .integer("calibration_records", found.calibration_records)
      .text("first", found.first ? rfc3339(*found.first) : std::string{})
      .text("last", found.last ? rfc3339(*found.last) : std::string{})
      .text("head", found.head ? text_of(*found.head) : std::string{})
      .integer("break_count", found.break_count)
      .json("breaks", breaks.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace));
  return out.str() + '\n';
}

std::string_view audit_conduct() {
  return "Whoever can write the file can make a whole new chain. Note the head outside of this machine now and then: "
         "--expect with it shows that nothing up to it was altered or cut off.";
}

int run_audit(const Arguments& arguments, Console& console) {
  std::optional<ChainHead> noted;
  if (arguments.given("--expect")) {
    noted = chain_head_from(arguments.value_or("--expect", ""));
    if (!noted)
      return report(console, "audit",
                    {usage, "--expect: that is no head; type it as it was printed, a number, a colon and 64 "
                            "digits of 0-9 and a-f"});
  }
  ProgressLine line{console.err, isatty(STDERR_FILENO) == 1};
  const auto found = examine_chain(state_dir_of(arguments), noted,
                                   [&](double part) { line.show_text(fmt::format("{:.0f} % read", part * 100.0)); });
  line.clear();
  if (!found) return report(console, "audit", {failed, found.error().what});
  if (arguments.given("--json"))
    console.out << audit_json(*found);
  else
    console.out << audit_text(*found) << '\n' << wrapped(audit_conduct(), 100, 0) << '\n';
  return found->break_count == 0 ? fine : failed;
}

} // namespace

const Command audit_entry{
    "audit",
    "whether alarm journal and calibration records are as they were written",
    "Goes through the audit trail: every line of the journal (alarms, acts of people, users, orders) and every "
    "calibration record is linked by a hash to the one written before it, so that one that was changed, taken out or "
    "put in is found and named. Exit code 1 if there is any. Reads the file, beside a running daemon or without one. "
    "Whoever can write the file can make a whole new chain: note the head elsewhere, and give it to --expect later.",
    "",
    "oxherd audit\n"
    "oxherd audit --expect 1204:9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08\n"
    "oxherd audit --json --state-dir /mnt/copy",
    audit_options,
    run_audit};

} // namespace oxherd::daemon::cli

#include "daemon/cli/manual.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_codes.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/version.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr std::string_view page_date = "2026-11-26"; // when something in this file was changed last
constexpr std::size_t source_width = 78;

/// A thing and what is said of it; both plain text.
struct Entry {
  std::string_view name, about;
};

constexpr Entry signals[]{
    {"SIGTERM, SIGINT",
     "oxherd run stops in an orderly way: alarm relays are dropped, because nobody watches from then "
     "on, and what waits is recorded. Other commands end; long work is cut short (exit code 6), and "
     "oxherd status --watch leaves the terminal as it was."},
    {"SIGHUP", "oxherd run reads its settings again. A file with errors is refused whole and the old settings go on."},
};
constexpr Entry variables[]{
    {"STATE_DIRECTORY",
     "where the daemon keeps its state, unless --state-dir says so; of several, separated by colons, "
     "the first. The service manager sets it."},
    {"OXHERD_PROFILES",
     "folders with register maps, separated by colons, looked through before those that are shipped."},
    {"NO_COLOR", "set and not empty: no colours, also on a terminal."},
    {"TERM", "\"dumb\" or not set: no colours, and oxherd status --watch prints one block after another."},
    {"TZ", "the time zone of the times that are shown; JSON and CSV have UTC."},
    {"NOTIFY_SOCKET, WATCHDOG_USEC, JOURNAL_STREAM",
     "set by the service manager for oxherd run, which tells it that it is "
     "ready and that every bus and the evaluation move on."},
};
constexpr Entry files[]{
    {"/etc/oxherd/oxherd.toml", "the settings of the site, see oxherd.toml(5)."},
    {"/etc/oxherd/profiles/",
     "register maps of your own; more of them are in share/oxherd/profiles beside the program."},
    {"/var/lib/oxherd/", "the state of the daemon, unless --state-dir or STATE_DIRECTORY names another folder."},
    {"control.sock",
     "in the state folder: where the commands ask the daemon. Whoever is in its group may do what they do."},
    {"journal.sqlite, measurements.sqlite, notify.db, users.json",
     "in the state folder: alarms, acts and calibrations; readings; messages under way; who may sign in to the page."},
};

std::string tagged(std::string_view name, std::string_view about) {
  return fmt::format(".TP\n.B {}\n{}\n", roff_text(name), wrapped(roff_text(about), source_width, 0));
}

template <std::size_t N> std::string section(std::string_view title, const Entry (&entries)[N]) {
  std::string out = fmt::format(".SH {}\n", title);
  for (const auto& one : entries) out += tagged(one.name, one.about);
  return out;
}

std::string paragraph(std::string_view text) { return ".PP\n" + wrapped(roff_text(text), source_width, 0) + '\n'; }

std::string examples_of(const Command& command) {
  std::string out = ".PP\n.nf\n";
  std::string_view rest = command.examples;
  while (!rest.empty()) {
    const auto end = std::min(rest.find('\n'), rest.size());
    out += roff_text(rest.substr(0, end)) + '\n';
    rest.remove_prefix(std::min(end + 1, rest.size()));
  }
  return out + ".fi\n";
}

std::string of_command(const Command& command) {
  auto out = fmt::format(".SS oxherd {}", command.name);
  if (!command.positional.empty()) out += ' ' + roff_text(command.positional);
  out += '\n' + wrapped(roff_text(command.about), source_width, 0) + '\n';
  for (const auto& option : command.options()) {
    if (!option.listed) continue;
    out += fmt::format(".TP\n\\fB{}\\fR{}{}\n{}\n", roff_text(option.name), option.value.empty() ? "" : " ",
                       option.value.empty() ? "" : "\\fI" + roff_text(option.value) + "\\fR",
                       wrapped(roff_text(option.help), source_width, 0));
  }
  return out + examples_of(command);
}

std::string exit_section() {
  std::string out = ".SH EXIT STATUS\n";
  for (const auto code : exit_codes()) out += tagged(std::to_string(static_cast<int>(code)), meaning_of(code));
  return out;
}

/// UTF-8 as one code point after the other; all our texts are well formed.
char32_t code_point(std::string_view sequence) {
  const auto lead = static_cast<unsigned char>(sequence[0]);
  char32_t out = sequence.size() == 1 ? lead : lead & (0x7FU >> sequence.size());
  for (const char c : sequence.substr(1)) out = (out << 6U) | (static_cast<unsigned char>(c) & 0x3FU);
  return out;
}

} // namespace

std::string roff_text(std::string_view text) {
  std::string out;
  bool begins_word = true; // a line that begins with a full stop would be an instruction, wherever it is broken
  while (!text.empty()) {
    std::size_t length = 1;
    while (length < text.size() && (static_cast<unsigned char>(text[length]) & 0xC0) == 0x80) ++length;
    const auto one = text.substr(0, length);
    text.remove_prefix(length);
    if (begins_word && one == ".")
      out += "\\&.";
    else if (one == "\\")
      out += "\\(rs";
    else if (one == "-")
      out += "\\-";
    else if (one == "'")
      out += "\\(aq";
    else if (one == "`")
      out += "\\(ga";
    else if (one == "^")
      out += "\\(ha";
    else if (one == "~")
      out += "\\(ti";
    else if (length > 1)
      out += fmt::format("\\[u{:04X}]", static_cast<std::uint32_t>(code_point(one)));
    else
      out += one;
    begins_word = one == " ";
  }
  return out;
}

std::string manual_page() {
  auto out = fmt::format(".\\\" Made by `oxherd manual` from the catalogue of commands; change that, not this.\n"
                         ".TH OXHERD 1 {} \"oxherd {}\" \"Oxherd\"\n.SH NAME\noxherd \\- watches oxygen in rooms, "
                         "corrects its readings and raises alarms\n.SH SYNOPSIS\n",
                         page_date, version);
  for (const auto* command : commands()) {
    out += fmt::format(".B oxherd {}\n", roff_text(command->name));
    if (!command->positional.empty()) out += fmt::format(".I {}\n", roff_text(command->positional));
    out += "[options]\n.br\n";
  }
  out += ".B oxherd \\-\\-version\n.SH DESCRIPTION\n";
  out +=
      wrapped("Oxherd looks after the air of growth chambers, greenhouse bays and controlled\\-atmosphere stores: it "
              "polls oxygen cells and ambient probes over Modbus, corrects every reading and states its "
              "uncertainty, raises alarms, publishes over MQTT and keeps the records.",
              source_width, 0) +
      '\n';
  out += paragraph(alarms::caution_long());
  out +=
      paragraph("Local codes, confined-space rules and licensed practice decide. Before anybody enters, test the air "
                "with a certified monitor and follow the entry procedure.");
  out +=
      paragraph("Every command has --help. What a person typed wrong is named, with what to write instead; nothing is "
                "done then.");
  out += ".SH COMMANDS\n";
  for (const auto* command : commands()) out += of_command(*command);
  out += exit_section() + section("SIGNALS", signals) + section("ENVIRONMENT", variables) + section("FILES", files);
  out += ".SH NOTES\n" + wrapped(roff_text(alarms::caution_short()), source_width, 0) + '\n';
  return out + ".SH SEE ALSO\n.BR oxherd.toml (5)\n";
}

} // namespace oxherd::daemon::cli

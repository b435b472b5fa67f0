#include "daemon/cli/help.hpp"

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_codes.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr std::size_t help_width = 100;

std::string indented_lines(std::string_view lines) {
  std::string out;
  while (!lines.empty()) {
    const auto end = std::min(lines.find('\n'), lines.size());
    out += "  " + std::string{lines.substr(0, end)} + '\n';
    lines.remove_prefix(std::min(end + 1, lines.size()));
  }
  return out;
}

std::string exit_code_lines() {
  Table table{2};
  for (const auto code : exit_codes())
    table.add({std::to_string(static_cast<int>(code)), std::string{meaning_of(code)}});
  return "Exit codes:\n" + table.text();
}

std::string examples_of_the_program() {
  return "Examples:\n" + indented_lines("oxherd check --config /etc/oxherd/oxherd.toml\n"
                                        "oxherd run --config /etc/oxherd/oxherd.toml\n"
                                        "oxherd status\n"
                                        "oxherd acknowledge cryo-annexe/low-oxygen --by \"R. Okafor\"");
}

} // namespace

std::string general_help() {
  Table table{2};
  for (const auto* command : commands()) table.add({std::string{command->name}, std::string{command->line}});
  std::string out = "usage: oxherd COMMAND [OPTIONS]\n       oxherd COMMAND --help\n       oxherd --version\n\n";
  out +=
      wrapped("Oxherd looks after the air of growth chambers, greenhouse bays and controlled-atmosphere stores: it "
              "polls oxygen cells and ambient probes over Modbus, corrects every reading and states its uncertainty, "
              "raises alarms, publishes over MQTT and keeps the records.",
              help_width, 0);
  out += "\n\n" + wrapped(alarms::caution_long(), help_width, 0) + "\n\nCommands:\n" + table.text() + '\n';
  return out + examples_of_the_program() + '\n' + exit_code_lines();
}

std::string help_of(const Command& command) {
  std::string form = fmt::format("usage: oxherd {}", command.name);
  if (!command.positional.empty()) form += fmt::format(" {}", command.positional);
  Table table{2};
  for (const auto& option : command.options())
    if (option.listed) table.add({option.value.empty() ? option.name : option.name + ' ' + option.value, option.help});
  table.add({"--help", "show this"});
  return fmt::format("{} [OPTIONS]\n\n{}\n\nOptions:\n{}\nExamples:\n{}\n{}\n", form,
                     wrapped(command.about, help_width, 0), table.text(), indented_lines(command.examples),
                     wrapped(alarms::caution_short(), help_width, 0));
}

} // namespace oxherd::daemon::cli

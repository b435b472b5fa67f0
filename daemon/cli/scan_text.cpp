#include "daemon/cli/scan_text.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/commission/profile_text.hpp"
#include "daemon/json_text.hpp"

namespace oxherd::daemon::cli {
namespace {

using commission::Certainty;
using commission::Finding;
using commission::Guess;
using commission::SampledRun;

constexpr std::size_t text_width = 110;

/// "input registers 0 to 2, 16; discrete inputs 0".
std::string registers_text(const commission::SurveyedUnit& unit) {
  std::string out;
  const auto add = [&](std::string_view table, std::size_t first, std::size_t last) {
    const auto name =
        fmt::format("{} {}", table, first == last ? fmt::format("{}", first) : fmt::format("{} to {}", first, last));
    out += (out.empty() ? "" : "; ") + name;
  };
  for (const auto& run : unit.runs)
    add(fmt::format("{} registers", commission::table_word(run.table)), run.first,
        run.first + run.rounds.front().size() - 1);
  for (std::size_t i = 0; i < unit.bits.size();) {
    std::size_t end = i + 1;
    while (end < unit.bits.size() && unit.bits[end].table == unit.bits[i].table) ++end;
    add(unit.bits[i].table == drivers::Table::coil ? "coils" : "discrete inputs", unit.bits[i].address,
        unit.bits[end - 1].address);
    i = end;
  }
  return out.empty() ? "no registers in the range that was looked at" : out;
}

std::string guess_line(std::string_view label, const Guess& guess) {
  return fmt::format("    {:<11}{} as {}: {}", label, commission::words_in_hex(guess.words),
                     commission::reading_in_words(guess), commission::value_in_words(guess));
}

std::string finding_text(const Finding& finding) {
  std::string out = fmt::format("  {}\n", commission::place_in_words(finding.best));
  out += guess_line(fmt::format("{}:", commission::name_of(finding.certainty)), finding.best) + '\n';
  out += "               " + wrapped(finding.best.reason, text_width, 15) + '\n';
  for (const auto& rival : finding.rivals) {
    out += guess_line("or:", rival);
    if (rival.address != finding.best.address) out += fmt::format(" (at {})", commission::place_in_words(rival));
    out += '\n';
  }
  return out;
}

/// The words that no guess takes, as they were in the last round; all zeros are left out.
std::string unexplained_text(const ScannedUnit& unit) {
  std::string out;
  std::size_t shown = 0;
  constexpr std::size_t shown_max = 24;
  for (const auto& run : unit.seen.runs)
    for (std::size_t i = 0; i < run.rounds.back().size(); ++i) {
      const auto address = run.first + i;
      const auto word = run.rounds.back()[i];
      const bool taken = std::ranges::any_of(unit.findings, [&](const Finding& f) {
        const auto first = std::size_t{f.best.address};
        return f.best.table == run.table && address >= first &&
               address < first + static_cast<std::size_t>(drivers::words_of(f.best.encoding));
      });
      if (taken || word == 0 || ++shown > shown_max) continue;
      out += fmt::format("{}{} {} = 0x{:04X} ({})", out.empty() ? "" : ", ", commission::table_word(run.table), address,
                         word, word == 0xFFFF || word == 0x8000 ? "often \"no value\"" : fmt::format("{}", word));
    }
  if (shown > shown_max) out += fmt::format(" and {} more", shown - shown_max);
  return out;
}

std::string run_json(const SampledRun& run) {
  std::vector<std::string> words;
  for (const auto word : run.rounds.back()) words.push_back(fmt::format("{}", word));
  return JsonObject{}
      .text("table", commission::table_word(run.table))
      .integer("first", run.first)
      .integer("rounds", static_cast<std::int64_t>(run.rounds.size()))
      .json("words", json_array(words))
      .str();
}

JsonObject guess_object(const Guess& guess) {
  JsonObject out;
  out.text("measurand", config::name_of(guess.kind->measurand))
      .number("value", guess.value)
      .text("unit", guess.kind->unit)
      .number("least", guess.least)
      .number("greatest", guess.greatest)
      .text("table", commission::table_word(guess.table))
      .integer("address", guess.address)
      .text("type", commission::type_word(guess.encoding))
      .text("order", commission::order_word(guess.order))
      .number("scale", guess.scale)
      .text("words", commission::words_in_hex(guess.words))
      .number("points", guess.points)
      .text("reason", guess.reason);
  return out;
}

std::string finding_json(const Finding& finding) {
  std::vector<std::string> rivals;
  for (const auto& rival : finding.rivals) rivals.push_back(guess_object(rival).str());
  return guess_object(finding.best)
      .text("certainty", commission::name_of(finding.certainty))
      .json("or", json_array(rivals))
      .str();
}

std::string notes_json(const std::vector<std::string>& notes) {
  std::vector<std::string> out;
  for (const auto& note : notes) out.push_back(json_string(note));
  return json_array(out);
}

std::string unit_json(const ScannedUnit& unit) {
  std::vector<std::string> runs, bits, values;
  for (const auto& run : unit.seen.runs) runs.push_back(run_json(run));
  for (const auto& bit : unit.seen.bits)
    bits.push_back(JsonObject{}
                       .text("table", commission::table_word(bit.table))
                       .integer("address", bit.address)
                       .flag("on", bit.on)
                       .str());
  for (const auto& finding : unit.findings) values.push_back(finding_json(finding));
  return JsonObject{}
      .integer("unit", unit.seen.unit)
      .json("registers", json_array(runs))
      .json("bits", json_array(bits))
      .json("values", json_array(values))
      .json("profile", unit.profile ? json_string(*unit.profile) : "null")
      .json("notes", notes_json(unit.seen.notes))
      .str();
}

} // namespace

std::string scanned_unit_text(const ScannedUnit& unit) {
  std::string out = fmt::format("unit {}: ", unit.seen.unit) + wrapped(registers_text(unit.seen), text_width, 2) + '\n';
  for (const auto& finding : unit.findings) out += finding_text(finding);
  for (const auto& bit : unit.seen.bits)
    if (bit.table == drivers::Table::discrete_input)
      out += fmt::format("  discrete {} is {} now: perhaps a contact; open or close it and scan again\n", bit.address,
                         bit.on ? 1 : 0);
  if (const auto others = unexplained_text(unit); !others.empty())
    out += "  not guessed: " + wrapped(others, text_width, 15) + '\n';
  for (const auto& note : unit.seen.notes) out += "  note: " + wrapped(printable(note), text_width, 8) + '\n';
  if (unit.profile) out += fmt::format("  the profile \"{}\" reads exactly this\n", *unit.profile);
  return out;
}

std::string scan_json(const ScanResult& result) {
  std::vector<std::string> units;
  for (const auto& unit : result.units) units.push_back(unit_json(unit));
  return JsonObject{}
      .text("bus", result.bus)
      .integer("units_asked", result.survey.asked)
      .flag("cut_short", result.survey.cut_short)
      .number("seconds", result.seconds)
      .json("units", json_array(units))
      .json("notes", notes_json(result.survey.notes))
      .text("caution", alarms::caution_short())
      .str();
}

} // namespace oxherd::daemon::cli

#include "daemon/logfile/summary.hpp"

#include <fmt/format.h>

#include "alarms/texts.hpp"
#include "daemon/json_text.hpp"

namespace oxherd::daemon::logfile {
namespace {

std::int64_t as_integer(std::uint64_t n) { return static_cast<std::int64_t>(n); }

std::string rows_text(std::uint64_t n) { return fmt::format("{} row{}", n, n == 1 ? "" : "s"); }

std::string marks_text(const Summary& summary) {
  std::string out;
  for (std::size_t i = 0; i < cause_count; ++i) {
    const auto& tally = summary.causes[i];
    if (tally.rows == 0) continue;
    out += fmt::format("  {}: {}, first in line {}\n", text_of(static_cast<Cause>(i)), rows_text(tally.rows),
                       tally.first_line);
    if (i == no_reading) out += fmt::format("    {}\n", summary.no_reading_example);
  }
  return out;
}

std::string order_text(const Summary& summary) {
  std::string out;
  if (summary.not_increasing.rows > 0)
    out += fmt::format("times: {} not later than the row before, first in line {}\n",
                       rows_text(summary.not_increasing.rows), summary.not_increasing.first_line);
  if (summary.taken_as_utc) out += "times: they state no offset from UTC and the recipe no zone; taken as UTC\n";
  if (!summary.ambient) return out;
  const auto& counts = summary.ambient->counts;
  out += fmt::format("second file: {} in {}\n", rows_text(counts.rows), summary.ambient->name);
  if (counts.unreadable > 0)
    out += fmt::format("  left out, not understood: {}, first in line {}\n", rows_text(counts.unreadable),
                       counts.unreadable_line);
  if (counts.not_increasing > 0)
    out += fmt::format("  left out, not later than the row before: {}, first in line {}\n",
                       rows_text(counts.not_increasing), counts.not_increasing_line);
  return out;
}

std::string extreme_json(const std::optional<Extreme>& extreme) {
  if (!extreme) return "null";
  return JsonObject{}.number("dry_fraction", extreme->value).integer("line", as_integer(extreme->line)).str();
}

std::string causes_json(const Summary& summary) {
  std::vector<std::string> causes;
  for (std::size_t i = 0; i < cause_count; ++i) {
    const auto& tally = summary.causes[i];
    if (tally.rows == 0) continue;
    causes.push_back(JsonObject{}
                         .text("cause", text_of(static_cast<Cause>(i)))
                         .integer("rows", as_integer(tally.rows))
                         .integer("first_line", as_integer(tally.first_line))
                         .str());
  }
  return json_array(causes);
}

std::string ambient_json(const Summary& summary) {
  if (!summary.ambient) return "null";
  const auto& counts = summary.ambient->counts;
  return JsonObject{}
      .text("file", summary.ambient->name)
      .integer("rows", as_integer(counts.rows))
      .integer("not_understood", as_integer(counts.unreadable))
      .integer("times_not_increasing", as_integer(counts.not_increasing))
      .str();
}

} // namespace

std::string summary_text(const Summary& summary) {
  const auto decimal = fmt::format("decimal {}", summary.dialect.decimal == ',' ? "comma" : "point");
  std::string out = fmt::format("{}: {}: {} corrected, {} uncertain, {} bad\n", summary.input, rows_text(summary.rows),
                                summary.good + summary.uncertain, summary.uncertain, summary.bad);
  out += fmt::format("read with delimiter {} and {}, {}\n", name_of_delimiter(summary.dialect), decimal,
                     summary.header_line > 0 ? fmt::format("header in line {}", summary.header_line)
                                             : std::string{"no header"});
  out += marks_text(summary) + order_text(summary);
  if (summary.least && summary.greatest)
    out += fmt::format("oxygen: {:.3f} % (line {}) to {:.3f} % (line {}), standard uncertainty at most {:.3f} %\n",
                       summary.least->value * 100.0, summary.least->line, summary.greatest->value * 100.0,
                       summary.greatest->line, summary.u_greatest * 100.0);
  for (const auto& warning : summary.warnings) out += warning + '\n';
  if (summary.seconds >= 1.0) // a rate of less says nothing
    out += fmt::format("{:.1f} MB in {:.1f} s, {:.0f} MB/s\n", static_cast<double>(summary.bytes_in) / 1e6,
                       summary.seconds, static_cast<double>(summary.bytes_in) / 1e6 / summary.seconds);
  return out;
}

std::string summary_json(const Summary& summary) {
  std::vector<std::string> warnings;
  for (const auto& warning : summary.warnings) warnings.push_back(json_string(warning));
  JsonObject out;
  out.text("input", summary.input)
      .text("output", summary.output)
      .integer("rows", as_integer(summary.rows))
      .integer("corrected", as_integer(summary.good + summary.uncertain))
      .integer("uncertain", as_integer(summary.uncertain))
      .integer("bad", as_integer(summary.bad))
      .integer("other_lines", as_integer(summary.other_lines))
      .json("causes", causes_json(summary));
  if (!summary.no_reading_example.empty()) out.text("no_reading", summary.no_reading_example);
  return out.integer("times_not_increasing", as_integer(summary.not_increasing.rows))
      .integer("times_not_increasing_first_line", as_integer(summary.not_increasing.first_line))
      .flag("times_taken_as_utc", summary.taken_as_utc)
      .json("least", extreme_json(summary.least))
      .json("greatest", extreme_json(summary.greatest))
      .number("u_dry_fraction_greatest", summary.least ? std::optional{summary.u_greatest} : std::nullopt)
      .text("delimiter", name_of_delimiter(summary.dialect))
      .text("decimal", std::string_view{&summary.dialect.decimal, 1})
      .integer("header_line", summary.header_line)
      .json("second_file", ambient_json(summary))
      .json("warnings", json_array(warnings))
      .text("caution", alarms::caution_short())
      .str();
}

} // namespace oxherd::daemon::logfile

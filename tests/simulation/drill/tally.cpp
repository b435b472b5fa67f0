#include "tests/simulation/drill/tally.hpp"

#include <algorithm>
#include <sstream>

#include <fmt/core.h>

namespace oxherd::drill {
namespace {

double quantile(const std::vector<float>& sorted, double part) {
  if (sorted.empty()) return 0.0;
  return sorted[std::min(sorted.size() - 1, static_cast<std::size_t>(part * static_cast<double>(sorted.size())))];
}

std::uint64_t total(const std::map<std::string, std::uint64_t>& counts) {
  std::uint64_t sum = 0;
  for (const auto& [what, count] : counts) sum += count;
  return sum;
}

struct Times {
  double p50 = 0, p90 = 0, p99 = 0, most = 0;
  std::size_t count = 0;
};
Times times_of(std::vector<float> times_s) {
  std::sort(times_s.begin(), times_s.end());
  return {quantile(times_s, 0.5), quantile(times_s, 0.9), quantile(times_s, 0.99), quantile(times_s, 1.0),
          times_s.size()};
}
std::string text_of(const Times& times) {
  return fmt::format("p50 {:.1f} s, p90 {:.1f} s, p99 {:.1f} s, at most {:.1f} s, of {}\n", times.p50, times.p90,
                     times.p99, times.most, times.count);
}
std::string json_of(const Times& times) {
  return fmt::format("{{\"p50\": {:.2f}, \"p90\": {:.2f}, \"p99\": {:.2f}, \"most\": {:.2f}, \"count\": {}}}",
                     times.p50, times.p90, times.p99, times.most, times.count);
}

template <class Number> std::string json_of(const std::map<std::string, Number>& numbers) {
  std::string text;
  for (const auto& [what, number] : numbers)
    text += fmt::format("{}\"{}\": {}", text.empty() ? "" : ", ", what, number);
  return "{" + text + "}";
}

std::string times_line(const char* name, const std::vector<float>& times_s) {
  std::string text = fmt::format("\n{}", name);
  for (const auto time_s : times_s) text += fmt::format(" {}", time_s);
  return text;
}
void read_times(const std::string& line, std::vector<float>& times_s) {
  std::istringstream in{line.substr(line.find(' ') + 1)};
  for (float time_s = 0; in >> time_s;) times_s.push_back(time_s);
}

/// What was done with gas, and what came of it; empty where there is none.
std::string gas_text(const Tally& t) {
  if (t.gas_room_s == 0.0) return {};
  std::string text = fmt::format("gas                   {:.3f} room-years: ", t.gas_room_s / year_s);
  for (const auto& [what, count] : t.gas) text += fmt::format("{} {}, ", what, count);
  text += "\ntold to shut          " + text_of(times_of(t.shut_s));
  return text + "stuck valve told      " + text_of(times_of(t.stuck_told_s));
}

} // namespace

void Tally::add(const Tally& other) {
  room_s += other.room_s;
  down_room_s += other.down_room_s;
  runs += other.runs;
  polls += other.polls;
  evaluations += other.evaluations;
  restarts += other.restarts;
  starts_refused += other.starts_refused;
  for (std::size_t k = 0; k < kinds; ++k) befell[k] += other.befell[k];
  low_spells += other.low_spells;
  missed += other.missed;
  true_alarms += other.true_alarms;
  for (const auto& [what, count] : other.alarms_by_fault) alarms_by_fault[what] += count;
  without_cause += other.without_cause;
  for (const auto& [why, time_s] : other.unknowable_s) unknowable_s[why] += time_s;
  processor_s += other.processor_s;
  gas_room_s += other.gas_room_s;
  for (const auto& [what, count] : other.gas) gas[what] += count;
  for (const auto& [what, count] : other.measurements) measurements[what] += count;
  const auto append = [](std::vector<float>& to, const std::vector<float>& from) {
    to.insert(to.end(), from.begin(), from.end());
  };
  append(detection_s, other.detection_s);
  append(of_deadline, other.of_deadline);
  append(shut_s, other.shut_s);
  append(stuck_told_s, other.stuck_told_s);
}

std::string to_lines(const Tally& t) {
  std::string text = fmt::format("{} {} {} {} {} {} {} {} {} {} {} {} {}", t.processor_s, t.room_s, t.down_room_s,
                                 t.gas_room_s, t.runs, t.polls, t.evaluations, t.restarts, t.starts_refused,
                                 t.low_spells, t.missed, t.true_alarms, t.without_cause);
  for (const auto count : t.befell) text += fmt::format(" {}", count);
  text += times_line("detection", t.detection_s) + times_line("part", t.of_deadline) + times_line("shut", t.shut_s) +
          times_line("stuck", t.stuck_told_s);
  for (const auto& [what, count] : t.alarms_by_fault) text += fmt::format("\nalarm\t{}\t{}", what, count);
  for (const auto& [what, count] : t.gas) text += fmt::format("\ngas\t{}\t{}", what, count);
  for (const auto& [what, count] : t.measurements) text += fmt::format("\nmeasurements\t{}\t{}", what, count);
  for (const auto& [why, time_s] : t.unknowable_s) text += fmt::format("\nunknowable\t{}\t{}", why, time_s);
  return text + "\n";
}

Tally tally_in(const std::string& lines) {
  Tally t;
  std::istringstream in{lines};
  in >> t.processor_s >> t.room_s >> t.down_room_s >> t.gas_room_s >> t.runs >> t.polls >> t.evaluations >>
      t.restarts >> t.starts_refused >> t.low_spells >> t.missed >> t.true_alarms >> t.without_cause;
  for (auto& count : t.befell) in >> count;
  std::string line;
  std::getline(in, line);
  while (std::getline(in, line)) {
    if (line.starts_with("detection")) read_times(line, t.detection_s);
    if (line.starts_with("part")) read_times(line, t.of_deadline);
    if (line.starts_with("shut")) read_times(line, t.shut_s);
    if (line.starts_with("stuck")) read_times(line, t.stuck_told_s);
    if (line.find('\t') == std::string::npos) continue;
    const auto name = line.find('\t'), value = line.rfind('\t');
    const auto key = line.substr(name + 1, value - name - 1);
    if (line.starts_with("alarm"))
      t.alarms_by_fault[key] = std::stoull(line.substr(value + 1));
    else if (line.starts_with("gas"))
      t.gas[key] = std::stoull(line.substr(value + 1));
    else if (line.starts_with("measurements"))
      t.measurements[key] = std::stoull(line.substr(value + 1));
    else
      t.unknowable_s[key] = std::stod(line.substr(value + 1));
  }
  return t;
}

std::string report_text(const Tally& t) {
  const double years = t.room_s / year_s;
  std::string text =
      fmt::format("room-years            {:.2f} ({:.2f} of them without a daemon), {} runs, {} polls, "
                  "{} evaluations, {} restarts, {} starts refused\n",
                  years, t.down_room_s / year_s, t.runs, t.polls, t.evaluations, t.restarts, t.starts_refused);
  text += "befallen by           ";
  for (std::size_t k = 0; k < kinds; ++k)
    text += fmt::format("{}{} {}", k == 0 ? "" : ", ", facts_of(static_cast<Kind>(k)).name, t.befell[k]);
  text += fmt::format("\nmissed alarms         {} of {} times that a room was low\n", t.missed, t.low_spells);
  text += fmt::format("false alarms          {:.2f} a room-year by faults, {} without any cause; {} true ones\n",
                      static_cast<double>(total(t.alarms_by_fault)) / std::max(years, 1e-9), t.without_cause,
                      t.true_alarms);
  for (const auto& [what, count] : t.alarms_by_fault)
    text += fmt::format("  {:<45} {:.2f} a room-year\n", what, static_cast<double>(count) / std::max(years, 1e-9));
  text += "detection             " + text_of(times_of(t.detection_s));
  const auto part = times_of(t.of_deadline);
  text += fmt::format("of the time permitted p50 {:.0f} %, p90 {:.0f} %, p99 {:.0f} %, at most {:.0f} %, of {}\n",
                      100.0 * part.p50, 100.0 * part.p90, 100.0 * part.p99, 100.0 * part.most, part.count);
  text += fmt::format("processor time        {:.1f} s a room-year\n", t.processor_s / std::max(years, 1e-9));
  text += gas_text(t);
  text += "measurements          ";
  for (const auto& [what, count] : t.measurements) text += fmt::format("{} {}, ", what, count);
  text += t.measurements.empty() ? "not kept in any of these runs\n" : "all others there at the end\n";
  text += "could not be known    ";
  for (const auto& [why, time_s] : t.unknowable_s) text += fmt::format("{} {:.2f} h; ", why, time_s / 3600.0);
  return text + (t.unknowable_s.empty() ? "never\n" : "of rooms that were low and not announced\n");
}

std::string report_json(const Tally& t) {
  std::map<std::string, std::uint64_t> befell;
  for (std::size_t k = 0; k < kinds; ++k) befell[std::string{facts_of(static_cast<Kind>(k)).name}] = t.befell[k];
  return fmt::format(
      "{{\"room_years\": {:.4f}, \"down_room_years\": {:.4f}, \"gas_room_years\": {:.4f}, "
      "\"runs\": {}, \"polls\": {}, \"evaluations\": {}, \"restarts\": {}, \"starts_refused\": {}, "
      "\"befell\": {}, "
      "\"low_spells\": {}, \"missed\": {}, \"true_alarms\": {}, \"without_cause\": {}, "
      "\"alarms_by_fault\": {}, \"unknowable_s\": {}, \"detection_s\": {}, \"gas\": {}, \"measurements\": {}, "
      "\"shut_s\": {}, \"stuck_told_s\": {}, \"of_deadline\": {}, \"processor_s\": {:.1f}}}\n",
      t.room_s / year_s, t.down_room_s / year_s, t.gas_room_s / year_s, t.runs, t.polls, t.evaluations, t.restarts,
      t.starts_refused, json_of(befell), t.low_spells, t.missed, t.true_alarms, t.without_cause,
      json_of(t.alarms_by_fault), json_of(t.unknowable_s), json_of(times_of(t.detection_s)), json_of(t.gas),
      json_of(t.measurements), json_of(times_of(t.shut_s)), json_of(times_of(t.stuck_told_s)),
      json_of(times_of(t.of_deadline)), t.processor_s);
}

} // namespace oxherd::drill

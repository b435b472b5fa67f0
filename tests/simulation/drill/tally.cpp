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

struct Detection {
  double p50 = 0, p90 = 0, p99 = 0, most = 0;
};
Detection detection_of(const Tally& tally) {
  auto sorted = tally.detection_s;
  std::sort(sorted.begin(), sorted.end());
  return {quantile(sorted, 0.5), quantile(sorted, 0.9), quantile(sorted, 0.99), quantile(sorted, 1.0)};
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
  detection_s.insert(detection_s.end(), other.detection_s.begin(), other.detection_s.end());
}

std::string to_lines(const Tally& t) {
  std::string text =
      fmt::format("{} {} {} {} {} {} {} {} {} {} {}", t.room_s, t.down_room_s, t.runs, t.polls, t.evaluations,
                  t.restarts, t.starts_refused, t.low_spells, t.missed, t.true_alarms, t.without_cause);
  for (const auto count : t.befell) text += fmt::format(" {}", count);
  text += fmt::format(" {}", t.detection_s.size());
  for (const auto time_s : t.detection_s) text += fmt::format(" {}", time_s);
  for (const auto& [what, count] : t.alarms_by_fault) text += fmt::format("\nalarm\t{}\t{}", what, count);
  for (const auto& [why, time_s] : t.unknowable_s) text += fmt::format("\nunknowable\t{}\t{}", why, time_s);
  return text + "\n";
}

Tally tally_in(const std::string& lines) {
  Tally t;
  std::istringstream in{lines};
  in >> t.room_s >> t.down_room_s >> t.runs >> t.polls >> t.evaluations >> t.restarts >> t.starts_refused >>
      t.low_spells >> t.missed >> t.true_alarms >> t.without_cause;
  for (auto& count : t.befell) in >> count;
  std::size_t detections = 0;
  in >> detections;
  for (float time_s = 0; detections > 0 && in >> time_s; --detections) t.detection_s.push_back(time_s);
  std::string line;
  std::getline(in, line);
  while (std::getline(in, line)) {
    const auto name = line.find('\t'), value = line.rfind('\t');
    const auto key = line.substr(name + 1, value - name - 1);
    if (line.starts_with("alarm"))
      t.alarms_by_fault[key] = std::stoull(line.substr(value + 1));
    else
      t.unknowable_s[key] = std::stod(line.substr(value + 1));
  }
  return t;
}

std::string report_text(const Tally& t) {
  const double years = t.room_s / year_s;
  const auto detection = detection_of(t);
  std::string text = fmt::format("room-years            {:.2f} ({:.2f} of them without a daemon), {} runs, {} polls, "
                                 "{} evaluations, {} restarts\n",
                                 years, t.down_room_s / year_s, t.runs, t.polls, t.evaluations, t.restarts);
  text += "befallen by           ";
  for (std::size_t k = 0; k < kinds; ++k)
    text += fmt::format("{}{} {}", k == 0 ? "" : ", ", facts_of(static_cast<Kind>(k)).name, t.befell[k]);
  text += fmt::format("\nmissed alarms         {} of {} times that a room was low\n", t.missed, t.low_spells);
  text += fmt::format("false alarms          {:.2f} a room-year by faults, {} without any cause; {} true ones\n",
                      static_cast<double>(total(t.alarms_by_fault)) / std::max(years, 1e-9), t.without_cause,
                      t.true_alarms);
  for (const auto& [what, count] : t.alarms_by_fault)
    text += fmt::format("  {:<45} {:.2f} a room-year\n", what, static_cast<double>(count) / std::max(years, 1e-9));
  text += fmt::format("detection             p50 {:.1f} s, p90 {:.1f} s, p99 {:.1f} s, at most {:.1f} s, of {}\n",
                      detection.p50, detection.p90, detection.p99, detection.most, t.detection_s.size());
  text += "could not be known    ";
  for (const auto& [why, time_s] : t.unknowable_s) text += fmt::format("{} {:.2f} h; ", why, time_s / 3600.0);
  return text + (t.unknowable_s.empty() ? "never\n" : "of rooms that were low and not announced\n");
}

std::string report_json(const Tally& t) {
  const auto detection = detection_of(t);
  std::string befell;
  for (std::size_t k = 0; k < kinds; ++k)
    befell += fmt::format("{}\"{}\": {}", k == 0 ? "" : ", ", facts_of(static_cast<Kind>(k)).name, t.befell[k]);
  std::string by_fault, unknowable;
  for (const auto& [what, count] : t.alarms_by_fault)
    by_fault += fmt::format("{}\"{}\": {}", by_fault.empty() ? "" : ", ", what, count);
  for (const auto& [why, time_s] : t.unknowable_s)
    unknowable += fmt::format("{}\"{}\": {:.1f}", unknowable.empty() ? "" : ", ", why, time_s);
  return fmt::format("{{\"room_years\": {:.4f}, \"down_room_years\": {:.4f}, \"runs\": {}, \"polls\": {}, "
                     "\"evaluations\": {}, \"restarts\": {}, \"befell\": {{{}}}, \"low_spells\": {}, "
                     "\"missed\": {}, \"true_alarms\": {}, \"without_cause\": {}, \"alarms_by_fault\": {{{}}}, "
                     "\"unknowable_s\": {{{}}}, \"detection_s\": {{\"p50\": {:.2f}, \"p90\": {:.2f}, \"p99\": {:.2f}, "
                     "\"most\": {:.2f}, \"count\": {}}}}}\n",
                     t.room_s / year_s, t.down_room_s / year_s, t.runs, t.polls, t.evaluations, t.restarts, befell,
                     t.low_spells, t.missed, t.true_alarms, t.without_cause, by_fault, unknowable, detection.p50,
                     detection.p90, detection.p99, detection.most, t.detection_s.size());
}

} // namespace oxherd::drill

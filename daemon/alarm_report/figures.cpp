#include "daemon/alarm_report/figures.hpp"

#include <cstdlib>
#include <numeric>

namespace oxherd::daemon::alarm_report {
namespace {

constexpr std::string_view eemua = "EEMUA 191";
constexpr std::string_view isa = "ISA-18.2";

enum class Bound { at_most, below, at_least };

struct Recommended {
  Bound bound = Bound::at_most;
  double limit = 0.0;
};

bool is_met(double value, Recommended recommended) {
  switch (recommended.bound) {
  case Bound::at_most: return value <= recommended.limit;
  case Bound::below: return value < recommended.limit;
  case Bound::at_least: return value >= recommended.limit;
  }
  std::abort(); // not one of the bounds: memory is corrupt, stop loudly
}

Figure judged(Figure figure, Recommended recommended) {
  if (figure.value) figure.verdict = is_met(*figure.value, recommended) ? Verdict::within : Verdict::beyond;
  return figure;
}

/// A share of annunciations, judged when there are enough of them.
Figure judged_share(Figure figure, std::size_t part, std::size_t whole, Recommended recommended) {
  figure.is_share = true;
  if (whole > 0) figure.value = static_cast<double>(part) / static_cast<double>(whole);
  figure = judged(figure, recommended);
  if (whole < judged_from) figure.verdict = Verdict::too_little;
  return figure;
}

/// Nothing is known of peaks and counts where nothing was watched.
std::optional<double> count_of(const Performance& p, std::size_t count) {
  if (p.watched <= std::chrono::milliseconds{0}) return std::nullopt;
  return static_cast<double>(count);
}

/// An average, judged when at least the time that it speaks of was watched.
Figure judged_average(Figure figure, const Performance& p, std::chrono::milliseconds of, Recommended recommended) {
  figure = judged(figure, recommended);
  if (figure.value && p.watched < of) figure.verdict = Verdict::too_little;
  return figure;
}

void add_averages(std::vector<Figure>& out, const Performance& p) {
  using std::chrono::hours;
  out.push_back(judged_average({"per_10_min", "annunciations in 10 min, average", p.per_10_min, false,
                                "at most 1; 2 can just be managed", eemua},
                               p, std::chrono::minutes{10}, {Bound::at_most, 1}));
  out.push_back(judged_average({"per_hour", "annunciations in 1 h, average", p.per_hour, false, "at most 5", eemua}, p,
                               hours{1}, {Bound::at_most, 5}));
  out.push_back(
      judged_average({"per_day", "annunciations in 24 h, average", p.per_day, false, "about 150; 300 the most", isa}, p,
                     hours{24}, {Bound::at_most, 150}));
}

void add_peaks(std::vector<Figure>& out, const Performance& p) {
  out.push_back(judged(
      {"most_in_minute", "most annunciations in 1 min", count_of(p, p.most_in_minute), false, "at most 2", eemua},
      {Bound::at_most, 2}));
  out.push_back(judged(
      {"most_in_10_min", "most annunciations in 10 min", count_of(p, p.most_in_10_min), false, "at most 10", eemua},
      {Bound::at_most, 10}));
  out.push_back(
      judged({"most_in_hour", "most annunciations in 1 h", count_of(p, p.most_in_hour), false, "at most 15", eemua},
             {Bound::at_most, 15}));
}

void add_shares_of_time(std::vector<Figure>& out, const Performance& p) {
  constexpr Recommended one_percent{Bound::below, 0.01};
  out.push_back(judged({"share_of_10_min_above_10", "time in 10 min with more than 10", p.share_of_short_parts, true,
                        "less than 1 %", isa},
                       one_percent));
  out.push_back(judged(
      {"share_of_hours_above_30", "time in hours with more than 30", p.share_of_long_parts, true, "less than 1 %", isa},
      one_percent));
  out.push_back(
      judged({"share_in_flood", "time in a flood", p.share_in_flood, true, "less than 1 %", isa}, one_percent));
}

void add_troublesome(std::vector<Figure>& out, const Performance& p) {
  out.push_back(judged({"stale_on_worst_day", "stale alarms on the worst day", count_of(p, p.stale_on_worst_day), false,
                        "less than 5", isa},
                       {Bound::below, 5}));
  out.push_back(
      judged({"chattering", "times an alarm began to chatter", count_of(p, p.chatterings.size()), false, "none", isa},
             {Bound::at_most, 0}));
  out.push_back(
      judged({"fleeting", "fleeting alarms", count_of(p, p.fleeting.size()), false, "none", isa}, {Bound::at_most, 0}));
  const auto frequent = std::accumulate(p.most_frequent.begin(), p.most_frequent.end(), std::size_t{0},
                                        [](std::size_t sum, const Frequent& f) { return sum + f.count; });
  out.push_back(
      judged_share({"share_of_most_frequent", "share of the ten most frequent", {}, true, "1 % to 5 % at most", isa},
                   frequent, p.annunciations, {Bound::at_most, 0.05}));
}

void add_priorities(std::vector<Figure>& out, const Performance& p) {
  const auto add = [&](alarms::Priority priority, Figure figure, Recommended recommended) {
    out.push_back(
        judged_share(figure, p.by_priority[static_cast<std::size_t>(priority)], p.annunciations, recommended));
  };
  add(alarms::Priority::critical,
      {"share_critical", "share of priority critical", {}, true, "less than 1 %", "common practice"},
      {Bound::below, 0.01});
  add(alarms::Priority::high, {"share_high", "share of priority high", {}, true, "about 5 %, not more", eemua},
      {Bound::at_most, 0.05});
  add(alarms::Priority::medium, {"share_medium", "share of priority medium", {}, true, "about 15 %, not more", eemua},
      {Bound::at_most, 0.15});
  add(alarms::Priority::low, {"share_low", "share of priority low", {}, true, "about 80 %, not less", eemua},
      {Bound::at_least, 0.80});
}

} // namespace

std::string_view name_of(Verdict verdict) {
  switch (verdict) {
  case Verdict::within: return "within";
  case Verdict::beyond: return "beyond";
  case Verdict::too_little: return "too little to tell";
  case Verdict::unknown: return "not known";
  }
  std::abort();
}

std::vector<Figure> figures_of(const Performance& p) {
  std::vector<Figure> out;
  add_averages(out, p);
  add_peaks(out, p);
  add_shares_of_time(out, p);
  add_troublesome(out, p);
  add_priorities(out, p);
  return out;
}

} // namespace oxherd::daemon::alarm_report

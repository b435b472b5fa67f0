#include "config/posix_zone.hpp"

#include <algorithm>
#include <chrono>

namespace oxherd::config {

/// Takes the parts of a rule off the front of a text. What does not fit makes `ok` false.
struct PosixZoneText {
  using Change = PosixZone::Change;
  std::string_view rest;
  bool ok = true;

  bool skip(char c) {
    if (rest.empty() || rest.front() != c) return false;
    rest.remove_prefix(1);
    return true;
  }

  void demand(char c) { ok = skip(c) && ok; }

  [[nodiscard]] bool digit() const { return !rest.empty() && rest.front() >= '0' && rest.front() <= '9'; }

  int number(int low, int high) {
    int sum = 0;
    int digits = 0;
    for (; digit() && digits < 4; ++digits, rest.remove_prefix(1)) sum = sum * 10 + (rest.front() - '0');
    ok = ok && digits > 0 && sum >= low && sum <= high;
    return sum;
  }

  /// Letters, or anything but '>' between '<' and '>'; at least three characters.
  void name() {
    const bool quoted = skip('<');
    const auto letter = [](char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); };
    std::size_t n = 0;
    while (n < rest.size() && (quoted ? rest[n] != '>' : letter(rest[n]))) ++n;
    ok = ok && n >= 3;
    rest.remove_prefix(n);
    if (quoted) demand('>');
  }

  /// "3", "-3:30" or "+03:30:15".
  std::int64_t hours(int hours_max) {
    const bool negative = skip('-');
    if (!negative) static_cast<void>(skip('+'));
    std::int64_t s = number(0, hours_max) * std::int64_t{3600};
    if (skip(':')) s += number(0, 59) * std::int64_t{60};
    if (skip(':')) s += number(0, 59);
    return negative ? -s : s;
  }

  Change change() {
    Change change;
    demand(',');
    if (skip('M')) {
      change.month = number(1, 12);
      demand('.');
      change.week = number(1, 5);
      demand('.');
      change.day = number(0, 6);
    } else if (skip('J')) {
      change.count = Change::Count::julian;
      change.day = number(1, 365);
    } else {
      change.count = Change::Count::zero_based;
      change.day = number(0, 365);
    }
    if (skip('/')) change.time_s = hours(167);
    return change;
  }
};

tl::expected<PosixZone, std::string> PosixZone::parse(std::string_view text) {
  PosixZone zone;
  PosixZoneText in{text};
  in.name();
  zone.standard_s_ = -in.hours(24); // POSIX counts west of Greenwich as positive
  if (in.ok && !in.rest.empty()) {
    in.name();
    const bool stated = in.ok && !in.rest.empty() && in.rest.front() != ',';
    zone.summer_s_ = stated ? -in.hours(24) : zone.standard_s_ + 3600;
    const Change to_summer = in.change();
    const Change back = in.change();
    zone.changes_ = {to_summer, back};
  }
  if (in.ok && in.rest.empty()) return zone;
  return tl::unexpected(std::string{"its rule \""} + std::string{text} + "\" is not understood");
}

std::int64_t PosixZone::local_s(const Change& change, int year) {
  namespace chr = std::chrono;
  const chr::year y{year};
  chr::sys_days day = y / chr::January / 1;
  if (change.count == Change::Count::weekday) {
    const auto month = y / chr::month{static_cast<unsigned>(change.month)};
    const chr::weekday weekday{static_cast<unsigned>(change.day)};
    day = change.week == 5 ? chr::sys_days{month / weekday[chr::last]}
                           : chr::sys_days{month / weekday[static_cast<unsigned>(change.week)]};
  } else if (change.count == Change::Count::zero_based) {
    day += chr::days{change.day};
  } else { // the 29th of February is never counted
    day += chr::days{change.day - 1 + (y.is_leap() && change.day >= 60 ? 1 : 0)};
  }
  return chr::seconds{day.time_since_epoch()}.count() + change.time_s;
}

OffsetSpan PosixZone::at(std::int64_t utc_s) const {
  OffsetSpan span{.offset_s = standard_s_};
  if (!changes_) return span;
  namespace chr = std::chrono;
  const chr::year_month_day date{chr::floor<chr::days>(chr::sys_seconds{chr::seconds{utc_s}})};
  // The years beside it too: a change of theirs may begin or end the span.
  struct Step {
    std::int64_t at_s;
    std::int64_t offset_s;
  };
  std::array<Step, 6> steps{};
  std::size_t n = 0;
  for (int year = static_cast<int>(date.year()) - 1; n < steps.size(); ++year) {
    steps[n++] = {local_s((*changes_)[0], year) - standard_s_, summer_s_};
    steps[n++] = {local_s((*changes_)[1], year) - summer_s_, standard_s_};
  }
  // Stable: of two steps at one instant, the end of one year's summer time comes before the start of the next one's.
  std::stable_sort(steps.begin(), steps.end(), [](const Step& a, const Step& b) { return a.at_s < b.at_s; });
  const auto next = std::upper_bound(steps.begin(), steps.end(), utc_s,
                                     [](std::int64_t t, const Step& step) { return t < step.at_s; });
  if (next != steps.begin()) {
    span.begin_s = (next - 1)->at_s;
    span.offset_s = (next - 1)->offset_s;
  }
  if (next != steps.end()) span.end_s = next->at_s;
  return span;
}

} // namespace oxherd::config

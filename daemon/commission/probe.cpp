#include "daemon/commission/probe.hpp"

#include <algorithm>

#include <fmt/core.h>

namespace oxherd::daemon::commission {
namespace {

using drivers::BusFault;
using drivers::Span;
using drivers::Table;

constexpr int block_max = 125; // Modbus Application Protocol V1.1b3, 6.3
constexpr int silences_max = 2;
constexpr int illegal_function = 1;
constexpr int illegal_address = 2;
constexpr int illegal_value = 3;

class TableProbe {
public:
  TableProbe(drivers::RegisterBus& bus, int unit, Table table, std::chrono::milliseconds timeout)
      : bus_{bus}, unit_{unit}, table_{table}, timeout_{timeout} {}

  /// Reads these addresses, in halves where they are refused together.
  void explore(int first, int count) {
    if (over_) return;
    if (ask(first, count)) {
      found_.spans.push_back(span(first, count));
    } else if (count > 1) {
      explore(first, count / 2);
      explore(first + count / 2, count - count / 2);
    }
  }
  /// Joins neighbours, where the device gives them in one reply.
  void join() {
    std::vector<Span> joined;
    for (const auto& next : found_.spans) {
      const bool adjoin = !joined.empty() && joined.back().address + joined.back().count == next.address &&
                          joined.back().count + next.count <= block_max;
      if (adjoin && !over_ && ask(joined.back().address, joined.back().count + next.count))
        joined.back().count = static_cast<std::uint16_t>(joined.back().count + next.count);
      else
        joined.push_back(next);
    }
    found_.spans = std::move(joined);
  }
  /// Some devices give a value of two registers only whole, so that halving at even addresses misses most of those that
  /// begin at odd ones: what it found, if anything, then begins at odd ones too.
  [[nodiscard]] bool may_have_odd_pairs() const {
    return std::ranges::all_of(found_.spans,
                               [](const Span& span) { return span.address % 2 == 1 && span.count % 2 == 0; });
  }
  void try_odd_pairs(const NumberRange& range) {
    for (int first = range.first | 1; first < range.last && !over_; first += 2) {
      const auto covers = [first](const Span& span) {
        return span.address <= first && first < span.address + span.count;
      };
      if (std::ranges::none_of(found_.spans, covers) && ask(first, 2)) found_.spans.push_back(span(first, 2));
    }
    std::ranges::sort(found_.spans, {}, &Span::address);
  }
  void stop() { over_ = found_.cut_short = true; }
  [[nodiscard]] bool over() const { return over_; }
  [[nodiscard]] Probed take() { return std::move(found_); }

private:
  [[nodiscard]] Span span(int first, int count) const {
    return {table_, static_cast<std::uint16_t>(first), static_cast<std::uint16_t>(count)};
  }

  bool ask(int first, int count) {
    const auto reply = bus_.read(unit_, span(first, count), timeout_);
    if (reply) {
      silences_ = 0;
      return true;
    }
    const auto& error = reply.error();
    if (error.fault == BusFault::exception) {
      const int code = error.exception_code;
      over_ = code == illegal_function;
      if (code != illegal_function && code != illegal_address && code != illegal_value && noted_ != code) {
        noted_ = code;
        found_.notes.push_back(error.detail);
      }
      return false;
    }
    // Silence in place of a refusal: asking on in halves would wait for each of them.
    if (++silences_ >= silences_max) {
      over_ = true;
      found_.notes.push_back(fmt::format("it fell silent: {}", error.detail));
    }
    return false;
  }

  drivers::RegisterBus& bus_;
  int unit_;
  Table table_;
  std::chrono::milliseconds timeout_;
  Probed found_;
  int silences_ = 0;
  int noted_ = 0; ///< the last exception that was noted
  bool over_ = false;
};

} // namespace

Probed probe_table(drivers::RegisterBus& bus, int unit, Table table, const std::vector<NumberRange>& ranges,
                   std::chrono::milliseconds timeout, const std::function<bool(double part)>& go_on) {
  TableProbe probe{bus, unit, table, timeout};
  const double all = count_of(ranges);
  double done = 0.0;
  for (const auto& range : ranges)
    for (int first = range.first; first <= range.last && !probe.over(); first += block_max) {
      const int count = std::min(block_max, range.last - first + 1);
      if (!go_on(done / all)) probe.stop();
      probe.explore(first, count);
      done += count;
    }
  const bool bits = table == Table::coil || table == Table::discrete_input;
  if (!bits && probe.may_have_odd_pairs())
    for (const auto& range : ranges) probe.try_odd_pairs(range);
  probe.join();
  return probe.take();
}

} // namespace oxherd::daemon::commission

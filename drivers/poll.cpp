#include "drivers/poll.hpp"

#include <algorithm>
#include <optional>

namespace oxherd::drivers {

namespace {

/// Elements of one table that belong together: a value, a status register or a request in the making.
struct Stretch {
  int begin;
  int end;
};

bool holds_bits(Table table) { return table == Table::coil || table == Table::discrete_input; }

std::vector<Stretch> stretches_of(const RegisterMap& map, Table table) {
  std::vector<Stretch> stretches;
  for (const Point& point : map.points)
    if (point.table == table) stretches.push_back({point.address, point.address + words_of(point.encoding)});
  for (const StatusBits& status : map.status)
    if (status.table == table) stretches.push_back({status.address, status.address + 1});
  std::sort(stretches.begin(), stretches.end(),
            [](const Stretch& a, const Stretch& b) { return a.begin != b.begin ? a.begin < b.begin : a.end > b.end; });
  return stretches;
}

/// The words of one stretch out of whichever reply holds it whole; empty when that request failed.
std::span<const std::uint16_t> words_at(Table table, Stretch wanted, const std::vector<Span>& plan,
                                        const std::vector<std::vector<std::uint16_t>>& replies) {
  for (std::size_t i = 0; i < plan.size(); ++i) {
    const int begin = plan[i].address;
    const bool inside = plan[i].table == table && wanted.begin >= begin && wanted.end <= begin + plan[i].count;
    if (!inside || replies[i].empty()) continue;
    return std::span{replies[i]}.subspan(static_cast<std::size_t>(wanted.begin - begin),
                                         static_cast<std::size_t>(wanted.end - wanted.begin));
  }
  return {};
}

bool worth_retrying(const BusError& error) {
  switch (error.fault) {
  case BusFault::refused_locally: return false;
  case BusFault::exception: return error.exception_code > 3; // 01 to 03: the same request is refused the same way
  case BusFault::not_connected:
  case BusFault::timeout:
  case BusFault::garbled: return true;
  }
  return false;
}

/// Whether the other requests of this poll would only wait in vain.
bool device_is_silent(const BusError& error) {
  return error.fault == BusFault::timeout || error.fault == BusFault::not_connected;
}

std::vector<std::uint16_t> read_with_retries(RegisterBus& bus, const Device& device, const Span& span,
                                             PollResult& result) {
  for (int tries_left = std::max(0, device.retries);; --tries_left) {
    ++result.requests;
    auto words = bus.read(device.unit, span, device.timeout);
    if (words) return *std::move(words);
    ++result.failures;
    if (tries_left > 0 && worth_retrying(words.error())) continue;
    result.error = std::move(words.error());
    return {};
  }
}

/// The values and the status out of what was read.
void take_out(const RegisterMap& map, const std::vector<Span>& plan,
              const std::vector<std::vector<std::uint16_t>>& replies, PollResult& result) {
  for (const Point& point : map.points) {
    const Stretch wanted{point.address, point.address + words_of(point.encoding)};
    const auto words = words_at(point.table, wanted, plan, replies);
    result.values.push_back(words.empty() ? Value{} : decode(point, words));
  }
  for (const StatusBits& status : map.status) {
    const auto words = words_at(status.table, {status.address, status.address + 1}, plan, replies);
    const bool any_bit = !words.empty() && (words[0] & status.mask) != 0;
    result.status.push_back(!words.empty() && any_bit != status.active_low);
  }
}

} // namespace

std::vector<Span> plan_reads(const RegisterMap& map, ReadLimits limits) {
  std::vector<Span> plan;
  for (const Table table : {Table::coil, Table::discrete_input, Table::input_register, Table::holding_register}) {
    const int length_max = std::clamp(limits.length_max, 1, holds_bits(table) ? 2000 : 125);
    const int gap_max = std::max(0, limits.gap_max);
    std::optional<Stretch> open;
    const auto close = [&] {
      if (open)
        plan.push_back(
            {table, static_cast<std::uint16_t>(open->begin), static_cast<std::uint16_t>(open->end - open->begin)});
    };
    for (const Stretch& next : stretches_of(map, table)) {
      const bool near = open && next.begin - open->end <= gap_max;
      const bool fits = open && std::max(open->end, next.end) - open->begin <= length_max;
      const bool inside = open && next.end <= open->end; // also when one long value alone exceeds the limit
      if (inside) continue;
      if (near && fits) {
        open->end = next.end;
        continue;
      }
      close();
      open = next;
    }
    close();
  }
  return plan;
}

PollResult poll(RegisterBus& bus, const Device& device, const std::vector<Span>& plan) {
  PollResult result;
  std::vector<std::vector<std::uint16_t>> replies(plan.size());
  for (std::size_t i = 0; i < plan.size(); ++i) {
    replies[i] = read_with_retries(bus, device, plan[i], result);
    if (replies[i].empty() && result.error && device_is_silent(*result.error)) break;
  }
  take_out(device.map, plan, replies, result);
  return result;
}

std::vector<std::optional<PollResult>> poll_together(RegisterBus& bus, std::span<const PlannedDevice> devices) {
  std::vector<Read> reads;
  for (const auto& [device, plan] : devices)
    for (const auto& span : *plan) reads.push_back({device->unit, span, device->timeout});
  const auto words = bus.read_together(reads);
  std::vector<std::optional<PollResult>> results(devices.size());
  auto next = words.begin();
  for (std::size_t i = 0; i < devices.size(); ++i) {
    const auto& [device, plan] = devices[i];
    const std::vector<std::vector<std::uint16_t>> replies(next, next + static_cast<std::ptrdiff_t>(plan->size()));
    next += static_cast<std::ptrdiff_t>(plan->size());
    if (std::any_of(replies.begin(), replies.end(), [](const auto& reply) { return reply.empty(); })) continue;
    take_out(device->map, *plan, replies, results[i].emplace());
    results[i]->requests = static_cast<int>(plan->size());
  }
  return results;
}

} // namespace oxherd::drivers

#include "drivers/late_replies.hpp"

#include <algorithm>

namespace oxherd::drivers {

namespace {

bool look_alike(const ModbusRequest& a, const ModbusRequest& b) {
  if (a.function != b.function) return false;
  return is_write(a) ? echo_of(a) == echo_of(b) : reply_bytes(a) == reply_bytes(b);
}

/// The read that goes with a request: itself, or for a write a look at the place that is written.
ModbusRequest as_read(const ModbusRequest& request) {
  if (!is_write(request)) return request;
  const std::uint8_t function = request.function == 5 ? 1 : 3;
  return {function, request.address, request.function == 16 ? request.argument : std::uint16_t{1}, {}};
}

} // namespace

void LateReplies::expect(int unit, const ModbusRequest& request, Deadline until) {
  const auto same = std::find_if(late_.begin(), late_.end(), [&](const Late& late) {
    return late.unit == unit && look_alike(late.request, request);
  });
  if (same != late_.end()) {
    same->until = until;
  } else {
    late_.push_back({unit, request, until});
  }
}

void LateReplies::forget(int unit) {
  std::erase_if(late_, [&](const Late& late) { return late.unit == unit; });
}

bool LateReplies::possible(int unit, Deadline now) {
  std::erase_if(late_, [&](const Late& late) { return late.until <= now; });
  return std::any_of(late_.begin(), late_.end(), [&](const Late& late) { return late.unit == unit; });
}

bool LateReplies::could_be_late(int unit, const ModbusRequest& read) const {
  return std::any_of(late_.begin(), late_.end(),
                     [&](const Late& late) { return late.unit == unit && look_alike(late.request, read); });
}

std::optional<ModbusRequest> LateReplies::telling_question(int unit, const ModbusRequest& request) const {
  ModbusRequest read = as_read(request);
  if (!could_be_late(unit, read)) return read;
  const int step = read.function <= 2 ? 8 : 1; // bits: another number of bytes
  const int count_max = std::min(read.function <= 2 ? 2000 : 125, 65536 - read.address);
  const int whole = (read.argument + step - 1) / step * step;
  const auto try_count = [&](int count) {
    read.argument = static_cast<std::uint16_t>(count);
    return !could_be_late(unit, read);
  };
  for (int count = whole - step; count >= step; count -= step) // fewer first: those surely exist in the device
    if (try_count(count)) return read;
  for (int count = whole + step; count <= count_max; count += step)
    if (try_count(count)) return read;
  return std::nullopt;
}

} // namespace oxherd::drivers

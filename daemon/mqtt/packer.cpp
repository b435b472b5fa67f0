#include "daemon/mqtt/packer.hpp"

#include <cmath>

namespace oxherd::daemon {
namespace {

constexpr double golden_ratio = 0.6180339887498949; // whose multiples lie apart, however many there are

} // namespace

Packer::Open& Packer::of(const ReadingRecord& reading) {
  key_.assign(reading.room).append("/").append(reading.sensor);
  const auto found = open_.find(key_);
  if (found != open_.end()) return found->second;
  const auto share = static_cast<double>(open_.size()) * golden_ratio;
  const auto first_wait = std::chrono::duration_cast<alarms::Monotonic>(
      std::chrono::duration<double, std::milli>(longest_) * (1.0 - share + std::floor(share)));
  return open_.emplace(key_, Open{reading.room, reading.sensor, SenmlPack{site_ + "/" + key_ + "/"}, first_wait, 0, {}})
      .first->second;
}

void Packer::take(const ReadingRecord& reading, alarms::Monotonic now, std::vector<Pack>& out) {
  Open& open = of(reading);
  if (!open.pack.fits(reading)) close(open, out);
  const bool is_first = open.pack.empty();
  open.pack.add(reading);
  const auto quality = alarms::quality_of(reading.status);
  const bool is_news = open.quality != quality;
  open.quality = quality;
  if (is_news || longest_ <= std::chrono::milliseconds{0} || open.pack.bytes() >= bytes_max)
    close(open, out);
  else if (is_first)
    waiting_.push({now + (open.number == 1 ? open.first_wait : longest_), &open, open.number});
}

void Packer::take_due(alarms::Monotonic now, std::vector<Pack>& out) {
  while (!waiting_.empty() && waiting_.top().until <= now) {
    const auto [until, open, number] = waiting_.top();
    waiting_.pop();
    if (open->number == number) close(*open, out);
  }
}

void Packer::take_all(std::vector<Pack>& out) {
  waiting_ = {};
  for (auto& [key, open] : open_)
    if (!open.pack.empty()) close(open, out);
}

void Packer::close(Open& open, std::vector<Pack>& out) {
  ++open.number;
  out.push_back({open.room, open.sensor, open.pack.take()});
}

} // namespace oxherd::daemon

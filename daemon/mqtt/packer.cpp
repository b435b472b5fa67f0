#include "daemon/mqtt/packer.hpp"

namespace oxherd::daemon {

Packer::Open& Packer::of(const ReadingRecord& reading) {
  key_.assign(reading.room).append("/").append(reading.sensor);
  const auto found = open_.find(key_);
  if (found != open_.end()) return found->second;
  return open_.emplace(key_, Open{reading.room, reading.sensor, SenmlPack{site_ + "/" + key_ + "/"}, 0, std::nullopt})
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
    waiting_.push_back({&open, open.number, now});
}

void Packer::take_due(alarms::Monotonic now, std::vector<Pack>& out) {
  while (!waiting_.empty() && now - waiting_.front().since >= longest_) {
    const auto [open, number, since] = waiting_.front();
    waiting_.pop_front();
    if (open->number == number) close(*open, out);
  }
}

void Packer::take_all(std::vector<Pack>& out) {
  waiting_.clear();
  for (auto& [key, open] : open_)
    if (!open.pack.empty()) close(open, out);
}

void Packer::close(Open& open, std::vector<Pack>& out) {
  ++open.number;
  out.push_back({open.room, open.sensor, open.pack.take()});
}

} // namespace oxherd::daemon

// Random bytes as a table that alarm rules are rehearsed over: whatever stands in it, times never go back, channels are
// those that were named, and every value lies in the span of its gas.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <memory>
#include <string>

#include "daemon/rehearse/csv_data.hpp"

namespace {

using namespace oxherd;

class Bytes final : public daemon::logfile::ByteSource {
public:
  Bytes(const std::uint8_t* data, std::size_t size) : data_{data}, size_{size} {}
  [[nodiscard]] tl::expected<std::size_t, daemon::logfile::Failure> read(char* to, std::size_t room) override {
    const std::size_t n = std::min(room, size_);
    if (n > 0) std::memcpy(to, data_, n);
    data_ += n;
    size_ -= n;
    return n;
  }

private:
  const std::uint8_t* data_;
  std::size_t size_;
};

/// One room that knows a cell, and one that knows no sensor.
std::vector<config::Room> fuzzed_rooms() {
  config::Room annexe, store;
  annexe.name = "annexe";
  store.name = "store";
  config::Sensor cell;
  cell.name = "cell";
  cell.points = {{config::Measurand::oxygen, 0.0}};
  annexe.sensors.push_back(cell);
  return {annexe, store};
}

void read_all(const std::uint8_t* data, std::size_t size, const std::optional<std::string>& room) {
  static const auto rooms = fuzzed_rooms();
  const auto read =
      daemon::rehearse::CsvData::read(std::make_unique<Bytes>(data, size), "fuzzed.csv",
                                      {.rooms = rooms, .room = room, .every = {}, .zone = {}, .time_format = {}});
  if (!read) {
    if (read.error().what.empty()) std::abort();
    return;
  }
  const auto& channels = (*read)->channels();
  if (channels.empty()) std::abort();
  std::vector<std::optional<daemon::WallTime>> newest(channels.size());
  daemon::rehearse::SamplesAt at;
  while ((*read)->next(at).value_or(false))
    for (const auto& sample : at.samples) {
      if (sample.channel >= channels.size()) std::abort();
      auto& before = newest[sample.channel];
      if (before && at.at < *before) std::abort();
      before = at.at;
      const bool inside = !sample.value || (*sample.value >= -0.05 && *sample.value <= 1.05);
      if (!inside || !(sample.u >= 0.0)) std::abort();
    }
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  read_all(data, size, std::nullopt);
  read_all(data, size, "store");
  return 0;
}

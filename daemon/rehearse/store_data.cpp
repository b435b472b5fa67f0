#include "daemon/rehearse/store_data.hpp"

#include <algorithm>
#include <tuple>

#include <fmt/format.h>

#include "daemon/rehearse/fitting.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::rehearse {
namespace {

using config::Measurand;
using logfile::Failure;

constexpr std::size_t rows_looked_at = 2000; ///< to find the periods

} // namespace

void StoreData::find_channels(const StoreWanted& wanted) {
  struct Found {
    DataChannel channel;
    std::int64_t sensor = 0;
  };
  std::vector<Found> found;
  for (const auto& sensor : readings_.sensors()) {
    const auto* room = config::room_named(wanted.rooms, sensor.room);
    if (room == nullptr || (wanted.room && sensor.room != *wanted.room)) continue;
    const auto* known = sensor_named(*room, sensor.name);
    std::optional<Measurand> gas;
    if (known != nullptr) gas = gas_of(*known);
    if (known == nullptr && sensor.carbon_dioxide) gas = Measurand::carbon_dioxide;
    if (known == nullptr && sensor.oxygen) gas = Measurand::oxygen;
    if (!gas) continue;
    if (known == nullptr && has_gas_sensors(*room)) {
      notes_.said.push_back(fmt::format("not used: {}/{}, which the rules do not have", sensor.room, sensor.name));
      continue;
    }
    DataChannel channel{sensor.room, sensor.name, *gas};
    if (known != nullptr) channel.every = known->every;
    channel.has_po2 = *gas == Measurand::oxygen;
    found.push_back({std::move(channel), sensor.id});
  }
  std::sort(found.begin(), found.end(), [&](const Found& a, const Found& b) {
    return std::tuple{a.channel.room, place_of_sensor(wanted.rooms, a.channel), a.channel.sensor} <
           std::tuple{b.channel.room, place_of_sensor(wanted.rooms, b.channel), b.channel.sensor};
  });
  for (auto& one : found) {
    by_sensor_[one.sensor] = channels_.size();
    channels_.push_back(std::move(one.channel));
  }
}

tl::expected<void, Failure> StoreData::find_periods(const StoreWanted& wanted) {
  while (first_.size() < rows_looked_at) {
    const auto more = readings_.next(first_.emplace_back());
    if (!more) return tl::unexpected(Failure{more.error().what});
    if (*more) continue;
    first_.pop_back();
    break;
  }
  for (const auto& [sensor, i] : by_sensor_) {
    std::vector<WallTime> times;
    for (const auto& row : first_)
      if (row.sensor == sensor) times.push_back(row.at);
    channels_[i].every = wanted.every.value_or(likely_period(channels_[i].every, middle_step(times)));
  }
  return {};
}

tl::expected<std::unique_ptr<StoreData>, Failure> StoreData::open(const std::filesystem::path& state_dir,
                                                                  const StoreWanted& wanted) {
  auto readings = GasReadings::open(state_dir, wanted.from, wanted.to);
  if (!readings) return tl::unexpected(Failure{readings.error().what});
  auto data = std::unique_ptr<StoreData>{new StoreData{std::move(*readings)}};
  data->notes_.source = state_dir.string();
  data->find_channels(wanted);
  if (data->channels_.empty())
    return tl::unexpected(
        Failure{fmt::format("{}: no reading of {} is recorded from {} to {}; `oxherd history` shows "
                            "what is",
                            state_dir.string(), wanted.room ? "room " + *wanted.room : std::string{"the rules' rooms"},
                            rfc3339(wanted.from), rfc3339(wanted.to))});
  if (const auto found = data->find_periods(wanted); !found) return tl::unexpected(found.error());
  return data;
}

bool StoreData::take(GasReadingRow& row, SamplesAt& to) {
  const auto found = by_sensor_.find(row.sensor);
  if (found == by_sensor_.end()) return false;
  ++notes_.rows;
  const DataChannel& channel = channels_[found->second];
  const auto [newest, fresh] = newest_.try_emplace(channel.room, row.at);
  if (!fresh && row.at < newest->second) {
    if (newest->second - row.at > late_at_most) {
      if (notes_.backwards.count++ == 0)
        notes_.backwards.first = fmt::format("{} after {}", rfc3339(row.at), rfc3339(newest->second));
      return false;
    }
    ++notes_.moved;
    row.at = newest->second;
  }
  newest->second = row.at;
  to.at = row.at;
  to.samples.resize(1);
  Sample& sample = to.samples.front();
  const bool of_co2 = channel.gas == Measurand::carbon_dioxide;
  sample.channel = found->second;
  sample.status = alarms::status_named(row.status).value_or(alarms::Status::failure);
  sample.value = of_co2 ? row.carbon_dioxide : row.oxygen;
  const auto& u = of_co2 ? row.u_carbon_dioxide : row.u_oxygen;
  // What is not a finite number is stored as nothing; a value without its uncertainty can be held against no limit.
  if (!u || (channel.has_po2 && (!row.po2_Pa || !row.u_po2_Pa))) sample.value.reset();
  sample.u = u.value_or(0.0);
  sample.po2_Pa = row.po2_Pa;
  sample.u_po2_Pa = row.u_po2_Pa.value_or(0.0);
  sample.reason = std::move(row.reasons);
  if (!sample.value && sample.reason.empty()) sample.reason = "no value recorded, or none that is whole";
  if (!sample.value || alarms::quality_of(sample.status) == alarms::Quality::bad) ++notes_.bad_samples;
  return true;
}

tl::expected<bool, Failure> StoreData::next(SamplesAt& to) {
  while (given_ < first_.size())
    if (take(first_[given_++], to)) return true;
  GasReadingRow row;
  for (;;) {
    const auto more = readings_.next(row);
    if (!more) return tl::unexpected(Failure{more.error().what});
    if (!*more) return false;
    if (take(row, to)) return true;
  }
}

} // namespace oxherd::daemon::rehearse

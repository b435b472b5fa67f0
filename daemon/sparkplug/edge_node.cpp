#include "daemon/sparkplug/edge_node.hpp"

#include <algorithm>
#include <utility>

#include <fmt/core.h>

#include "alarms/texts.hpp"

namespace oxherd::daemon::sparkplug {
namespace {

using alarms::Monotonic;

constexpr std::chrono::seconds sign_of_life_period{10};

std::string topic_of(const std::string& group, std::string_view kind, const std::string& node) {
  return fmt::format("spBv1.0/{}/{}/{}", group, kind, node); // 4.1
}

// The metrics of the node itself; bdSeq and the rebirth are asked for by the standard, the rest is ours.
enum NodeMetric : std::size_t { bd_seq, rebirth, notice, evaluations };

std::vector<Definition> definitions_of_node() {
  return {{std::string{bd_seq_name}, Datatype::int64, {}},
          {std::string{rebirth_name}, Datatype::boolean, {}},
          {"notice", Datatype::text, {}},
          {"evaluations", Datatype::int64, {}}};
}

/// Of what nothing was ever said, there is no value now.
Sampled at_latest(Sampled one, WallTime now) {
  if (one.at == WallTime{}) one.at = now;
  return one;
}

} // namespace

EdgeNode::EdgeNode(const std::string& group, const std::string& site, Plan plan, std::chrono::milliseconds longest)
    : birth_topic_{topic_of(group, "NBIRTH", site)}, data_topic_{topic_of(group, "NDATA", site)},
      death_topic_{topic_of(group, "NDEATH", site)}, command_topic_{topic_of(group, "NCMD", site)}, longest_{longest},
      node_metrics_{definitions_of_node()}, node_current_(node_metrics_.size(), Sampled{{}, {}, true}) {
  node_current_[rebirth].value = false;
  node_current_[notice].value = std::string{alarms::caution_long()};
  node_current_[evaluations].value = std::int64_t{0};
  const auto names = reading_names();
  for (auto& room : plan) {
    Device device;
    device.birth_topic = topic_of(group, "DBIRTH", site) + "/" + room.room;
    device.data_topic = topic_of(group, "DDATA", site) + "/" + room.room;
    device.current.assign(room.metrics.size(), Sampled{});
    for (std::size_t m = 0; m < room.metrics.size(); ++m) {
      const auto& name = room.metrics[m].name;
      device.metrics.emplace(name, m);
      const auto slash = name.find('/');
      const auto place = std::find(names.begin(), names.end(), name.substr(slash + 1));
      if (place == names.end() || name.starts_with("state/") || name.starts_with("alarms/")) continue;
      auto& places = device.sensors[name.substr(0, slash)];
      places.resize(names.size());
      places[static_cast<std::size_t>(place - names.begin())] = m;
    }
    device_of_.emplace(room.room, devices_.size());
    device.plan = std::move(room);
    devices_.push_back(std::move(device));
  }
}

EdgeNode::Device* EdgeNode::device(const std::string& room) {
  const auto found = device_of_.find(room);
  return found == device_of_.end() ? nullptr : &devices_[found->second];
}

void EdgeNode::take(const ReadingRecord& reading, Monotonic now) {
  auto* of = device(reading.room);
  if (of == nullptr) return;
  values_of(reading, said_);
  say_of_sensor(*of, reading.sensor, reading.at, now);
}

void EdgeNode::take(const RoomStatus& room, Monotonic now) {
  auto* of = device(room.room);
  if (of == nullptr) return;
  say(*of, values_of(room), room.at, now);
  for (const auto& sensor : room.sensors) { // one that is silent has no readings to say so
    if (alarms::quality_of(sensor.status) != alarms::Quality::bad) continue;
    values_lost(said_);
    say_of_sensor(*of, sensor.name, room.at, now);
  }
}

void EdgeNode::take(const AlarmStatus& alarm, WallTime at, Monotonic now) {
  if (auto* of = device(alarm.room)) say(*of, values_of(alarm), at, now);
}

void EdgeNode::evaluated(std::uint64_t count, Monotonic now, WallTime wall) {
  node_current_[evaluations] = {static_cast<std::int64_t>(count), wall, true};
  if (next_sign_of_life_ && now < *next_sign_of_life_) return;
  next_sign_of_life_ = now + sign_of_life_period;
  sign_of_life_waits_ = true;
}

/// `said_`, of a sensor.
void EdgeNode::say_of_sensor(Device& device, const std::string& sensor, WallTime at, Monotonic now) {
  const auto found = device.sensors.find(sensor);
  if (found == device.sensors.end()) return;
  for (std::size_t place = 0; place < said_.size(); ++place)
    if (const auto metric = found->second[place]) say(device, *metric, said_[place], at, now);
}

void EdgeNode::say(Device& device, const std::vector<Named>& values, WallTime at, Monotonic now) {
  for (const auto& [name, said] : values)
    if (const auto found = device.metrics.find(name); found != device.metrics.end())
      say(device, found->second, said, at, now);
}

void EdgeNode::say(Device& device, std::size_t metric, const Said& said, WallTime at, Monotonic now) {
  auto& current = device.current[metric];
  if (at < current.at && current.at - at <= late_at_most) return;
  const bool is_news = current.value != said.value || current.good != said.good;
  const bool went_back = at < current.at; // the clock was set
  current = {said.value, at, said.good};
  if (!is_news || !device.is_born) return; // its birth will tell
  if (waiting_ >= waiting_max || (went_back && !device.waiting.empty())) {
    // Values that wait go out in the order of their times: an earlier one would end as the current one.
    give_up_what_waits();
    wants_birth_ = true;
    return;
  }
  device.waiting.push_back({metric, current});
  ++waiting_;
  if (said.urgent || !device.due) device.due = said.urgent ? now : now + longest_;
}

void EdgeNode::give_up_what_waits() {
  waiting_ = 0;
  devices_born_ = 0;
  for (auto& device : devices_) {
    device.waiting.clear();
    device.due.reset();
    device.is_born = false;
  }
}

Message EdgeNode::death(std::uint8_t bd_seq, WallTime now) const {
  return {death_topic_, death_payload(bd_seq, now), 1};
}

void EdgeNode::begin(std::uint8_t bd_seq) {
  bd_seq_ = bd_seq;
  give_up_what_waits();
  wants_birth_ = true;
  last_birth_.reset();
}

void EdgeNode::end() {
  bd_seq_.reset();
  give_up_what_waits();
  wants_birth_ = false;
}

EdgeNode::Heard EdgeNode::hear(std::string_view payload, std::string& told) {
  const auto command = read_command(payload);
  if (!command) {
    ++commands_ignored_;
    told = command.error();
    return Heard::not_understood;
  }
  commands_ignored_ += command->others;
  if (command->others > 0) told = fmt::format("\"{}\" is no command here", command->first_other);
  if (!command->rebirth) return Heard::nothing_to_do;
  wants_birth_ = bd_seq_.has_value();
  return Heard::rebirth;
}

std::optional<Message> EdgeNode::next(Monotonic now, WallTime wall) {
  if (!bd_seq_) return std::nullopt;
  if (wants_birth_) { // no data any more before it (5.17)
    if (last_birth_ && now < *last_birth_ + births_apart) return std::nullopt;
    return born(now, wall);
  }
  if (devices_born_ < devices_.size()) return born(devices_[devices_born_++], wall);
  if (auto data = device_data(now, wall)) return data;
  return node_data(wall);
}

std::uint8_t EdgeNode::next_seq() { return ++last_seq_; } // 255 is followed by 0

/// NBIRTH; those of the devices follow, before any data.
Message EdgeNode::born(Monotonic now, WallTime wall) {
  give_up_what_waits();
  wants_birth_ = false;
  sign_of_life_waits_ = false;
  last_birth_ = now;
  last_seq_ = 0;
  ++births_;
  node_current_[bd_seq] = {std::int64_t{*bd_seq_}, wall, true};
  node_current_[rebirth].at = node_current_[notice].at = wall;
  std::vector<Told> metrics;
  for (std::size_t m = 0; m < node_metrics_.size(); ++m)
    metrics.push_back({&node_metrics_[m], at_latest(node_current_[m], wall)});
  return {birth_topic_, birth_payload(metrics, last_seq_, wall)};
}

Message EdgeNode::born(Device& device, WallTime wall) {
  device.is_born = true;
  std::vector<Told> metrics;
  for (std::size_t m = 0; m < device.current.size(); ++m)
    metrics.push_back({&device.plan.metrics[m], at_latest(device.current[m], wall)});
  return {device.birth_topic, birth_payload(metrics, next_seq(), wall)};
}

std::optional<Message> EdgeNode::node_data(WallTime wall) {
  if (!std::exchange(sign_of_life_waits_, false)) return std::nullopt;
  return Message{data_topic_,
                 data_payload({{&node_metrics_[evaluations], node_current_[evaluations]}}, next_seq(), wall)};
}

std::optional<Message> EdgeNode::device_data(Monotonic now, WallTime wall) {
  for (std::size_t tried = 0; tried < devices_.size(); ++tried) {
    auto& device = devices_[next_device_];
    const bool full = device.waiting.size() >= metrics_per_message;
    if (!full && (!device.due || *device.due > now)) {
      next_device_ = (next_device_ + 1) % devices_.size();
      continue;
    }
    const auto count = std::min(device.waiting.size(), metrics_per_message);
    std::vector<Told> metrics;
    for (std::size_t i = 0; i < count; ++i) {
      metrics.push_back(
          {&device.plan.metrics[device.waiting.front().metric], std::move(device.waiting.front().sampled)});
      device.waiting.pop_front();
    }
    waiting_ -= count;
    if (device.waiting.empty()) device.due.reset();
    return Message{device.data_topic, data_payload(std::move(metrics), next_seq(), wall)};
  }
  return std::nullopt;
}

} // namespace oxherd::daemon::sparkplug

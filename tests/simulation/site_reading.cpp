#include "tests/simulation/site_reading.hpp"

#include <fstream>
#include <sstream>
#include <stdexcept>

#include "config/load.hpp"
#include "drivers/decode.hpp"

namespace oxherd::simulation {
namespace {

std::string text_of(const std::string& file) {
  std::ifstream in{file};
  if (!in) throw std::runtime_error("cannot read " + file);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

/// Why the device gives no values; empty: it does.
std::optional<drivers::BusError> refusal_of(const demo::Site& world, const std::string& device) {
  switch (world.fault_of(device)) {
  case demo::Fault::silent: return drivers::BusError{drivers::BusFault::timeout, 0, "no reply"};
  case demo::Fault::refusing: return drivers::BusError{drivers::BusFault::exception, 4, "device failure"};
  case demo::Fault::none:
  case demo::Fault::disconnected:
  case demo::Fault::worn:
  case demo::Fault::dead:
  case demo::Fault::stuck: break;
  }
  return std::nullopt;
}

} // namespace

config::Settings larkfield_settings(Scenario scenario) {
  const std::string root = OXHERD_SOURCE_DIR;
  std::string text = text_of(root + "/demo/larkfield.toml");
  if (scenario == Scenario::controlled) text += text_of(root + "/demo/control.toml");
  auto loaded = config::parse(text, "larkfield.toml", {root + "/config/profiles"}, config::Purpose::run);
  if (!loaded) throw std::runtime_error(config::to_string(loaded.error().front()));
  return std::move(loaded->settings);
}

std::vector<demo::StoryStep> steps_of(const std::string& story) {
  auto steps = demo::parse_story(story);
  if (!steps) throw std::runtime_error(steps.error().message);
  return *steps;
}

daemon::Poll poll_of(const demo::Site& world, const config::Settings& settings, daemon::SensorRef at,
                     const Moment& now) {
  const auto& room = settings.rooms[at.room];
  const auto& sensor = room.sensors[at.sensor];
  const std::string device = room.name + "/" + sensor.name;
  daemon::Poll poll;
  poll.sensor = at;
  poll.at = now.at;
  poll.wall = now.wall;
  poll.values.resize(sensor.points.size());
  poll.status.resize(sensor.status.size());
  poll.error = refusal_of(world, device);
  if (poll.error) return poll;
  auto words = world.input_registers(device);
  if (words.empty()) words = {static_cast<std::uint16_t>(world.contact_closed(device) ? 1 : 0)};
  for (std::size_t p = 0; p < sensor.map.points.size(); ++p) {
    const auto& point = sensor.map.points[p];
    const std::span<const std::uint16_t> own{words.data() + point.address,
                                             static_cast<std::size_t>(drivers::words_of(point.encoding))};
    poll.values[p] = drivers::decode(point, own);
  }
  for (std::size_t b = 0; b < sensor.map.status.size(); ++b)
    poll.status[b] = (words[sensor.map.status[b].address] & sensor.map.status[b].mask) != 0;
  return poll;
}

} // namespace oxherd::simulation

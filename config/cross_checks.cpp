#include "config/cross_checks.hpp"

#include <map>

#include <fmt/core.h>

#include "config/nearest.hpp"
#include "config/notify_sections.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

struct Ballots {
  Measurand measurand;
  std::string_view key;
  std::string_view what;
  alarms::Scheme scheme;
};

void check_vote(const Room& room, const Ballots& ballots, Reporter& report) {
  const Keys at{"room", room.name, ballots.key};
  if (report.is_broken(at)) return;
  const int sensors = channels(room, ballots.measurand);
  const bool given = report.has(at);
  if (sensors == 0) {
    if (given) report.error(at, fmt::format("the room has no {} sensor that could vote", ballots.what));
    return;
  }
  if (alarms::channels_of(ballots.scheme) != sensors) {
    const std::string fits = sensors == 1   ? "\"1oo1\" fits"
                             : sensors == 2 ? "\"1oo2\" (either trips) or \"2oo2\" (both must) fits"
                             : sensors == 3 ? "\"2oo3\" fits"
                                            : "at most 3 can vote";
    report.error(at,
                 fmt::format("{}\"{}\" is a vote of {}, but the room has {} {} sensor{}; {}", given ? "" : "missing; ",
                             alarms::name_of(ballots.scheme), alarms::channels_of(ballots.scheme), sensors,
                             ballots.what, sensors == 1 ? "" : "s", fits));
    return;
  }
  if (ballots.scheme == alarms::Scheme::two_of_two && room.regime == Regime::occupied)
    report.warning(at, "with \"2oo2\" one sensor that reads too well silences the other; \"1oo2\" is the safer vote");
}

std::vector<std::string> sources_of(const Settings& settings, const std::vector<Measurand>& accepted) {
  std::vector<std::string> names;
  for (const auto& room : settings.rooms)
    for (const auto& sensor : room.sensors)
      for (const auto measurand : accepted)
        if (measures(sensor, measurand)) names.push_back(room.name + "/" + sensor.name);
  return names;
}

/// A reference "room/sensor" must name a sensor that measures one of these.
void check_source(const Settings& settings, const Keys& at, const std::string& reference,
                  const std::vector<Measurand>& accepted, Reporter& report) {
  const auto sources = sources_of(settings, accepted);
  if (std::find(sources.begin(), sources.end(), reference) != sources.end()) return;
  const auto what = name_of(accepted.front());
  report.error(at, sources.empty() ? fmt::format("\"{}\": no sensor measures {}", reference, what)
                                   : fmt::format("\"{}\" is no \"room/sensor\" that measures {}; there is {}",
                                                 reference, what, listed_nearest_first(reference, sources)));
}

struct Ambient {
  std::string_view key;
  const std::optional<std::string>& from;
  std::vector<Measurand> accepted;
};

void check_ambient(const Settings& settings, const Room& room, const Ambient& ambient, Reporter& report) {
  const Keys at{"room", room.name, ambient.key};
  if (report.is_broken(at)) return;
  if (ambient.from) {
    check_source(settings, at, *ambient.from, ambient.accepted, report);
    return;
  }
  int probes = 0;
  for (const auto measurand : ambient.accepted) probes += channels(room, measurand);
  if (probes > 1)
    report.error(at, fmt::format("missing; the room has {} probes for {}, say which one counts as \"room/sensor\"",
                                 probes, name_of(ambient.accepted.front())));
}

void check_room(const Settings& settings, const Room& room, Reporter& report) {
  if (report.is_broken({"room", room.name, "sensor"})) return; // what it has is not known
  if (!report.expects_sensors(room)) return check_alarms(room, settings.site, report);
  check_vote(room, {Measurand::oxygen, "oxygen_vote", "oxygen", room.oxygen_vote}, report);
  check_vote(room, {Measurand::carbon_dioxide, "co2_vote", "carbon dioxide", room.carbon_dioxide_vote}, report);
  if (room.sensors.empty()) report.warning({"room", room.name}, "has no sensor: it will stand as not monitored");
  check_ambient(settings, room, {"temperature_from", room.temperature_from, {Measurand::temperature}}, report);
  check_ambient(settings, room, {"humidity_from", room.humidity_from, {Measurand::humidity}}, report);
  check_ambient(settings, room,
                {"pressure_from", room.pressure_from, {Measurand::pressure, Measurand::sea_level_pressure}}, report);
  const bool has_cell = channels(room, Measurand::oxygen) > 0;
  if (has_cell && !room.temperature_from && channels(room, Measurand::temperature) == 0)
    report.warning({"room", room.name}, fmt::format("no probe measures its temperature: {:.0f} °C is assumed and the "
                                                    "uncertainty widened",
                                                    room.assumed_temperature.value.si() - 273.15));
  check_regime(room, report);
  check_alarms(room, settings.site, report);
}

/// Two masters on one serial line garble each other.
void check_shared_lines(const Settings& settings, Reporter& report) {
  std::map<std::string, std::string> first;
  for (const auto& bus : settings.buses) {
    const auto* line = std::get_if<drivers::SerialLine>(&bus.address);
    if (line == nullptr || line->device.empty()) continue;
    const auto [place, fresh] = first.try_emplace(line->device, bus.name);
    if (!fresh)
      report.error({"bus", bus.name, "device"},
                   fmt::format("\"{}\" is the line of bus \"{}\" already", line->device, place->second));
  }
}

} // namespace

bool Reporter::has(const Keys& keys) const {
  const Table* table = &root_;
  for (const auto key : keys) {
    const Entry* entry = table != nullptr ? table->find(key) : nullptr;
    if (entry == nullptr) return false;
    table = entry->value.table();
  }
  return true;
}

std::string Reporter::dotted(const Keys& keys) {
  std::string text;
  for (const auto key : keys) {
    if (!text.empty()) text += '.';
    text += key;
  }
  return text;
}

void cross_check(const Settings& settings, const Table& root, Problems& problems, Purpose purpose) {
  Reporter report{root, problems, purpose};
  const bool rooms_known = !report.is_broken({"room"});
  if (settings.site.barometer && rooms_known)
    check_source(settings, {"site", "barometer"}, *settings.site.barometer,
                 {Measurand::pressure, Measurand::sea_level_pressure}, report);
  for (const auto& room : settings.rooms) check_room(settings, room, report);
  check_outputs(settings, report);
  check_control(settings, report);
  check_shared_lines(settings, report);
  check_notify(settings, report);
}

} // namespace oxherd::config

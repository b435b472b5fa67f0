#include "daemon/collect/message.hpp"

#include <map>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/json_depth.hpp"
#include "daemon/json_member.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::collect {
namespace {

using nlohmann::json;

constexpr int message_depth_max = 16;
constexpr SampleTime year_2000{std::chrono::seconds{946'684'800}};
constexpr std::chrono::hours ahead_at_most{24};

std::vector<std::string_view> levels_of(std::string_view topic) {
  std::vector<std::string_view> levels;
  for (;;) {
    const auto slash = topic.find('/');
    levels.push_back(topic.substr(0, slash));
    if (slash == std::string_view::npos) return levels;
    topic.remove_prefix(slash + 1);
  }
}

/// An object that a database takes as it is: JSON without the character NUL, not nested without end.
tl::expected<json, std::string> object_of(const std::string& payload) {
  if (json_depth(payload) > message_depth_max) return tl::unexpected(std::string{"it is nested too deep"});
  auto object = json::parse(payload, nullptr, false);
  if (!object.is_object()) return tl::unexpected(std::string{"it is no JSON object"});
  if (payload.find("\\u0000") != std::string::npos) return tl::unexpected(std::string{"it has the character NUL"});
  return object;
}

std::optional<int> quality_named(std::string_view word) {
  if (word == "good") return 1;
  if (word == "uncertain") return 2;
  if (word == "bad") return 3;
  return std::nullopt;
}

/// Whose sample it is. A name SITE/ROOM/SENSOR/QUANTITY says it itself; any other is a quantity of the sensor of the
/// topic.
Sample sample_named(std::string_view site, const std::vector<std::string_view>& rest, const SenmlRecord& record) {
  Sample sample;
  const auto levels = levels_of(record.name);
  if (levels.size() >= 4 && levels[0] == site) {
    sample.room = levels[1];
    sample.sensor = levels[2];
    sample.quantity = record.name.substr(levels[0].size() + levels[1].size() + levels[2].size() + 3);
  } else {
    if (!rest.empty()) sample.room = rest[0];
    if (rest.size() > 1) sample.sensor = rest[1];
    sample.quantity = record.name;
  }
  sample.unit = record.unit;
  sample.at = record.time;
  return sample;
}

using Whose = std::tuple<std::string, std::string, SampleTime>;

Samples samples_of(std::string_view site, const std::vector<std::string_view>& rest,
                   const std::vector<SenmlRecord>& records, SampleTime now) {
  Samples samples;
  samples.all.reserve(records.size());
  std::map<Whose, int> qualities;
  for (const auto& record : records) {
    if (record.time < year_2000 || record.time > now + ahead_at_most) {
      ++samples.without_use;
      continue;
    }
    auto sample = sample_named(site, rest, record);
    if (const auto* words = std::get_if<std::string>(&record.value)) {
      sample.words = *words;
      const auto quality = sample.quantity == "quality" ? quality_named(*words) : std::nullopt;
      if (quality) qualities[{sample.room, sample.sensor, sample.at}] = *quality;
    } else if (const auto* flag = std::get_if<bool>(&record.value)) {
      sample.value = *flag ? 1.0 : 0.0;
    } else if (const auto* number = std::get_if<double>(&record.value)) {
      sample.value = *number;
    }
    if (record.sum) { // an integrated value is a quantity of its own
      auto sum = sample;
      sum.words = std::nullopt;
      sum.quantity += ".sum";
      sum.value = record.sum;
      samples.all.push_back(std::move(sum));
    }
    if (sample.value || sample.words) samples.all.push_back(std::move(sample));
  }
  for (auto& sample : samples.all)
    if (const auto found = qualities.find({sample.room, sample.sensor, sample.at}); found != qualities.end())
      sample.quality = found->second;
  return samples;
}

tl::expected<Told, std::string> beat_of(std::string site, const std::string& payload) {
  const auto object = object_of(payload);
  if (!object) return tl::unexpected(object.error());
  const auto at = parse_rfc3339(text_in(*object, "at"));
  const auto evaluations = object->find("evaluations");
  if (!at || evaluations == object->end() || !evaluations->is_number_integer())
    return tl::unexpected(std::string{"a heartbeat has \"at\" and \"evaluations\""});
  return Told{std::move(site), Beat{evaluations->get<std::int64_t>(), *at}};
}

tl::expected<Told, std::string> line_of(std::string site, const std::string& payload) {
  const auto object = object_of(payload);
  if (!object) return tl::unexpected(object.error());
  const auto sequence = object->find("sequence");
  if (!parse_rfc3339(text_in(*object, "at")) || sequence == object->end() || !sequence->is_number_integer())
    return tl::unexpected(std::string{"a line of the journal has \"sequence\" and \"at\""});
  return Told{std::move(site), JournalLine{payload}};
}

/// Of a room or an alarm: empty where it was taken away.
tl::expected<std::string, std::string> standing_json(const std::string& payload) {
  if (payload.empty()) return std::string{};
  const auto object = object_of(payload);
  if (!object) return tl::unexpected(object.error());
  return payload;
}

} // namespace

tl::expected<Told, std::string> take_apart(std::string_view prefix, std::string_view topic, const std::string& payload,
                                           SampleTime now) {
  if (!topic.starts_with(prefix) || topic.size() <= prefix.size() || topic[prefix.size()] != '/')
    return tl::unexpected(std::string{"its topic is none that was asked for"});
  auto rest = levels_of(topic.substr(prefix.size() + 1));
  std::string site{rest.front()};
  rest.erase(rest.begin());
  if (site.empty()) return tl::unexpected(std::string{"its topic names no site"});
  const bool only = rest.size() == 1;
  if (only && rest[0] == "status") {
    if (payload != "online" && payload != "offline")
      return tl::unexpected(std::string{"a status is online or offline"});
    return Told{std::move(site), Standing{payload == "online"}};
  }
  if (only && rest[0] == "heartbeat") return beat_of(std::move(site), payload);
  if (only && rest[0] == "journal") return line_of(std::move(site), payload);
  if (!rest.empty() && rest[0] == "messages") return Told{std::move(site), NotOurs{}};
  const bool of_room = rest.size() == 2 && rest[1] == "state";
  const bool of_alarm = rest.size() == 3 && rest[1] == "alarms";
  if (of_room || of_alarm) {
    auto text = standing_json(payload);
    if (!text) return tl::unexpected(text.error());
    if (of_room) return Told{std::move(site), RoomNow{std::string{rest[0]}, std::move(*text)}};
    return Told{std::move(site), AlarmNow{std::string{rest[0]}, std::string{rest[2]}, std::move(*text)}};
  }
  if (payload.empty()) return Told{std::move(site), NotOurs{}};
  const auto records = resolve_senml(payload, now);
  if (!records) return tl::unexpected(records.error());
  auto samples = samples_of(site, rest, *records, now);
  return Told{std::move(site), std::move(samples)};
}

} // namespace oxherd::daemon::collect

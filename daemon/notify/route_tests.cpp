#include "daemon/notify/route_tests.hpp"

#include <algorithm>

#include <fmt/core.h>

namespace oxherd::daemon::notify {
namespace {

using std::chrono::hours;

/// FNV-1a, 64 bits (from memory): spreads evenly and is the same everywhere, which std::hash does not promise.
std::uint64_t spread(std::string_view text) {
  std::uint64_t hash = 14695981039346656037ULL;
  for (const char c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211ULL;
  // The last characters reach only the low bits; mix them upwards before a remainder is taken.
  hash ^= hash >> 32U;
  return hash * 0x9E3779B97F4A7C15ULL >> 16U;
}

std::int64_t period_of(hours every, WallTime at) {
  return std::chrono::floor<hours>(at).time_since_epoch().count() / every.count();
}

} // namespace

std::vector<std::string> tested_routes(const config::Notify& settings, const config::Contact& contact) {
  std::vector<std::string> names;
  for (const auto& route : settings.routes) {
    const bool read_by_a_person = std::holds_alternative<config::MailRoute>(route.kind) ||
                                  std::holds_alternative<config::WebhookRoute>(route.kind) ||
                                  std::holds_alternative<config::MqttRoute>(route.kind);
    if (read_by_a_person && std::find(contact.routes.begin(), contact.routes.end(), route.name) != contact.routes.end())
      names.push_back(route.name);
  }
  return names;
}

WallTime test_time(const config::Notify& settings, const RouteTests::Key& key, std::int64_t n) {
  const hours every = settings.test_every.value_or(hours{168});
  const auto minutes = static_cast<std::uint64_t>(std::chrono::minutes{every}.count());
  const auto offset = spread(fmt::format("{}/{}/{}", key.first, key.second, n)) % minutes;
  return WallTime{every * n} + std::chrono::minutes{static_cast<std::int64_t>(offset)};
}

std::vector<RouteTests::Key> tests_due(const config::Notify& settings, RouteTests& tests, WallTime now) {
  std::vector<RouteTests::Key> due;
  if (!settings.test_every) return due;
  const auto period = period_of(*settings.test_every, now);
  for (const auto& contact : settings.contacts)
    for (const auto& route : tested_routes(settings, contact)) {
      const RouteTests::Key key{contact.name, route};
      const auto done = tests.period.try_emplace(key, period).first;
      done->second = std::min(done->second, period); // the clock was ahead once; the tests must go on all the same
      if (done->second >= period || is_quiet(contact, now)) continue;
      // One that a stopped daemon missed is made up for at once.
      if (done->second + 1 >= period && now < test_time(settings, key, period)) continue;
      done->second = period;
      due.push_back(key);
    }
  return due;
}

std::vector<RouteTests::Key> tests_missed(const config::Notify& settings, RouteTests& tests, WallTime now) {
  std::vector<RouteTests::Key> missed;
  for (auto& [key, test] : tests.last) {
    if (!test.answered) test.sent = std::min(test.sent, now); // likewise
    if (test.answered || test.reported || now - test.sent < settings.answer_within) continue;
    test.reported = true;
    missed.push_back(key);
  }
  return missed;
}

tl::expected<RouteTests::Key, std::string> answer_test(RouteTests& tests, std::int64_t number, const std::string& by,
                                                       WallTime now) {
  for (auto& [key, test] : tests.last) {
    if (test.number != number) continue;
    if (test.answered)
      return tl::unexpected(fmt::format("test {} was answered by {} already", number, test.answered_by));
    test.answered = now;
    test.answered_by = by;
    return key;
  }
  return tl::unexpected(
      fmt::format("there is no test {} that waits for an answer: `oxherd notify` lists them", number));
}

} // namespace oxherd::daemon::notify

#include "daemon/run/users_noted.hpp"

#include <algorithm>

#include "daemon/log.hpp"
#include "daemon/store/history.hpp"

namespace oxherd::daemon {
namespace {

constexpr const char* changed_prefix = "user/";
constexpr const char* signed_in_prefix = "sign-in/";

bool is_sign_in(const identity::UserNote& note) { return note.event.starts_with("sign"); }

} // namespace

AlarmRecord journal_line(identity::UserNote note) {
  AlarmRecord record;
  record.at = note.at;
  record.alarm = (is_sign_in(note) ? signed_in_prefix : changed_prefix) + note.user;
  record.event = std::move(note.event);
  record.cause = "person";
  record.author = std::move(note.author);
  record.priority = alarms::Priority::low;
  record.text = std::move(note.text);
  return record;
}

bool UsersNoted::take(const identity::UserNote& note) {
  if (is_sign_in(note)) return true;
  if (note.at <= until_) return false;
  until_ = note.at;
  return true;
}

UsersNoted load_users_noted(const std::filesystem::path& state_dir, WallTime now) {
  HistoryQuery query;
  query.alarm_prefix = changed_prefix;
  query.from = WallTime{std::chrono::milliseconds{0}};
  query.to = now + std::chrono::days{36500}; // a clock that was set back hides none
  query.limit = 1;
  const auto found = alarm_history(state_dir, query);
  if (!found) log::error("what the journal has of users cannot be read, it is told again: {}", found.error().what);
  return UsersNoted{found && !found->records.empty() ? found->records.front().at : query.from};
}

} // namespace oxherd::daemon

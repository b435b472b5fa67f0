#include "daemon/identity/sessions.hpp"

#include <algorithm>

namespace oxherd::daemon::identity {

Sessions::Opened Sessions::open(const User& user, Monotonic now) {
  if (sessions_.size() >= kept_at_most)
    sessions_.erase(std::min_element(sessions_.begin(), sessions_.end(),
                                     [](const auto& a, const auto& b) { return a.second.used < b.second.used; }));
  Opened opened{random_token(), {user.name, user.role, random_token()}};
  sessions_[token_hash(opened.cookie)] = {opened.person, user.password_hash, now};
  return opened;
}

std::optional<Person> Sessions::find(std::string_view cookie, Monotonic now) {
  if (cookie.empty()) return std::nullopt;
  const auto found = sessions_.find(token_hash(cookie));
  if (found == sessions_.end()) return std::nullopt;
  if (now - found->second.used > idle_at_most) {
    sessions_.erase(found);
    return std::nullopt;
  }
  found->second.used = now;
  return found->second.person;
}

void Sessions::close(std::string_view cookie) { sessions_.erase(token_hash(cookie)); }

void Sessions::follow(const std::vector<User>& users) {
  for (auto it = sessions_.begin(); it != sessions_.end();) {
    const auto user =
        std::find_if(users.begin(), users.end(), [&](const User& one) { return one.name == it->second.person.name; });
    if (user == users.end() || user->password_hash != it->second.password_hash) {
      it = sessions_.erase(it);
      continue;
    }
    it->second.person.role = user->role;
    ++it;
  }
}

std::optional<Monotonic> SignInBrake::ask(const std::string& key, Monotonic now) {
  if (spent_.size() >= kept_at_most) std::erase_if(spent_, [now](const auto& one) { return one.second <= now; });
  auto& all_back = spent_.try_emplace(key, now).first->second;
  all_back = std::max(all_back, now);
  const Monotonic owed = all_back - now;
  constexpr Monotonic room = one_more_after * (tries_at_once - 1);
  if (owed > room) return owed - room;
  all_back += one_more_after;
  return std::nullopt;
}

} // namespace oxherd::daemon::identity

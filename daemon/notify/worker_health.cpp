#include <algorithm>
#include <array>

#include "daemon/notify/worker.hpp"

namespace oxherd::daemon::notify {

void Worker::publish_health() {
  NotifyHealth h;
  for (const auto& route : setup_.settings.routes) {
    static constexpr std::array<const char*, 4> kinds{"e-mail", "webhook", "syslog", "cap-files"};
    RouteHealth r;
    r.name = route.name;
    r.kind = kinds[route.kind.index()];
    if (const auto found = routes_.find(route.name); found != routes_.end()) {
      r.failing = found->second.reported;
      r.delivered = found->second.delivered;
      r.given_up = found->second.given_up;
    }
    for (const auto& [key, line] : lines_) {
      if (key.first != route.name) continue;
      if (!line.trouble.empty()) r.trouble = line.trouble;
      if (line.last_delivered && (!r.last_delivered || *r.last_delivered < *line.last_delivered))
        r.last_delivered = line.last_delivered;
    }
    for (const auto& one : pending_)
      if (one.parcel.route == route.name) ++r.waiting;
    h.routes.push_back(std::move(r));
  }
  for (const auto& contact : setup_.settings.contacts) {
    ContactHealth c{contact.name, contact.person, contact.routes, std::nullopt, {}};
    for (const auto& route : contact.routes) {
      if (const auto line = lines_.find({route, contact.name}); line != lines_.end() && line->second.last_delivered)
        c.last_delivered = std::max(c.last_delivered, line->second.last_delivered);
      if (const auto test = state_.tests.last.find({contact.name, route}); test != state_.tests.last.end()) {
        const auto& t = test->second;
        c.tests.push_back({route, t.number, t.sent, t.answered, t.answered_by, t.reported && !t.answered});
      }
    }
    h.contacts.push_back(std::move(c));
  }
  h.watcher = watcher_;
  h.watcher.configured = setup_.watcher.has_value();
  for (const auto& [key, one] : state_.climbs)
    if (!one.answered) ++h.unanswered;
  h.to_be_told = state_.waiting.size();
  h.waiting = pending_.size();
  h.archive_trouble = archive_trouble_;
  const std::lock_guard hold{lock_};
  health_ = std::move(h);
}

} // namespace oxherd::daemon::notify

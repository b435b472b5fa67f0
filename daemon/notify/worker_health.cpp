#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "daemon/clock.hpp"
#include "daemon/log.hpp"
#include "daemon/notify/worker.hpp"

namespace oxherd::daemon::notify {
namespace {

/// A turn waits 20 s at most for something to happen.
constexpr std::chrono::seconds turn_at_most{30};

} // namespace

NotifyHealth Worker::health(Monotonic now) const {
  const auto ago = now - turned_.load();
  const std::lock_guard hold{lock_};
  auto h = health_;
  if (h.trouble.empty() && ago > turn_at_most)
    h.trouble = fmt::format("the thread that tells people has not completed a turn for {} s",
                            std::chrono::duration_cast<std::chrono::seconds>(ago).count());
  if (!h.trouble.empty()) h.watcher.trouble = "no heartbeat: " + h.trouble;
  return h;
}

void Worker::ended_by(const std::string& what) {
  log::error("notify: the thread that tells people ended: {}; nobody is told until the daemon is started again", what);
  const std::lock_guard hold{lock_};
  health_.trouble = fmt::format("the thread that tells people ended: {}; start the daemon again", what);
}

void Worker::publish_health() {
  NotifyHealth h;
  for (const auto& route : setup_.settings.routes) {
    static constexpr std::array<const char*, 5> kinds{"e-mail", "webhook", "syslog", "cap-files", "mqtt"};
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
  turned_ = monotonic_now();
  const std::lock_guard hold{lock_};
  health_ = std::move(h);
}

} // namespace oxherd::daemon::notify

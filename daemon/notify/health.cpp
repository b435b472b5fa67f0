#include "daemon/notify/health.hpp"

#include <fmt/core.h>

#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::notify {
namespace {

std::string time_or_null(const std::optional<WallTime>& t) { return t ? json_string(rfc3339(*t)) : "null"; }

std::string route_json(const RouteHealth& r) {
  return JsonObject{}
      .text("route", r.name)
      .text("kind", r.kind)
      .flag("failing", r.failing)
      .text("trouble", r.trouble)
      .integer("waiting", static_cast<std::int64_t>(r.waiting))
      .integer("delivered", static_cast<std::int64_t>(r.delivered))
      .integer("given_up", static_cast<std::int64_t>(r.given_up))
      .json("last_delivered", time_or_null(r.last_delivered))
      .str();
}

std::string test_json(const TestHealth& t) {
  return JsonObject{}
      .text("route", t.route)
      .integer("number", t.number)
      .text("sent", rfc3339(t.sent))
      .json("answered", time_or_null(t.answered))
      .text("answered_by", t.answered_by)
      .flag("missed", t.missed)
      .str();
}

std::string contact_json(const ContactHealth& c) {
  std::vector<std::string> routes, tests;
  for (const auto& route : c.routes) routes.push_back(json_string(route));
  for (const auto& test : c.tests) tests.push_back(test_json(test));
  return JsonObject{}
      .text("contact", c.name)
      .text("name", c.person)
      .json("routes", json_array(routes))
      .json("last_delivered", time_or_null(c.last_delivered))
      .json("tests", json_array(tests))
      .str();
}

/// What is wrong with the telling of people, in the order in which one should see to it; the watcher stands apart.
std::vector<std::string> troubles_of(const NotifyHealth& health) {
  std::vector<std::string> troubles;
  if (!health.trouble.empty()) troubles.push_back(health.trouble);
  for (const auto& r : health.routes)
    if (r.failing) troubles.push_back(fmt::format("route {} fails: {}", r.name, r.trouble));
  for (const auto& c : health.contacts)
    for (const auto& t : c.tests)
      if (t.missed) troubles.push_back(fmt::format("test {} to {} by {} was not answered", t.number, c.name, t.route));
  if (!health.archive_trouble.empty()) troubles.push_back("not on the disk: " + health.archive_trouble);
  return troubles;
}

JsonObject head_of(const NotifyHealth& health) {
  std::vector<std::string> troubles;
  for (const auto& trouble : troubles_of(health)) troubles.push_back(json_string(trouble));
  JsonObject object;
  object.flag("configured", !health.contacts.empty())
      .json("troubles", json_array(troubles))
      .integer("unanswered", static_cast<std::int64_t>(health.unanswered))
      .integer("to_be_told", static_cast<std::int64_t>(health.to_be_told))
      .integer("waiting", static_cast<std::int64_t>(health.waiting))
      .json("watcher", JsonObject{}
                           .flag("configured", health.watcher.configured)
                           .text("trouble", health.watcher.trouble)
                           .json("last_taken", time_or_null(health.watcher.last_taken))
                           .str());
  return object;
}

} // namespace

std::string notify_payload(const NotifyHealth& health) {
  std::vector<std::string> routes, contacts;
  for (const auto& route : health.routes) routes.push_back(route_json(route));
  for (const auto& contact : health.contacts) contacts.push_back(contact_json(contact));
  return head_of(health).json("routes", json_array(routes)).json("contacts", json_array(contacts)).str();
}

std::string notify_summary(const NotifyHealth& health) { return head_of(health).str(); }

} // namespace oxherd::daemon::notify

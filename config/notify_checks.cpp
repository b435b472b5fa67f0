#include <algorithm>

#include <fmt/format.h>

#include "config/nearest.hpp"
#include "config/notify_sections.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using alarms::Priority;

template <class Named> std::vector<std::string> names_of(const std::vector<Named>& all) {
  std::vector<std::string> names;
  for (const auto& one : all) names.push_back(one.name);
  return names;
}
bool is_in(const std::vector<std::string>& names, const std::string& name) {
  return std::find(names.begin(), names.end(), name) != names.end();
}
std::string not_there(std::string_view what, const std::string& name, const std::vector<std::string>& there) {
  if (there.empty()) return fmt::format("there is no {} \"{}\", nor any other", what, name);
  return fmt::format("there is no {} \"{}\"; there is {}", what, name, listed_nearest_first(name, there));
}

void check_contact(const Notify& notify, const Contact& contact, Reporter& report) {
  const auto routes = names_of(notify.routes);
  if (contact.routes.empty() && !report.is_broken({"contact", contact.name}))
    report.error({"contact", contact.name, "route"}, "names no route: nothing would reach this contact");
  for (const auto& name : contact.routes) {
    const auto route =
        std::find_if(notify.routes.begin(), notify.routes.end(), [&](const NotifyRoute& r) { return r.name == name; });
    if (route == notify.routes.end()) {
      report.error({"contact", contact.name, "route"}, not_there("route", name, routes));
      continue;
    }
    if (is_address_for(*route, contact.address) || report.is_broken({"contact", contact.name, "address"})) continue;
    report.error({"contact", contact.name, "address"},
                 contact.address.empty() ? fmt::format("missing; route \"{}\" needs an e-mail address", name)
                                         : fmt::format("\"{}\" is no address for route \"{}\"", contact.address, name));
  }
}

bool is_under(std::string_view topic, std::string_view above) {
  return topic == above || topic.starts_with(fmt::format("{}/", above));
}

/// Messages are told from all else that the daemon publishes by their topic.
void check_mqtt_route(const Settings& settings, const NotifyRoute& route, Reporter& report) {
  const auto* mqtt = std::get_if<MqttRoute>(&route.kind);
  if (mqtt == nullptr || report.is_broken({"route", route.name})) return;
  if (!settings.mqtt)
    return report.error({"route", route.name, "kind"}, "is by the daemon's own broker, and there is none; write [mqtt] "
                                                       "with broker = \"mqtt://host:1883\"");
  const auto own = own_topic(*settings.mqtt, settings.site);
  const auto messages = own + "/messages";
  if (is_under(mqtt->topic, own) && !is_under(mqtt->topic, messages))
    report.error({"route", route.name, "topic"},
                 fmt::format("\"{}\" is among the daemon's own topics; leave it out for \"{}\", or write one that is "
                             "not below \"{}\"",
                             mqtt->topic, messages, own));
  for (const auto& room : settings.rooms)
    if (room.name == "messages" && is_under(mqtt->topic, messages))
      report.error({"room", room.name}, fmt::format("the messages of route \"{}\" go to the topics of this room; name "
                                                    "it otherwise, or give the route a topic",
                                                    route.name));
}

void check_rota(const Notify& notify, const Rota& rota, Reporter& report) {
  const auto contacts = names_of(notify.contacts);
  if (is_in(contacts, rota.name))
    report.error({"rota", rota.name}, "is the name of a contact too; steps could not tell them apart");
  const auto check = [&](std::string_view key, const std::string& name) {
    if (!name.empty() && !is_in(contacts, name))
      report.error({"rota", rota.name, key}, not_there("contact", name, contacts));
  };
  for (const auto& shift : rota.weekly) check("weekly", shift.contact);
  for (const auto& shift : rota.dated) check("dates", shift.contact);
  if (rota.otherwise) check("otherwise", *rota.otherwise);
}

/// A rota with a gap is told of where it is used: for what cannot wait it is an error.
void check_ladder(const Notify& notify, Priority priority, Reporter& report) {
  auto there = names_of(notify.contacts);
  for (const auto& rota : notify.rotas) there.push_back(rota.name);
  for (const auto& step : notify.ladder(priority).steps) {
    const Keys at{"escalation", alarms::name_of(priority), "steps"};
    if (step.to.empty()) report.error(at, "a step tells nobody");
    for (const auto& name : step.to) {
      if (name == "everyone") continue;
      if (!is_in(there, name)) {
        report.error(at, not_there("contact or rota", name, there));
        continue;
      }
      const auto rota =
          std::find_if(notify.rotas.begin(), notify.rotas.end(), [&](const Rota& r) { return r.name == name; });
      if (rota == notify.rotas.end() || report.is_broken({"rota", rota->name})) continue;
      const auto gaps = gaps_in(*rota);
      if (gaps.empty()) continue;
      const auto words = fmt::format("nobody of rota \"{}\" is on duty: {} ({}); fill the gap or name a contact with "
                                     "otherwise",
                                     name, fmt::join(gaps, ", "), rota->zone.name);
      if (priority >= Priority::high)
        report.error({"rota", name}, words);
      else
        report.warning({"rota", name}, words);
    }
  }
}

} // namespace

void check_notify(const Settings& settings, Reporter& report) {
  if (!settings.notify) return;
  const auto& notify = *settings.notify;
  for (const auto& contact : notify.contacts) check_contact(notify, contact, report);
  for (const auto& route : notify.routes) check_mqtt_route(settings, route, report);
  for (const auto& rota : notify.rotas) check_rota(notify, rota, report);
  for (const auto priority : {Priority::critical, Priority::high, Priority::medium, Priority::low})
    check_ladder(notify, priority, report);
}

} // namespace oxherd::config

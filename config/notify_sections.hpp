#pragma once

#include <optional>
#include <string>

#include "config/cross_checks.hpp"
#include "config/notify_settings.hpp"
#include "config/settings.hpp"
#include "config/table_reader.hpp"

namespace oxherd::config {

/// The tables notify, route, contact, rota and escalation; nothing when the file has no contact. `site` and `mqtt` say
/// where messages to the broker go.
[[nodiscard]] std::optional<Notify> read_notify(TableReader& root, const Site& site, const std::optional<Mqtt>& mqtt);
[[nodiscard]] NotifyRoute read_route(const std::string& name, TableReader in, const std::string& message_topic);
[[nodiscard]] Watcher read_watcher(TableReader in);

/// Whether a contact's address can be used with this route.
[[nodiscard]] bool is_address_for(const NotifyRoute& route, const std::string& address);

/// The ladders that hold where the file has none of its own: critical 0, 1, 3 and 5 min, high 0, 5 and 15 min, medium
/// in working hours, low once a day. The contacts are taken in the order of the file.
[[nodiscard]] Ladder default_ladder(alarms::Priority priority, const std::vector<Contact>& contacts);

/// References between those tables, and times at which nobody is on duty.
void check_notify(const Settings& settings, Reporter& report);

} // namespace oxherd::config

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "config/host_port.hpp"
#include "config/hours.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;

constexpr QuantityRule keep_alive_span{Dimension::duration, 5.0, 300.0, "5 s to 5 min"};
constexpr QuantityRule pack_span{Dimension::duration, 0.0, 60.0, "0 s to 60 s"};
constexpr QuantityRule retention{Dimension::duration, 86400.0, 20.0 * 366.0 * 86400.0, "1 d to 20 years"};
constexpr QuantityRule free_share{Dimension::ratio, 0.0, 0.5, "0 % to 50 %"};
constexpr IntegerRule queue_length{100, 10'000'000};

bool is_loopback(std::string_view host) { return host == "localhost" || host == "::1" || host.starts_with("127."); }

void read_broker(TableReader& in, Mqtt& mqtt) {
  in.require("broker", "\"mqtt://127.0.0.1:1883\"");
  const auto text = in.text("broker");
  if (!text) return;
  const bool secure = text->starts_with("mqtts://");
  if (!secure && !text->starts_with("mqtt://")) {
    in.error("broker",
             fmt::format("\"{}\" is no broker address; write mqtt://host:port, or mqtts://host:port for TLS", *text));
    return;
  }
  const std::string_view rest = std::string_view{*text}.substr(secure ? 8 : 7);
  if (rest.find('@') != rest.npos) {
    in.error("broker", "a user or password does not belong in the address; use the keys user and password_file");
    return;
  }
  const auto address = host_and_port(rest, secure ? 8883 : 1883); // the ports registered with IANA
  if (!address) {
    in.error("broker", address.error());
    return;
  }
  const bool numeric_v6 = address->host.find(':') != std::string::npos;
  mqtt.broker = fmt::format("{}://{}{}{}:{}", secure ? "mqtts" : "mqtt", numeric_v6 ? "[" : "", address->host,
                            numeric_v6 ? "]" : "", address->port);
  if (mqtt.user && !secure && !is_loopback(address->host))
    in.warning("user", "the password travels unencrypted to another machine; use mqtts://");
  for (const std::string_view key : {"ca_file", "certificate_file", "key_file"})
    if (in.has(key) && !secure) in.error(key, "is only used with a mqtts:// broker");
}

/// Sparkplug 3.0 permits any UTF-8 but these (tck-id-topic-structure-namespace-valid-group-id).
bool is_sparkplug_group(std::string_view group) { return !group.empty() && group.find_first_of("+/#") == group.npos; }

Sparkplug read_sparkplug(TableReader in) {
  Sparkplug sparkplug;
  in.require("group", "\"farms\"");
  if (const auto group = in.text("group")) {
    sparkplug.group = *group;
    if (!is_sparkplug_group(*group))
      in.error("group", fmt::format("\"{}\" cannot be a level of a topic; use a name without +, / and #", *group));
  }
  in.finish();
  return sparkplug;
}

/// Latitude and longitude; one without the other is no place.
std::optional<control::Place> read_place(TableReader& in) {
  const auto latitude = in.number("latitude", -90.0, 90.0);
  const auto longitude = in.number("longitude", -180.0, 180.0);
  if (in.has("latitude") != in.has("longitude"))
    in.error(in.has("latitude") ? "latitude" : "longitude", "latitude and longitude only work together");
  if (!latitude || !longitude) return std::nullopt;
  return control::Place{*latitude, *longitude};
}

} // namespace

Site read_site(TableReader in) {
  Site site;
  in.require("name", "\"larkfield\"");
  in.require("elevation", "\"212 m\"");
  if (const auto name = in.text("name")) {
    site.name = *name;
    if (!is_name(*name))
      in.error("name", fmt::format("\"{}\" cannot name a site; use lower-case letters, digits and single dashes, at "
                                   "most 63 characters",
                                   *name));
  }
  if (const auto elevation = in.quantity("elevation", site_elevation)) site.elevation = metres(*elevation);
  site.place = read_place(in);
  site.zone = read_time_zone(in, site.zone);
  site.emergency = in.text("emergency").value_or(site.emergency);
  site.barometer = in.text("barometer");
  site.issuer.organisation = in.text("organisation").value_or("");
  site.issuer.place = in.text("place").value_or("");
  site.issuer.owner = in.text("owner").value_or("");
  in.finish();
  return site;
}

bool is_topic_prefix(std::string_view prefix) {
  const bool framed = prefix.starts_with('/') || prefix.ends_with('/') || prefix.starts_with('$');
  const auto fits = [](char c) { return static_cast<unsigned char>(c) > 0x20 && c != 0x7F && c != '+' && c != '#'; };
  return !prefix.empty() && !framed && prefix.find("//") == prefix.npos &&
         std::all_of(prefix.begin(), prefix.end(), fits);
}

std::string own_topic(const Mqtt& mqtt, const Site& site) { return mqtt.prefix + "/" + site.name; }

Mqtt read_mqtt(TableReader in, const Site& site) {
  Mqtt mqtt;
  mqtt.prefix = in.text("prefix").value_or(mqtt.prefix);
  if (!is_topic_prefix(mqtt.prefix))
    in.error("prefix", fmt::format("\"{}\" cannot start a topic; use levels joined by single slashes, without +, # or "
                                   "spaces",
                                   mqtt.prefix));
  mqtt.client_id = in.text("client_id").value_or("oxherd-" + site.name);
  mqtt.user = in.text("user");
  mqtt.password_file = in.text("password_file");
  mqtt.ca_file = in.text("ca_file");
  mqtt.certificate_file = in.text("certificate_file");
  mqtt.key_file = in.text("key_file");
  read_broker(in, mqtt);
  if (in.has("password"))
    in.error("password", "a password is not kept in this file, which many may read; put it into a file of its own that "
                         "only the daemon can read and name that with password_file");
  if (mqtt.password_file && !mqtt.user) in.error("password_file", "needs a user as well");
  if (mqtt.certificate_file.has_value() != mqtt.key_file.has_value())
    in.error(mqtt.key_file ? "key_file" : "certificate_file", "certificate_file and key_file only work together");
  if (const auto t = in.duration("keep_alive", keep_alive_span))
    mqtt.keep_alive = std::chrono::duration_cast<std::chrono::seconds>(*t);
  mqtt.pack = in.duration("pack", pack_span).value_or(mqtt.pack);
  mqtt.queue_max = in.integer("queue_max", queue_length).value_or(mqtt.queue_max);
  if (auto sparkplug = in.table("sparkplug")) mqtt.sparkplug = read_sparkplug(*sparkplug);
  in.finish();
  return mqtt;
}

Store read_store(TableReader in) {
  Store store;
  const auto hours = [&in](std::string_view key, std::chrono::hours fallback) {
    const auto t = in.duration(key, retention);
    return t ? std::chrono::duration_cast<std::chrono::hours>(*t) : fallback;
  };
  store.keep_raw = hours("keep_raw", store.keep_raw);
  store.keep_readings = hours("keep_readings", store.keep_readings);
  store.keep_minutes = hours("keep_minutes", store.keep_minutes);
  store.keep_free = in.quantity("keep_free", free_share).value_or(store.keep_free);
  store.queue_max = in.integer("queue_max", queue_length).value_or(store.queue_max);
  in.finish();
  return store;
}

} // namespace oxherd::config

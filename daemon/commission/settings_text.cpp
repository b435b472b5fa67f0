#include "daemon/commission/settings_text.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/commission/bus_word.hpp"

namespace oxherd::daemon::commission {
namespace {

using config::Measurand;

/// A long sentence as comment lines.
std::string comment(std::string_view text) {
  constexpr std::size_t width = 118;
  std::string out = "#";
  std::size_t column = 1;
  while (!text.empty()) {
    const auto end = std::min(text.find(' '), text.size());
    if (column + 1 + end > width) {
      out += "\n#";
      column = 1;
    }
    out += ' ' + std::string{text.substr(0, end)};
    column += 1 + end;
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return out + '\n';
}

std::string line(std::string_view key, const std::string& text) {
  return fmt::format("{} = {}\n", key, toml_string(text));
}

/// A whole number is written as it came: the reader of the settings says what is wrong with another.
std::string number_line(std::string_view key, const std::string& text) { return fmt::format("{} = {}\n", key, text); }

std::string site_text(const Answers& a) {
  return "[site]\n" + line("name", answer_to(a, "site")) + line("elevation", answer_to(a, "elevation")) +
         line("time_zone", answer_to(a, "time_zone")) + line("emergency", answer_to(a, "emergency")) +
         "# organisation = \"...\"              # these two stand on calibration certificates\n"
         "# owner = \"...\"\n";
}

std::string bus_text(const Answers& a) {
  const auto word = answer_to(a, "bus");
  if (is_serial(a))
    return "\n[bus.main]\nkind = \"modbus-rtu\"\n" + line("device", word) + number_line("baud", answer_to(a, "baud")) +
           line("parity", answer_to(a, "parity"));
  constexpr std::string_view scheme = "tcp://";
  return "\n[bus.main]\nkind = \"modbus-tcp\"\n" +
         line("address", word.starts_with(scheme) ? word.substr(scheme.size()) : word);
}

std::string sensor_head(const Answers& a, std::string_view sensor, const std::string& measures, std::string_view unit,
                        std::string_view profile) {
  return fmt::format("\n[room.{}.sensor.{}]\nmeasures = {}\nbus = \"main\"\n", toml_string(answer_to(a, "room")),
                     sensor, measures) +
         number_line("unit", answer_to(a, unit)) + line("profile", answer_to(a, profile));
}

std::string calibration_text(const Answers& a) {
  if (is_none(answer_to(a, "calibration_signal")))
    return "# No calibration yet: the room counts as not monitored until `oxherd calibrate ROOM/cell` has made one.\n";
  std::string out =
      fmt::format("calibration = {{ signal = {}, temperature = {}, humidity = {}, ",
                  toml_string(answer_to(a, "calibration_signal")), toml_string(answer_to(a, "calibration_temperature")),
                  toml_string(answer_to(a, "calibration_humidity")));
  const auto pressure = answer_to(a, "calibration_pressure");
  return out + (is_none(pressure) ? fmt::format("elevation = {} }}\n", toml_string(answer_to(a, "elevation")))
                                  : fmt::format("pressure = {} }}\n", toml_string(pressure)));
}

std::string oxygen_text(const Answers& a) {
  auto out = sensor_head(a, "cell", "\"oxygen\"", "oxygen_unit", "oxygen_profile");
  if (!gives_signal(a)) return out + line("reports", answer_to(a, "reports"));
  std::string cell = fmt::format("model = {}", toml_string(answer_to(a, "cell_model")));
  if (!is_none(answer_to(a, "cell_zero"))) cell += fmt::format(", zero = {}", toml_string(answer_to(a, "cell_zero")));
  if (!is_none(answer_to(a, "cell_serial")))
    cell += fmt::format(", serial = {}", toml_string(answer_to(a, "cell_serial")));
  return out + fmt::format("cell = {{ {} }}\n", cell) + calibration_text(a);
}

/// What the chosen probe delivers of the three, as an array.
std::string ambient_measures(const Answers& a, const Surroundings& around) {
  std::string out;
  for (const auto& profile : around.profiles) {
    if (profile.name != answer_to(a, "ambient_profile")) continue;
    for (const auto measurand : {Measurand::temperature, Measurand::humidity, Measurand::pressure})
      if (std::ranges::find(profile.measurands, measurand) != profile.measurands.end())
        out += fmt::format("{}\"{}\"", out.empty() ? "" : ", ", config::name_of(measurand));
  }
  return "[" + out + "]";
}

std::string alarm_text(const std::string& room, std::string_view name, std::string_view keys) {
  return fmt::format("\n[room.{}.alarm.{}]\n{}", room, name, keys);
}

std::string alarms_text(const Answers& a) {
  const auto room = toml_string(answer_to(a, "room"));
  std::string out = "\n" + comment("Alarms: limits and delays as the trade starts with. Judge each for your room with "
                                   "whoever is responsible for its safety; oxherd rehearse tries them on recorded "
                                   "data. The alarm \"not-monitored\" is there by itself and cannot be taken out.");
  out += alarm_text(room, "low-oxygen",
                    "quantity = \"oxygen\"\nbelow = \"19.5 %\"            # oxygen-deficient by 29 CFR 1910.146\n"
                    "deadband = \"0.2 %\"\non_delay = \"3 s\"\noff_delay = \"10 s\"\npriority = \"critical\"\n");
  out += alarm_text(room, "very-low-oxygen", "quantity = \"oxygen\"\nbelow = \"18 %\"\npriority = \"critical\"\n");
  out += alarm_text(room, "high-oxygen",
                    "quantity = \"oxygen\"\nabove = \"23.5 %\"            # enriched air: things burn fast\n");
  if (!is_none(answer_to(a, "co2_profile")))
    out += alarm_text(room, "high-co2", "quantity = \"carbon-dioxide\"\nabove = \"5000 ppm\"\n");
  return out;
}

std::string relay_text(const Answers& a) {
  const auto relay = answer_to(a, "relay");
  const auto slash = relay.find('/');
  if (is_none(relay) || slash == relay.npos)
    return "\n# No alarm relay: add [output.NAME] with kind = \"alarm-relay\" when there is one; nothing warns at the "
           "door till then.\n";
  return "\n" + comment("Coil on means healthy, coil off means alarm: power, wire, program and bus must all be well.") +
         "[output.relay]\nkind = \"alarm-relay\"\n" + line("room", answer_to(a, "room")) + "bus = \"main\"\n" +
         number_line("unit", relay.substr(0, slash)) + number_line("coil", relay.substr(slash + 1));
}

} // namespace

std::string toml_string(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\')
      out += fmt::format("\\{}", c);
    else if (byte < 0x20 || byte == 0x7F)
      out += fmt::format("\\u{:04X}", unsigned{byte});
    else
      out += c;
  }
  return out + '"';
}

std::string settings_text(const Answers& a, const Surroundings& around) {
  std::string out = comment("Written by oxherd init. Check it with oxherd check --config FILE; README and "
                            "demo/larkfield.toml show what else there is.") +
                    "#\n" + comment(alarms::caution_long()) + "\n" + site_text(a) + bus_text(a);
  const auto room = toml_string(answer_to(a, "room"));
  out += fmt::format("\n[room.{}]\n", room) + line("regime", answer_to(a, "room_kind")) + oxygen_text(a);
  if (!is_none(answer_to(a, "ambient_profile")))
    out += sensor_head(a, "air", ambient_measures(a, around), "ambient_unit", "ambient_profile");
  if (!is_none(answer_to(a, "co2_profile")))
    out += sensor_head(a, "co2", "\"carbon-dioxide\"", "co2_unit", "co2_profile");
  out += alarms_text(a) + relay_text(a);
  if (!is_none(answer_to(a, "mqtt"))) out += "\n[mqtt]\n" + line("broker", answer_to(a, "mqtt"));
  out += "\n[http]\n" + line("listen", answer_to(a, "page"));
  return out + "\n" +
         comment("Nobody is told of alarms yet: see \"Telling people\" in README for [route.NAME] and [contact.NAME].");
}

} // namespace oxherd::daemon::commission

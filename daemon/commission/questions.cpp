#include "daemon/commission/questions.hpp"

#include <algorithm>
#include <charconv>

#include <fmt/core.h>

#include "config/load.hpp"
#include "config/nearest.hpp"
#include "config/table_reader.hpp"
#include "daemon/commission/bus_word.hpp"
#include "daemon/commission/settings_text.hpp"

namespace oxherd::daemon::commission {
namespace {

using config::Measurand;
using Around = Surroundings;
using Refusal = std::optional<std::string>;

bool delivers(const OfferedProfile& profile, Measurand measurand) {
  return std::ranges::find(profile.measurands, measurand) != profile.measurands.end();
}

bool is_ambient(const OfferedProfile& profile) {
  return delivers(profile, Measurand::temperature) || delivers(profile, Measurand::humidity) ||
         delivers(profile, Measurand::pressure);
}

/// Names of those that fit, the site's own first.
template <class Fits> std::vector<std::string> names_of(const Around& around, Fits fits) {
  std::vector<std::string> own, others;
  for (const auto& profile : around.profiles)
    if (fits(profile)) (profile.own ? own : others).push_back(profile.name);
  own.insert(own.end(), others.begin(), others.end());
  return own;
}

/// The site's own register map of that kind, when there is just one.
template <class Fits> std::optional<std::string> only_own(const Around& around, Fits fits) {
  std::optional<std::string> only;
  for (const auto& profile : around.profiles) {
    if (!profile.own || !fits(profile)) continue;
    if (only) return std::nullopt;
    only = profile.name;
  }
  return only;
}

constexpr auto has_oxygen = [](const OfferedProfile& p) { return delivers(p, Measurand::oxygen); };
constexpr auto has_co2 = [](const OfferedProfile& p) { return delivers(p, Measurand::carbon_dioxide); };

template <class Fits> Refusal no_such_profile(const std::string& answer, const Around& around, Fits fits) {
  const auto names = names_of(around, fits);
  if (std::ranges::find(names, answer) != names.end()) return std::nullopt;
  if (names.empty()) return "there is no register map for this; write one with oxherd scan first";
  return fmt::format("there is no register map \"{}\" for this; there is {}", answer,
                     config::listed_nearest_first(answer, names));
}

const std::string own_origin = "found in profiles/ beside the settings file";

template <class Fits> Default none_or_own(const Around& around, Fits fits, std::string_view consequence) {
  if (auto own = only_own(around, fits)) return {std::move(own), own_origin};
  return {"none", std::string{consequence}};
}

Default must_be_said(std::string_view why) { return {std::nullopt, std::string{why}}; }

/// "31/0" as two numbers.
Refusal not_a_coil(const std::string& answer, const Around&) {
  if (is_none(answer)) return std::nullopt;
  const auto slash = answer.find('/');
  const auto is_number = [](std::string_view text) {
    return !text.empty() && text.size() < 6 && text.find_first_not_of("0123456789") == text.npos;
  };
  if (slash != answer.npos && is_number(answer.substr(0, slash)) && is_number(answer.substr(slash + 1)))
    return std::nullopt;
  return fmt::format("\"{}\" names no coil; write unit and coil, such as 31/0, or none", answer);
}

Refusal not_a_number(const std::string& answer, const Around&) {
  std::int64_t number = 0;
  const auto [end, fault] = std::from_chars(answer.data(), answer.data() + answer.size(), number);
  if (fault == std::errc{} && end == answer.data() + answer.size()) return std::nullopt;
  return fmt::format("\"{}\" is no whole number", answer);
}

Refusal not_a_bus(const std::string& answer, const Around&) {
  const auto bus = bus_named(answer);
  return bus ? std::nullopt : Refusal{bus.error()};
}

Refusal not_a_room(const std::string& answer, const Around&) {
  if (config::is_name(answer)) return std::nullopt; // "status" is judged by the file
  return fmt::format("\"{}\" cannot name a room; use lower-case letters, digits and single dashes, such as "
                     "growth-chamber-1",
                     answer);
}

bool has_calibration(const Answers& a) { return gives_signal(a) && !is_none(answer_to(a, "calibration_signal")); }
bool has_ambient(const Answers& a) { return !is_none(answer_to(a, "ambient_profile")); }
bool has_carbon_dioxide(const Answers& a) { return !is_none(answer_to(a, "co2_profile")); }
bool gives_fraction(const Answers& a) { return !gives_signal(a); }

// Examples stand in until a question is answered, so each must be accepted beside all the others.
const std::vector<Question> all_questions{
    {"site", "Name of the site", "larkfield", "site.name",
     [](const Answers&, const Around& around) {
       return config::is_name(around.host_name) ? Default{around.host_name, "this machine's name"}
                                                : must_be_said("lower-case letters, digits and dashes");
     },
     nullptr, nullptr},
    {"elevation", "Elevation of the site above sea level", "212 m", "site.elevation",
     [](const Answers&, const Around&) { return must_be_said("a map tells; air pressure falls 1 % in 85 m"); }, nullptr,
     nullptr},
    {"time_zone", "Time zone of the site", "UTC", "site.time_zone",
     [](const Answers&, const Around& around) {
       return around.time_zone.empty() ? Default{"UTC", "the setting without a time zone"}
                                       : Default{around.time_zone, "this machine's time zone"};
     },
     nullptr, nullptr},
    {"emergency", "Number to call, as alarm messages name it", "112", "site.emergency",
     [](const Answers&, const Around&) {
       return Default{"112", "the setting without one; Europe's"};
     },
     nullptr, nullptr},
    {"bus", "Bus of the sensors", "tcp://192.0.2.10:502", "bus.main",
     [](const Answers&, const Around&) { return must_be_said("tcp://HOST:PORT, or a serial device as /dev/ttyUSB0"); },
     nullptr, not_a_bus},
    {"baud", "Baud rate of the line", "19200", "bus.main.baud",
     [](const Answers&, const Around&) {
       return Default{"19200", "the Modbus specification"};
     },
     is_serial, not_a_number},
    {"parity", "Parity of the line", "even", "bus.main.parity",
     [](const Answers&, const Around&) {
       return Default{"even", "the Modbus specification"};
     },
     is_serial, nullptr},
    {"room", "Name of the room", "cryo-annexe", "room.{room}",
     [](const Answers&, const Around&) { return must_be_said("lower-case letters, digits and dashes"); }, nullptr,
     not_a_room},
    {"room_kind", "How the room is used (occupied, enriched, sealed-low-oxygen, ventilated-before-entry)", "occupied",
     "room.{room}.regime",
     [](const Answers&, const Around&) {
       return Default{"occupied", "the strictest"};
     },
     nullptr, nullptr},
    {"oxygen_profile", "Register map of the oxygen sensor", "millivolts-float32", "room.{room}.sensor.cell.profile",
     [](const Answers&, const Around& around) {
       if (auto own = only_own(around, has_oxygen)) return Default{std::move(own), own_origin};
       return must_be_said("see config/profiles, or let oxherd scan write one");
     },
     nullptr,
     [](const std::string& answer, const Around& around) { return no_such_profile(answer, around, has_oxygen); }},
    {"oxygen_unit", "Unit number of the oxygen sensor on the bus", "11", "room.{room}.sensor.cell.unit",
     [](const Answers&, const Around&) { return must_be_said("oxherd scan shows who answers"); }, nullptr,
     not_a_number},
    {"reports", "Whether it reports the fraction of dry or of wet gas (dry, wet)", "wet",
     "room.{room}.sensor.cell.reports",
     [](const Answers&, const Around&) {
       return Default{"wet", "the gas as it is, unless the sample is dried"};
     },
     gives_fraction, nullptr},
    {"cell_model", "Model of the cell (concentration, partial-pressure, mole-fraction, nernst)", "concentration",
     "room.{room}.sensor.cell.cell.model",
     [](const Answers&, const Around&) {
       return Default{"concentration", "passive galvanic cells, the most common"};
     },
     gives_signal, nullptr},
    {"cell_zero", "Signal of the cell in nitrogen, or unknown", "unknown", "room.{room}.sensor.cell.cell.zero",
     [](const Answers&, const Around&) {
       return Default{"unknown", "0 is taken then, with more uncertainty"};
     },
     gives_signal, nullptr},
    {"cell_serial", "Serial number of the cell, or unknown", "unknown", "room.{room}.sensor.cell.cell.serial",
     [](const Answers&, const Around&) {
       return Default{"unknown", "calibrations belong to a serial number"};
     },
     gives_signal, nullptr},
    {"calibration_signal", "Signal of the cell when it was calibrated in fresh air, or later", "later",
     "room.{room}.sensor.cell.calibration",
     [](const Answers&, const Around&) {
       return Default{"later", "oxherd calibrate does it and keeps a record"};
     },
     gives_signal, nullptr},
    {"calibration_temperature", "Temperature then", "21 °C", "room.{room}.sensor.cell.calibration.temperature",
     [](const Answers&, const Around&) { return must_be_said("as it was read beside the cell"); }, has_calibration,
     nullptr},
    {"calibration_humidity", "Relative humidity then", "45 %", "room.{room}.sensor.cell.calibration.humidity",
     [](const Answers&, const Around&) { return must_be_said("as it was read beside the cell"); }, has_calibration,
     nullptr},
    {"calibration_pressure", "Air pressure then, or unknown", "unknown", "room.{room}.sensor.cell.calibration.pressure",
     [](const Answers&, const Around&) {
       return Default{"unknown", "the standard atmosphere at the site's elevation, with 8 hPa of weather"};
     },
     has_calibration, nullptr},
    {"ambient_profile", "Register map of the probe for temperature, humidity, pressure, or none", "none",
     "room.{room}.sensor.air",
     [](const Answers&, const Around& around) {
       return none_or_own(around, is_ambient, "without a probe oxygen is less sure");
     },
     nullptr,
     [](const std::string& answer, const Around& around) {
       return is_none(answer) ? Refusal{} : no_such_profile(answer, around, is_ambient);
     }},
    {"ambient_unit", "Unit number of that probe", "21", "room.{room}.sensor.air.unit",
     [](const Answers&, const Around&) { return must_be_said("oxherd scan shows who answers"); }, has_ambient,
     not_a_number},
    {"co2_profile", "Register map of a carbon dioxide probe, or none", "none", "room.{room}.sensor.co2",
     [](const Answers&, const Around& around) { return none_or_own(around, has_co2, "no CO2 is watched then"); },
     nullptr,
     [](const std::string& answer, const Around& around) {
       return is_none(answer) ? Refusal{} : no_such_profile(answer, around, has_co2);
     }},
    {"co2_unit", "Unit number of that probe", "43", "room.{room}.sensor.co2.unit",
     [](const Answers&, const Around&) { return must_be_said("oxherd scan shows who answers"); }, has_carbon_dioxide,
     not_a_number},
    {"relay", "Coil of the room's alarm relay as UNIT/COIL, or none", "none", "output.relay",
     [](const Answers&, const Around&) {
       return Default{"none", "nothing warns at the door then"};
     },
     nullptr, not_a_coil},
    {"mqtt", "Address of an MQTT broker, or none", "none", "mqtt",
     [](const Answers&, const Around&) {
       return Default{"none", "Oxherd needs none"};
     },
     nullptr, nullptr},
    {"page", "Address of the page, or off", "127.0.0.1:8120", "http.listen",
     [](const Answers&, const Around&) {
       return Default{"127.0.0.1:8120", "for this machine alone"};
     },
     nullptr, nullptr},
};

std::string in_room(std::string_view place, const Answers& answers) {
  std::string out{place};
  if (const auto at = out.find("{room}"); at != out.npos) out.replace(at, 6, answer_to(answers, "room"));
  return out;
}

} // namespace

std::span<const Question> questions() { return all_questions; }

const Question* next_question(const Answers& answers) {
  for (const auto& question : all_questions)
    if (!answers.contains(question.key) && (question.is_asked == nullptr || question.is_asked(answers)))
      return &question;
  return nullptr;
}

std::string answer_to(const Answers& answers, std::string_view key) {
  const auto found = answers.find(key);
  return found == answers.end() ? "" : found->second;
}

bool is_none(const std::string& answer) {
  return answer.empty() || answer == "none" || answer == "unknown" || answer == "later" || answer == "off";
}

bool is_serial(const Answers& answers) { return answer_to(answers, "bus").starts_with('/'); }

bool gives_signal(const Answers& answers) { return answers.contains(signal_key); }

void take(const Question& question, const std::string& answer, const Surroundings& around, Answers& answers) {
  answers.insert_or_assign(std::string{question.key}, answer);
  if (question.key != "oxygen_profile") return;
  answers.erase(std::string{signal_key});
  for (const auto& profile : around.profiles)
    if (profile.name == answer && profile.gives_signal) answers.insert_or_assign(std::string{signal_key}, "yes");
}

Answers completed(Answers answers, const Surroundings& around) {
  while (const Question* question = next_question(answers))
    take(*question, std::string{question->example}, around, answers);
  return answers;
}

std::optional<std::string> why_not(const Question& question, const std::string& answer, const Answers& before,
                                   const Surroundings& around) {
  if (question.why_not != nullptr)
    if (auto refusal = question.why_not(answer, around)) return refusal;
  Answers with = before;
  take(question, answer, around, with);
  with = completed(std::move(with), around);
  const auto loaded = config::parse(settings_text(with, around), "answers", around.profile_dirs);
  if (loaded) return std::nullopt;
  const auto place = in_room(question.place, with);
  for (const auto& problem : loaded.error()) {
    if (problem.key.empty()) return "this cannot stand in a settings file: quotes, brackets or unreadable characters";
    if (problem.severity != config::Severity::error || !problem.key.starts_with(place)) continue;
    // What an example below it is worth on this machine is not this answer's fault.
    const std::string_view sensor = ".sensor.";
    if (place.find(sensor) == place.npos && problem.key.find(sensor) != problem.key.npos) continue;
    return problem.message;
  }
  return std::nullopt;
}

std::string answers_form(const Surroundings& around) {
  std::string out = "# Answers for `oxherd init --answers`. A line without a mark must be filled in; the others show "
                    "what is taken.\n";
  const Answers nothing;
  for (const auto& question : all_questions) {
    const auto otherwise = question.otherwise(nothing, around);
    out += fmt::format("\n# {}", question.asks);
    if (!otherwise.origin.empty()) out += fmt::format(" ({})", otherwise.origin);
    if (question.is_asked != nullptr) out += "; not always asked";
    const bool must = !otherwise.text && question.is_asked == nullptr;
    // An example that nobody looked at must not become an answer.
    if (must) out += fmt::format("; such as {}", toml_string(question.example));
    out += fmt::format("\n{}{} = {}\n", must ? "" : "# ", question.key,
                       toml_string(must ? "" : otherwise.text.value_or(std::string{question.example})));
  }
  return out;
}

} // namespace oxherd::daemon::commission

#include "demo/story.hpp"

namespace oxherd::demo {

std::string_view name_of(Verb verb) {
  switch (verb) {
  case Verb::say: return "say";
  case Verb::barometer: return "barometer";
  case Verb::outdoor_temperature: return "outdoor-temperature";
  case Verb::outdoor_humidity: return "outdoor-humidity";
  case Verb::temperature: return "temperature";
  case Verb::humidity: return "humidity";
  case Verb::ventilation: return "ventilation";
  case Verb::leak: return "leak";
  case Verb::purge: return "purge";
  case Verb::dosing: return "dosing";
  case Verb::people: return "people";
  case Verb::door: return "door";
  case Verb::relief_isolated: return "relief-isolated";
  case Verb::gas: return "gas";
  case Verb::no_gas: return "no-gas";
  case Verb::fault: return "fault";
  }
  return "?";
}

std::string_view name_of(Fault fault) {
  switch (fault) {
  case Fault::none: return "none";
  case Fault::disconnected: return "disconnected";
  case Fault::worn: return "worn";
  case Fault::dead: return "dead";
  case Fault::silent: return "silent";
  case Fault::refusing: return "refusing";
  case Fault::stuck: return "stuck";
  }
  return "?";
}

} // namespace oxherd::demo

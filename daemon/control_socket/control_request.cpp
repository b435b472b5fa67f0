#include "daemon/control_socket/control_request.hpp"

#include <array>
#include <cmath>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/control_socket/person_name.hpp"
#include "daemon/json_member.hpp"

namespace oxherd::daemon {
namespace {

using control::ActuatorAct;
using nlohmann::json;
using ProgramAct = LoopRun::ProgramAct;

constexpr std::array actuator_acts{ActuatorAct::start, ActuatorAct::end, ActuatorAct::hold, ActuatorAct::automatic,
                                   ActuatorAct::release};
constexpr std::array program_acts{std::pair{std::string_view{"program-start"}, ProgramAct::start},
                                  std::pair{std::string_view{"program-stop"}, ProgramAct::stop},
                                  std::pair{std::string_view{"program-hold"}, ProgramAct::hold},
                                  std::pair{std::string_view{"program-resume"}, ProgramAct::resume}};
constexpr double hold_seconds_max = 30.0 * 86400.0;

/// A number from 0 on; `otherwise` where there is none, empty where it is something else.
std::optional<double> number(const json& request, const char* key, double most, double otherwise) {
  const auto found = request.find(key);
  if (found == request.end()) return otherwise;
  if (!found->is_number()) return std::nullopt;
  const double value = found->get<double>();
  return value >= 0.0 && value <= most ? std::optional{value} : std::nullopt;
}

Monotonic milliseconds_of(double seconds) { return Monotonic{std::llround(seconds * 1e3)}; }

} // namespace

std::string control_act_names() {
  std::string names;
  for (const auto act : actuator_acts) names += fmt::format("{}{}", names.empty() ? "" : ", ", name_of(act));
  for (const auto& [name, act] : program_acts) names += fmt::format(", {}", name);
  return names;
}

tl::expected<ControlRequest, std::string> parse_control(const json& request) {
  const auto name = text_in(request, "act");
  const auto author = text_in(request, "author"), because = text_in(request, "comment");
  if (!is_a_name(author))
    return tl::unexpected(
        std::string{"an order needs the name of the person: give \"author\", without control characters"});
  const auto seconds = number(request, "duration_s", hold_seconds_max, 0.0);
  if (!seconds) return tl::unexpected(fmt::format("duration_s is a number of seconds up to {:.0f}", hold_seconds_max));
  for (const auto act : actuator_acts) {
    if (name != name_of(act)) continue;
    const auto output = number(request, "fraction", 1.0, act == ActuatorAct::hold ? -1.0 : 0.0);
    if (!output || *output < 0.0) return tl::unexpected(std::string{"fraction is what it is held at, from 0 to 1"});
    if (text_in(request, "output").empty()) return tl::unexpected(std::string{"an order needs the name of an output"});
    return ActuatorRequest{text_in(request, "output"), {act, author, because, *output, milliseconds_of(*seconds)}};
  }
  for (const auto& [known, act] : program_acts) {
    if (name != known) continue;
    ProgramRequest asked{text_in(request, "room"), text_in(request, "loop"), {act, {}, author, because}};
    if (*seconds > 0.0) asked.order.duration = milliseconds_of(*seconds);
    if (asked.room.empty() || asked.loop.empty())
      return tl::unexpected(std::string{"an order to a program needs a room and a loop"});
    return asked;
  }
  return tl::unexpected(fmt::format("\"{}\" is nothing that can be ordered: {}", name, control_act_names()));
}

} // namespace oxherd::daemon

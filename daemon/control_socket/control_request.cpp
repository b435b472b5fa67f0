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
constexpr std::array tuning_acts{std::pair{std::string_view{"tune"}, TuningOrder::Act::begin},
                                 std::pair{std::string_view{"end-tuning"}, TuningOrder::Act::end}};
constexpr std::string_view begin_report = "begin-report";
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

/// What is asked of a loop by that name of an act, without who asks; empty: the act is none of a loop.
std::optional<tl::expected<PlantControl::LoopOrder, std::string>> loop_order(const json& request, std::string_view name,
                                                                             std::optional<Monotonic> duration) {
  for (const auto& [known, act] : program_acts)
    if (name == known) return PlantControl::ProgramOrder{act, duration, {}, {}};
  if (name == begin_report) return PlantControl::ReportOrder{};
  for (const auto& [known, act] : tuning_acts) {
    if (name != known) continue;
    TuningOrder order{act, text_in(request, "low"), text_in(request, "high"), text_in(request, "hysteresis")};
    order.longest = duration;
    if (request.contains("output_low") || request.contains("output_high")) {
      const auto low = number(request, "output_low", 1.0, -1.0), high = number(request, "output_high", 1.0, -1.0);
      if (!low || !high || *low < 0.0 || *high < 0.0)
        return tl::unexpected(std::string{"output_low and output_high go together, each from 0 to 1"});
      order.output = TuningOrder::Levels{*low, *high};
    }
    return PlantControl::LoopOrder{order};
  }
  return std::nullopt;
}

} // namespace

std::string control_act_names() {
  std::string names;
  for (const auto act : actuator_acts) names += fmt::format("{}{}", names.empty() ? "" : ", ", name_of(act));
  for (const auto& [name, act] : program_acts) names += fmt::format(", {}", name);
  for (const auto& [name, act] : tuning_acts) names += fmt::format(", {}", name);
  return fmt::format("{}, {}", names, begin_report);
}

std::string author_of(const ControlRequest& request) {
  if (const auto* actuator = std::get_if<ActuatorRequest>(&request)) return actuator->order.by;
  return std::visit([](const auto& order) { return order.by; }, std::get<LoopRequest>(request).order);
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
  const auto duration = *seconds > 0.0 ? std::optional{milliseconds_of(*seconds)} : std::nullopt;
  if (auto order = loop_order(request, name, duration)) {
    if (!*order) return tl::unexpected(order->error());
    LoopRequest asked{text_in(request, "room"), text_in(request, "loop"), std::move(**order)};
    if (asked.room.empty() || asked.loop.empty())
      return tl::unexpected(std::string{"an order to a loop needs a room and a loop"});
    std::visit(
        [&](auto& of) {
          of.by = author;
          of.because = because;
        },
        asked.order);
    return asked;
  }
  return tl::unexpected(fmt::format("\"{}\" is nothing that can be ordered: {}", name, control_act_names()));
}

} // namespace oxherd::daemon

#include "daemon/control/program_file.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <nlohmann/json.hpp>

#include "daemon/json_depth.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

using control::Run;
using nlohmann::json;

constexpr std::array phases{std::pair{Run::Phase::running, "running"}, std::pair{Run::Phase::stopped, "stopped"},
                            std::pair{Run::Phase::stopped_by_outage, "stopped-by-outage"}};
constexpr int depth_most = 8;
/// Longer than any program: beyond it the file holds nonsense.
constexpr double seconds_most = 400.0 * 86400.0;

json hold_object(const control::Hold& hold, Monotonic now) {
  json object{{"value", hold.value}, {"left_s", nullptr}};
  if (hold.until) object["left_s"] = alarms::seconds_of(std::max(Monotonic{0}, *hold.until - now));
  return object;
}

json run_object(const Run& run) {
  json object{{"from", run.from}, {"done_s", alarms::seconds_of(run.done)}};
  for (const auto& [phase, name] : phases)
    if (phase == run.phase) object["phase"] = name;
  return object;
}

Monotonic milliseconds_in(const json& object, const char* key) {
  const double seconds = object.at(key).get<double>();
  if (!(seconds >= 0.0 && seconds <= seconds_most)) throw std::runtime_error{std::string{key} + " is no time"};
  return Monotonic{std::llround(seconds * 1e3)};
}

double number_in(const json& object, const char* key) {
  const double value = object.at(key).get<double>();
  if (!std::isfinite(value)) throw std::runtime_error{std::string{key} + " is no number"};
  return value;
}

KeptProgram kept(const json& object, Monotonic now, Monotonic outage) {
  KeptProgram program{object.at("room").get<std::string>(), object.at("loop").get<std::string>(), {}};
  if (const auto& hold = object.at("hold"); !hold.is_null()) {
    program.state.hold = control::Hold{number_in(hold, "value"), {}};
    if (!hold.at("left_s").is_null()) {
      const auto left = milliseconds_in(hold, "left_s");
      program.state.hold->until = now + (left > outage ? left - outage : Monotonic{0});
    }
  }
  if (const auto& run = object.at("run"); !run.is_null()) {
    Run read;
    const auto phase = run.at("phase").get<std::string>();
    const auto* const found =
        std::find_if(phases.begin(), phases.end(), [&](const auto& known) { return phase == known.second; });
    if (found == phases.end()) throw std::runtime_error{"\"" + phase + "\" is no phase of a run"};
    read.phase = found->first;
    read.from = number_in(run, "from");
    read.done = milliseconds_in(run, "done_s");
    read.seen = now;
    program.state.run = read;
  }
  return program;
}

} // namespace

std::string programs_text(const std::vector<KeptProgram>& programs, Monotonic now, WallTime wall) {
  auto loops = json::array();
  for (const auto& [room, loop, state] : programs)
    loops.push_back({{"room", room},
                     {"loop", loop},
                     {"hold", state.hold ? hold_object(*state.hold, now) : json{}},
                     {"run", state.run ? run_object(*state.run) : json{}}});
  return json{{"at", rfc3339(wall)}, {"loops", loops}}.dump(1, ' ', false, json::error_handler_t::replace) + '\n';
}

tl::expected<ReadPrograms, std::string> read_programs(std::string_view text, Monotonic now, WallTime wall) {
  if (json_depth(text) > depth_most) return tl::unexpected(std::string{"it is nested too deep"});
  try {
    const auto file = json::parse(text);
    const auto at = parse_rfc3339(file.at("at").get<std::string>());
    if (!at) return tl::unexpected(std::string{"\"at\" is no time"});
    ReadPrograms read;
    read.outage = std::max(Monotonic{0}, std::chrono::duration_cast<Monotonic>(wall - *at));
    for (const auto& one : file.at("loops")) read.programs.push_back(kept(one, now, read.outage));
    return read;
  } catch (const std::exception& fault) {
    return tl::unexpected(std::string{fault.what()});
  }
}

} // namespace oxherd::daemon

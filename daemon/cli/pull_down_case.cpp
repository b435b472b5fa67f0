#include "daemon/cli/pull_down_case.hpp"

#include <variant>

#include <fmt/core.h>

#include "compensation/constants.hpp"
#include "daemon/cli/room_settings.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/cli/typed_values.hpp"
#include "daemon/control/purge_watch.hpp"

namespace oxherd::daemon::cli {
namespace {

using compensation::Dimension;

constexpr double u_fresh_air = 0.001; // of oxygen in a room that was aired: proposal of the project

/// What the settings know of a room and its purge; nothing where no room is named.
struct KnownRoom {
  config::Room room{};
  config::GasSupply supply{};
};

/// Of a room with several purges nobody knows which is meant.
const config::GasSupply* only_purge_of(const config::Settings& settings, const std::string& room) {
  const config::GasSupply* found = nullptr;
  for (const auto& output : settings.outputs) {
    const auto* actuator = std::get_if<config::Actuator>(&output.kind);
    if (actuator == nullptr || actuator->room != room || !actuator->supply) continue;
    if (found != nullptr) return nullptr;
    found = &*actuator->supply;
  }
  return found;
}

tl::expected<KnownRoom, AnswerError> known_room(const Arguments& arguments, const std::string& name) {
  if (name.empty()) return KnownRoom{};
  const auto settings = settings_of(arguments);
  if (!settings)
    return tl::unexpected(AnswerError{
        failed, fmt::format("the settings cannot be read: {}. Without a room everything is typed: --volume and "
                            "--supply",
                            settings.error())});
  const auto room = room_of(*settings, name);
  if (!room) return tl::unexpected(AnswerError{usage, room.error()});
  KnownRoom known{**room, {}};
  if (const auto* purge = only_purge_of(*settings, name)) known.supply = *purge;
  return known;
}

double ratio_of(TypedValues& typed, std::string_view name, double otherwise) {
  const double ratio = typed.value(name, Dimension::ratio).value_or(otherwise);
  if (!(ratio >= 0.0 && ratio <= 1.0)) typed.problem(fmt::format("--{}: write a fraction from 0 % to 100 %", name));
  return ratio;
}

/// What was typed, over what is known of the room.
PullDownCase typed_over(const KnownRoom& known, TypedValues& typed) {
  config::Room room = known.room;
  config::GasSupply supply = known.supply;
  if (const auto volume = typed.value("volume", Dimension::volume)) room.volume_m3 = *volume;
  if (const auto mixing = typed.value("mixing", Dimension::number)) room.mixing = *mixing;
  if (const auto flow = typed.value("supply", Dimension::volume_flow)) supply.flow_m3_per_s = *flow;
  if (typed.given("purity")) supply.oxygen = 1.0 - ratio_of(typed, "purity", 0.0);

  PullDownCase asked;
  asked.dilution = dilution_of(room, supply); // with what is uncertain when nobody says
  auto& d = asked.dilution;
  d.volume_m3.u = typed.uncertainty("volume", Dimension::volume, d.volume_m3.u);
  d.mixing.u = typed.uncertainty("mixing", Dimension::number, d.mixing.u);
  d.supply_m3_s.u = typed.uncertainty("supply", Dimension::volume_flow, d.supply_m3_s.u);
  d.supply_fraction.u = typed.uncertainty("purity", Dimension::ratio, d.supply_fraction.u);
  d.outdoor_fraction = {compensation::fresh_air_oxygen, 0.0};
  d.leak_m3_s.value = typed.value("leak", Dimension::volume_flow).value_or(0.0);
  d.leak_m3_s.u = typed.uncertainty("leak", Dimension::volume_flow, 0.3 * d.leak_m3_s.value);
  const double used_m3_s = typed.value("respiration", Dimension::volume_flow).value_or(0.0);
  if (used_m3_s < 0.0) typed.problem("--respiration: write the oxygen that goods use, 0 or more");
  d.source_m3_s = {-used_m3_s, typed.uncertainty("respiration", Dimension::volume_flow, 0.3 * used_m3_s)};
  asked.from.value = ratio_of(typed, "from", compensation::fresh_air_oxygen);
  asked.from.u = typed.uncertainty("from", Dimension::ratio, u_fresh_air);
  asked.to = ratio_of(typed, "to", 0.0);
  return asked;
}

} // namespace

tl::expected<PullDownCase, AnswerError> read_pull_down(const Arguments& arguments) {
  const auto wrong_line = [](std::string what) { return tl::unexpected(AnswerError{usage, std::move(what)}); };
  if (arguments.positional().size() > 1) return wrong_line("name one room");
  if (!arguments.given("--to")) return wrong_line("--to is missing: the oxygen to reach, such as --to \"5 %\"");
  const std::string name = arguments.positional().empty() ? std::string{} : arguments.positional().front();
  const auto known = known_room(arguments, name);
  if (!known) return tl::unexpected(known.error());
  if (!known->room.volume_m3 && !arguments.given("--volume"))
    return wrong_line("--volume is missing: the room's free volume, such as --volume \"500 m3\"");
  if (known->supply.flow_m3_per_s == 0.0 && !arguments.given("--supply"))
    return wrong_line("--supply is missing: the flow of the gas, such as --supply \"20 m3/h\"");
  TypedValues typed{arguments};
  auto asked = typed_over(*known, typed);
  asked.room = name;
  if (!typed.problem().empty()) return wrong_line(typed.problem());
  if (const auto fault = control::fault_of(asked.dilution.values()); !fault.empty()) return wrong_line(fault);
  return asked;
}

} // namespace oxherd::daemon::cli

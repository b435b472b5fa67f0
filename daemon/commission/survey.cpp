#include "daemon/commission/survey.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "daemon/commission/probe.hpp"

namespace oxherd::daemon::commission {
namespace {

using drivers::BusError;
using drivers::BusFault;
using drivers::RegisterBus;
using drivers::Span;
using drivers::Table;
using std::chrono::milliseconds;

constexpr int gateway_no_path = 10;     // Modbus Application Protocol V1.1b3, section 7
constexpr int gateway_no_response = 11; // the same
constexpr int lost_in_a_row_max = 3;
constexpr milliseconds pause_when_lost{200};
/// A line without repeaters has 32 devices (Modbus over Serial Line V1.02, 3.1): when more are asked and every one
/// answers, it is one device that takes no notice of the unit number.
constexpr int units_on_a_line = 32;

enum class Sign { alive, silent, garbled, lost };

Sign sign_of(const BusError& error) {
  switch (error.fault) {
  case BusFault::exception:
    return error.exception_code == gateway_no_path || error.exception_code == gateway_no_response ? Sign::silent
                                                                                                  : Sign::alive;
  case BusFault::garbled: return Sign::garbled;
  case BusFault::not_connected:
  case BusFault::refused_locally: return Sign::lost;
  case BusFault::timeout: return Sign::silent;
  }
  return Sign::silent;
}

struct Found {
  std::vector<int> units;
  std::vector<std::string> notes;
  int asked = 0;
  bool cut_short = false;
};

/// Asks every unit for one holding register; whoever says anything at all is there.
tl::expected<Found, std::string> find_units(RegisterBus& bus, const SurveyPlan& plan, const SurveyHooks& hooks) {
  Found found;
  const int all = count_of(plan.units);
  int garbled = 0;
  for (const auto& range : plan.units)
    for (int unit = range.first; unit <= range.last; ++unit) {
      for (int lost = 0;; ++lost) {
        if (!hooks.go_on(
                {fmt::format("looking for units: {} of {}, {} found", found.asked + 1, all, found.units.size()),
                 static_cast<double>(found.asked) / all})) {
          found.cut_short = true;
          return found;
        }
        const auto reply = bus.read(unit, Span{Table::holding_register, 0, 1}, plan.timeout);
        const Sign sign = reply ? Sign::alive : sign_of(reply.error());
        if (sign == Sign::alive) found.units.push_back(unit);
        if (sign == Sign::garbled && ++garbled == 1)
          found.notes.push_back(fmt::format("{}. Two devices with one unit number, or another baud rate or parity, "
                                            "look like this",
                                            reply.error().detail));
        if (sign != Sign::lost) break;
        if (lost + 1 == lost_in_a_row_max) return tl::unexpected(reply.error().detail);
        hooks.wait(pause_when_lost);
      }
      ++found.asked;
    }
  return found;
}

SurveyedUnit probe_unit(RegisterBus& bus, int unit, const SurveyPlan& plan, const SurveyHooks& hooks, bool& cut_short) {
  SurveyedUnit out;
  out.unit = unit;
  // Contacts and coils lie at the start of their tables (common practice).
  constexpr NumberRange first_bits{0, 15};
  constexpr std::array tables{Table::input_register, Table::holding_register, Table::discrete_input, Table::coil};
  for (std::size_t i = 0; i < tables.size() && !cut_short; ++i) {
    const bool bits = tables[i] == Table::discrete_input || tables[i] == Table::coil;
    const auto ranges = bits ? std::vector{first_bits} : plan.registers;
    const auto go_on = [&](double part) {
      return hooks.go_on(
          {fmt::format("unit {}: looking for {} {}", unit, table_word(tables[i]), bits ? "bits" : "registers"), part});
    };
    auto probed = probe_table(bus, unit, tables[i], ranges, plan.timeout, go_on);
    cut_short = probed.cut_short;
    out.notes.insert(out.notes.end(), probed.notes.begin(), probed.notes.end());
    for (const auto& span : probed.spans) {
      if (!bits) {
        out.runs.push_back({span.table, span.address, {}});
        continue;
      }
      const auto values = bus.read(unit, span, plan.timeout);
      for (std::size_t at = 0; values && at < values->size(); ++at)
        out.bits.push_back({span.table, static_cast<std::uint16_t>(span.address + at), (*values)[at] != 0});
    }
    // How long each run is, is only known here: its first round is the probe's own.
    for (std::size_t s = 0; s < probed.spans.size() && !bits; ++s) {
      auto& run = out.runs[out.runs.size() - probed.spans.size() + s];
      if (auto words = bus.read(unit, probed.spans[s], plan.timeout)) run.rounds.push_back(*std::move(words));
    }
  }
  std::erase_if(out.runs, [](const SampledRun& run) { return run.rounds.empty(); });
  return out;
}

/// Reads everything that was found once more.
void sample(RegisterBus& bus, std::vector<SurveyedUnit>& units, milliseconds timeout) {
  for (auto& unit : units)
    for (auto& run : unit.runs) {
      const Span span{run.table, run.first, static_cast<std::uint16_t>(run.rounds.front().size())};
      if (auto words = bus.read(unit.unit, span, timeout)) run.rounds.push_back(*std::move(words));
    }
}

} // namespace

milliseconds longest_search(const SurveyPlan& plan, bool serial) {
  // After a missing reply a serial line must be silent for another time-out, so that a late one cannot be mistaken.
  return count_of(plan.units) * plan.timeout * (serial ? 2 : 1);
}

tl::expected<Survey, std::string> survey(RegisterBus& bus, const SurveyPlan& plan, const SurveyHooks& hooks) {
  auto found = find_units(bus, plan, hooks);
  if (!found) return tl::unexpected(found.error());
  Survey out;
  out.asked = found->asked;
  out.notes = found->notes;
  out.cut_short = found->cut_short;
  if (found->asked > units_on_a_line && static_cast<int>(found->units.size()) == found->asked) {
    out.notes.push_back(fmt::format("all {} units answered: this device takes no notice of the unit number, so only "
                                    "unit {} was looked at",
                                    found->asked, found->units.front()));
    found->units.resize(1);
  }
  for (const int unit : found->units) {
    if (out.cut_short) break;
    out.units.push_back(probe_unit(bus, unit, plan, hooks, out.cut_short));
  }
  const bool registers = std::ranges::any_of(out.units, [](const auto& unit) { return !unit.runs.empty(); });
  for (int round = 1; round < plan.rounds && registers && !out.cut_short; ++round) {
    out.cut_short = !hooks.go_on({fmt::format("watching what moves: {} of {}", round, plan.rounds - 1),
                                  static_cast<double>(round) / plan.rounds});
    if (out.cut_short) break;
    hooks.wait(plan.period);
    sample(bus, out.units, plan.timeout);
  }
  return out;
}

} // namespace oxherd::daemon::commission

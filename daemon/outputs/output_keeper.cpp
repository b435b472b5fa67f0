#include "daemon/outputs/output_keeper.hpp"

#include <utility>

#include <fmt/core.h>

#include "daemon/outputs/served.hpp"
#include "daemon/outputs/wanted.hpp"

namespace oxherd::daemon {
namespace {

std::chrono::milliseconds timeout_on(const config::Settings& settings, const std::string& bus) {
  for (const auto& b : settings.buses)
    if (b.name == bus) return b.timeout;
  return std::chrono::milliseconds{500};
}

std::string_view what_comes_of_it(const config::OutputKind& kind) {
  struct Words {
    std::string_view operator()(const config::AlarmRelay&) const { return "what the relay switches may not warn"; }
    std::string_view operator()(const config::Heartbeat&) const { return "the timer that it feeds may not run out"; }
    std::string_view operator()(const config::Sounder&) const { return "the horn may not sound"; }
    std::string_view operator()(const config::Beacon&) const { return "the beacon may not light"; }
    std::string_view operator()(const config::RoomReading&) const { return "the display may show an old value"; }
    std::string_view operator()(const config::AlarmStateNumber&) const { return "the display may show an old state"; }
    std::string_view operator()(const config::EntryLockRelay&) const {
      return "the lock may let people in, or withhold for no reason";
    }
    std::string_view operator()(const config::Actuator&) const {
      return "what it does to the air of the room is not known";
    }
  };
  return std::visit(Words{}, kind);
}

bool is_same_contact(const config::Feedback& a, const config::Feedback& b) {
  return a.unit == b.unit && a.table == b.table && a.address == b.address && a.stroke == b.stroke;
}

/// Whether two settings speak of the same thing at the same place.
bool is_same(const config::Output& a, const config::Output& b) {
  const bool contacts = a.feedback && b.feedback ? is_same_contact(*a.feedback, *b.feedback)
                                                 : a.feedback.has_value() == b.feedback.has_value();
  return a.name == b.name && a.bus == b.bus && a.unit == b.unit && a.kind.index() == b.kind.index() &&
         config::written_at(a.kind) == config::written_at(b.kind) && contacts;
}

} // namespace

std::string lost_text(const config::Output& output, const std::string& trouble) {
  const auto at = config::written_at(output.kind);
  return fmt::format("{} ({} of unit {} on bus \"{}\") {}; {}", output.name,
                     fmt::format("{} {}", at.is_coil ? "coil" : "register", at.address), output.unit, output.bus,
                     trouble, what_comes_of_it(output.kind));
}

OutputKeeper::OutputKeeper(const config::Settings& settings) : room_count_{settings.rooms.size()} {
  for (const auto& output : settings.outputs)
    outputs_.push_back({output, by_pattern(output.kind), rooms_served(settings, output),
                        timeout_on(settings, output.bus), Confirmation{output}});
}

void OutputKeeper::continue_from(const OutputKeeper& before) {
  for (auto& mine : outputs_)
    for (const auto& other : before.outputs_)
      if (is_same(mine.settings, other.settings))
        mine.confirmation.continue_from(other.confirmation, config::is_provable(mine.settings.kind));
}

OutputKeeper::Write OutputKeeper::write_of(std::size_t i, OutputValue value) const {
  const Planned& o = outputs_[i];
  const auto at = config::written_at(o.settings.kind);
  OutputWrite what{i, o.settings.unit, at.is_coil, at.address, value, o.timeout};
  what.count = static_cast<std::uint16_t>(config::words_of(o.settings.kind));
  if (const auto& feedback = o.settings.feedback)
    what.contact = OutputWrite::Contact{feedback->unit, feedback->table, feedback->address};
  return {o.settings.bus, what};
}

std::vector<OutputKeeper::Write> OutputKeeper::due(const Site& site, Monotonic now,
                                                   std::chrono::steady_clock::time_point decided) {
  std::vector<Write> writes;
  for (std::size_t i = 0; i < outputs_.size(); ++i) {
    Planned& o = outputs_[i];
    const bool proving = o.proof && o.proof->is_driving(now) && !warns(o.settings.kind, o.rooms, site, now);
    const auto meant = proving ? wanted_to_warn(o.by_pattern, now, o.settings.feedback.has_value())
                               : wanted(o.by_pattern, o.rooms, site, now);
    if (std::exchange(o.meant, meant) != meant) o.is_news = true;
    const OutputValue value = in_step(o.settings.kind, meant, now);
    const bool changed = is_prompt(o.settings.kind) && o.last && o.last != value;
    if (!changed && o.last && now - o.last_at < o.settings.every) continue;
    o.last = value;
    o.last_at = now;
    o.confirmation.asked(value, now);
    writes.push_back(write_of(i, value));
    if (changed && std::exchange(o.is_news, false)) writes.back().what.decided = decided;
  }
  return writes;
}

std::vector<OutputKeeper::Write> OutputKeeper::trip_all(const Site& site,
                                                        std::chrono::steady_clock::time_point decided) const {
  std::vector<Write> writes;
  for (std::size_t i = 0; i < outputs_.size(); ++i) {
    const auto& rooms = outputs_[i].rooms;
    const bool people = rooms.empty() || site.people_may_be_in(rooms.front());
    if (const auto value = config::value_at_rest(outputs_[i].settings.kind, people)) {
      writes.push_back(write_of(i, *value));
      writes.back().what.decided = decided;
    }
  }
  return writes;
}

void OutputKeeper::written(const WriteResult& result, Monotonic now) {
  if (result.output >= outputs_.size()) return;
  Planned& o = outputs_[result.output];
  o.accepted = !result.error;
  o.trouble = result.error ? result.error->detail : std::string{};
  if (result.took) o.latency.add(*result.took);
  o.confirmation.answered(result, now);
  if (!o.proof || !o.last) return;
  // A flashing beacon is seen when it is on; the pauses between prove nothing.
  const bool warning = *o.last == wanted_to_warn(o.settings.kind, Monotonic{0});
  if (o.proof->is_driving(now) && warning && o.confirmation.holds(*o.last)) o.proof->saw_warning();
  if (!o.proof->is_driving(now) && !warning && o.confirmation.holds(*o.last)) o.proof->saw_release();
}

std::vector<OutputsFound> OutputKeeper::found(Monotonic now) const {
  struct Tally {
    bool any = false, unknown = false, relay_lost = false;
    std::string lost;
    std::vector<std::pair<std::string, std::optional<bool>>> actuators;
  };
  std::vector<Tally> tallies(room_count_);
  for (const auto& o : outputs_) {
    if (o.rooms.empty()) continue;
    Tally& room = tallies[o.rooms.front()];
    const auto one = o.confirmation.found(now);
    room.any = true;
    if (std::holds_alternative<config::Actuator>(o.settings.kind))
      room.actuators.emplace_back(o.settings.name, one.confirmed);
    room.unknown = room.unknown || !one.confirmed;
    if (one.confirmed != false) continue;
    room.lost += (room.lost.empty() ? "" : "; ") + lost_text(o.settings, one.trouble);
    room.relay_lost = room.relay_lost || std::holds_alternative<config::AlarmRelay>(o.settings.kind);
  }
  std::vector<OutputsFound> rooms;
  for (auto& [any, unknown, relay_lost, lost, actuators] : tallies) {
    const bool is_lost = !lost.empty();
    const bool confirmed = any && !unknown && !is_lost;
    rooms.push_back({is_lost || confirmed ? std::optional{confirmed} : std::nullopt, relay_lost, std::move(lost),
                     std::move(actuators)});
  }
  return rooms;
}

std::vector<OutputHealth> OutputKeeper::health(Monotonic now) const {
  std::vector<OutputHealth> all;
  for (const auto& o : outputs_) {
    const auto found = o.confirmation.found(now);
    all.push_back({o.settings.name, o.settings.bus, std::string{config::name_of_kind(o.settings.kind)},
                   config::rooms_of(o.settings.kind), o.accepted, found.confirmed,
                   o.trouble.empty() ? found.trouble : o.trouble, o.latency, config::is_provable(o.settings.kind),
                   o.settings.prove_every, o.proof ? o.proof->by() : std::string{},
                   o.proof && o.proof->is_driving(now)});
  }
  return all;
}

} // namespace oxherd::daemon

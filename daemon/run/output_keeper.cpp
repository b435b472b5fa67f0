#include "daemon/run/output_keeper.hpp"

namespace oxherd::daemon {
namespace {

std::optional<std::size_t> relay_room(const config::Settings& settings, const config::Output& output) {
  const auto* relay = std::get_if<config::AlarmRelay>(&output.kind);
  if (!relay) return std::nullopt;
  for (std::size_t r = 0; r < settings.rooms.size(); ++r)
    if (settings.rooms[r].name == relay->room) return r;
  return std::nullopt;
}

std::chrono::milliseconds timeout_on(const config::Settings& settings, const std::string& bus) {
  for (const auto& b : settings.buses)
    if (b.name == bus) return b.timeout;
  return std::chrono::milliseconds{500};
}

} // namespace

OutputKeeper::OutputKeeper(const config::Settings& settings) {
  for (const auto& output : settings.outputs) {
    outputs_.push_back(
        {output, relay_room(settings, output), timeout_on(settings, output.bus), std::nullopt, Monotonic{0}});
    health_.push_back({output.name, output.bus, false, "not written yet"});
  }
}

std::uint16_t OutputKeeper::wanted(const Planned& output, const Site& site) {
  if (std::holds_alternative<config::Heartbeat>(output.settings.kind))
    return static_cast<std::uint16_t>(site.evaluations() & 0xFFFFU);
  return output.room && site.relay_energised(*output.room) ? 1 : 0; // anything unclear trips
}

OutputKeeper::Write OutputKeeper::write_of(std::size_t i, std::uint16_t value) const {
  const Planned& o = outputs_[i];
  const auto* relay = std::get_if<config::AlarmRelay>(&o.settings.kind);
  const auto* heartbeat = std::get_if<config::Heartbeat>(&o.settings.kind);
  const std::uint16_t address = relay ? relay->coil : heartbeat->holding_register;
  return {o.settings.bus, {i, o.settings.unit, relay != nullptr, address, value, o.timeout}};
}

std::vector<OutputKeeper::Write> OutputKeeper::due(const Site& site, Monotonic now) {
  std::vector<Write> writes;
  for (std::size_t i = 0; i < outputs_.size(); ++i) {
    Planned& o = outputs_[i];
    const std::uint16_t value = wanted(o, site);
    const bool is_relay = std::holds_alternative<config::AlarmRelay>(o.settings.kind);
    const bool changed = is_relay && o.last != value;
    if (!changed && o.last && now - o.last_at < o.settings.every) continue;
    o.last = value;
    o.last_at = now;
    writes.push_back(write_of(i, value));
  }
  return writes;
}

std::vector<OutputKeeper::Write> OutputKeeper::trip_all() const {
  std::vector<Write> writes;
  for (std::size_t i = 0; i < outputs_.size(); ++i)
    if (std::holds_alternative<config::AlarmRelay>(outputs_[i].settings.kind)) writes.push_back(write_of(i, 0));
  return writes;
}

void OutputKeeper::written(const WriteResult& result) {
  if (result.output >= health_.size()) return;
  health_[result.output].written = !result.error;
  health_[result.output].trouble = result.error ? result.error->detail : std::string{};
}

} // namespace oxherd::daemon

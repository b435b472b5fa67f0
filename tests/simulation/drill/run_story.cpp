// What befalls the site of a run.
#include "tests/simulation/drill/run.hpp"

#include <algorithm>

namespace oxherd::drill {

void Run::turn_of_story() {
  for (auto& air : air_) air.advance_to(alarms::seconds_of(now_));
  for (auto& gas : gas_) gas.advance_to(now_, site_.has_value());
  for (; edge_ < edges_.size() && edges_[edge_] <= now_; ++edge_) {}
  active_.clear();
  for (const auto& h : script_.story) {
    if (h.at > now_) break;
    if (h.at > last_edge_) begin(h);
    if (h.kind == Kind::taken_out_of_service && h.at > last_edge_ && site_) take_out_of_service(h);
    if (h.holds(now_)) active_.push_back(&h);
  }
  befall_gas();
  last_edge_ = now_;
  set_flows();
  set_disk_and_broker();
  for (auto& watch : watches_) watch.note(active_, now_, site_.has_value());
}

void Run::begin(const Happening& h) {
  ++outcome_.tally.befell[static_cast<std::size_t>(h.kind)];
  switch (h.kind) {
  case Kind::killed:
  case Kind::power_loss: end(h); break;
  case Kind::clock_forward: wall_offset_ += ms_of(h.size); break;
  case Kind::clock_back: wall_offset_ -= ms_of(h.size); break;
  case Kind::database_damaged:
    disk_.damage("journal.sqlite", h.salt);
    damaged_ = true;
    break;
  case Kind::reload_storm: next_reload_ = now_; break;
  default: break; // it lasts, see below
  }
}

void Run::set_flows() {
  for (std::size_t r = 0; r < air_.size(); ++r) {
    double nitrogen_per_s = 0.0, air_per_s = script_.site.rooms[r].air_changes_h / 3600.0;
    for (const auto* h : active_) {
      if (h->room != r) continue;
      // So much that oxygen would end at `size` with the air that comes in anyway.
      if (h->kind == Kind::leak) nitrogen_per_s += air_per_s * (0.20946 / h->size - 1.0);
    }
    air_per_s += air_by_doors_per_s(active_, r);
    if (gas_of_[r] != nullptr) gas_of_[r]->add_flows(nitrogen_per_s, air_per_s);
    air_[r].set_flows(nitrogen_per_s, air_per_s);
  }
}

void Run::set_disk_and_broker() {
  disk_.state = SimulatedDisk::State::well;
  broker_.state = SimulatedBroker::State::well;
  records_.takes = Monotonic{0};
  bool storm = false;
  for (const auto* h : active_) switch (h->kind) {
    case Kind::disk_full: disk_.state = SimulatedDisk::State::full; break;
    case Kind::disk_read_only: disk_.state = SimulatedDisk::State::read_only; break;
    case Kind::disk_failing: disk_.state = SimulatedDisk::State::failing; break;
    case Kind::disk_slow: records_.takes = ms_of(1.0 + 300.0 * h->size); break;
    case Kind::broker_away: broker_.state = SimulatedBroker::State::away; break;
    case Kind::broker_silent: broker_.state = SimulatedBroker::State::silent; break;
    case Kind::broker_flaps: broker_.state = SimulatedBroker::State::flaps; break;
    case Kind::reload_storm: storm = true; break;
    default: break;
    }
  if (!storm) next_reload_.reset();
  broker_.poke(now_);
  records_.poke(now_);
  if (!site_ && refused_in_a_row_ > 0) restart_at_ = std::min(restart_at_, now_ + std::chrono::seconds{2});
}

} // namespace oxherd::drill

// What people do in a run.
#include "tests/simulation/drill/run.hpp"

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;
using alarms::State;

} // namespace

void Run::look_after(std::size_t r) {
  for (const auto& alarm : settings_.rooms[r].alarms)
    for (const auto act : {alarms::Act::acknowledge, alarms::Act::reset}) {
      if (site_->state_of(r, alarm.name) == State::normal) continue;
      const daemon::PersonAct person{act, "R. Okafor", "looked at", Monotonic{0}};
      if (const auto acted = site_->act(settings_.rooms[r].name, alarm.name, person, mono(), wall()))
        keep(acted->outcome);
    }
}

void Run::visit() {
  for (std::size_t r = 0; r < rooms_.size(); ++r) look_after(r);
  for (std::size_t r = 0; r < rooms_.size(); ++r) tick_soon(r);
  const auto drawn = mixed(script_.seed ^ static_cast<std::uint64_t>(now_.count())) % 80;
  next_visit_ = now_ + std::chrono::minutes{10 + drawn};
}

void Run::take_out_of_service(const Happening& h) {
  const daemon::PersonAct person{alarms::Act::remove_from_service, "R. Finch", "work on the dewars", h.length};
  if (const auto acted = site_->act(settings_.rooms[h.room].name, "low-oxygen", person, mono(), wall()))
    keep(acted->outcome);
  tick_soon(h.room);
}

} // namespace oxherd::drill

// The daemon's life in a run: started, ended, its settings read again.
#include "tests/simulation/drill/run.hpp"

#include <algorithm>

#include <fmt/core.h>

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;
using alarms::State;

} // namespace

void Run::start() {
  if (const auto why = records_.start(wall()); !why.empty()) {
    ++outcome_.tally.starts_refused;
    // systemd tries every two seconds; over a disk that is out for days that would be most of the work here. Whatever
    // befalls the site next lets it try anew, and until then nothing changes.
    restart_at_ = now_ + (++refused_in_a_row_ > 3 ? 3600s : 2s);
    return;
  }
  refused_in_a_row_ = 0;
  if (records_.measurements)
    if (const auto why = records_.measurements->look_at_end(disk_.path()); !why.empty()) complain(why);
  outcome_.tally.down_room_s += alarms::seconds_of(now_ - ended_) * static_cast<double>(rooms_.size());
  started_ = now_;
  site_.emplace(shared_settings_, calibrations_, mono(), wall());
  const bool forgets = script_.breakage == Breakage::alarm_forgotten;
  const auto remembered = forgets ? daemon::Remembered{} : records_.remembered();
  const bool all_known = remembered.last_sequence == announced_to_ && !damaged_;
  compare(remembered);
  site_->restore_regimes(remembered.regimes);
  for (const auto& orphan : site_->restore(remembered.alarms, remembered.last_sequence, mono(), wall()))
    complain("a restart does not know the alarm " + orphan.alarm);
  broker_.start(*site_, now_);
  broker_.work(now_); // its thread is there before the first line is
  keep(site_->settle_regimes(wall()));
  keep(site_->announce_restart(mono(), wall()));
  gas_started(all_known);
  for (auto& room : rooms_) std::fill(room.taken.begin(), room.taken.end(), Monotonic{-1});
  begin_schedule();
  for (auto& room : rooms_) room.tick = next_beat(now_);
  for (auto& watch : watches_) watch.note(active_, now_, true);
  next_visit_ = now_ + 20min;
}

/// What is read back is what was announced, for all that was written.
void Run::compare(const daemon::Remembered& remembered) {
  std::map<std::string, State> read;
  for (const auto& snapshot : remembered.alarms) read[snapshot.room + "/" + snapshot.alarm] = snapshot.shown;
  if (remembered.last_sequence < written_to_ && !damaged_)
    complain(fmt::format("line {} of the journal was written, and the last one read back is {}", written_to_,
                         remembered.last_sequence));
  if (remembered.last_sequence == announced_to_ && !damaged_)
    for (const auto& [alarm, state] : told_)
      if (state != (read.contains(alarm) ? read[alarm] : State::normal))
        complain(fmt::format("the journal has it that {} is {}, and what is read back is {}", alarm,
                             alarms::name_of(state),
                             alarms::name_of(read.contains(alarm) ? read[alarm] : State::normal)));
  told_ = std::move(read);
  announced_to_ = written_to_ = remembered.last_sequence;
}

void Run::end(const Happening& h) {
  if (!site_) return;
  ++outcome_.tally.restarts;
  note_written();
  site_.reset();
  gas_left();
  deliveries_.clear();
  records_.leave();
  broker_.leave();
  ended_ = now_;
  restart_at_ = now_ + h.length;
  if (h.kind != Kind::power_loss) return;
  disk_.lose_power(h.salt);
  if (records_.measurements) records_.measurements->power_lost();
  clock_origin_ = -now_ - h.length + 20s; // the machine starts
}

void Run::reload() {
  const auto before = std::move(*site_);
  site_.emplace(shared_settings_, calibrations_, mono(), wall());
  site_->continue_from(before, mono(), wall());
  keep(site_->settle_regimes(wall()));
  keep(site_->announce_reload(mono(), wall()));
  gas_reloaded();
  begin_schedule();
  for (auto& room : rooms_) room.tick = next_beat(now_ + 1ms);
  next_reload_ = now_ + Monotonic{1000 + static_cast<int>(mixed(static_cast<std::uint64_t>(now_.count())) % 5000)};
}

/// New bus threads; what the old ones were at is never heard of.
void Run::begin_schedule() {
  deliveries_.clear();
  for (auto& gas : gas_) gas.bus_begun_anew();
  for (auto& thread : threads_) thread.start(now_);
}

} // namespace oxherd::drill

#include "daemon/rehearse/rehearsal.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "daemon/rehearse/fitting.hpp"

namespace oxherd::daemon::rehearse {
namespace {

using logfile::Failure;

constexpr std::uint64_t progress_every = 8192; // sample times

/// Where a channel of the data is rehearsed: the room among those of the data, and its place there.
struct Place {
  std::size_t room = 0, channel = 0;
};

class Run {
public:
  Run(DataSource& data, const Rehearsing& rehearsing) : data_{data}, rehearsing_{rehearsing} {}
  [[nodiscard]] tl::expected<Rehearsed, Failure> all();

private:
  [[nodiscard]] tl::expected<void, Failure> fit();
  void begin(WallTime at);
  void take(const SamplesAt& at);
  [[nodiscard]] bool too_many_lines() const;
  void finish();

  DataSource& data_;
  const Rehearsing& rehearsing_;
  std::vector<Place> places_;                       ///< by channel
  std::vector<std::vector<DataChannel>> of_rooms_;  ///< channels by room of the data
  std::vector<std::vector<RoomRehearsal>> playing_; ///< by rules, then room
  std::vector<std::vector<Sample>> sorted_;         ///< by room
  Rehearsed done_;
};

tl::expected<void, Failure> Run::fit() {
  std::map<std::string, std::size_t> rooms;
  for (const auto& channel : data_.channels()) {
    const auto [room, fresh] = rooms.try_emplace(channel.room, of_rooms_.size());
    if (fresh) of_rooms_.emplace_back();
    places_.push_back({room->second, of_rooms_[room->second].size()});
    of_rooms_[room->second].push_back(channel);
  }
  sorted_.resize(of_rooms_.size());
  for (const auto& rules : rehearsing_.rules) {
    RuleOutcome outcome;
    outcome.file = rules.file;
    for (const auto& channels : of_rooms_) {
      const auto* room = config::room_named(rules.settings.rooms, channels.front().room);
      if (room == nullptr)
        return tl::unexpected(
            Failure{fmt::format("{}: has no room {}, of which there is data", rules.file, channels.front().room)});
      auto fitted = fit_room(*room, rules.file, channels);
      if (!fitted) return tl::unexpected(Failure{fitted.error()});
      outcome.said.insert(outcome.said.end(), fitted->said.begin(), fitted->said.end());
      outcome.rooms.push_back(std::move(fitted->room));
    }
    done_.rules.push_back(std::move(outcome));
  }
  return {};
}

void Run::begin(WallTime at) {
  done_.period.from = at;
  for (std::size_t r = 0; r < done_.rules.size(); ++r) {
    auto& rooms = playing_.emplace_back();
    for (const auto& room : done_.rules[r].rooms)
      rooms.emplace_back(room, rehearsing_.rules[r].settings.site, rehearsing_.conduct, at);
  }
}

void Run::take(const SamplesAt& at) {
  if (playing_.empty()) begin(at.at);
  done_.period.to = std::max(done_.period.to, at.at);
  done_.samples += at.samples.size();
  for (auto& of_room : sorted_) of_room.clear();
  for (const auto& sample : at.samples) {
    const auto [room, channel] = places_[sample.channel];
    sorted_[room].push_back(sample);
    sorted_[room].back().channel = channel;
  }
  // Rooms of a long table may be a little out of order between them; none begins before the first row.
  for (auto& rooms : playing_)
    for (std::size_t i = 0; i < rooms.size(); ++i)
      if (!sorted_[i].empty()) rooms[i].take(std::max(at.at, done_.period.from), sorted_[i]);
}

bool Run::too_many_lines() const {
  return std::any_of(playing_.begin(), playing_.end(), [](const auto& rooms) {
    std::size_t lines = 0;
    for (const auto& room : rooms) lines += room.journal().size();
    return lines > journal_lines_max;
  });
}

void Run::finish() {
  for (std::size_t r = 0; r < playing_.size(); ++r) {
    auto& outcome = done_.rules[r];
    std::vector<AlarmName> names;
    for (auto& room : playing_[r]) {
      room.finish(done_.period.to);
      outcome.journal.insert(outcome.journal.end(), room.journal().begin(), room.journal().end());
      for (const auto& alarm : room.room().alarms) names.push_back({room.room().name, alarm.name});
    }
    std::stable_sort(outcome.journal.begin(), outcome.journal.end(),
                     [](const AlarmRecord& a, const AlarmRecord& b) { return a.at < b.at; });
    std::int64_t sequence = 0;
    for (auto& record : outcome.journal) record.sequence = ++sequence;
    outcome.figures = figures_of(outcome.journal, names, done_.period.to);
  }
  if (done_.rules.size() != 2) return;
  const auto occurrences = [](const RuleOutcome& rules, const AlarmName& name) -> std::span<const Occurrence> {
    for (const auto& figures : rules.figures)
      if (figures.name == name) return figures.occurrences;
    return {};
  };
  std::vector<AlarmName> names;
  for (const auto& rules : done_.rules)
    for (const auto& figures : rules.figures)
      if (std::find(names.begin(), names.end(), figures.name) == names.end()) names.push_back(figures.name);
  for (const auto& name : names) {
    auto pairs = matched(name, occurrences(done_.rules[0], name), occurrences(done_.rules[1], name));
    done_.pairs.insert(done_.pairs.end(), pairs.begin(), pairs.end());
  }
}

tl::expected<Rehearsed, Failure> Run::all() {
  if (const auto fitted = fit(); !fitted) return tl::unexpected(fitted.error());
  SamplesAt at;
  for (std::uint64_t n = 1;; ++n) {
    const auto more = data_.next(at);
    if (!more) return tl::unexpected(more.error());
    if (!*more) break;
    take(at);
    if (n % progress_every != 0) continue;
    if (rehearsing_.progress && !rehearsing_.progress(done_.samples, data_.part()))
      return tl::unexpected(Failure{"stopped before the end of the data"});
    if (too_many_lines())
      return tl::unexpected(Failure{
          fmt::format("these rules make more than {} journal lines of the data: alarms come and go all the time. Give "
                      "them a deadband and delays, or rehearse a shorter time",
                      journal_lines_max)});
  }
  if (playing_.empty()) return tl::unexpected(Failure{fmt::format("{}: no row could be used", data_.notes().source)});
  finish();
  done_.data = data_.notes();
  done_.channels = data_.channels();
  done_.conduct = rehearsing_.conduct;
  return std::move(done_);
}

} // namespace

tl::expected<Rehearsed, Failure> rehearse(DataSource& data, const Rehearsing& rehearsing) {
  return Run{data, rehearsing}.all();
}

} // namespace oxherd::daemon::rehearse

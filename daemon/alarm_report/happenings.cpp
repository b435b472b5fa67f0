#include "daemon/alarm_report/happenings.hpp"

#include <algorithm>
#include <map>
#include <string_view>

namespace oxherd::daemon::alarm_report {
namespace {

using alarms::State;

constexpr std::string_view refused_suffix = "-refused";

bool is_hidden(State state) {
  return state == State::shelved || state == State::suppressed_by_design || state == State::out_of_service;
}

bool is_standing(State state) { return state != State::normal && !is_hidden(state); }

bool asks_for_a_person(const AlarmRecord& record) {
  // A real condition that takes the place of a tested one is annunciated anew without a change of state.
  if (record.to == State::unacknowledged) return record.event == "transition" || record.from != record.to;
  return record.to == State::latched_unacknowledged && is_hidden(record.from);
}

Deed deed_of(const AlarmRecord& record, std::string_view act) {
  return {{record.room, record.alarm}, record.at, std::string{act}, record.author};
}

/// One alarm on its way through the journal.
class Track {
public:
  Track(AlarmName name, Happenings& out) : name_{std::move(name)}, out_{&out} {}

  void take(const AlarmRecord& record) {
    if (!begun_) begin(record);
    const bool taken_up = record.event == "restart" || record.event == "reload";
    if (taken_up && test_) { // what a test had raised is taken for real from here on
      test_ = false;
      stand_from(record.at);
    }
    note_names(record);
    note_test(record);
    if (asks_for_a_person(record)) annunciate(record);
    note_answer(record);
    note_fleeting(record);
    show(record.to, record.at);
    if (record.to == State::normal) test_ = false;
  }

  void finish(WallTime end) {
    if (standing_since_) out_->stands.push_back({name_, {*standing_since_, std::max(end, *standing_since_)}, false});
    leave_hidden(end);
    if (owed_since_) out_->owed.push_back({name_, *owed_since_});
  }

private:
  void begin(const AlarmRecord& record) {
    begun_ = true;
    show(record.from, record.at);
  }

  void note_names(const AlarmRecord& record) {
    const bool shelved = record.event == "shelve" || record.event == "shelve_once";
    if (shelved) shelved_by_ = record.author;
    if (record.event == "remove_from_service") out_by_ = record.author;
    if (shelved || record.event == "remove_from_service") out_->hidings.push_back(deed_of(record, record.event));
    if (record.event == "test") out_->tests.push_back(deed_of(record, record.event));
  }

  void note_test(const AlarmRecord& record) {
    if (record.event != "transition") return;
    if (record.cause == "test" && record.to == State::unacknowledged) {
      test_ = true;
      end_standing(record.at);
    }
    if (record.cause == "condition" && test_) {
      test_ = false;
      stand_from(record.at);
    }
  }

  void annunciate(const AlarmRecord& record) {
    out_->annunciations.push_back({name_, record.at, record.priority, record.cause == "re_annunciation", test_});
    if (test_) return;
    if (!owed_since_) owed_since_ = record.at;
    if (record.event == "transition" && record.cause == "condition") fresh_since_ = record.at;
  }

  void note_answer(const AlarmRecord& record) {
    if (record.event == "acknowledge") {
      if (owed_since_) out_->acknowledged.push_back({name_, *owed_since_, std::max(record.at, *owed_since_)});
      owed_since_.reset();
      fresh_since_.reset();
    }
    // Hidden, or gone where no acknowledgement is required: nobody is asked any longer.
    if (owed_since_ && (is_hidden(record.to) || record.to == State::normal)) {
      out_->unanswered.push_back({name_, *owed_since_, std::max(record.at, *owed_since_)});
      owed_since_.reset();
    }
  }

  void note_fleeting(const AlarmRecord& record) {
    if (!fresh_since_ || record.to == State::unacknowledged) return;
    const auto at = std::max(record.at, *fresh_since_);
    if (record.cause == "returned" && at - *fresh_since_ <= fleeting_at_most)
      out_->fleeting.push_back({name_, *fresh_since_, at});
    if (record.from != record.to) fresh_since_.reset();
  }

  void show(State state, WallTime at) {
    if (is_standing(state))
      stand_from(at);
    else
      end_standing(at);
    if (state != shown_) leave_hidden(at);
    shown_ = state;
    if (is_hidden(state) && !hidden_since_) hidden_since_ = at;
  }

  void stand_from(WallTime at) {
    if (!test_ && !standing_since_) standing_since_ = at;
  }

  void end_standing(WallTime at) {
    if (!standing_since_) return;
    out_->stands.push_back({name_, {*standing_since_, std::max(at, *standing_since_)}, true});
    standing_since_.reset();
  }

  void leave_hidden(WallTime at) {
    if (!hidden_since_) return;
    const auto& author = shown_ == State::shelved ? shelved_by_ : out_by_;
    out_->hidden.push_back({name_,
                            shown_,
                            shown_ == State::suppressed_by_design ? std::string{} : author,
                            {*hidden_since_, std::max(at, *hidden_since_)}});
    hidden_since_.reset();
  }

  AlarmName name_;
  Happenings* out_;
  bool begun_ = false;
  bool test_ = false; ///< what is shown is simulated
  State shown_ = State::normal;
  std::optional<WallTime> owed_since_, fresh_since_, standing_since_, hidden_since_;
  std::string shelved_by_, out_by_;
};

/// Records that change nothing that is shown to anybody.
bool changes_nothing(const AlarmRecord& record) {
  return record.event == "transition-suppressed" || record.event == "chattering-ended" || record.event == "test-ended";
}

} // namespace

Happenings happenings_in(std::span<const AlarmRecord> records, WallTime end) {
  std::vector<const AlarmRecord*> ordered;
  for (const auto& record : records)
    if (record.at < end) ordered.push_back(&record);
  std::ranges::sort(ordered, {}, &AlarmRecord::sequence);
  Happenings out;
  std::map<AlarmName, Track> tracks;
  const AlarmRecord* before = nullptr;
  for (const auto* record : ordered) {
    if (before != nullptr && record->at < before->at) out.set_back.push_back(record->at);
    before = record;
    const AlarmName name{record->room, record->alarm};
    if (changes_nothing(*record)) continue;
    if (record->event == "chattering") {
      out.chatterings.push_back({name, record->at});
    } else if (record->event.ends_with(refused_suffix)) {
      out.refusals.push_back(
          deed_of(*record, std::string_view{record->event}.substr(0, record->event.size() - refused_suffix.size())));
    } else {
      if (record->event == "restart") out.restarts.push_back(record->at);
      tracks.try_emplace(name, name, out).first->second.take(*record);
    }
  }
  for (auto& [name, track] : tracks) track.finish(end);
  return out;
}

} // namespace oxherd::daemon::alarm_report

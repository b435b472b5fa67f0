#include "daemon/bus/bus_worker.hpp"

#include <algorithm>
#include <utility>

#include "daemon/clock.hpp"
#include "daemon/named_thread.hpp"
#include "daemon/urgent_thread.hpp"

namespace oxherd::daemon {
namespace {

/// An idle thread still shows progress to the watchdog this often.
constexpr std::chrono::milliseconds idle_at_most{500};
/// An output module that does not answer is left alone for so many time-outs, so that what is written to it again and
/// again takes a fifth of the bus from the sensors at most; but no longer than this in all, so that a module with a
/// long time-out is found again soon. The newest value waits for it; decisions are tried at once.
constexpr int left_alone_for = 4;
constexpr std::chrono::milliseconds left_alone_at_most{2000};

std::vector<std::uint16_t> words_of(const OutputWrite& w) {
  const auto last = static_cast<std::uint16_t>(w.value & 0xFFFFU);
  if (w.is_coil || w.count == 1) return {last};
  return {static_cast<std::uint16_t>(w.value >> 16U), last};
}

bool anything_read(const drivers::PollResult& result) {
  return std::any_of(result.values.begin(), result.values.end(),
                     [](const drivers::Value& v) { return v.fault != drivers::ValueFault::not_read; });
}

} // namespace

BusWorker::BusWorker(std::string name, std::unique_ptr<drivers::RegisterBus> bus, std::vector<BusTask> tasks,
                     Callbacks callbacks)
    : name_{std::move(name)}, bus_{std::move(bus)}, tasks_{std::move(tasks)}, callbacks_{std::move(callbacks)} {
  std::vector<drivers::Schedule> schedules;
  for (const auto& task : tasks_) {
    plans_.push_back(drivers::plan_reads(task.device.map, task.device.limits));
    schedules.push_back(task.schedule);
  }
  to_ask_alone_.resize(tasks_.size());
  const bool is_one_by_one = bus_->requests_at_once() == 1;
  schedule_ =
      drivers::at_start(schedules, monotonic_now(), is_one_by_one ? drivers::turn_one_by_one : drivers::turn_at_once);
  thread_ = named_thread("bus " + name_, [this] { run(); });
}

BusWorker::~BusWorker() {
  {
    const std::lock_guard lock{mutex_};
    stop_ = true;
  }
  wake_.notify_all();
  bus_->interrupt();
  thread_.join();
}

void BusWorker::write(const OutputWrite& write) {
  {
    const std::lock_guard lock{mutex_};
    OutputWrite& newest = waiting_[write.output];
    const auto untried = newest.put_off ? std::nullopt : newest.decided;
    newest = write;
    if (!newest.decided) newest.decided = untried; // a repetition does not take the haste from a decision
  }
  wake_.notify_all();
}

BusHealth BusWorker::health() const {
  const std::lock_guard lock{mutex_};
  return health_;
}

void BusWorker::run() {
  static_cast<void>(make_thread_urgent()); // the decision thread says where it is not permitted
  for (;;) {
    ++progress_;
    write_waiting();
    const std::size_t next = drivers::next_due(schedule_, first_round_);
    std::unique_lock lock{mutex_};
    if (stop_) return;
    const Monotonic now = monotonic_now();
    Monotonic due = tasks_.empty() ? now + idle_at_most : schedule_[next].due;
    const bool is_poll = due <= now;
    for (const auto& [output, write] : waiting_) due = std::min(due, to_wait_until(write));
    if (!to_ask_.empty() && !(is_poll && asked_since_poll_)) {
      lock.unlock();
      ask_back();
      asked_since_poll_ = true;
      continue;
    }
    if (due <= now && !is_poll) continue;
    if (!is_poll) {
      wake_.wait_for(lock, std::min<Monotonic>(due - now, idle_at_most));
      continue;
    }
    lock.unlock();
    asked_since_poll_ = false;
    poll_due(next);
  }
}

Monotonic BusWorker::left_alone_until(int unit) const {
  const auto found = left_alone_.find(unit);
  return found == left_alone_.end() ? Monotonic{0} : found->second.until;
}

Monotonic BusWorker::to_wait_until(const OutputWrite& write) const {
  const bool is_untried_decision = write.decided && !write.put_off;
  return is_untried_decision ? Monotonic{0} : left_alone_until(write.unit);
}

void BusWorker::note_unit(int unit, const std::optional<drivers::BusError>& error, std::chrono::milliseconds timeout) {
  if (error && !error->line_in_step())
    left_alone_.insert_or_assign(
        unit, LeftAlone{monotonic_now() + std::min(left_alone_for * timeout, left_alone_at_most), *error});
  else
    left_alone_.erase(unit);
}

tl::expected<void, drivers::BusError> BusWorker::tell(const OutputWrite& w) {
  if (w.is_coil) return bus_->write_coil(w.unit, w.address, w.value != 0, w.timeout);
  const auto words = words_of(w);
  if (words.size() == 1) return bus_->write_register(w.unit, w.address, words[0], w.timeout);
  return bus_->write_registers(w.unit, w.address, words, w.timeout);
}

/// The write waits on, unless a newer one is there.
void BusWorker::keep_waiting(const OutputWrite& write) {
  const std::lock_guard lock{mutex_};
  const auto [newest, is_alone] = waiting_.try_emplace(write.output, write);
  if (!is_alone && !write.put_off && !newest->second.decided) newest->second.decided = write.decided;
}

/// Until its unit is tried again; whoever wants it is told why, once.
void BusWorker::put_off(OutputWrite write) {
  const bool is_news = !std::exchange(write.put_off, true);
  keep_waiting(write);
  if (is_news) callbacks_.written({write.output, write.value, left_alone_.at(write.unit).error});
}

/// A decision that came meanwhile before what is only repeated; nothing when all that waits was looked at.
std::optional<OutputWrite> BusWorker::take_next(const std::set<std::size_t>& looked_at) {
  const std::lock_guard lock{mutex_};
  const Monotonic now = monotonic_now();
  const auto is_prompt = [&](const OutputWrite& w) {
    return w.decided && !w.put_off && left_alone_until(w.unit) <= now;
  };
  auto next = std::find_if(waiting_.begin(), waiting_.end(), [&](const auto& one) { return is_prompt(one.second); });
  if (next == waiting_.end())
    next =
        std::find_if(waiting_.begin(), waiting_.end(), [&](const auto& one) { return !looked_at.contains(one.first); });
  if (next == waiting_.end()) return std::nullopt;
  const OutputWrite taken = next->second;
  waiting_.erase(next);
  return taken;
}

void BusWorker::write_waiting() {
  // Decisions for units that do not answer come after those for the others, which would wait a time-out for each; and
  // one at a time, so that what comes meanwhile for the others goes first again.
  bool has_tried = false;
  std::set<std::size_t> looked_at;
  std::vector<OutputWrite> together, doubtful;
  const auto flush = [&] { write_together(std::exchange(together, {})); };
  for (;;) {
    const auto w = take_next(looked_at);
    if (!w && together.empty()) break;
    if (!w) {
      flush();
      continue;
    }
    looked_at.insert(w->output);
    const Monotonic now = monotonic_now();
    if (to_wait_until(*w) > now) {
      put_off(*w);
    } else if (left_alone_until(w->unit) > now) {
      doubtful.push_back(*w);
    } else {
      const bool is_another_value =
          std::any_of(together.begin(), together.end(), [&](const auto& one) { return one.output == w->output; });
      const bool goes_alone = to_write_alone_.contains(w->output) || left_alone_.contains(w->unit);
      if (is_another_value || goes_alone) flush();
      together.push_back(*w);
      if (goes_alone || together.size() >= static_cast<std::size_t>(bus_->requests_at_once())) flush();
    }
  }
  for (const auto& w : doubtful)
    if (std::exchange(has_tried, true))
      keep_waiting(w);
    else
      write_now(w);
}

/// As many as the bus takes at once. What the others left open is judged when it was written by itself.
void BusWorker::write_together(const std::vector<OutputWrite>& writes) {
  if (writes.empty()) return;
  if (writes.size() == 1) return write_now(writes.front());
  std::vector<drivers::Write> requests;
  for (const auto& w : writes) requests.push_back({w.unit, w.is_coil, w.address, words_of(w), w.timeout});
  const auto confirmed = bus_->write_together(requests);
  for (std::size_t i = 0; i < writes.size(); ++i)
    if (confirmed[i]) {
      accepted(writes[i]);
    } else {
      to_write_alone_.insert(writes[i].output);
      keep_waiting(writes[i]);
    }
}

void BusWorker::write_now(const OutputWrite& w) {
  const bool was_tried = to_write_alone_.erase(w.output) > 0 || left_alone_.contains(w.unit);
  const auto done = tell(w);
  if (done) return accepted(w);
  const auto& error = done.error();
  note(error.line_in_step(), error);
  note_unit(w.unit, error, w.timeout);
  to_ask_.erase(w.output);
  const bool is_tried_again = w.decided && !w.put_off && !error.line_in_step();
  if (is_tried_again && !was_tried) return keep_waiting(w); // one reply may be lost; those for other units go first
  callbacks_.written({w.output, w.value, error});
  if (!is_tried_again) return;
  OutputWrite later = w; // a decision that was tried in vain is tried once more, when its unit is
  later.put_off = true;
  keep_waiting(later);
}

void BusWorker::accepted(const OutputWrite& w) {
  note(true, std::nullopt);
  note_unit(w.unit, std::nullopt, w.timeout);
  std::optional<std::chrono::microseconds> took;
  if (w.decided)
    took = std::chrono::duration_cast<std::chrono::microseconds>(std::chrono::steady_clock::now() - *w.decided);
  to_ask_.insert_or_assign(w.output, Accepted{w, took});
}

/// One question and then back to the writes that came meanwhile, so that a decision never waits for questions. The
/// outputs take turns: on a bus that is too slow for all of their questions, none of them is left out.
void BusWorker::ask_back() {
  auto next = to_ask_.upper_bound(asked_last_);
  if (next == to_ask_.end()) next = to_ask_.begin();
  asked_last_ = next->first;
  const auto [write, took] = next->second;
  to_ask_.erase(next);
  WriteResult result{write.output, write.value};
  result.took = took;
  const auto table = write.is_coil ? drivers::Table::coil : drivers::Table::holding_register;
  const auto ask = [&](int unit, drivers::Span span) -> std::optional<OutputValue> {
    auto held = bus_->read(unit, span, write.timeout);
    const auto error = held ? std::nullopt : std::optional{held.error()};
    note(held || held.error().line_in_step(), error);
    note_unit(unit, error, write.timeout);
    if (held && held->size() == 2) return OutputValue{held->front()} << 16U | held->back();
    if (held) return held->front();
    result.asking_error = std::move(held.error());
    return std::nullopt;
  };
  result.held = ask(write.unit, {table, write.address, write.count});
  if (result.held && write.contact) {
    const auto shown = ask(write.contact->unit, {write.contact->table, write.contact->address, 1});
    if (shown) result.contact = *shown != 0;
  }
  callbacks_.written(result);
}

std::vector<std::size_t> BusWorker::together_with(std::size_t task) const {
  std::vector<std::size_t> together{task};
  const auto most = static_cast<std::size_t>(bus_->requests_at_once());
  auto requests = plans_[task].size();
  if (to_ask_alone_[task] || schedule_[task].failures_in_a_row > 0 || requests >= most) return together;
  for (const auto other : drivers::due_besides(schedule_, first_round_, task, monotonic_now())) {
    if (to_ask_alone_[other]) continue;
    requests += plans_[other].size();
    if (requests > most) break;
    together.push_back(other);
  }
  return together;
}

void BusWorker::poll_due(std::size_t task) {
  const auto together = together_with(task);
  if (together.size() == 1) {
    to_ask_alone_[task] = false;
    return polled(task, drivers::poll(*bus_, tasks_[task].device, plans_[task]));
  }
  std::vector<drivers::PlannedDevice> devices;
  devices.reserve(together.size());
  for (const auto i : together) devices.push_back({&tasks_[i].device, &plans_[i]});
  auto results = drivers::poll_together(*bus_, devices);
  for (std::size_t i = 0; i < together.size(); ++i)
    if (results[i])
      polled(together[i], *std::move(results[i]));
    else
      to_ask_alone_[together[i]] = true; // it is due still, and comes after what is to be written
}

void BusWorker::polled(std::size_t i, drivers::PollResult result) {
  const BusTask& task = tasks_[i];
  const bool answered = anything_read(result) || (result.error && result.error->line_in_step());
  const Monotonic now = monotonic_now();
  if (first_round_ < schedule_.size()) first_round_ = std::max(first_round_, i + 1);
  schedule_[i] = drivers::after_poll(task.schedule, schedule_[i], answered, now);
  note(answered, result.error);
  {
    const std::lock_guard lock{mutex_};
    if (stop_) return; // interrupted: what came of it says nothing about the device
  }
  callbacks_.polled({task.sensor, std::move(result.values), std::move(result.status), result.error, now, wall_now()});
}

void BusWorker::note(bool answered, const std::optional<drivers::BusError>& error) {
  const std::lock_guard lock{mutex_};
  health_.connected = answered;
  ++health_.polls;
  if (error) {
    ++health_.failures;
    health_.trouble = error->detail;
  } else if (answered) {
    health_.trouble.clear();
  }
}

} // namespace oxherd::daemon

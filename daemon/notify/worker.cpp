#include "daemon/notify/worker.hpp"

#include <algorithm>
#include <array>

#include <unistd.h>

#include <fmt/core.h>

#include "daemon/clock.hpp"
#include "daemon/json_text.hpp"
#include "daemon/log.hpp"
#include "daemon/notify/formats.hpp"
#include "daemon/notify/state_json.hpp"

namespace oxherd::daemon::notify {
namespace {

using std::chrono::milliseconds;
using std::chrono::seconds;

constexpr std::size_t pending_max = 2000; ///< beyond, the oldest that can wait are given up
constexpr std::size_t inbox_max = 5000;
constexpr seconds save_again{5};

Now right_now() { return {monotonic_now(), wall_now()}; }

std::string payload_for(const config::NotifyRoute& route, const Message& m, const Sender& sender,
                        const config::Contact& to, const std::string& host_name) {
  if (const auto* mail = std::get_if<config::MailRoute>(&route.kind)) return mail_text(m, sender, to, mail->from);
  if (const auto* hook = std::get_if<config::WebhookRoute>(&route.kind))
    return hook->cap ? cap_text(m, sender, to) : webhook_json(m, sender, to);
  if (const auto* log = std::get_if<config::SyslogRoute>(&route.kind))
    return syslog_text(m, sender, log->facility, host_name, ::getpid());
  if (std::holds_alternative<config::MqttRoute>(route.kind)) return webhook_json(m, sender, to);
  return cap_text(m, sender, to);
}

} // namespace

Worker::Worker(Setup setup, std::filesystem::path state_dir)
    : setup_{std::move(setup)}, archive_{std::move(state_dir)} {
  std::array<char, 256> name{};
  if (::gethostname(name.data(), name.size() - 1) == 0) host_name_ = name.data();
  publish_health(); // there is something to show even if the thread never comes so far
}

void Worker::stop() {
  stopping_ = true;
  courier_.wake();
}

void Worker::post(Event event, Now at) {
  {
    const std::lock_guard hold{lock_};
    if (inbox_.size() >= inbox_max && std::holds_alternative<AlarmTold>(event)) {
      // The thread is stuck. Of each alarm its latest state is what must get through.
      const auto& now_told = std::get<AlarmTold>(event).facts;
      std::erase_if(inbox_, [&](const Queued& q) {
        const auto* told = std::get_if<AlarmTold>(&q.event);
        return told != nullptr && are_of_one_alarm(told->facts, now_told);
      });
    }
    inbox_.push_back({std::move(event), at});
  }
  courier_.wake();
}

void Worker::run() {
  try {
    turns();
  } catch (const std::exception& error) {
    ended_by(error.what());
  } catch (...) {
    ended_by("an unknown exception");
  }
}

void Worker::turns() {
  open();
  while (!stopping_) {
    take_events();
    const auto now = right_now();
    auto step = next(setup_.settings, state_, now);
    if (step.state != state_) to_save_ = true;
    adopt(std::move(step));
    bound();
    save();
    start_due(now);
    note_starved(now);
    give_up_old(now);
    beat(now);
    publish_health();
    const auto attempts = courier_.wait(patience(now));
    const auto after = right_now();
    for (const auto& attempt : attempts) settle(attempt, after);
  }
  save();
}

void Worker::open() {
  const auto now = right_now();
  auto kept = archive_.open(now.wall);
  if (kept) {
    last_key_ = kept->last_key;
    for (auto& parcel : kept->parcels) pending_.push_back(left_over(std::move(parcel), now));
    for (const auto& d : kept->deliveries) lines_[{d.route, d.contact}].last_delivered = d.at;
    auto state = kept->state.empty() ? State{} : state_from_json(kept->state, now);
    if (state)
      state_ = std::move(*state);
    else
      log::error("notify: what was remembered cannot be read: {}; every alarm that stands is told anew", state.error());
    if (!pending_.empty()) log::info("notify: {} messages of the last run are still to be delivered", pending_.size());
  } else {
    archive_trouble_ = kept.error().what;
    last_key_ = now.wall.time_since_epoch().count(); // above every key that the file may have
    log::error("notify: {}; every alarm that stands is told anew", archive_trouble_);
  }
  // Ids of this run are unlike those of any other, whatever could be saved.
  state_.id_stem = fmt::format("{}-{:x}", setup_.sender.site, now.wall.time_since_epoch().count());
}

void Worker::take_events() {
  std::deque<Queued> events;
  {
    const std::lock_guard hold{lock_};
    events.swap(inbox_);
  }
  for (auto& [event, at] : events) {
    to_save_ = true;
    std::visit([&, when = at](auto& one) { handle(one, when); }, event);
  }
}

void Worker::handle(AlarmTold& event, Now at) { adopt(next(setup_.settings, std::move(state_), event.facts, at)); }
void Worker::handle(AlarmRemoved& event, Now at) {
  adopt(next_removed(setup_.settings, std::move(state_), event.room, event.alarm, at));
}

void Worker::handle(Setup& event, Now /*at*/) {
  setup_ = std::move(event);
  next_beat_ = Monotonic{0};
  std::erase_if(routes_, [&](const auto& one) { return route_named(one.first) == nullptr; });
  for (auto& [name, count] : routes_) count.reported = false; // another address may work; else it is reported again
  std::erase_if(lines_, [&](const auto& one) {
    return route_named(one.first.first) == nullptr || contact_named(one.first.second) == nullptr;
  });
  for (auto& one : pending_) one.next_try = Monotonic{0};
}

void Worker::handle(TestAsked& event, Now at) {
  if (!event.contact.empty() && contact_named(event.contact) == nullptr)
    return event.answer(
        tl::unexpected(fmt::format("there is no contact \"{}\": `oxherd notify` lists them", event.contact)));
  auto step = next_test(setup_.settings, std::move(state_), event.contact, at);
  std::vector<std::string> tests;
  for (const auto& m : step.messages)
    tests.push_back(
        JsonObject{}.integer("number", m.number).text("contact", m.contact).text("route", m.only_route).str());
  adopt(std::move(step));
  event.answer(JsonObject{}.json("tests", json_array(tests)).str());
}

void Worker::handle(TestAnswered& event, Now at) {
  const auto key = answer_test(state_.tests, event.number, event.by, at.wall);
  if (!key) return event.answer(tl::unexpected(key.error()));
  log::info("notify: test {} to {} by route {} answered by {}", event.number, key->first, key->second, event.by);
  event.answer(JsonObject{}
                   .integer("number", event.number)
                   .text("contact", key->first)
                   .text("route", key->second)
                   .text("answered_by", event.by)
                   .str());
}

void Worker::adopt(Step step) {
  state_ = std::move(step.state);
  const std::string* reported = nullptr; // the same trouble goes to everyone and stands in the log once
  for (const auto& message : step.messages) {
    if (message.kind == Kind::trouble && (reported == nullptr || *reported != message.words)) {
      log::error("notify: {}", message.words);
      reported = &message.words;
    }
    pack(message);
  }
}

void Worker::pack(const Message& m) {
  to_save_ = true;
  const auto* contact = contact_named(m.contact);
  if (contact == nullptr) return;
  const auto brief = words_of(m, setup_.sender).brief;
  for (const auto& name : contact->routes) {
    const auto* route = route_named(name);
    if (route == nullptr || name == m.not_by || (!m.only_route.empty() && name != m.only_route)) continue;
    Parcel p;
    p.key = ++last_key_;
    p.id = m.id;
    p.number = m.number;
    p.kind = name_of(m.kind);
    p.route = name;
    p.contact = contact->name;
    p.address = contact->address;
    p.brief = brief;
    p.payload = payload_for(*route, m, setup_.sender, *contact, host_name_);
    p.urgent = cannot_wait(m);
    p.created = m.at;
    to_add_.push_back(p);
    pending_.push_back({std::move(p), monotonic_now()});
  }
}

void Worker::bound() {
  while (pending_.size() > pending_max) {
    auto victim = std::find_if(pending_.begin(), pending_.end(), [](const Pending& p) { return !p.parcel.urgent; });
    if (victim == pending_.end()) victim = pending_.begin();
    give_up(*victim, "too many messages wait", right_now());
    pending_.erase(victim);
  }
}

void Worker::save() {
  const auto now = right_now();
  const bool anything = to_save_ || !to_add_.empty() || !to_settle_.empty();
  if (!anything || (!archive_trouble_.empty() && now.mono < next_save_)) return;
  const auto written = archive_.write(to_add_, to_settle_, to_json(state_, now));
  if (!written) {
    if (archive_trouble_.empty()) log::error("notify: {}; messages go on from memory", written.error().what);
    archive_trouble_ = written.error().what;
    next_save_ = now.mono + save_again;
    return;
  }
  if (!archive_trouble_.empty()) log::info("notify: messages are on the disk again");
  archive_trouble_.clear();
  to_add_.clear();
  to_settle_.clear();
  to_save_ = false;
}

void Worker::start_due(Now now) {
  for (auto* one : to_begin(pending_, now.mono)) {
    const auto* route = route_named(one->parcel.route);
    if (route == nullptr) continue;
    one->running = true;
    courier_.send(*route, one->parcel, setup_.publish);
  }
}

/// What could not even be tried is a failure as well: nobody learns of it by this line.
void Worker::note_starved(Now now) {
  for (std::size_t i = 0; i < pending_.size(); ++i) { // by number: a report adds to them
    auto& one = pending_[i];
    const auto* route = route_named(one.parcel.route);
    if (route == nullptr) continue;
    const auto line = lines_.find({one.parcel.route, one.parcel.contact});
    const auto since =
        starved_since(one, line == lines_.end() ? Monotonic{0} : line->second.worked_at, route->report_after, now.mono);
    if (!since) continue;
    one.parcel.trouble = "no attempt could be begun yet, the route is taken up by others that hang";
    note_failure(one, *since, now);
  }
}

void Worker::give_up_old(Now now) {
  for (auto it = pending_.begin(); it != pending_.end();) {
    const auto* route = route_named(it->parcel.route);
    const bool old = route != nullptr && age_of(*it, now.mono) > route->give_up_after;
    if (it->running || (route != nullptr && !old)) {
      ++it;
      continue;
    }
    give_up(*it, route == nullptr ? "its route is no longer in the settings" : it->parcel.trouble, now);
    it = pending_.erase(it);
  }
}

void Worker::beat(Now now) {
  if (!setup_.watcher || beating_ || now.mono < next_beat_) return;
  if (next_beat_ == Monotonic{0}) { // a start or a reload: the first evaluations are yet to come
    next_beat_ = now.mono + seconds{1};
    return;
  }
  const std::uint64_t evaluations = evaluations_;
  if (evaluations == beaten_) {
    // Whoever watches must learn of it: a daemon that decides nothing must not say that it is well.
    if (watcher_.trouble.empty()) log::error("notify: no heartbeat: no evaluation was completed since the last one");
    watcher_.trouble = "no evaluation was completed since the last heartbeat";
    next_beat_ = now.mono + setup_.watcher->every;
    return;
  }
  beaten_ = evaluations;
  beating_ = true;
  next_beat_ = now.mono + setup_.watcher->every;
  courier_.beat(*setup_.watcher, evaluations, setup_.sender.site);
}

void Worker::settle_beat(const Attempt& attempt, Now now) {
  beating_ = false;
  if (attempt.trouble.empty()) watcher_.last_taken = now.wall;
  if (!attempt.trouble.empty() && watcher_.trouble.empty())
    log::error("notify: the watcher does not take the heartbeat: {}", attempt.trouble);
  if (attempt.trouble.empty() && !watcher_.trouble.empty()) log::info("notify: the watcher takes the heartbeat again");
  watcher_.trouble = attempt.trouble;
}

void Worker::settle(const Attempt& attempt, Now now) {
  if (attempt.key == watcher_key) return settle_beat(attempt, now);
  const auto found =
      std::find_if(pending_.begin(), pending_.end(), [&](const Pending& p) { return p.parcel.key == attempt.key; });
  if (found == pending_.end()) return;
  found->running = false;
  ++found->parcel.tries;
  found->parcel.trouble = attempt.trouble;
  if (attempt.trouble.empty()) {
    note_delivery(*found, now);
    pending_.erase(found);
    return;
  }
  found->next_try = now.mono + back_off(found->parcel.tries);
  note_failure(*found, now.mono, now);
}

void Worker::note_delivery(const Pending& pending, Now now) {
  const auto& p = pending.parcel;
  to_settle_.push_back({p.key, p.tries, now.wall, true, {}});
  log::info("notify: message {} ({}) to {} by {} delivered{}", p.number, p.kind, p.contact, p.route,
            p.tries > 1 ? fmt::format(" at attempt {}", p.tries) : std::string{});
  auto& line = lines_[{p.route, p.contact}];
  line.failing_since.reset();
  line.trouble.clear();
  line.worked_at = now.mono;
  line.last_delivered = now.wall;
  auto& count = routes_[p.route];
  ++count.delivered;
  const bool any = std::any_of(lines_.begin(), lines_.end(),
                               [&](const auto& one) { return one.first.first == p.route && one.second.failing_since; });
  if (count.reported && !any) {
    count.reported = false;
    log::info("notify: route {} works again", p.route);
  }
}

void Worker::note_failure(const Pending& pending, Monotonic since, Now now) {
  const auto& p = pending.parcel;
  auto& line = lines_[{p.route, p.contact}];
  if (!line.failing_since) log::warning("notify: route {} to {}: {}; trying again", p.route, p.contact, p.trouble);
  if (!line.failing_since) line.failing_since = since;
  line.trouble = p.trouble;
  const auto* route = route_named(p.route);
  auto& count = routes_[p.route];
  if (route == nullptr || count.reported || now.mono - *line.failing_since < route->report_after) return;
  count.reported = true;
  adopt(
      next_trouble(setup_.settings, std::move(state_), p.route,
                   fmt::format("Messages to {} by route {} have not got through for {} s: {}. Repair it; until then "
                               "nobody learns of alarms this way.",
                               p.contact, p.route,
                               std::chrono::duration_cast<seconds>(now.mono - *line.failing_since).count(), p.trouble),
                   now));
}

void Worker::give_up(const Pending& pending, const std::string& why, Now now) {
  const auto& p = pending.parcel;
  log::error("notify: message {} ({}) to {} by {} was NOT delivered after {} attempts: {}: {}", p.number, p.kind,
             p.contact, p.route, p.tries, why, p.brief);
  ++routes_[p.route].given_up;
  to_settle_.push_back({p.key, p.tries, now.wall, false, why});
}

std::chrono::milliseconds Worker::patience(Now now) const {
  Monotonic until = due(setup_.settings, state_, now);
  const Slots slots{pending_};
  for (const auto& one : pending_) // of a route that carries all it may, the next is begun when one of it ends
    if (!one.running && slots.have_room_for(one.parcel)) until = std::min(until, one.next_try);
  if (setup_.watcher && !beating_) until = std::min(until, next_beat_);
  if (!to_settle_.empty() || !archive_trouble_.empty()) until = std::min(until, now.mono + save_again);
  return std::clamp<milliseconds>(until - now.mono, milliseconds{50}, seconds{20});
}

const config::NotifyRoute* Worker::route_named(const std::string& name) const {
  for (const auto& route : setup_.settings.routes)
    if (route.name == name) return &route;
  return nullptr;
}
const config::Contact* Worker::contact_named(const std::string& name) const {
  for (const auto& contact : setup_.settings.contacts)
    if (contact.name == name) return &contact;
  return nullptr;
}

} // namespace oxherd::daemon::notify

// What persons order actuators and programs to do, and what the journal remembers of them.
#include <fstream>
#include <sstream>

#include <boost/asio/post.hpp>

#include "daemon/clock.hpp"
#include "daemon/control/control_status.hpp"
#include "daemon/control_payload.hpp"
#include "daemon/json_text.hpp"
#include "daemon/log.hpp"
#include "daemon/run/daemon.hpp"
#include "daemon/store/history.hpp"
#include "daemon/whole_file.hpp"

namespace oxherd::daemon {
namespace {

namespace asio = boost::asio;

constexpr const char* programs_file = "programs.json";
/// What a run may lose at a power cut.
constexpr std::chrono::seconds keeping_period{10};

/// The actuators of the room that an outcome is about, as they stand now.
std::string room_of_order(const Site& site, std::size_t room, Monotonic now, WallTime wall) {
  return actuators_payload(actuator_statuses(site.control().view(room), now, wall));
}

} // namespace

std::vector<ControlRemembered> load_control(const std::filesystem::path& state_dir, const config::Settings& settings) {
  HistoryQuery query;
  query.alarm_prefix = actuator_journal_name({});
  query.from = WallTime{std::chrono::milliseconds{0}};
  query.to = WallTime::max(); // a clock that was set back hides none
  query.limit = query_limit_max;
  auto found = alarm_history(state_dir, query);
  if (!found) {
    log::error("what became of actuators before cannot be read: nothing is known of trips that wait for a person: {}",
               found.error().what);
    return {};
  }
  return remembered_control(found->records, settings);
}

void Daemon::keep_programs() {
  const auto now = monotonic_now();
  next_keeping_ = now + keeping_period;
  const auto programs = site_.control().kept_programs();
  if (programs.empty() && !any_program_kept_) return;
  any_program_kept_ = !programs.empty();
  asio::post(aside_, [file = state_dir_ / programs_file, text = programs_text(programs, now, wall_now())] {
    if (const auto done = write_whole_file(file, text); !done)
      log::error("{}: a program that a person has started may begin anew after a restart", done.error());
  });
}

void Daemon::restore_programs() {
  std::ifstream in{state_dir_ / programs_file};
  if (!in) return; // there never were any
  std::ostringstream text;
  text << in.rdbuf();
  auto read = read_programs(text.str(), monotonic_now(), started_);
  if (!read) {
    log::error("{}: {}; programs of elapsed time wait for a person", (state_dir_ / programs_file).string(),
               read.error());
    return;
  }
  any_program_kept_ = !read->programs.empty();
  site_.restore_programs(std::move(*read), monotonic_now());
}

void Daemon::answer_control(const ControlRequest& request, Reply reply) {
  const auto decided = std::chrono::steady_clock::now();
  const auto now = monotonic_now();
  const auto wall = wall_now();
  std::optional<Site::Acted> acted;
  std::string named;
  if (const auto* actuator = std::get_if<ActuatorRequest>(&request)) {
    named = "no actuator " + actuator->output;
    acted = site_.order(actuator->output, actuator->order, now, wall);
  } else {
    const auto& loop = std::get<LoopRequest>(request);
    named = "no loop " + loop.room + "/" + loop.loop;
    acted = site_.order(loop.room, loop.loop, loop.order, now, wall);
  }
  if (!acted) return reply(declined("unknown", "there is " + named + ": `oxherd control` lists them"));
  const auto room = acted->outcome.rooms_changed.front();
  const auto outcome = acted->refusal ? Outcome{} : site_.tick_room(room, now, wall); // in force at once
  drive_outputs(decided);
  record(acted->outcome);
  record(outcome);
  if (acted->refusal) return reply(declined("refused", *acted->refusal));
  answer_when_recorded(JsonObject{}
                           .text("room", site_.settings().rooms[room].name)
                           .json("control", room_of_order(site_, room, now, wall)),
                       std::move(reply));
}

} // namespace oxherd::daemon

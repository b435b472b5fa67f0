// The drill from the command line; --help says how.
#include <atomic>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <map>
#include <optional>
#include <sstream>
#include <string>
#include <vector>

#include <fcntl.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include <fmt/core.h>

#include "tests/simulation/drill/shrink.hpp"

namespace oxherd::drill {
namespace {

constexpr const char* help = R"(Simulated years of random rooms, weather, leaks and faults, held against the truth.

  --room-years N   simulate so much, run after run (1)
  --seed N         of the first run; default: OXHERD_SEED, else 1
  --step N         from the seed of one run to the next (1)
  --days N         length of each run; default: drawn
  --jobs N         processes at once (1)
  --json FILE      the report for programs
  --once           the run of --seed alone, and its story
  --only 3,17/2    of its story only these, 17 halved in length twice; with --once
  --until SECONDS  and only up to here; with --once
  --shard N        other seeds than those of shard 0
  --gas            every site has rooms that a gas is let into
  --measurements   every run keeps them; else one of sixteen short ones
  --repeat         each of some runs twice, which must agree in every line of the journal
  --once-failed    what failed once, and was mended
  --breakages      breaks something on purpose and sees that it is found
  --log            what the daemon logs, too
)";

using Arguments = std::map<std::string, std::string>;

Arguments read(int argc, char** argv) {
  Arguments arguments;
  for (int i = 1; i < argc; ++i) {
    const std::string key = argv[i];
    const bool flag = key == "--once" || key == "--breakages" || key == "--repeat" || key == "--once-failed" ||
                      key == "--log" || key == "--gas" || key == "--measurements" || key == "--help";
    if (!flag && i + 1 >= argc) {
      fmt::print(stderr, "{} needs a value; see --help\n", key);
      std::exit(2);
    }
    arguments[key] = flag ? "" : argv[++i];
  }
  return arguments;
}

double number(const Arguments& arguments, const std::string& key, double otherwise) {
  const auto found = arguments.find(key);
  return found == arguments.end() ? otherwise : std::strtod(found->second.c_str(), nullptr);
}

std::uint64_t seed_of(const Arguments& arguments) {
  const auto found = arguments.find("--seed");
  const char* given = found != arguments.end() ? found->second.c_str() : std::getenv("OXHERD_SEED");
  const std::uint64_t seed = given == nullptr ? 1 : std::strtoull(given, nullptr, 10);
  return seed + 1'000'000 * static_cast<std::uint64_t>(number(arguments, "--shard", 0.0));
}

Script script_of(const Arguments& arguments, std::uint64_t seed) {
  auto script = drawn_script(seed, number(arguments, "--days", 0.0), arguments.contains("--gas") ? 1.0 : with_gas);
  if (arguments.contains("--measurements")) script.keeps_measurements = true;
  return script;
}

void print_story(const Script& script) {
  fmt::print("{}", settings_text(script.site));
  for (const auto& happening : script.story) fmt::print("  {}\n", to_string(happening));
}

int run_once(const Arguments& arguments) {
  auto script = script_of(arguments, seed_of(arguments));
  Cut to = whole(script);
  if (const auto only = arguments.find("--only"); only != arguments.end()) to.kept = read_only(only->second);
  to.until = ms_of(number(arguments, "--until", alarms::seconds_of(to.until)));
  script = cut(script, to);
  print_story(script);
  const auto outcome = run(script);
  for (const auto& complaint : outcome.complaints) fmt::print("{}\n", complaint);
  fmt::print("{}digest                {:016x}\n", report_text(outcome.tally), outcome.digest);
  return outcome.complaints.empty() ? EXIT_SUCCESS : EXIT_FAILURE;
}

void tell_failure(const Script& script, const std::string& options, const std::string& complaint) {
  fmt::print("seed={}: {}\n", script.seed, complaint);
  std::fflush(stdout);
  const Cut least = shrunk(script, 300);
  print_story(cut(script, least));
  fmt::print("repeat it with: oxherd_drill --once --seed {}{} --only {} --until {:.3f}\n", script.seed, options,
             only_text(least), alarms::seconds_of(least.until));
  std::fflush(stdout);
}

/// One fault fails many runs, and each is shrunk.
constexpr int failures_at_most = 3;

double processor_s() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

/// What of the arguments a run is drawn with.
std::string options_of(const Arguments& arguments) {
  const double days = number(arguments, "--days", 0.0);
  return (days > 0.0 ? fmt::format(" --days {}", days) : "") + (arguments.contains("--gas") ? " --gas" : "") +
         (arguments.contains("--measurements") ? " --measurements" : "");
}

/// Run after run until the time is simulated, or some have failed. Tells how far it is about once a minute.
/// @param living  the seed of the run that is at work, for whoever asks why this process has ended; 0: none is
bool run_years(const Arguments& arguments, std::uint64_t seed, double room_years, Tally& all,
               std::atomic<std::uint64_t>& living) {
  const double begun_s = processor_s();
  double told_s = begun_s;
  int failures = 0;
  const auto step = static_cast<std::uint64_t>(number(arguments, "--step", 1.0));
  for (; all.room_s < room_years * year_s; seed += step) {
    living = seed;
    const auto script = script_of(arguments, seed);
    const auto outcome = run(script);
    all.add(outcome.tally);
    all.processor_s = processor_s() - begun_s;
    if (!outcome.complaints.empty()) {
      tell_failure(script, options_of(arguments), outcome.complaints.front());
      if (++failures == failures_at_most) return false;
    }
    if (processor_s() < told_s + 60.0) continue;
    told_s = processor_s();
    fmt::print("{:.1f} of {:.1f} room-years, seed {}, {} missed, {:.1f} s of processor time a room-year\n",
               all.room_s / year_s, room_years, seed, all.missed, all.processor_s * year_s / all.room_s);
    std::fflush(stdout);
  }
  return failures == 0;
}

/// Memory that a process shares with those that it begets, zeroed.
std::atomic<std::uint64_t>* shared_numbers(std::size_t count) {
  using Number = std::atomic<std::uint64_t>;
  void* memory = ::mmap(nullptr, count * sizeof(Number), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
  if (memory == MAP_FAILED) std::abort();
  return static_cast<Number*>(memory);
}

void hand_over(int file, const std::string& text) {
  for (std::size_t done = 0; done < text.size();) {
    const auto n = ::write(file, text.data() + done, text.size() - done);
    if (n <= 0) std::_Exit(EXIT_FAILURE);
    done += static_cast<std::size_t>(n);
  }
}

/// Each process has a pipe for its tally: one disk is simulated at a time in a process. One job has a process of its
/// own too, so that somebody is left to tell in which run it ended.
bool run_jobs(Arguments arguments, int jobs, Tally& all) {
  struct Job {
    pid_t child;
    int end;
  };
  const auto seed = seed_of(arguments);
  const double room_years = number(arguments, "--room-years", 1.0);
  if (jobs > 1) arguments["--step"] = std::to_string(jobs);
  auto* const living = shared_numbers(static_cast<std::size_t>(jobs));
  std::vector<Job> running;
  for (int j = 0; j < jobs; ++j) {
    int ends[2];
    if (::pipe(ends) != 0) std::abort();
    const pid_t child = ::fork();
    if (child == 0) {
      Tally part;
      const bool well = run_years(arguments, seed + static_cast<std::uint64_t>(j), room_years / jobs, part, living[j]);
      living[j] = 0;
      hand_over(ends[1], to_lines(part));
      std::fflush(nullptr);
      std::_Exit(well ? EXIT_SUCCESS : EXIT_FAILURE);
    }
    ::close(ends[1]);
    running.push_back({child, ends[0]});
  }
  bool well = true;
  for (std::size_t j = 0; j < running.size(); ++j) {
    std::string text;
    char piece[4096];
    for (ssize_t n = 0; (n = ::read(running[j].end, piece, sizeof piece)) > 0;)
      text.append(piece, static_cast<std::size_t>(n));
    int status = 0;
    ::waitpid(running[j].child, &status, 0);
    well = well && WIFEXITED(status) && WEXITSTATUS(status) == EXIT_SUCCESS;
    if (const auto died_in = living[j].load(); died_in != 0)
      fmt::print("seed={}: the program ended in this run, {} {}; see why with: oxherd_drill --once --seed {}{} --log\n",
                 died_in, WIFSIGNALED(status) ? "by signal" : "with status",
                 WIFSIGNALED(status) ? WTERMSIG(status) : WEXITSTATUS(status), died_in, options_of(arguments));
    all.add(tally_in(text));
  }
  return well;
}

/// Whether a breakage is found within some runs, and that the same runs without it are well.
int check_breakages(const Arguments& arguments) {
  constexpr std::pair<Breakage, const char*> all[] = {
      {Breakage::low_values_unjudged, "low values are not judged"},
      {Breakage::a_minute_late, "polls come a minute late"},
      {Breakage::alarm_without_cause, "a value is low without a cause"},
      {Breakage::line_lost, "a line of the journal is lost"},
      {Breakage::alarm_forgotten, "a restart forgets alarms"},
      {Breakage::message_lost, "messages to the broker are lost"},
      {Breakage::relay_held, "alarms stand and the relay does not warn"},
      {Breakage::measurement_lost, "a reading is not recorded"},
      {Breakage::gas_not_shut, "a gas valve is not shut by its interlock"},
      {Breakage::stuck_valve_untold, "a stuck gas valve is not announced"},
  };
  int missed = 0;
  for (const auto& [breakage, name] : all) {
    std::string found;
    for (std::uint64_t n = 0; n < 12 && found.empty(); ++n) {
      const bool gas = is_of_gas(breakage);
      auto script = drawn_script(seed_of(arguments) + n, gas ? 0.0 : 2.0, gas ? 1.0 : with_gas);
      script.breakage = breakage;
      script.keeps_measurements = breakage == Breakage::measurement_lost;
      if (const auto outcome = run(script); !outcome.complaints.empty()) found = outcome.complaints.front();
    }
    fmt::print("{}: {}\n", name, found.empty() ? "NOT FOUND" : found);
    if (found.empty()) ++missed;
  }
  return missed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}

/// Stories that once failed, shrunk, and written out: what a seed draws may change. Of the site they ask little.
struct Failed {
  const char* what;
  Story story;
  std::size_t cells = 0; ///< of each room, which all vote; 0: as drawn
  bool purged = false;   ///< the first room, with a contact that follows the valve in five seconds
};
std::vector<Failed> once_failed() {
  const auto of = [](Kind kind, double at_s, double length_s, double size) {
    return Happening{kind, ms_of(at_s), ms_of(length_s), 0, 0, size, 1};
  };
  return {
      // Each reload awaited the cell anew, so that the vote waited for it.
      {"settings are read again every few seconds beside a cell that never answered",
       {of(Kind::sensor_silent, 0, 20000, 0), of(Kind::leak, 2000, 5000, 0.02), of(Kind::reload_storm, 2000, 5000, 0)},
       2},
      // Each reload began the on-delay anew, so that it never ended.
      {"settings are read again every few seconds while nitrogen comes in",
       {of(Kind::reload_storm, 1800, 1800, 0), of(Kind::leak, 2000, 3000, 0.02)}},
      // How far the broker had the journal was lost, and the next start began at the journal's end.
      {"power is lost before the queue's file was ever synchronised",
       {of(Kind::bus_out, 3600, 420, 0), of(Kind::power_loss, 3900, 0.1, 0)}},
      // Each reload began the time anew after which an output counts as lost.
      {"settings are read again every few seconds while a gas valve is stuck open",
       {of(Kind::purge, 600, 9000, 0), of(Kind::reload_storm, 1900, 1200, 0), of(Kind::valve_stuck, 2000, 900, 0),
        of(Kind::people_in, 2100, 300, 0)},
       0,
       true},
  };
}

int run_once_failed() {
  int failures = 0;
  for (const auto& one : once_failed()) {
    auto script = drawn_script(8, 0.5);
    for (auto& room : script.site.rooms) {
      room.every_s = room.probe_every_s = 10.0;
      room.on_delay_s = 10.0;
      room.air_changes_h = one.purged ? 0.01 : 1.0;
      room.gas = {};
      if (one.cells != 2) continue;
      room.cells.resize(2, room.cells.front());
      room.vote = alarms::Scheme::two_of_two;
    }
    if (one.purged) script.site.rooms.front().gas = {.kind = Gas::nitrogen, .stroke_s = 5.0};
    script.story = one.story;
    const auto outcome = run(script);
    fmt::print("{}: {}\n", one.what, outcome.complaints.empty() ? "well" : outcome.complaints.front());
    if (!outcome.complaints.empty()) ++failures;
  }
  return failures == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}

int run_twice(const Arguments& arguments) {
  for (std::uint64_t n = 0; n < 5; ++n) {
    const auto script = drawn_script(seed_of(arguments) + n, 2.0);
    const auto first = run(script), second = run(script);
    fmt::print("seed {}: {:016x}, {:016x}\n", script.seed, first.digest, second.digest);
    if (first.digest != second.digest || first.tally.polls != second.tally.polls) return EXIT_FAILURE;
  }
  return EXIT_SUCCESS;
}

int go(const Arguments& arguments) {
  if (arguments.contains("--once")) return run_once(arguments);
  if (arguments.contains("--repeat")) return run_twice(arguments);
  if (arguments.contains("--once-failed")) return run_once_failed();
  if (arguments.contains("--breakages")) return check_breakages(arguments);
  fmt::print("seed {}\n", seed_of(arguments));
  std::fflush(stdout);
  Tally all;
  const bool well = run_jobs(arguments, static_cast<int>(number(arguments, "--jobs", 1.0)), all);
  fmt::print("{}", report_text(all));
  if (const auto file = arguments.find("--json"); file != arguments.end())
    std::ofstream{file->second} << report_json(all);
  return well ? EXIT_SUCCESS : EXIT_FAILURE;
}

} // namespace
} // namespace oxherd::drill

int main(int argc, char** argv) {
  const auto arguments = oxherd::drill::read(argc, argv);
  if (arguments.contains("--help")) {
    fmt::print("{}", oxherd::drill::help);
    return EXIT_SUCCESS;
  }
  // The daemon logs every fault that is injected.
  if (const int nowhere = ::open("/dev/null", O_WRONLY); nowhere >= 0 && !arguments.contains("--log"))
    static_cast<void>(::dup2(nowhere, STDERR_FILENO));
  return oxherd::drill::go(arguments);
}

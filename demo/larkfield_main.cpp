// oxherd-larkfield: the simulated Larkfield site on Modbus TCP and a serial line.

#include <getopt.h>
#include <signal.h>

#include <charconv>
#include <csignal>
#include <cstdio>
#include <exception>
#include <fstream>
#include <iterator>
#include <optional>
#include <string>

#include <fmt/core.h>

#include "demo/larkfield.hpp"

namespace {

using namespace oxherd::demo;

constexpr const char* usage_text = R"(usage: oxherd-larkfield [options]
Simulates the invented Larkfield site behind Modbus, for the demonstration and for tests.

  --tcp-port N     Modbus TCP on 127.0.0.1:N (1502; 0 takes a free port and prints it)
  --rtu-link PATH  serial line on a pseudo terminal, linked at PATH (none without it)
  --speed N        simulated seconds in one real second, at most 3600 (60)
  --story NAME     built-in story "larkfield" or "quiet", or a file (larkfield)
  --seed N         of all noise and of the instruments' fixed errors (1)
  --orders PATH    make a named pipe and do at once what is written to it: lines of a story without their times, such as
                   "gas cryo-annexe/cell-a 0" and "no-gas cryo-annexe/cell-a"
  --truth FILE     write the true values as lines of JSON
  --seconds N      stop after N real seconds (until SIGTERM or SIGINT)
  --help           this text
)";

volatile std::sig_atomic_t stop_asked = 0;
void ask_to_stop(int) { stop_asked = 1; }

struct CommandLine {
  LarkfieldOptions options;
  std::string story = "larkfield";
  std::optional<double> seconds;
};

/// Refuses anything but a whole number or decimal in C locale.
template <class Number> Number number_from(const char* text, const char* option) {
  const std::string_view all{text};
  Number value{};
  const auto [end, failure] = std::from_chars(all.data(), all.data() + all.size(), value);
  if (failure != std::errc{} || end != all.data() + all.size())
    throw std::runtime_error(fmt::format("{} takes a number, not \"{}\"", option, text));
  return value;
}

/// Empty when help was asked for, and given.
std::optional<CommandLine> read_command_line(int argc, char** argv) {
  static const option known[] = {
      {"tcp-port", required_argument, nullptr, 'p'}, {"rtu-link", required_argument, nullptr, 'r'},
      {"speed", required_argument, nullptr, 'x'},    {"story", required_argument, nullptr, 's'},
      {"seed", required_argument, nullptr, 'e'},     {"orders", required_argument, nullptr, 'o'},
      {"truth", required_argument, nullptr, 't'},    {"seconds", required_argument, nullptr, 'n'},
      {"help", no_argument, nullptr, 'h'},           {nullptr, 0, nullptr, 0}};
  CommandLine line;
  for (int found = 0; (found = getopt_long(argc, argv, "", known, nullptr)) != -1;) {
    switch (found) {
    case 'p': line.options.tcp_port = number_from<std::uint16_t>(optarg, "--tcp-port"); break;
    case 'r': line.options.rtu_link = optarg; break;
    case 'x': line.options.speed = number_from<double>(optarg, "--speed"); break;
    case 's': line.story = optarg; break;
    case 'e': line.options.seed = number_from<std::uint64_t>(optarg, "--seed"); break;
    case 'o': line.options.orders = optarg; break;
    case 't': line.options.truth = optarg; break;
    case 'n': line.seconds = number_from<double>(optarg, "--seconds"); break;
    case 'h': fmt::print("{}", usage_text); return std::nullopt;
    default: throw std::runtime_error("see oxherd-larkfield --help"); // getopt has named the mistake
    }
  }
  if (optind != argc) throw std::runtime_error(fmt::format("\"{}\" is one word too many", argv[optind]));
  return line;
}

std::vector<StoryStep> read_story(const std::string& name) {
  std::string text{builtin_story(name)};
  if (text.empty()) {
    std::ifstream file{name};
    if (!file) throw std::runtime_error(fmt::format("no story is called \"{}\" and no such file can be read", name));
    text.assign(std::istreambuf_iterator<char>{file}, {});
  }
  auto steps = parse_story(text);
  if (!steps) throw std::runtime_error(fmt::format("{}:{}: {}", name, steps.error().line, steps.error().message));
  return std::move(*steps);
}

void say(const std::string& line) {
  fmt::print("{}\n", line);
  static_cast<void>(std::fflush(stdout)); // a story that nobody reads any more is no reason to stop the site
}

void run(CommandLine line) {
  line.options.story = read_story(line.story);
  const auto rtu_link = line.options.rtu_link;
  Larkfield larkfield{std::move(line.options)};
  say(fmt::format("oxherd-larkfield: plant at 127.0.0.1:{}{}", larkfield.port(),
                  rtu_link ? ", stores at " + *rtu_link : std::string{}));
  const auto start = Larkfield::Clock::now();
  while (stop_asked == 0) {
    for (const auto& told : larkfield.round(std::chrono::milliseconds{20})) say(told);
    const std::chrono::duration<double> ran = Larkfield::Clock::now() - start;
    if (line.seconds && ran.count() >= *line.seconds) break;
  }
}

} // namespace

int main(int argc, char** argv) {
  struct sigaction stop {};
  stop.sa_handler = ask_to_stop;
  static_cast<void>(sigaction(SIGTERM, &stop, nullptr)); // cannot fail for these signals and a plain handler
  static_cast<void>(sigaction(SIGINT, &stop, nullptr));
  static_cast<void>(std::signal(SIGPIPE, SIG_IGN));
  try {
    if (auto line = read_command_line(argc, argv)) run(std::move(*line));
    return 0;
  } catch (const std::exception& problem) {
    fmt::print(stderr, "oxherd-larkfield: {}\n", problem.what());
    return 2;
  }
}

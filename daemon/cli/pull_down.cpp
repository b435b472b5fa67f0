#include <array>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/cli/cell_records.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/pull_down_case.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> pull_down_options() {
  std::vector<Option> out{
      {"--to", "PERCENT", "oxygen to reach", "5 %"},
      {"--from", "PERCENT", "oxygen at the start (default: fresh air)", "20.9 %"},
      {"--supply", "FLOW", "flow of the gas at the room's pressure (default: that of the room's purge)", "20 m3/h"},
      {"--purity", "PERCENT", "of that gas; the rest is oxygen (default: as the purge's settings say, else 99.5 %)",
       "99.5 %"},
      {"--volume", "VOLUME", "free volume of the room (default: as its settings say)", "500 m3"},
      {"--mixing", "FACTOR", "1 where the air is well mixed, 2 to 3 poorly (default: as its settings say, else 1)",
       "1.5"},
      {"--leak", "FLOW", "outdoor air that comes in meanwhile (default: none)", "0.5 m3/h"},
      {"--respiration", "FLOW", "oxygen that goods use (default: none)", "0.2 l/min"}};
  for (const auto& [name, word, example] :
       {std::array{"from", "PERCENT", "0.1 %"}, std::array{"supply", "FLOW", "1 m3/h"},
        std::array{"purity", "PERCENT", "0.1 %"}, std::array{"volume", "VOLUME", "20 m3"},
        std::array{"mixing", "FACTOR", "0.1"}, std::array{"leak", "FLOW", "0.2 m3/h"},
        std::array{"respiration", "FLOW", "0.05 l/min"}})
    out.push_back(
        {fmt::format("--u-{}", name), word, fmt::format("standard uncertainty of --{}", name), example, false});
  out.push_back({"--u-NAME", "VALUE", "standard uncertainty of the value --NAME: --u-volume \"20 m3\"", ""});
  out.push_back(config_option());
  out.push_back(json_option("print one line of JSON"));
  return out;
}

int run_pull_down(const Arguments& arguments, Console& console) {
  const auto asked = read_pull_down(arguments);
  if (!asked) return report(console, "pull-down", asked.error());
  const auto found = control::forecast(asked->dilution, asked->from, asked->to);
  if (!found) return report(console, "pull-down", {failed, found.error()});
  if (arguments.given("--json"))
    console.out << pull_down_json(*asked, *found) << '\n';
  else
    console.out << pull_down_text(*asked, *found) << '\n' << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

} // namespace

const Command pull_down_entry{
    "pull-down",
    "forecast of how long a purge takes to lower a room's oxygen",
    "Tells by the dilution equation how long a gas takes to bring a room from one oxygen fraction to another, how much "
    "gas that takes and where the room would come to rest, with 95 % intervals from what is uncertain in it: 10 % of "
    "volume and flow, 20 % of mixing and of the oxygen in the gas, 30 % of leak and respiration, unless typed. Takes "
    "volume, mixing and purge from the settings where a room is named; what is typed goes before. Needs no daemon and "
    "starts nothing. What is never reached ends with exit code 1.",
    "[ROOM]",
    "oxherd pull-down pear-store-2 --to \"2 %\"\n"
    "oxherd pull-down --to \"5 %\" --supply \"20 m3/h\" --purity \"99.5 %\" --volume \"500 m3\"\n"
    "oxherd pull-down pear-store-2 --to \"2 %\" --leak \"0.5 m3/h\" --u-volume \"10 m3\" --json",
    pull_down_options,
    run_pull_down};

} // namespace oxherd::daemon::cli

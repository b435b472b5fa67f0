#include "demo/story.hpp"

namespace oxherd::demo {
namespace {

// At the demonstration's 60 times real time a minute here is a second for the person who watches: each act must outlast
// the on-delays, which run in real time (3 s low oxygen, 10 s not monitored). Weather is quickened, and says so.
constexpr std::string_view larkfield = R"(
00:00:00 people cryo-annexe 2 : normal air everywhere; two people work in cryo-annexe; the barometer stands at {hPa} hPa
00:12:00 barometer 972 over 36 : a front comes in, quickened for the demonstration: the barometer begins to fall
00:32:00 say : the barometer has fallen {fall} hPa: an uncorrected cell in cryo-annexe would now read {uncorrected cryo-annexe/cell-a} %, the true oxygen is {oxygen cryo-annexe} %
00:50:00 say : the barometer has fallen {fall} hPa: an uncorrected cell would read {uncorrected cryo-annexe/cell-a} % and soon cry wolf; the true oxygen is {oxygen cryo-annexe} %, expect no alarm
01:10:00 people cryo-annexe 0 : everybody has left cryo-annexe
01:15:00 ventilation cryo-annexe 0 : the extract fan of cryo-annexe stops
01:15:00 leak cryo-annexe 20 : a transfer hose leaks nitrogen into cryo-annexe, 20 m3/h; {oxygen cryo-annexe} % oxygen
01:25:00 say : cryo-annexe has {oxygen cryo-annexe} % oxygen and looks, smells and feels as ever
01:30:00 say : cryo-annexe has {oxygen cryo-annexe} % oxygen: below 19.5 %, expect LOW OXYGEN and the beacon
01:44:00 say : cryo-annexe has {oxygen cryo-annexe} % oxygen: below 18 %, expect the second alarm
01:50:00 leak cryo-annexe 0 : the supply is shut from outside; {oxygen cryo-annexe} % oxygen
01:51:00 ventilation cryo-annexe 10 : the extract fan runs again, at full speed
02:10:00 say : cryo-annexe is back at {oxygen cryo-annexe} % oxygen; the alarms wait for a person to acknowledge and reset them
02:15:00 ventilation cryo-annexe 3
02:15:00 barometer 988 over 60 : the front has passed, the barometer rises
02:25:00 fault growth-chamber-1/cell silent : the oxygen cell of growth-chamber-1 stops answering: expect NOT MONITORED
02:55:00 fault growth-chamber-1/cell none : the cell's wiring is repaired
03:15:00 door growth-chamber-1 1 : somebody opens growth-chamber-1 for five minutes
03:20:00 door growth-chamber-1 0
03:30:00 fault cryo-annexe/cell-b disconnected : cell-b of cryo-annexe is unplugged: two cells still watch the room, oxherd status names the third
03:50:00 fault cryo-annexe/cell-b none : cell-b is plugged in again
04:00:00 say : the story ends; normal air from now on
)";

// A day from 8 o'clock to 8 o'clock. Pressure changes at the pace of real weather.
constexpr std::string_view quiet = R"(
00:00:00 barometer 985 over 360 : a quiet day begins at {hPa} hPa
00:00:00 people cryo-annexe 2
00:30:00 door cryo-annexe 1
00:32:00 door cryo-annexe 0
01:00:00 people growth-chamber-1 1
01:00:00 door growth-chamber-1 1
01:05:00 door growth-chamber-1 0
02:00:00 people growth-chamber-1 0
02:00:00 outdoor-temperature 19 over 240
03:00:00 people cryo-annexe 0
04:00:00 people cryo-annexe 3
04:00:00 door cryo-annexe 1
04:03:00 door cryo-annexe 0
06:00:00 barometer 974 over 300 : rain comes; {hPa} hPa
06:00:00 outdoor-humidity 95 over 120
06:30:00 door bay-3 1
06:40:00 door bay-3 0
07:00:00 people bay-3 4
09:00:00 people bay-3 0
09:30:00 people cryo-annexe 0
11:00:00 barometer 979 over 240 : {hPa} hPa, the lowest of the day is past
12:00:00 outdoor-temperature 9 over 300
15:00:00 barometer 1003 over 480
20:00:00 outdoor-humidity 60 over 120
23:30:00 people cryo-annexe 1
24:00:00 say : the day is over at {hPa} hPa
)";

} // namespace

std::string_view builtin_story(std::string_view name) {
  if (name == "larkfield") return larkfield;
  if (name == "quiet") return quiet;
  return {};
}

} // namespace oxherd::demo

#include "daemon/commission/guess_kinds.hpp"

#include "config/measurands.hpp"

namespace oxherd::daemon::commission {
namespace {

using config::Measurand;

// Pressures: 690 hPa is 3000 m of altitude in low weather (ISO 2533: 701 hPa), 1060 hPa the sea in high weather.
constexpr std::array kinds{
    GuessKind{Measurand::oxygen, "%", {20.4, 21.1}, 5, "fresh air has this", {1, 25}, {0.01, 100}, 0.5, {-4, 0, 0, -1}},
    GuessKind{Measurand::oxygen,
              "fraction",
              {0.204, 0.211},
              5,
              "fresh air has this",
              {0.01, 0.25},
              {0.0001, 1},
              0.005,
              {never, never, never, never},
              false},
    GuessKind{Measurand::oxygen,
              "mV",
              {8, 15},
              4,
              "a cell in air gives this",
              {0.5, 30},
              {0.3, 100},
              0.5,
              {never, -2, -1, -1}},
    GuessKind{Measurand::temperature, "°C", {16, 30}, 4, "a room has this", {-5, 45}, {-40, 85}, 0.5, {-2, 0, 0, -3}},
    GuessKind{Measurand::humidity, "%RH", {25, 80}, 4, "a room has this", {10, 100}, {0.5, 104}, 3, {-2, 0, 0, -3}},
    GuessKind{Measurand::pressure,
              "hPa",
              {940, 1045},
              4,
              "most inhabited places have this",
              {690, 1060},
              {600, 1100},
              0.5,
              {-0.5, 0, 0, never}},
    GuessKind{Measurand::pressure,
              "kPa",
              {94, 104.5},
              4,
              "most inhabited places have this",
              {69, 106},
              {60, 110},
              0.05,
              {-4, -0.5, 0, -0.5}},
    GuessKind{Measurand::pressure,
              "Pa",
              {94e3, 104.5e3},
              4,
              "most inhabited places have this",
              {69e3, 106e3},
              {60e3, 110e3},
              50,
              {0, -1, never, never}},
    GuessKind{Measurand::carbon_dioxide,
              "ppm",
              {380, 1500},
              4,
              "a room has this",
              {300, 5000},
              {200, 50000},
              100,
              {0, -3, never, never}},
};

} // namespace

std::span<const GuessKind> guess_kinds() { return kinds; }

compensation::Unit unit_of(const GuessKind& kind) {
  for (const auto& delivery : config::deliveries()) {
    if (delivery.measurand != kind.measurand) continue;
    if (const auto unit = compensation::find_unit(kind.unit, delivery.dimension)) return *unit;
  }
  return {}; // a row whose unit nothing knows; the test of the table finds it
}

} // namespace oxherd::daemon::commission

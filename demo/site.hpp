#pragma once

#include <chrono>
#include <cstdint>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include <tl/expected.hpp>

#include "demo/instruments.hpp"
#include "demo/room.hpp"
#include "demo/weather.hpp"

namespace oxherd::demo {

/// What a story can do to the site. Each verb says what its target and value are.
enum class Verb {
  say,                 ///< nothing; for its text
  barometer,           ///< value: station pressure, hPa
  outdoor_temperature, ///< value: mean of the day, °C
  outdoor_humidity,    ///< value: %
  temperature,         ///< target: room; value: set-point, °C
  humidity,            ///< target: room; value: set-point, %
  ventilation,         ///< target: room; value: fresh-air changes per hour
  leak,                ///< target: room; value: nitrogen, m3/h
  purge,               ///< target: room; value: nitrogen with 0.5 % oxygen, m3/h
  dosing,              ///< target: room; value: carbon dioxide beyond the room's own control, m3/h
  people,              ///< target: room; value: how many are inside
  door,                ///< target: room; value: 1 open, 0 closed
  relief_isolated,     ///< target: room; value: 1 its relief valve is isolated, 0 free
  gas,                 ///< target: device of a cell; value: oxygen of the dry gas that flows over it from a cylinder, %
  no_gas,              ///< target: device of a cell; the gas is taken away, it is in the air of its room again
  fault                ///< target: device; `fault` says which, none repairs it
};

struct Action {
  Verb verb = Verb::say;
  std::string target = {};
  double value = 0.0;
  double over_s = 0.0; ///< weather only: how long the change takes
  Fault fault = Fault::none;
};

/// The simulated Larkfield site: weather, rooms and instruments. No clock, no input or output: the same seed and
/// the same actions at the same simulated times give the same registers, however `advance` is cut into pieces.
class Site {
public:
  explicit Site(std::uint64_t seed);
  /// Runs the physics in whole steps of one second; what is left over counts towards the next step.
  void advance(std::chrono::microseconds dt);
  [[nodiscard]] std::chrono::microseconds now() const { return now_; } ///< simulated time, as advanced so far

  /// Does what a story says; the error names what is wrong with the action.
  [[nodiscard]] tl::expected<void, std::string> apply(const Action& action);

  /// Has a plant module drive the room, for good from the first time on.
  void drive(std::string_view room, const PlantState& plant);

  /// The registers a device would serve, its fault applied. Empty for output modules, contacts and unknown names.
  [[nodiscard]] std::vector<std::uint16_t> input_registers(std::string_view device) const;
  /// The circuit of a contact, closed as its kind says; as it was when a stuck one stuck, open when disconnected.
  [[nodiscard]] bool contact_closed(std::string_view device) const;
  /// The same, of a door contact.
  [[nodiscard]] bool door_closed(std::string_view device) const { return contact_closed(device); }
  [[nodiscard]] Fault fault_of(std::string_view device) const;

  /// The truth, for tests and for the story's own words.
  [[nodiscard]] const Weather& weather() const { return weather_; }
  [[nodiscard]] const std::vector<Room>& rooms() const { return rooms_; }
  [[nodiscard]] const Room* room(std::string_view name) const; ///< null when there is none
  /// The cell of that device; null when there is none.
  [[nodiscard]] const SimulatedCell* cell(std::string_view device) const;

private:
  using Works =
      std::variant<std::monostate, SimulatedCell, SimulatedProbe, SimulatedCarbonDioxide, SimulatedOverPressure>;
  struct Instrument {
    const DeviceFacts* facts = nullptr;
    Works works;
    Fault fault = Fault::none;
    std::vector<std::uint16_t> frozen = {};     ///< what a stuck device goes on serving
    bool frozen_closed = false;                 ///< and a stuck contact
    std::optional<double> cylinder_oxygen = {}; ///< fraction; gas from a cylinder flows over the cell
  };
  void step();
  [[nodiscard]] double stepped_s() const; ///< simulated time that the physics has reached
  [[nodiscard]] const Instrument* find(std::string_view device) const;
  [[nodiscard]] Instrument* find(std::string_view device);
  [[nodiscard]] tl::expected<void, std::string> apply_fault(const Action& action);
  [[nodiscard]] tl::expected<void, std::string> apply_gas(const Action& action);
  [[nodiscard]] tl::expected<void, std::string> apply_to_room(const Action& action);

  Weather weather_;
  std::vector<Room> rooms_;
  std::vector<Instrument> instruments_;
  std::chrono::microseconds now_{0};
  std::int64_t steps_ = 0;
};

} // namespace oxherd::demo

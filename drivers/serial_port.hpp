#pragma once

#include <chrono>
#include <memory>
#include <optional>
#include <string>

#include <modbus.h>
#include <tl/expected.hpp>

#include "drivers/bus_address.hpp"
#include "drivers/register_bus.hpp"
#include "drivers/waiting.hpp"

namespace oxherd::drivers {

/// Why these settings can never work, if so. libmodbus would silently take 9600 for a baud rate it does not know.
[[nodiscard]] std::optional<std::string> why_impossible(const SerialLine& line);

/// The silence that must precede a request: 3.5 characters of 11 bits up to 19200 baud, 1.75 ms above.
/// @source Modbus over Serial Line V1.02, 2.5.1.1
[[nodiscard]] std::chrono::nanoseconds silence_before_request(int baud);

/// Time that so many characters of 11 bits take.
[[nodiscard]] std::chrono::nanoseconds time_on_the_wire(int baud, int characters);

/// An opened serial device, locked against a second program that also takes an advisory lock.
class SerialPort {
public:
  /// @return the port with libmodbus's error recovery off and its response timeout bounding the whole reply, or
  ///         `not_connected` with the reason
  [[nodiscard]] static tl::expected<SerialPort, BusError> open(const SerialLine& line);
  [[nodiscard]] int fd() const { return ::modbus_get_socket(context_.get()); }
  [[nodiscard]] modbus_t* context() const { return context_.get(); }
  /// Throws away what has arrived. False when the device has hung up.
  [[nodiscard]] bool discard_input() const;

private:
  struct Free {
    void operator()(modbus_t* context) const;
  };
  SerialPort(FileDescriptor lock, std::unique_ptr<modbus_t, Free> context)
      : lock_{std::move(lock)}, context_{std::move(context)} {}

  FileDescriptor lock_; // declared first: the lock outlives the use
  std::unique_ptr<modbus_t, Free> context_;
};

} // namespace oxherd::drivers

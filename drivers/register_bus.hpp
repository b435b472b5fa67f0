#pragma once

#include <chrono>
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "drivers/bus_address.hpp"
#include "drivers/register_map.hpp"

namespace oxherd::drivers {

/// A run of registers or bits of one unit, read in one request. At most 125 registers or 2000 bits.
struct Span {
  Table table = Table::holding_register;
  std::uint16_t address = 0;
  std::uint16_t count = 0;
  friend bool operator==(const Span&, const Span&) = default;
};

enum class BusFault {
  not_connected,  ///< nobody answers at the address, the device node is missing, or the line hung up
  timeout,        ///< no reply, or not a whole one, in time
  exception,      ///< the device refused; `exception_code` holds the Modbus exception
  garbled,        ///< wrong CRC, length, unit or transaction: not a reply to our request
  refused_locally ///< the request itself was impossible (count, unit id): a mistake in the configuration
};

struct BusError {
  BusFault fault = BusFault::timeout;
  int exception_code = 0;
  std::string detail{}; ///< one line for a person: what happened, and what to look at
  [[nodiscard]] bool line_in_step() const { return fault == BusFault::exception; }
};

/// One read of several.
struct Read {
  int unit = 1;
  Span span{};
  std::chrono::milliseconds timeout{500};
};

/// One write of several: a coil (0 or 1), one holding register, or some that are never seen half new.
struct Write {
  int unit = 1;
  bool is_coil = true;
  std::uint16_t address = 0;
  std::vector<std::uint16_t> values{};
  std::chrono::milliseconds timeout{500};
};

/// One Modbus line or connection. Blocking, and used from its bus thread only, except interrupt().
///
/// not_connected may come back at once (a refused connection, an unplugged adapter). A bus never pauses by itself: the
/// caller's schedule does, and must, or it would ask without end.
class RegisterBus {
public:
  virtual ~RegisterBus() = default;
  /// Reads registers (or bits, one per element, 0 or 1). Never returns a reply that belongs to another request.
  /// Connects when needed. The timeout bounds the whole reply, not each byte.
  [[nodiscard]] virtual tl::expected<std::vector<std::uint16_t>, BusError> read(int unit, Span span,
                                                                                std::chrono::milliseconds timeout) = 0;
  /// How many requests may be on their way at once; 1: the next follows the reply.
  [[nodiscard]] virtual int requests_at_once() const { return 1; }
  /// Sends so many reads at most at once, so that they cost one wait instead of many. The longest of their timeouts
  /// bounds them all. What is empty in the result says nothing about its device: ask it by itself, for its words or its
  /// error.
  [[nodiscard]] virtual std::vector<std::vector<std::uint16_t>> read_together(std::span<const Read> reads) {
    return std::vector<std::vector<std::uint16_t>>(reads.size());
  }
  /// The same of writes, which the device may carry out in any order: never two of one address. True: the device has
  /// confirmed it. What is false may have been carried out or not: write it by itself, for its error.
  [[nodiscard]] virtual std::vector<bool> write_together(std::span<const Write> writes) {
    return std::vector<bool>(writes.size());
  }
  /// Writes one coil (function 05) and compares the device's echo. Without an error the device has confirmed it.
  [[nodiscard]] virtual tl::expected<void, BusError> write_coil(int unit, std::uint16_t address, bool on,
                                                                std::chrono::milliseconds timeout) = 0;
  /// Writes one holding register (function 06) and compares the device's echo.
  [[nodiscard]] virtual tl::expected<void, BusError>
  write_register(int unit, std::uint16_t address, std::uint16_t value, std::chrono::milliseconds timeout) = 0;
  /// Writes holding registers in one request (function 16), so that a number of several is never seen half new.
  [[nodiscard]] virtual tl::expected<void, BusError> write_registers(int unit, std::uint16_t address,
                                                                     const std::vector<std::uint16_t>& values,
                                                                     std::chrono::milliseconds timeout) = 0;
  /// May be called from any thread: makes a call that is waiting return soon, and every later one fail at once with
  /// not_connected. Used to stop, so it is for good: write what must be written last before, or through a new bus.
  virtual void interrupt() = 0;
};

/// Makes the bus for an address. Opens nothing yet: a missing device or server shows up at the first read and is tried
/// again at each later one.
[[nodiscard]] std::unique_ptr<RegisterBus> make_bus(const BusAddress& address);

/// A Modbus exception code in words (Modbus Application Protocol V1.1b3, section 7).
[[nodiscard]] std::string exception_in_words(int code);

} // namespace oxherd::drivers

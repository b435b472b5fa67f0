#pragma once

#include <memory>
#include <optional>

#include "drivers/bus_address.hpp"
#include "drivers/exact_wait.hpp"
#include "drivers/late_replies.hpp"
#include "drivers/modbus_bus.hpp"
#include "drivers/serial_port.hpp"

namespace oxherd::drivers {

/// One serial line with Modbus RTU devices on it; libmodbus sets the line up, computes the checksums and reads replies.
///
/// RTU replies carry no transaction number, so after every error but an exception the line must first have been silent
/// for one response timeout, and a unit that owes replies must first answer a question that none of those fits. An
/// adapter that repeats what is sent would confirm every write by itself: the first write waits for a read to go well.
///
/// A device that hangs up is closed, and opened again at the next request. A missing or locked device returns at once:
/// as with TCP, the pauses are up to the caller's schedule.
class ModbusRtuBus final : public ModbusBus {
public:
  explicit ModbusRtuBus(SerialLine line);

private:
  [[nodiscard]] std::optional<std::string> why_no_such_unit(int unit) const override;
  [[nodiscard]] ModbusReply exchange(const Exchange& exchange) override;
  [[nodiscard]] tl::expected<void, BusError> be_open(std::chrono::milliseconds timeout);
  [[nodiscard]] ModbusReply ask(const Exchange& exchange);
  [[nodiscard]] tl::expected<void, BusError> wait_for_silence(std::chrono::milliseconds timeout);
  [[nodiscard]] tl::expected<void, BusError> send(const Exchange& exchange);
  [[nodiscard]] ModbusReply receive(const Exchange& exchange);
  [[nodiscard]] std::optional<Deadline> await_whole_reply(const Exchange& exchange, Deadline deadline);
  [[nodiscard]] BusError receive_error(int error, const Exchange& exchange) const;
  void listen_first(std::chrono::milliseconds timeout);
  void hang_up();

  SerialLine line_;
  std::unique_ptr<SerialPort> port_; ///< empty while the device is not open
  LateReplies late_;
  Deadline free_from_{};             ///< when the next request may start, if nothing arrives until then
  std::chrono::nanoseconds silence_; ///< how long the line must be silent before that
  Deadline heard_{};                 ///< when the last reply was there
  WakeUpDelay delay_;
  bool echo_excluded_ = false; ///< a reply has come that is not a copy of its request
};

} // namespace oxherd::drivers

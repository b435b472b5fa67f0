#pragma once

#include <optional>
#include <span>
#include <vector>

#include "drivers/bus_address.hpp"
#include "drivers/modbus_bus.hpp"
#include "drivers/tcp_frame.hpp"
#include "drivers/tcp_replies.hpp"

namespace oxherd::drivers {

/// One connection to a Modbus TCP server or gateway.
///
/// Any error other than an exception closes the connection, so that a reply that comes too late has nowhere to arrive;
/// the next request connects again. How often that happens is up to the caller's schedule: a refused connection returns
/// at once, and so must not be asked in a loop without pauses.
///
/// The frames are made and read here rather than by libmodbus: its raw requests all carry transaction 0, its other ones
/// hide the reply's unit, which it never compares, and its use of select ends the program at descriptor 1024.
class ModbusTcpBus final : public ModbusBus {
public:
  explicit ModbusTcpBus(TcpAddress address);

  [[nodiscard]] int requests_at_once() const override { return address_.requests_at_once; }
  [[nodiscard]] std::vector<std::vector<std::uint16_t>> read_together(std::span<const Read> reads) override;
  [[nodiscard]] std::vector<bool> write_together(std::span<const Write> writes) override;

private:
  [[nodiscard]] std::optional<std::string> why_no_such_unit(int unit) const override;
  [[nodiscard]] ModbusReply exchange(const Exchange& exchange) override;
  [[nodiscard]] tl::expected<void, BusError> be_connected();
  [[nodiscard]] tl::expected<void, BusError> send(std::span<const std::uint8_t> bytes, Deadline deadline);
  [[nodiscard]] ModbusReply receive(const Exchange& exchange, TcpExchangeId id, Deadline deadline);
  /// Requests that go out at once.
  struct Together {
    std::vector<OnItsWay> requests{};
    std::chrono::milliseconds timeout{1}; ///< the longest of theirs
  };
  void add(Together& together, std::size_t place, const Exchange& exchange);
  [[nodiscard]] AnswersTogether exchange(Together together, std::size_t places);
  /// False: the connection is of no use any more.
  [[nodiscard]] bool receive_together(std::vector<OnItsWay> waiting, AnswersTogether& answers, Deadline deadline);
  /// How much of a frame is there, and how much must be.
  struct Wanted {
    std::size_t there, at_least;
  };
  /// Takes what has come, also beyond that: a reply mostly comes in one piece. Returns how much is there then.
  [[nodiscard]] tl::expected<std::size_t, BusError> fill(std::span<std::uint8_t> frame, Wanted bytes,
                                                         Deadline deadline);
  [[nodiscard]] static BusError with_words(BusError error, const Exchange& exchange, bool begun);

  TcpAddress address_;
  FileDescriptor socket_;
  std::uint16_t transaction_ = 0; ///< counts on over reconnections
};

} // namespace oxherd::drivers

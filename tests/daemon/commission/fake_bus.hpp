#pragma once

#include <functional>
#include <map>
#include <vector>

#include "daemon/commission/survey.hpp"
#include "drivers/register_bus.hpp"

namespace oxherd::daemon::commission_test {

using drivers::BusError;
using drivers::BusFault;
using drivers::Table;

/// A device in memory. What it has not, it refuses with exception 02, in whole.
struct FakeDevice {
  std::map<Table, std::map<int, std::uint16_t>> has{};
  int longest = 125;                     ///< registers that it gives in one reply; more is exception 03
  bool odd_pairs_only = false;           ///< gives the two registers of a value only together; values begin at odd ones
  std::function<void(FakeDevice&)> live; ///< called before each read
};

/// A bus that counts what it is asked and fails the test when it is written to.
class FakeBus final : public drivers::RegisterBus {
public:
  std::map<int, FakeDevice> devices;
  std::optional<BusError> nobody = BusError{BusFault::timeout, 0, "no reply"}; ///< of units that are not there
  int reads = 0;
  int writes = 0;

  [[nodiscard]] tl::expected<std::vector<std::uint16_t>, BusError> read(int unit, drivers::Span span,
                                                                        std::chrono::milliseconds) override {
    ++reads;
    const auto found = devices.find(unit);
    if (found == devices.end()) return tl::unexpected(*nobody);
    auto& device = found->second;
    if (device.live) device.live(device);
    const auto table = device.has.find(span.table);
    if (table == device.has.end()) return refused(1);
    if (span.count > device.longest) return refused(3);
    if (device.odd_pairs_only && (span.count % 2 != 0 || span.address % 2 == 0)) return refused(2);
    std::vector<std::uint16_t> words;
    for (int at = span.address; at < span.address + span.count; ++at) {
      if (!table->second.contains(at)) return refused(2);
      words.push_back(table->second.at(at));
    }
    return words;
  }
  [[nodiscard]] tl::expected<void, BusError> write_coil(int, std::uint16_t, bool, std::chrono::milliseconds) override {
    return written();
  }
  [[nodiscard]] tl::expected<void, BusError> write_register(int, std::uint16_t, std::uint16_t,
                                                            std::chrono::milliseconds) override {
    return written();
  }
  [[nodiscard]] tl::expected<void, BusError> write_registers(int, std::uint16_t, const std::vector<std::uint16_t>&,
                                                             std::chrono::milliseconds) override {
    return written();
  }
  void interrupt() override {}

private:
  [[nodiscard]] static tl::unexpected<BusError> refused(int code) {
    return tl::unexpected(BusError{BusFault::exception, code, "exception"});
  }
  [[nodiscard]] tl::expected<void, BusError> written() {
    ++writes;
    return {};
  }
};

} // namespace oxherd::daemon::commission_test
